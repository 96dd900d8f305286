"""One entry of an object of JSON, however deep, lost or of another kind."""

import copy

ODD = (
    None, 0, 1, 3, -1, 255, 2**31, 2**62, 10**30, -(10**30), 0.5, 1.5, True, "", "x", "row", "2026-02-30", "\u0000", [], [1], [None],
    ["a"] * 3, {}, {"x": 1}, [{"rule": 3}],
)  # fmt: skip


def change_entry(place, rng, often=0.4):
    """Change one entry of an object or list in place; return its path. ``often``: how often one is taken as a whole."""
    path = []
    while True:
        keys = list(place) if isinstance(place, dict) else list(range(len(place)))
        path.append(keys[int(rng.integers(len(keys)))])
        inner = place[path[-1]]
        if not isinstance(inner, dict | list) or not inner or rng.random() < often:
            break
        place = inner
    if rng.random() < 0.2:
        del place[path[-1]]
    else:
        place[path[-1]] = copy.deepcopy(ODD[int(rng.integers(len(ODD)))])
    return "/".join(map(str, path))
