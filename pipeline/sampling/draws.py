"""Draw a sample of a run's cores for inspection, lot by lot: reproducible, beyond anyone's influence."""

import hashlib
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.programme.sampling_schemes import Isolated, Of, PlanTables, Series
from pipeline.sampling.plans import Curve, Plan, plan_of

__all__ = ["SHEET_COLUMNS", "Lot", "SamplingFrame", "draw", "sampling_frame", "seed_of", "sheet", "single_lines"]

SHEET_COLUMNS: Final = (
    "lot", "draw_order", "row", "core_id", "street", "segment_id", "chainage_m", "side", "offset_m", "surface", "shade",
    "diameter_mm", "lon", "lat", "status", "findings", "result", "remark", "state", "urgency", "core_kg", "cautions",
)  # fmt: skip
# 12 hexadecimal digits: a seed that every program can hold without loss
_SEED_DIGITS: Final = 12


class SamplingFrame(NamedTuple):
    """The cores that a sample is drawn from.

    ``cores``: the cores of every lot, with ``lot``. ``left_out``: the number of rows excluded, by reason.
    """

    cores: pd.DataFrame
    left_out: dict[str, int]


class Lot(NamedTuple):
    """One lot: its name, its number of cores, its plan, and the rows drawn, in draw order."""

    name: str
    size: int
    plan: Plan
    curve: Curve
    rows: list[int]


def seed_of(sha256: str) -> int:
    """Return the seed from a register's checksum: its first 12 hexadecimal digits.

    The audit date is not part of it, because whoever runs the audit can choose that.
    """
    return int(sha256[:_SEED_DIGITS], 16)


def sampling_frame(
    cores: pd.DataFrame, is_reinstated: pd.Series, has_entry: pd.Series, of: Of, lot: pd.Series
) -> SamplingFrame:
    """Return the cores that a sample is drawn from.

    Parameters
    ----------
    cores
        N rows with the columns of ``cores.csv``; a row with ``copy_of`` is counted by another row.
    is_reinstated
        N booleans: the core has a reinstatement date.
    has_entry
        N booleans: the register has an entry for reinstatement, even if it is not a date.
    of
        ``reinstated``: reinstated cores, flagged or not; ``open``: cores without any entry for reinstatement; ``all``:
        every core.
    lot
        N names of lots, none missing.

    Returns
    -------
    SamplingFrame
        ``cores`` in their order, on their index, each of them once.
    """
    is_copy = cores["copy_of"].notna()
    unclear = has_entry & ~is_reinstated
    wanted = {
        "reinstated": is_reinstated,
        "open": ~has_entry & ~is_reinstated,
        "all": pd.Series(True, cores.index),
    }[of]
    left_out = {
        "duplicate row, counted once": int(is_copy.sum()),
        "open or reinstated is unclear because the date is unreadable": int((unclear & ~wanted & ~is_copy).sum()),
        {"reinstated": "not yet reinstated", "open": "already reinstated", "all": "not selected"}[of]: int(
            (~wanted & ~unclear & ~is_copy).sum()
        ),
    }
    chosen = cores[wanted & ~is_copy]
    return SamplingFrame(
        chosen.assign(lot=lot.loc[chosen.index]),
        {reason: count for reason, count in left_out.items() if count},
    )


def draw(cores: pd.DataFrame, scheme: Series | Isolated, tables: PlanTables, seed: int) -> list[Lot]:
    """Draw each lot's sample without replacement, every core with the same probability.

    Parameters
    ----------
    cores
        Cores to draw from, with ``lot``, ``core_id`` and ``row``.
    scheme, tables
        They decide how many cores each lot needs.
    seed
        0 or more. Seed and name of the lot alone decide the draw: other lots do not affect it, nor does the order of
        the rows as long as ids are unique.

    Returns
    -------
    list of Lot
        By name. ``rows`` of a smaller plan are the first of a larger one.
    """
    # duplicate and missing ids are ordered by row
    ordered = cores.assign(core_id=cores["core_id"].fillna("")).sort_values(["lot", "core_id", "row"])
    lots = []
    for name, group in ordered.groupby("lot", sort=True):
        plan, curve = plan_of(len(group), scheme, tables)
        order = np.argsort(_numbers(seed, str(name), len(group)), kind="stable")
        rows = group["row"].to_numpy()[order[: plan.n]]
        lots.append(Lot(str(name), len(group), plan, curve, rows.tolist()))
    return lots


def _numbers(seed: int, lot: str, count: int) -> np.ndarray[tuple[int], np.dtype[np.uint64]]:
    """Return a random number for each core of a lot, the same in every version of numpy."""
    words = np.frombuffer(hashlib.sha256(lot.encode("utf-8", "surrogatepass")).digest(), dtype="<u4")
    # numpy guarantees the streams of its bit generators, but not what its Generator makes of them
    generator = np.random.PCG64(np.random.SeedSequence([seed, *words.tolist()]))
    return generator.random_raw(count)


def sheet(cores: pd.DataFrame, lots: list[Lot]) -> pd.DataFrame:
    """Return the sheet for the field: one row per drawn core, by lot and street, with the result to fill in.

    Parameters
    ----------
    cores
        Cores the lots were drawn from, with ``lot``, the columns of ``cores.csv`` and ``cautions``.
    lots
        What was drawn.

    Returns
    -------
    pandas.DataFrame
        SHEET_COLUMNS; ``draw_order`` is 1 for the first core drawn of a lot, and so on. ``result`` and ``remark`` are
        empty.
    """
    drawn = pd.DataFrame(
        {
            "row": np.array([row for lot in lots for row in lot.rows], dtype="int64"),
            "draw_order": np.array([at for lot in lots for at in range(1, len(lot.rows) + 1)], dtype="int64"),
        }
    )
    # a register may have such columns of its own, such as from an earlier sheet
    cores = cores.drop(columns="draw_order", errors="ignore")
    table = drawn.merge(cores, on="row", validate="one_to_one").assign(result=None, remark=None)
    field = table.sort_values(["lot", "street", "segment_id", "chainage_m", "row"], na_position="last")
    return single_lines(field[list(SHEET_COLUMNS)].astype({"result": "str", "remark": "str"}).reset_index(drop=True))


def single_lines(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with every text on one line."""
    return table.assign(
        **{
            name: table[name].str.replace(r"[\s\x00-\x1f\x7f]+", " ", regex=True).str.strip()
            for name in map(str, table.select_dtypes("str"))
        }
    )
