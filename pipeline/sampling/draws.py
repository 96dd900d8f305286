"""Draw a sample of a run's cores for inspection: a lot a district, reproducible, chosen by nobody."""

import hashlib
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import NO_DISTRICT
from pipeline.programme.sampling_schemes import Isolated, Of, PlanTables, Series
from pipeline.sampling.plans import Curve, Plan, plan_of

__all__ = ["SHEET_COLUMNS", "Frame", "Lot", "draw", "frame_of", "seed_of", "sheet", "single_lines"]

SHEET_COLUMNS: Final = (
    "lot", "place", "row", "core_id", "street", "segment_id", "chainage_m", "side", "offset_m", "surface", "shade",
    "diameter_mm", "lon", "lat", "status", "findings", "result", "remark",
)  # fmt: skip
# a seed that every program can hold without loss: 12 hexadecimal digits
_SEED_DIGITS: Final = 12
_COPIED: Final = r"(?:^|;)row-duplicated(?:;|$)"


class Frame(NamedTuple):
    """What a sample may be drawn from.

    ``cores``: the cores of every lot, with ``lot``. ``left_out``: how many rows are not, by reason.
    """

    cores: pd.DataFrame
    left_out: dict[str, int]


class Lot(NamedTuple):
    """One district's lot: cores in it, its plan, and the rows drawn, in the order of drawing."""

    name: str
    size: int
    plan: Plan
    curve: Curve
    rows: list[int]


def seed_of(sha256: str) -> int:
    """Return the seed that a register's checksum gives: its first 12 hexadecimal digits.

    The day of the audit has no part in it, for whoever runs the audit can choose that.
    """
    return int(sha256[:_SEED_DIGITS], 16)


def frame_of(cores: pd.DataFrame, own: list[str], is_back: pd.Series, says_back: pd.Series, of: Of) -> Frame:
    """Choose the cores that a sample is drawn from.

    Parameters
    ----------
    cores
        N rows with the columns of ``cores.csv``.
    own
        Names of the register's own columns among them: a row that repeats another in each of these, and lies at the
        same place, is the same core.
    is_back
        N truths: the core has a date of reinstatement.
    says_back
        N truths: the register says something about reinstatement, even if it is no date.
    of
        ``back``: cores that are back, flagged or not; ``open``: cores of which nothing says that they are back;
        ``all``: every core.

    Returns
    -------
    Frame
        ``cores`` in their order, on their index, each of them once.
    """
    copied = cores["findings"].str.contains(_COPIED).fillna(value=False).astype(bool)
    is_copy = pd.Series(False, cores.index)
    is_copy[copied] = cores[copied].sort_values("row")[[*own, "lon", "lat"]].duplicated()
    unsettled = says_back & ~is_back
    wanted = {"back": is_back, "open": ~says_back & ~is_back, "all": pd.Series(True, cores.index)}[of]
    left_out = {
        "the row stands twice and is one core": int(is_copy.sum()),
        "back or open cannot be told: the reinstatement date is not readable": int(
            (unsettled & ~wanted & ~is_copy).sum()
        ),
        {"back": "not back yet", "open": "back already", "all": "not wanted"}[of]: int(
            (~wanted & ~unsettled & ~is_copy).sum()
        ),
    }
    chosen = cores[wanted & ~is_copy]
    return Frame(
        chosen.assign(lot=chosen["district"].fillna(NO_DISTRICT)),
        {reason: count for reason, count in left_out.items() if count},
    )


def draw(cores: pd.DataFrame, scheme: Series | Isolated, tables: PlanTables, seed: int) -> list[Lot]:
    """Draw each lot's sample without replacement, every core with the same chance.

    Parameters
    ----------
    cores
        Cores to draw from, with ``lot``, ``core_id`` and ``row``.
    scheme, tables
        How many each lot needs.
    seed
        0 or more. With the lot's name it alone decides: another lot more or less changes nothing, nor does the order
        of the rows as long as no id stands twice.

    Returns
    -------
    list of Lot
        By name. ``rows`` of a smaller plan are the first of a larger one.
    """
    # ids that stand twice, or are missing, are told apart by their row
    ordered = cores.assign(core_id=cores["core_id"].fillna("")).sort_values(["lot", "core_id", "row"])
    lots = []
    for name, group in ordered.groupby("lot", sort=True):
        plan, curve = plan_of(len(group), scheme, tables)
        order = np.argsort(_numbers(seed, str(name), len(group)), kind="stable")
        rows = group["row"].to_numpy()[order[: plan.n]]
        lots.append(Lot(str(name), len(group), plan, curve, rows.tolist()))
    return lots


def _numbers(seed: int, lot: str, count: int) -> np.ndarray[tuple[int], np.dtype[np.uint64]]:
    """A random number for each core of a lot, the same in every version of numpy."""
    words = np.frombuffer(hashlib.sha256(lot.encode("utf-8", "surrogatepass")).digest(), dtype="<u4")
    # numpy keeps its bit generators' streams as they are, but not what its Generator makes of them
    generator = np.random.PCG64(np.random.SeedSequence([seed, *words.tolist()]))
    return generator.random_raw(count)


def sheet(cores: pd.DataFrame, lots: list[Lot]) -> pd.DataFrame:
    """Return the sheet to take into the field: one row a drawn core, by district and street, the result to fill in.

    Parameters
    ----------
    cores
        Cores the lots were drawn from, with ``lot`` and the columns of ``cores.csv``.
    lots
        What was drawn.

    Returns
    -------
    pandas.DataFrame
        SHEET_COLUMNS; ``place`` is the place in the order of drawing, 1 for the first of a lot. ``result`` and
        ``remark`` are empty.
    """
    drawn = pd.DataFrame(
        {
            "row": np.array([row for lot in lots for row in lot.rows], dtype="int64"),
            "place": np.array([place for lot in lots for place in range(1, len(lot.rows) + 1)], dtype="int64"),
        }
    )
    whole = drawn.merge(cores, on="row", validate="one_to_one").assign(result=None, remark=None)
    field = whole.sort_values(["lot", "street", "segment_id", "chainage_m", "row"], na_position="last")
    return single_lines(field[list(SHEET_COLUMNS)].astype({"result": "str", "remark": "str"}).reset_index(drop=True))


def single_lines(table: pd.DataFrame) -> pd.DataFrame:
    """Make every text one line."""
    return table.assign(
        **{
            name: table[name].str.replace(r"[\s\x00-\x1f\x7f]+", " ", regex=True).str.strip()
            for name in map(str, table.select_dtypes("str"))
        }
    )
