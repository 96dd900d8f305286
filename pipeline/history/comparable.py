"""Caveats of a comparison: differences between two runs that change results although nothing changed in the road."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from pipeline.history.changes import Changes
from pipeline.wording import counted

__all__ = ["caveats"]

# date, name and paths of files are expected to differ, or have a sentence of their own
_EXPECTED: Final = ("programme.name", "programme.as_of")
_IRRELEVANT: Final = (".path", ".attribution")
# who has to act, and which outputs are written in which parts, changes no finding
_NO_FINDING: Final = ("owners", "publish.")
_MOST: Final = 8
_LONGEST: Final = 60
_LAYERS: Final = ("roads", "surfaces", "districts")
_NOTHING_ELSE: Final = "although nothing changed in the road"


def caveats(before: Mapping[str, Any], after: Mapping[str, Any], changes: Changes | None = None) -> list[str]:
    """Return sentences on what else may have changed the results besides the road.

    Parameters
    ----------
    before, after
        The contents of ``run.json`` of the two runs.
    changes
        What the comparison found; if given, the sentences also say how much of it the differences explain.

    Returns
    -------
    list of str
        Empty if the runs have the same programme, settings, rules, layers and version.
    """
    packs = [bool(record.get("is_pack")) for record in (before, after)]
    sentences = [*_runs(before, after)]
    sentences += _not_known(packs) if any(packs) else _settings(before, after)
    differing = _rules(before, after)
    for words, slugs in differing.items():
        sentences.append(
            f"{words}: {_listed(slugs)}. Cores may be flagged or cleared for that reason, {_NOTHING_ELSE}."
        )
    if not any(packs):
        sentences += [*_assessed(before, after), *_inputs(before, after)]
    if changes is not None:
        sentences += _not_compared(changes)
        sentences += _explained(changes, {slug.split(" ")[0] for slugs in differing.values() for slug in slugs})
    return sentences


def _runs(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    names = [str(record.get("programme")) for record in (before, after)]
    if names[0] != names[1]:
        yield (
            f'The runs are of different programmes, "{_short(names[0])}" and "{_short(names[1])}": '
            "opened and removed cores may simply belong to only one of them."
        )
    if before.get("run") is not None and before.get("run") == after.get("run"):
        yield "Both are of the same run, as folder, zip or pack. To see what changed, give an earlier one."
    elif before.get("as_of") == after.get("as_of"):
        yield (
            f"Both runs have the audit date {after.get('as_of')}: "
            "differences come from their inputs or settings, not from the passage of time."
        )
    if ("cores" in _part(before, "account")) != ("cores" in _part(after, "account")):
        yield "One run counts every row, the other each core once: repeated rows make the counts of the first higher."
    if before.get("is_pack") or after.get("is_pack"):
        return
    versions = [str(_part(record, "versions").get("kerfbook", "unknown")) for record in (before, after)]
    if versions[0] != versions[1]:
        yield (
            f"The runs were made by Kerfbook {versions[0]} and {versions[1]}: "
            f"what the versions do differently appears as a change, {_NOTHING_ELSE}."
        )


def _not_known(packs: list[bool]) -> Iterator[str]:
    which = "Both are packs" if all(packs) else f"The {'earlier' if packs[0] else 'later'} one is a pack"
    yield (
        f"{which}. A pack does not hold the settings, inputs and version of its run, so whether these differ is not "
        "known; columns that were not handed over are not compared."
    )


def _not_compared(changes: Changes) -> Iterator[str]:
    if changes.not_compared:
        yield (f"Not compared, because one of the two does not have the columns: {', '.join(changes.not_compared)}.")


def _settings(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    for name, words in (("settings", "Settings differ"), ("catalogue_overridden", "Overrides of the catalogue differ")):
        old, new = (_flat(_part(record, name)) for record in (before, after))
        keys = [
            key
            for key in sorted(old.keys() | new.keys())
            if old.get(key) != new.get(key)
            and key not in _EXPECTED
            and not key.startswith(_NO_FINDING)
            and not f".{key}".endswith(_IRRELEVANT)
        ]
        if keys:
            shown = [f"{_short(key)} was {_value(old.get(key))}, is {_value(new.get(key))}" for key in keys]
            yield f"{words}: {_listed(shown)}. Results may differ for that reason, {_NOTHING_ELSE}."
    crs = [str(record.get("crs")) for record in (before, after)]
    if crs[0] != crs[1]:
        yield f"Distances are measured in {crs[0]} and in {crs[1]}: close to a limit, that may change the result."


def _rules(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, list[str]]:
    old, new = _book(before), _book(after)
    differing: dict[str, list[str]] = {
        "Rules in the later run only": sorted(new.keys() - old.keys()),
        "Rules in the earlier run only": sorted(old.keys() - new.keys()),
    }
    for name, words in (
        ("severity", "Rules with a different severity"),
        ("limits", "Rules with a different threshold"),
    ):
        differing[words] = [
            f"{slug} (was {_value(old[slug].get(name))}, is {_value(new[slug].get(name))})"
            for slug in sorted(old.keys() & new.keys())
            if old[slug].get(name) != new[slug].get(name)
        ]
    return {words: slugs for words, slugs in differing.items() if slugs}


def _assessed(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    """Yield the rules that could be assessed in only one of the runs: in the other they could not find anything."""
    old, new = _book(before), _book(after)
    assessed = [
        {slug for slug, rule in book.items() if rule.get("assessed") or not rule.get("not_assessed")}
        for book in (old, new)
    ]
    both = old.keys() & new.keys()
    for words, slugs in (
        ("Rules not run in the earlier run, no data supplied", both & (assessed[1] - assessed[0])),
        ("Rules not run in the later run, no data supplied", both & (assessed[0] - assessed[1])),
    ):
        if slugs:
            yield f"{words}: {_listed(sorted(slugs))}."


def _inputs(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    old, new = (_checksums(record) for record in (before, after))
    layers = [name for name in _LAYERS if old.get(name) != new.get(name)]
    if layers:
        yield (
            f"The runs read different files for: {', '.join(layers)}. "
            f"Segment, surface, district and shade may differ for that reason, {_NOTHING_ELSE}."
        )
    if old.get("decisions") != new.get("decisions") and any(one.get("corrected_cells") for one in (before, after)):
        yield (
            "The runs read different decisions, some of which correct cells of a register: what differs for those "
            "cores may not come from the road."
        )
    if old.get("cores") == new.get("cores"):
        yield "Both runs read the same register: differences come from the audit date, the settings or the layers."


def _checksums(record: Mapping[str, Any]) -> dict[str, list[Any]]:
    """Return the checksums of the inputs by section; several registers share one."""
    found: dict[str, list[Any]] = {}
    for file in record.get("inputs", []):
        if isinstance(file, Mapping):
            found.setdefault(str(file.get("section")), []).append(file.get("sha256"))
    return found


def _explained(changes: Changes, slugs: set[str]) -> Iterator[str]:
    account, lines = changes.account, changes.lines
    if not account["matched"] and account["rows_before"] and account["rows_after"]:
        yield "No core of one run was found in the other: check that both registers write ids in the same way."
    flagged = lines[lines["change"].eq("newly flagged")]
    by_rule = int(changes.flagged_by["rule"].isin(slugs).groupby(changes.flagged_by["row"]).all().sum())
    if by_rule:
        yield (
            f"{by_rule:,} of {counted(len(flagged), 'newly flagged core')} {'is' if by_rule == 1 else 'are'} flagged "
            "only by rules that differ between the runs."
        )


def _book(record: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    return {str(rule.get("rule")): rule for rule in record.get("rules", []) if isinstance(rule, Mapping)}


def _part(record: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    part = record.get(name)
    return part if isinstance(part, Mapping) else {}


def _flat(settings: Mapping[str, Any], above: str = "") -> dict[str, Any]:
    """Return nested settings by their dotted keys; of several registers each by its name."""
    flat: dict[str, Any] = {}
    for key, value in settings.items():
        if isinstance(value, Mapping):
            flat |= _flat(value, f"{above}{key}.")
        elif isinstance(value, list) and value and all(isinstance(one, Mapping) for one in value):
            flat |= _flat({str(one.get("name", at)): one for at, one in enumerate(value)}, f"{above}{key}.")
        else:
            flat[f"{above}{key}"] = value
    return flat


def _value(value: Any) -> str:  # noqa: ANN401 - any value of a settings file
    return "not set" if value is None or value == "" else _short(str(value))


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"


def _listed(words: list[str]) -> str:
    more = f"; and {len(words) - _MOST} more" if len(words) > _MOST else ""
    return "; ".join(words[:_MOST]) + more
