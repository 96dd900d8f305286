"""Rules on rows and ids: the same core twice, two cores with one id, rows that do not fit the header."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.audit.figures import days_of
from pipeline.audit.findings import LABELS, Findings, ItemKind, choose_by, find, found_items, nothing_found
from pipeline.audit.for_authority import for_authority
from pipeline.audit.registry import rule
from pipeline.contracts import latest_of, plain_ids

# what two registers may record differently about one core
_SIZES: Final = ("diameter_mm", "depth_mm")
_DAYS: Final = ("opened_on", "reinstated_at")
# what has happened to a core, by which one register is further on than another
_EVENTS: Final = ("opened_on", "plated_on", "backfilled_on", "interim_on", "reinstated_at")
_SAME_SIZE_MM: Final = 0.5
_IN_REGISTERS: Final = (
    "same_core", "register_no", "file_no", "register", "register_file", "register_row", "is_copy",
)  # fmt: skip
# both rows have one id, so that the register tells them apart; its rows and files are renumbered and renamed
_PARTNER: Final = "other_register"
_PLACE: Final = ("other_register_row", "other_register_file")


@rule("id-missing", shows=["core_id"])
def id_missing(cores: pd.DataFrame) -> Findings:
    """The row has no core id."""
    return find(
        cores[cores["core_id"].isna()],
        "The row has no core id.",
        "Give the core an id, so that people can refer to it.",
    )


@rule("id-duplicated", needs=["core_id"], shows=["register_no", "same_core"])
def id_duplicated(cores: pd.DataFrame) -> Findings:
    """Different rows share an id."""
    # a later sheet of the register may carry the same core on
    rows = cores["same_core"].groupby([cores["register_no"], plain_ids(cores["core_id"])]).transform("nunique")
    return find(
        cores.assign(times=rows)[rows > 1],
        'Id "{core_id}" is used on {times} different rows.',
        "Find out which core is which, and give each an id of its own.",
    )


@rule("row-duplicated", shows=["same_row", "file_no"])
def row_duplicated(cores: pd.DataFrame) -> Findings:
    """The same row appears more than once in a file."""
    # a later sheet may carry the row on: that is a finding of its own, which names the sheet
    times = cores["same_row"].groupby([cores["file_no"], cores["same_row"]]).transform("size")
    return find(
        cores.assign(times=times)[times > 1],
        "The same row appears {times} times in its file; it is counted once.",
        "Delete the copies, or record what sets the cores apart.",
    )


@rule("row-ragged", shows=["ragged"])
def row_ragged(cores: pd.DataFrame) -> Findings:
    """The row has more or fewer fields than the header."""
    return find(
        cores[cores["ragged"].notna()],
        "The row has {ragged:term}, so cells may be in the wrong columns.",
        "Correct the row in the register.",
    )


def _has_several(cores: pd.DataFrame, numbers: str) -> bool:
    """Return whether the cores come from several files, or several registers, by the column that numbers them."""
    return bool(cores[numbers].gt(cores[numbers].min()).any())


def _in_several(cores: pd.DataFrame, group: pd.Series, numbers: str) -> pd.DataFrame:
    """Return the rows of those groups that have rows of several files, or several registers."""
    if not _has_several(cores, numbers):
        return cores.iloc[:0]
    return cores[cores[numbers].groupby(group).transform("nunique").gt(1)]


# where the other row is, by whether it is in a file of the same register, and whether its register has several files
_ELSEWHERE: Final[dict[tuple[bool, bool], str]] = {
    (False, False): 'register "{other_register}", row {other_register_row}',
    (False, True): 'register "{other_register}", file "{other_register_file}", row {other_register_row}',
    (True, True): 'file "{other_register_file}", row {other_register_row}',
}


def _wherever(templates: dict[tuple[bool, ...], str]) -> dict[tuple[bool, ...], str]:
    """Return the templates for each place that ``other`` may be in; the key of the place comes last."""
    return {
        (*key, *at): template.replace("{other}", place)
        for key, template in templates.items()
        for at, place in _ELSEWHERE.items()
    }


def _elsewhere(cores: pd.DataFrame, pairs: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """Return the key of the place of the other row, for each row of ``pairs``; a register's files are among cores."""
    files = cores.groupby("register_no")["file_no"].nunique()
    return (
        pairs["register_no"].eq(pairs["other_register_no"]),
        pairs["other_register_no"].map(files).gt(1),
    )


