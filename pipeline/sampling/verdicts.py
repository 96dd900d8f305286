"""Judge an inspected sample: the outcome of every row, and whether each lot is accepted."""

from collections.abc import Hashable, Mapping
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import is_missing, no_text
from pipeline.intervals import bad_in_lot, true_rate
from pipeline.programme.sampling_schemes import Inspection
from pipeline.sampling.draws import Lot, single_lines

__all__ = ["OUTCOMES", "RESULT_COLUMNS", "Verdict", "judge"]

OUTCOMES: Final = ("passed", "failed", "not inspected", "unreadable", "not in the sample", "duplicate")
RESULT_COLUMNS: Final = (
    "lot", "draw_order", "row", "core_id", "street", "outcome", "result", "remark", "line", "reason",
)  # fmt: skip
_ACCEPTED, _REJECTED, _UNDECIDED = "accept", "reject", "undecided"
_NOT_IN_FILE: Final = "drawn, but not in the file"


class Verdict(NamedTuple):
    """The result of an inspected sample.

    ``rows``: RESULT_COLUMNS, one row for each row of the file and for each drawn core that is not in it; ``line`` is
    the data row of the file, missing for the latter. ``lots``: one row per lot, with its counts, its decision (early as
    soon as the cores that are left cannot change it) and the 95 % intervals, which are by what was inspected.
    ``account``: the number of rows of the file by outcome, and of drawn cores that are not in it.
    """

    rows: pd.DataFrame
    lots: pd.DataFrame
    account: dict[str, int]


def judge(drawn: pd.DataFrame, lots: list[Lot], filled: pd.DataFrame, words: Inspection) -> Verdict:
    """Return the verdict on a filled-in sample.

    Parameters
    ----------
    drawn
        The sheet as it was drawn.
    lots
        Its lots and their plans.
    filled
        The sheet as it came back, N rows as text: ``line``, ``row``, ``core_id``, ``result``, ``remark``, ``ragged``.
    words
        The entries that mean passed, failed and not inspected.

    Returns
    -------
    Verdict
        Every row of ``filled`` has exactly one outcome. A drawn core that is not in the file counts as not inspected.
    """
    answers = _outcomes(drawn, filled, words)
    counted = answers[~answers["outcome"].isin(["not in the sample", "duplicate"])]
    sheet = drawn[["row", "lot", "draw_order", "core_id", "street"]]
    ours = sheet.merge(
        counted[["row", "outcome", "result", "remark", "line", "reason"]], on="row", how="left", validate="one_to_one"
    )
    absent = ours["outcome"].isna()
    ours["outcome"] = ours["outcome"].mask(absent, "not inspected")
    ours["reason"] = ours["reason"].mask(absent, "not in the file")
    again = answers[answers["outcome"].eq("duplicate")].merge(sheet, on="row", validate="many_to_one")
    strange = answers.join(filled["core_id"])[answers["outcome"].eq("not in the sample")]
    others = pd.concat([again, strange]).sort_values("line").reindex(columns=list(RESULT_COLUMNS))
    rows = pd.concat([ours[list(RESULT_COLUMNS)], others], ignore_index=True)
    counts = answers["outcome"].value_counts()
    account = {
        "rows in the file": len(filled),
        **{outcome: int(counts.get(outcome, 0)) for outcome in OUTCOMES},
        _NOT_IN_FILE: int(absent.sum()),
    }
    return Verdict(
        single_lines(rows.astype({"row": "Int64", "draw_order": "Int64", "line": "Int64"})), _lots(ours, lots), account
    )


