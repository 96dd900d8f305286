"""What makes two runs hard to compare: differences that change a result with nothing changed in the road."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from pipeline.history.changes import Changes

__all__ = ["caveats"]

# the day, the name and where a file lies are expected to differ, or have a sentence of their own
_EXPECTED: Final = ("programme.name", "programme.as_of")
_NO_MATTER: Final = (".path", ".attribution")
_MOST: Final = 8
_LONGEST: Final = 60
_LAYERS: Final = ("roads", "surfaces", "districts")
_NOTHING_ELSE: Final = "without anything in the road having changed"


def caveats(before: Mapping[str, Any], after: Mapping[str, Any], changes: Changes | None = None) -> list[str]:
    """Say in sentences what else than the road may have changed the result.

    Parameters
    ----------
    before, after
        What ``run.json`` of the two runs holds.
    changes
        What the comparison found; with it, how much of it the differences explain is said as well.

    Returns
    -------
    list of str
        Empty if the runs have the same programme, settings, rules, layers and version.
    """
    said = [*_runs(before, after), *_settings(before, after)]
    differing = _rules(before, after)
    for words, slugs in differing.items():
        said.append(f"{words}: {_listed(slugs)}. A core may be flagged or cleared by that, {_NOTHING_ELSE}.")
    said += [*_asked(before, after), *_inputs(before, after)]
    if changes is not None:
        said += _explained(changes, {slug.split(" ")[0] for slugs in differing.values() for slug in slugs})
    return said


def _runs(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    names = [str(one.get("programme")) for one in (before, after)]
    if names[0] != names[1]:
        yield (
            f"The runs are of two programmes, {_short(names[0])!r} and {_short(names[1])!r}: "
            "what opened or vanished may be what one has and the other has not."
        )
    if before.get("as_of") == after.get("as_of"):
        yield (
            f"Both runs speak for {after.get('as_of')}: "
            "what differs comes from their inputs or settings, not from time."
        )
    versions = [str(_part(one, "versions").get("kerfbook", "not known")) for one in (before, after)]
    if versions[0] != versions[1]:
        yield (
            f"The runs were made by Kerfbook {versions[0]} and {versions[1]}: "
            f"what a version does differently shows as a change, {_NOTHING_ELSE}."
        )


def _settings(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    for name, words in (("settings", "Settings differ"), ("catalogue_overridden", "The programme overrides differ")):
        old, new = (_flat(_part(one, name)) for one in (before, after))
        keys = [
            key
            for key in sorted(old.keys() | new.keys())
            if old.get(key) != new.get(key) and key not in _EXPECTED and not f".{key}".endswith(_NO_MATTER)
        ]
        if keys:
            shown = [f"{_short(key)} was {_value(old.get(key))}, is {_value(new.get(key))}" for key in keys]
            yield f"{words}: {_listed(shown)}. Results may differ by that, {_NOTHING_ELSE}."
    crs = [str(one.get("crs")) for one in (before, after)]
    if crs[0] != crs[1]:
        yield f"Distances are measured in {crs[0]} and in {crs[1]}: those near a limit may fall on its other side."


def _rules(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, list[str]]:
    old, new = _book(before), _book(after)
    differing: dict[str, list[str]] = {
        "Rules of the later run alone": sorted(new.keys() - old.keys()),
        "Rules of the earlier run alone": sorted(old.keys() - new.keys()),
    }
    for name, words in (("severity", "Rules of another severity"), ("limits", "Rules with another threshold")):
        differing[words] = [
            f"{slug} (was {_value(old[slug].get(name))}, is {_value(new[slug].get(name))})"
            for slug in sorted(old.keys() & new.keys())
            if old[slug].get(name) != new[slug].get(name)
        ]
    return {words: slugs for words, slugs in differing.items() if slugs}


def _asked(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    """A rule that could be assessed for none of the cores it speaks of finds nothing, whatever the road is like."""
    old, new = _book(before), _book(after)
    asked = [
        {slug for slug, rule in book.items() if rule.get("assessed") or not rule.get("not_assessed")}
        for book in (old, new)
    ]
    both = old.keys() & new.keys()
    for words, slugs in (
        ("Rules that could be assessed for no core in the earlier run", both & (asked[1] - asked[0])),
        ("Rules that can be assessed for no core in the later run", both & (asked[0] - asked[1])),
    ):
        if slugs:
            yield f"{words}, for want of inputs: {_listed(sorted(slugs))}."


def _inputs(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    old, new = (
        {str(file.get("section")): file.get("sha256") for file in one.get("inputs", []) if isinstance(file, Mapping)}
        for one in (before, after)
    )
    layers = [name for name in _LAYERS if old.get(name) != new.get(name)]
    if layers:
        yield (
            f"Another file than before was read for: {', '.join(layers)}. "
            f"Segment, surface, district and shade may differ by that, {_NOTHING_ELSE}."
        )
    if old.get("cores") == new.get("cores"):
        yield "Both runs read the very same register: what differs comes from the day, the settings or the layers."


def _explained(changes: Changes, slugs: set[str]) -> Iterator[str]:
    account, lines = changes.account, changes.lines
    if not account["matched"] and account["rows_before"] and account["rows_after"]:
        yield "No core of one run was found in the other: check that both registers write their ids the same way."
    flagged = lines[lines["change"].eq("newly flagged")]
    reasons = flagged["after"].str.removeprefix("flagged: ").str.split(", ").explode()
    by_rule = int(reasons.isin(slugs).groupby(level=0).all().sum()) if len(flagged) else 0
    if by_rule:
        yield (
            f"{by_rule} of the {len(flagged)} newly flagged cores are flagged only by rules that differ "
            "between the runs."
        )


def _book(record: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    return {str(rule.get("rule")): rule for rule in record.get("rules", []) if isinstance(rule, Mapping)}


def _part(record: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    part = record.get(name)
    return part if isinstance(part, Mapping) else {}


def _flat(settings: Mapping[str, Any], above: str = "") -> dict[str, Any]:
    """Nested settings by their dotted keys."""
    flat: dict[str, Any] = {}
    for key, value in settings.items():
        flat |= _flat(value, f"{above}{key}.") if isinstance(value, Mapping) else {f"{above}{key}": value}
    return flat


def _value(value: Any) -> str:  # noqa: ANN401 - whatever stands in a settings file
    return "not set" if value is None or value == "" else _short(str(value))


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"


def _listed(words: list[str]) -> str:
    more = f"; and {len(words) - _MOST} more" if len(words) > _MOST else ""
    return "; ".join(words[:_MOST]) + more
