"""Judge an inspected sample: what became of every row, and whether each lot is accepted."""

from collections.abc import Hashable, Mapping
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import is_missing, no_text
from pipeline.intervals import bad_in_lot, true_rate
from pipeline.programme.sampling_schemes import Inspection
from pipeline.sampling.draws import Lot, single_lines

__all__ = ["OUTCOMES", "RESULT_COLUMNS", "Verdict", "judge"]

OUTCOMES: Final = ("passed", "failed", "not inspected", "unreadable", "not of the sample", "written twice")
RESULT_COLUMNS: Final = (
    "lot", "place", "row", "core_id", "street", "outcome", "result", "remark", "line", "why",
)  # fmt: skip
_ACCEPTED, _REJECTED, _OPEN = "accept", "reject", "not decided yet"


class Verdict(NamedTuple):
    """What an inspected sample says.

    ``rows``: RESULT_COLUMNS, one row for each row of the file and for each drawn core that is not in it; ``line`` is
    the data row of the file, missing for the latter. ``lots``: one row a lot, with its counts, its decision and the
    95 % intervals. ``account``: how many rows of the file had each outcome, and how many drawn cores are not in it.
    """

    rows: pd.DataFrame
    lots: pd.DataFrame
    account: dict[str, int]


def judge(drawn: pd.DataFrame, lots: list[Lot], filled: pd.DataFrame, words: Inspection) -> Verdict:
    """Judge a filled-in sample.

    Parameters
    ----------
    drawn
        The sheet as it was drawn.
    lots
        Its lots and their plans.
    filled
        What came back, N rows as text: ``line``, ``row``, ``core_id``, ``result``, ``remark``, ``ragged``.
    words
        What stands for passed, failed and not inspected.

    Returns
    -------
    Verdict
        Every row of ``filled`` has exactly one outcome. A drawn core that is not in the file is not inspected.
    """
    told = _told(drawn, filled, words)
    of_sample = told[told["outcome"].ne("not of the sample") & told["outcome"].ne("written twice")]
    sheet = drawn[["row", "lot", "place", "core_id", "street"]]
    ours = sheet.merge(
        of_sample[["row", "outcome", "result", "remark", "line", "why"]], on="row", how="left", validate="one_to_one"
    )
    absent = ours["outcome"].isna()
    ours["outcome"] = ours["outcome"].mask(absent, "not inspected")
    ours["why"] = ours["why"].mask(absent, "not in the file")
    again = told[told["outcome"].eq("written twice")].merge(sheet, on="row", validate="many_to_one")
    strange = told.join(filled["core_id"])[told["outcome"].eq("not of the sample")]
    others = pd.concat([again, strange]).sort_values("line").reindex(columns=list(RESULT_COLUMNS))
    rows = pd.concat([ours[list(RESULT_COLUMNS)], others], ignore_index=True)
    counts = told["outcome"].value_counts()
    account = {
        "rows in the file": len(filled),
        **{outcome: int(counts.get(outcome, 0)) for outcome in OUTCOMES},
        "drawn, and not in the file": int(absent.sum()),
    }
    return Verdict(
        single_lines(rows.astype({"row": "Int64", "place": "Int64", "line": "Int64"})), _lots(ours, lots), account
    )


def _told(drawn: pd.DataFrame, filled: pd.DataFrame, words: Inspection) -> pd.DataFrame:
    """Each row of the file with its outcome, and why where that needs a word."""
    number = pd.to_numeric(filled["row"].str.extract(r"^\s*([0-9]{1,12})(?:\.0*)?\s*$")[0]).astype("Int64")
    ids = drawn.set_index("row")["core_id"]
    is_ours = number.isin(ids.index) & _plain(filled["core_id"]).eq(_plain(number.map(ids).astype("str")))
    said = filled["result"].str.normalize("NFKC").str.casefold().str.replace(r"\s+", " ", regex=True)
    said = said.str.strip().str.rstrip(".!")
    outcome = pd.Series("unreadable", filled.index, dtype="str")
    for name, spellings in (("passed", words.passed), ("failed", words.failed), ("not inspected", words.not_inspected)):
        outcome = outcome.mask(said.isin(spellings), name)
    outcome = outcome.mask(is_missing(filled["result"]), "not inspected")
    why = no_text(filled.index).mask(outcome.eq("unreadable"), "neither pass nor fail nor empty")
    # a field too many may have moved the result into another column
    shifted = filled["ragged"].notna() & outcome.ne("not inspected")
    outcome, why = outcome.mask(shifted, "unreadable"), why.mask(shifted, filled["ragged"])

    # a core that stands several times: a result goes before none, and two that differ are none
    order = pd.DataFrame({"row": number, "blank": outcome.eq("not inspected")})[is_ours].sort_values(
        ["blank"], kind="stable"
    )
    is_again = pd.Series(False, filled.index)
    is_again[order.index] = order["row"].duplicated()
    results = outcome.where(is_ours & outcome.ne("not inspected")).groupby(number).transform("nunique")
    differs = results.gt(1).fillna(value=False).astype(bool)
    outcome = outcome.mask(differs, "unreadable").mask(is_again, "written twice").mask(~is_ours, "not of the sample")
    why = why.mask(differs, "the core stands several times, with results that differ")
    why = why.mask(is_again & ~differs, "the core stands several times; counted once")
    why = why.mask(~is_ours, "no drawn core has this row and this id")
    return pd.DataFrame(
        {
            "row": number,
            "outcome": outcome,
            "result": filled["result"],
            "remark": filled["remark"],
            "line": filled["line"],
            "why": why,
        }
    )


def _plain(ids: pd.Series) -> pd.Series:
    """What is left of an id after a spreadsheet had it: no leading zeros, and letters of other scripts not for sure."""
    return ids.fillna("").str.replace(r"[^0-9A-Za-z]+", "", regex=True).str.casefold().str.lstrip("0")


def _lots(ours: pd.DataFrame, lots: list[Lot]) -> pd.DataFrame:
    # by place, for two names may look the same once they stand in a cell
    place = pd.Series({row: place for place, lot in enumerate(lots) for row in lot.rows})
    counts = pd.crosstab(ours["row"].map(place), ours["outcome"]).reindex(columns=list(OUTCOMES[:4]), fill_value=0)
    lines = [_lot(lot, line) for lot, line in zip(lots, counts.to_dict("records"), strict=True)]
    return pd.DataFrame(lines).astype(
        {"failed_share": float, "rate_low": float, "rate_high": float, "bad_low": "Int64", "bad_high": "Int64"}
    )


def _lot(lot: Lot, counts: Mapping[Hashable, int]) -> dict[str, object]:
    failed, inspected = int(counts["failed"]), int(counts["failed"] + counts["passed"])
    whole = _ACCEPTED if inspected == lot.plan.n else _OPEN
    decision = _REJECTED if failed >= lot.plan.reject else whole
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
        "failed_share": failed / inspected if inspected else np.nan,
        "rate_low": rate[0],
        "rate_high": rate[1],
        "bad_low": bad[0],
        "bad_high": bad[1],
    }