def _outcomes(drawn: pd.DataFrame, filled: pd.DataFrame, words: Inspection) -> pd.DataFrame:
    """Return each row of the file with its outcome, and the reason where it is not obvious."""
    number = pd.to_numeric(filled["row"].str.extract(r"^\s*([0-9]{1,12})(?:\.0*)?\s*$")[0]).astype("Int64")
    ids = drawn.set_index("row")["core_id"]
    is_ours = number.isin(ids.index) & _plain(filled["core_id"]).eq(_plain(number.map(ids).astype("str")))
    entry = filled["result"].str.normalize("NFKC").str.casefold().str.replace(r"\s+", " ", regex=True)
    entry = entry.str.strip().str.rstrip(".!")
    outcome = pd.Series("unreadable", filled.index, dtype="str")
    for name, spellings in (("passed", words.passed), ("failed", words.failed), ("not inspected", words.not_inspected)):
        outcome = outcome.mask(entry.isin(spellings), name)
    outcome = outcome.mask(is_missing(filled["result"]), "not inspected")
    reason = no_text(filled.index).mask(outcome.eq("unreadable"), "neither pass, fail nor empty")
    # an extra field may have moved the result into another column
    shifted = filled["ragged"].notna() & outcome.ne("not inspected")
    outcome, reason = outcome.mask(shifted, "unreadable"), reason.mask(shifted, filled["ragged"])

    # a core on several rows: a result goes before an empty one, and results that differ are unreadable
    order = pd.DataFrame({"row": number, "blank": outcome.eq("not inspected")})[is_ours].sort_values(
        ["blank"], kind="stable"
    )
    is_again = pd.Series(False, filled.index)
    is_again[order.index] = order["row"].duplicated()
    results = outcome.where(is_ours & outcome.ne("not inspected")).groupby(number).transform("nunique")
    differs = results.gt(1).fillna(value=False).astype(bool)
    outcome = outcome.mask(differs, "unreadable").mask(is_again, "duplicate").mask(~is_ours, "not in the sample")
    reason = reason.mask(differs, "the core is on several rows with different results")
    reason = reason.mask(is_again & ~differs, "the core is on several rows; counted once")
    reason = reason.mask(~is_ours, "no core with this row and id was drawn")
    return pd.DataFrame(
        {
            "row": number,
            "outcome": outcome,
            "result": filled["result"],
            "remark": filled["remark"],
            "line": filled["line"],
            "reason": reason,
        }
    )


def _plain(ids: pd.Series) -> pd.Series:
    """Return what a spreadsheet leaves of an id: no leading zeros, and letters of other scripts dropped."""
    return ids.fillna("").str.replace(r"[^0-9A-Za-z]+", "", regex=True).str.casefold().str.lstrip("0")


def _lots(ours: pd.DataFrame, lots: list[Lot]) -> pd.DataFrame:
    # by position, since two names may look the same in a cell
    position = pd.Series({row: at for at, lot in enumerate(lots) for row in lot.rows})
    counts = pd.crosstab(ours["row"].map(position), ours["outcome"]).reindex(columns=list(OUTCOMES[:4]), fill_value=0)
    lines = [_lot(lot, line) for lot, line in zip(lots, counts.to_dict("records"), strict=True)]
    return pd.DataFrame(lines).astype(
        {"failed_share": float, "rate_low": float, "rate_high": float, "bad_low": "Int64", "bad_high": "Int64"}
    )


def _lot(lot: Lot, counts: Mapping[Hashable, int]) -> dict[str, object]:
    failed, inspected = int(counts["failed"]), int(counts["failed"] + counts["passed"])
    left = lot.plan.n - inspected
    # even if every core that is left failed, no more would have failed than may
    unless_rejected = _ACCEPTED if failed + left <= lot.plan.accept else _UNDECIDED
    decision = _REJECTED if failed >= lot.plan.reject else unless_rejected
    rate = true_rate(failed, inspected) if inspected else (np.nan, np.nan)
    bad = bad_in_lot(failed, inspected, lot.size) if inspected else (None, None)
    return {
        "lot": lot.name,
        "cores": lot.size,
        "n": lot.plan.n,
        "accept": lot.plan.accept,
        "reject": lot.plan.reject,
        "inspected": inspected,
        "failed": failed,
        "not_inspected": int(counts["not inspected"]),
        "unreadable": int(counts["unreadable"]),
        "decision": decision,
        "decided_early": decision != _UNDECIDED and left > 0,
        "failed_share": failed / inspected if inspected else np.nan,
        "rate_low": rate[0],
        "rate_high": rate[1],
        "bad_low": bad[0],
        "bad_high": bad[1],
    }