def _with_counterparts(cores: pd.DataFrame) -> pd.DataFrame:
    """Return the cores that several files have, each with its counterpart: columns that begin with ``other_``.

    The counterpart is the row of another file that is counted, else the first.
    """
    several = _in_several(cores, cores["same_core"], "file_no").sort_values(["same_core", "is_copy"], kind="stable")
    firsts = several.drop_duplicates(["same_core", "file_no"])
    of_core = firsts.groupby("same_core").cumcount()
    ranked = {rank: firsts[of_core.eq(rank)].set_index("same_core") for rank in (0, 1)}
    first, second = (ranked[rank].reindex(several["same_core"]).set_axis(several.index) for rank in (0, 1))
    other = first.where(first["file_no"].ne(several["file_no"]), second)
    kinds = {name: cores[name].dtype for name in other}
    return several.join(other.astype(kinds).add_prefix("other_")).sort_index()


def _is_handed_over(pairs: pd.DataFrame) -> pd.Series:
    """Return whether the row that is not counted is open, and has earlier dates than the one that is."""
    latest, other_latest = (latest_of(pairs, [f"{prefix}{name}" for name in _EVENTS]) for prefix in ("", "other_"))
    is_copy = pairs["is_copy"]
    counted, left = latest.mask(is_copy, other_latest), other_latest.mask(is_copy, latest)
    is_left_open = pairs["other_is_open"].mask(is_copy, pairs["is_open"]).astype(bool)
    return is_left_open & counted.notna() & (left.isna() | counted.gt(left))


def _differences(pairs: pd.DataFrame) -> dict[str, pd.Series]:
    """Return for each value whether both registers have it and they differ; a day differs by any other day."""
    sizes = {name: (pairs[name] - pairs[f"other_{name}"]).abs().gt(_SAME_SIZE_MM) for name in _SIZES}
    days = {}
    for name in _DAYS:
        here, there = days_of(pairs[name]), days_of(pairs[f"other_{name}"])
        days[name] = here.notna() & there.notna() & here.ne(there)
    return sizes | days


# by whether the registers differ, and whether this row is the one that is counted
_IN_TWO: Final = _wherever(
    {
        (False, True): "Also in {other}, with the same sizes and dates; counted once, in this row.",
        (False, False): "Also in {other}, with the same sizes and dates; counted once, in that row.",
        (True, True): "Also in {other}, with different values for: {differences}; counted once, in this row.",
        (True, False): "Also in {other}, with different values for: {differences}; counted once, in that row.",
    }
)


@rule(
    "core-in-two-registers",
    needs=["core_id"],
    shows=[*_IN_REGISTERS, "is_open", *_SIZES, *_EVENTS],
    partner=_PARTNER,
    moving=_PLACE,
)
def core_in_two_registers(cores: pd.DataFrame) -> Findings:
    """Two registers, or two files of one register, have the same core."""
    if not _has_several(cores, "file_no"):
        return nothing_found(cores.index[:0])
    pairs = _with_counterparts(cores)
    differing = _differences(pairs)
    differ = pd.Series(np.logical_or.reduce([*differing.values()]), pairs.index, dtype=bool)
    # that one register is further on than the other is a finding of its own
    differing_sizes = pd.Series(np.logical_or.reduce([differing[name] for name in _SIZES]), pairs.index, dtype=bool)
    # a later sheet of the same register carries its cores on, which is no fault
    is_same_register = pairs["register_no"].eq(pairs["other_register_no"])
    here = (~_is_handed_over(pairs) | differing_sizes) & (differ | ~is_same_register)
    kinds = [
        ItemKind(has & here, "{label:term}", {"label": LABELS[name]}, {"label": name})
        for name, has in differing.items()
    ]
    return find(
        pairs[here],
        choose_by(_IN_TWO, differ[here], ~pairs.loc[here, "is_copy"], *_elsewhere(cores, pairs[here])),
        "Find out which register is right, and keep the core in that one only.",
        {"differences": found_items(kinds)},
        keeps=[_PARTNER],
    )


