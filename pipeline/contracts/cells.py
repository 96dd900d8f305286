"""Values that several stages write or read alike: statuses, states, severities, urgencies, empty cells, stand-ins."""

from collections.abc import Collection, Sequence
from typing import Final

import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import compute as pc

__all__ = [
    "CORE_STATES",
    "MISSING_WORDS",
    "NO_CREW",
    "NO_DATE",
    "NO_DISTRICT",
    "OPEN_STATES",
    "SEVERITIES",
    "STATUSES",
    "URGENCIES",
    "column_by_column",
    "commonest_spelling",
    "is_missing",
    "is_word",
    "latest_of",
    "no_text",
    "plain_ids",
    "sharing_blanks",
    "start_of_day",
]

# of a core, the most urgent first
STATUSES: Final = ("flagged", "pending", "reinstated")
# of a finding, the most urgent first
SEVERITIES: Final = ("fail", "check", "note")
# of a finding, the most urgent first: someone can be hurt or the road damaged; a legal or contractual time has passed;
# the reinstatement is, or would be, below standard; the register cannot be right, or the core cannot be assessed
URGENCIES: Final = ("hazard", "overdue", "quality", "record")
# where a core is
CORE_STATES: Final = ("open", "plated", "interim", "back", "unknown")
# those of a core that is not yet reinstated
OPEN_STATES: Final = CORE_STATES[:3]
# written in orders and groups for a core without a district, or without a day
NO_DISTRICT: Final = "(no district)"
NO_CREW: Final = "(no crew)"
NO_DATE: Final = "(no date)"
# what people write into a cell that has no value
MISSING_WORDS: Final = frozenset(
    {
        "", "-", "--", "n/a", "na", "nan", "nat", "<na>", "(null)", "null", "none", "nil", "?", "unknown", "unk", "tbc",
        "tbd", "not known",
    }
)  # fmt: skip


def no_text(index: pd.Index) -> pd.Series:
    """Return a text column with every cell missing."""
    return pd.Series(pd.array(pa.nulls(len(index), pa.large_string()), dtype="str"), index)


def sharing_blanks(frame: pd.DataFrame) -> pd.DataFrame:
    """Return a frame whose columns of one kind without any value are one and the same in memory; nothing is copied."""
    first: dict[object, pd.Series] = {}
    blank = [name for name, column in frame.items() if column.isna().all()]
    return frame.assign(**{str(name): first.setdefault(frame[name].dtype, frame[name]) for name in blank})


def column_by_column(frame: pd.DataFrame) -> pd.DataFrame:
    """Return a frame that holds each of its columns by itself: a block of several is kept while any of them is."""
    return frame.assign(**{str(name): column.copy() for name, column in frame.items()})


def is_missing(text: pd.Series) -> pd.Series:
    """Return whether each cell has no value: it is empty, or holds a word such as "n/a" or "unknown"."""
    return text.isna() | is_word(text, MISSING_WORDS)


def is_word(text: pd.Series, words: Collection[str]) -> pd.Series:
    """Return whether each text is one of some words in lower case, its own case and outer blanks aside."""
    # each distinct text is compared once; a missing one has code -1, which is the answer added at the end
    codes, distinct = pd.factorize(text)
    among = pd.Series(distinct, dtype="str").str.strip().str.casefold().isin(words).to_numpy()
    return pd.Series(np.append(among, False)[codes], text.index)


def plain_ids(core_id: pd.Series) -> pd.Series:
    """Return ids in lower case without spaces, missing where nothing is left: equal ones name the same core."""
    texts = pa.array(core_id.astype("str"), pa.large_string(), from_pandas=True)
    plain = pc.utf8_lower(texts)
    # nearly all ids are plain letters and digits, for which this is all there is to do
    rest = pc.fill_null(pc.match_substring_regex(texts, r"[^\x21-\x7e]"), fill_value=False).to_numpy(
        zero_copy_only=False
    )
    ids = pd.Series(plain, core_id.index, dtype="str")
    if rest.any():
        ids[rest] = core_id[rest].str.casefold().str.replace(r"\s+", "", regex=True)
    return ids.where(ids.ne(""))


def commonest_spelling(written: pd.Series) -> pd.Series:
    """Return N names, each in the commonest spelling of those that differ only by case and spaces."""
    codes, names = pd.factorize(written)
    plain = pd.Series(names, dtype="str").str.strip().str.replace(r"\s+", " ", regex=True)
    form = plain.str.casefold()
    spellings = pd.DataFrame(
        {"form": form, "plain": plain, "count": np.bincount(codes[codes >= 0], minlength=len(names))}
    )
    counts = spellings.groupby(["form", "plain"], as_index=False).sum()
    commonest = counts.sort_values(["count", "plain"], ascending=[False, True]).drop_duplicates("form")
    shown = form.map(commonest.set_index("form")["plain"]).astype("str")
    return pd.Series(shown.reindex(codes).to_numpy(), written.index, dtype="str")


def start_of_day(instants: pd.Series) -> pd.Series:
    """Return the first instant of the day of each instant, in its own time zone.

    That is midnight, except where clocks change at midnight: 1:00 on a day that has no midnight (Chile, Lebanon), and
    the first of the two on a day that has midnight twice (Cuba, the Azores).
    """
    midnights = instants.dt.tz_localize(None).dt.normalize()
    starts: pd.Series = midnights.dt.tz_localize(instants.dt.tz, ambiguous=True, nonexistent="shift_forward")
    return starts


def latest_of(table: pd.DataFrame, names: Sequence[str]) -> pd.Series:
    """Return the latest of several instants of each row, in UTC without a zone; missing where there is none."""
    # pandas would compare instants with a zone one by one
    instants = [table[name].to_numpy("datetime64[us]") for name in names]
    return pd.Series(np.fmax.reduce(instants), table.index)