# by whether this row is the one that is counted, and whether the core is reinstated there
_HANDED: Final = _wherever(
    {
        (True, True): "Continued from {other}, where it is still open; counted once, in this row.",
        (True, False): "Continued from {other}, which has earlier dates; counted once, in this row.",
        (False, True): "Continued in {other}, where it is reinstated; counted once, in that row.",
        (False, False): "Continued in {other}, which has later dates; counted once, in that row.",
    }
)


@rule(
    "core-handed-over",
    needs=["core_id"],
    shows=[*_IN_REGISTERS, "is_open", *_EVENTS],
    partner=_PARTNER,
    moving=_PLACE,
)
def core_handed_over(cores: pd.DataFrame) -> Findings:
    """A core was carried on in another register."""
    if not _has_several(cores, "file_no"):
        return nothing_found(cores.index[:0])
    pairs = _with_counterparts(cores)
    here = pairs[_is_handed_over(pairs) & pairs["register_no"].ne(pairs["other_register_no"])]
    reinstated = here["reinstated_at"].mask(here["is_copy"], here["other_reinstated_at"]).notna()
    return find(
        here,
        choose_by(_HANDED, ~here["is_copy"], reinstated, *_elsewhere(cores, here)),
        for_authority(
            "Close the core where it is still open, or leave out the earlier file.",
            "The utility must keep the core in one register only.",
        ),
        keeps=[_PARTNER],
    )


# by whether both have a position
_ID_IN_TWO: Final = _wherever(
    {
        (True,): 'Id "{core_id}" is also used in {other}, for a core {apart_m:.0f} m away.',
        (False,): 'Id "{core_id}" is also used in {other}; one of the two has no usable position, so they cannot be '
        "compared.",
    }
)


@rule(
    "id-in-two-registers",
    needs=["core_id"],
    shows=[*_IN_REGISTERS, "x_m", "y_m"],
    partner=_PARTNER,
    moving=_PLACE,
)
def id_in_two_registers(cores: pd.DataFrame) -> Findings:
    """Two registers use one id for different cores."""
    # most programmes have one register, and no id of it needs to be compared
    if not _has_several(cores, "register_no"):
        return nothing_found(cores.index[:0])
    table = cores.assign(id=plain_ids(cores["core_id"]), at=np.arange(len(cores)))
    table = _in_several(table, table["id"], "register_no")
    columns = ["id", "same_core", "register_no", "register", "register_file", "register_row", "x_m", "y_m"]
    # a register's row that is counted, before those that it was carried on from
    firsts = table.sort_values("is_copy", kind="stable").drop_duplicates(["id", "register_no"])[columns]
    pairs = table.merge(
        firsts.add_prefix("other_"), left_on="id", right_on="other_id", how="inner", validate="many_to_many"
    )
    differ = pairs["register_no"].ne(pairs["other_register_no"]) & pairs["same_core"].ne(pairs["other_same_core"])
    found = pairs[differ].drop_duplicates("at")
    found = found.set_axis(cores.index[found["at"]], axis="index").sort_values("at")
    apart = pd.Series(np.hypot(found["x_m"] - found["other_x_m"], found["y_m"] - found["other_y_m"]), found.index)
    return find(
        found,
        choose_by(_ID_IN_TWO, apart.notna(), *_elsewhere(cores, found)),
        "Find out whether these are two cores, and give each an id that no other register uses.",
        keeps=[_PARTNER],
        apart_m=apart,
    )
