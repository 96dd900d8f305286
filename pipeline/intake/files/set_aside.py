"""Rows of a register that hold no core: blank lines, totals, repeated headers, footers."""

from typing import Final

import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.contracts import no_text
from pipeline.intake.files.header_rows import Wanted, fold

__all__ = ["LONGEST_TEXT", "joined_cells", "reasons_to_set_aside"]

LONGEST_TEXT: Final = 200
# a shape of ids is usual if it is the shape of at least this share of the rows that have a position or sizes
_USUAL_SHARE: Final = 0.01
# shapes are learnt from about this many rows at the most
_MOST_LEARNT: Final = 10_000
# a line drawn with characters
_RULE: Final = r"[-_=~.*+|‒-―\s]+"
_TOTAL: Final = (
    r"(?i)^\W*(?:(?:grand|sub|running|monthly|weekly|yearly|annual)[\s-]*)?"
    r"(?:totals?|sum|subtotals?|averages?|avg|mean|carried forward|brought forward)\b"
    r"|^\s*(?:no\.?|number|count) of (?:cores|rows|openings|holes|bags|entries)\b"
    r"|\b(?:grand |sub-?)?totals?\s*:?\s*$|^\s*[0-9][0-9,. ]*\s(?:cores?|rows?|openings?|holes?|entries|records)\s*$"
)
_NOTE: Final = (
    r"(?i)^\W*(?:checked|prepared|approved|reviewed|signed|compiled|printed|exported|issued|verified|submitted)\b"
    r"|^\W*(?:notes?|legend|key|source|remarks?|page|sheet|date|signature|continued|end of|n\.?b\.?)\b"
    r"(?:\s*[:.\d]|\s+(?:of|on|by|list|register|report|sheet|overleaf)\b|$)|^\s*(?:\*|†|©)"
)


def reasons_to_set_aside(body: pd.DataFrame, wanted: Wanted, head: frozenset[str] = frozenset()) -> pd.Series:
    """Return why each row holds no core: N texts, missing for the rows that stay.

    A row stays if its id is shaped like the other ids ("HV-1046" as "A-9"), however empty it is. A row with another id,
    or none, stays if it has a position; if it has a size, unless its id or its first filled cell says that it is a
    total, or it has no id and nothing but numbers, with sizes beyond those of all cores; and wherever nothing reveals
    what it is.

    Parameters
    ----------
    body
        N rows under the header, as text.
    wanted
        Names of the columns for id, position and sizes.
    head
        Every text of the header, folded: of all its rows, where it has several.
    """
    core_id, positions, sizes = (_columns(body, names) for names in (wanted.core_id, wanted.position, wanted.sizes))
    reasons = no_text(body.index)
    if not core_id:
        return reasons.mask(body.isna().all(axis="columns"), "blank")
    ids = body[core_id[0]].str.strip()
    # a header that is repeated has words there
    is_placed = _has_digits(body, positions[:1])
    is_header = ids.str.lower().eq(core_id[0].lower())
    is_sized = _is_filled(body, sizes) & ~is_header
    is_usual = _is_usual(ids, is_placed, is_sized)
    doubtful = ~is_usual | is_header
    if not doubtful.any():
        return reasons
    # few rows: what follows may look at every cell
    rows = body[doubtful]
    has_position, sized = _has_digits(rows, positions), _has_digits(rows, sizes)
    texts = rows.apply(lambda cells: cells.str.strip().where(lambda stripped: stripped.ne("")))
    has_any = texts.notna().any(axis="columns")
    texts = texts.apply(lambda cells: cells.mask(cells.str.fullmatch(_RULE).eq(True)))
    filled = texts.notna().sum(axis="columns")
    first = texts.bfill(axis="columns").iloc[:, 0]
    labels = pd.concat([texts[core_id[0]], first], axis="columns")
    says_total = _any_matches(labels, _TOTAL) | (_any_matches(texts, _TOTAL) & ~sized)
    has_id = texts[core_id[0]].notna()
    only_numbers = _all_numbers(texts) & ~has_id
    # one word with a digit may be an id that was mistyped
    is_wordy = first.str.contains(r"\s", regex=True).eq(True) | ~first.str.contains(r"[0-9]", regex=True).eq(True)
    says_note = _any_matches(labels, _NOTE) | (filled.eq(1) & is_wordy & ~only_numbers)
    found = no_text(rows.index)
    # later lines overrule earlier ones
    found = found.mask(~sized & says_note, "footer or note")
    found = found.mask(
        only_numbers & filled.gt(0) & (~sized | _exceeds(rows[sizes], body.loc[is_usual, sizes])), "total"
    )
    found = found.mask(says_total, "total")
    found = found.mask(filled.eq(0), "ruled line").mask(~has_any, "blank")
    found = found.mask(_all_among(texts, head) & filled.gt(1), "repeated header")
    # a core that happens to be called like the head of its column is not equal to the header elsewhere
    found = found.where(~is_usual[doubtful] & ~has_position)
    found = found.mask(_repeats_header(texts), "repeated header")
    reasons[doubtful] = found
    return reasons


def joined_cells(rows: pd.DataFrame) -> list[str]:
    """Return the text of each row: its filled cells with bars between them, cut where it is long."""
    return [
        " | ".join(str(cell).strip() for cell in cells if not pd.isna(cell) and str(cell).strip())[:LONGEST_TEXT]
        for cells in rows.itertuples(index=False, name=None)
    ]


def _columns(body: pd.DataFrame, names: tuple[str, ...]) -> list[str]:
    """Return the columns that have one of these names."""
    by_form = {fold(name): name for name in reversed(body.columns.tolist())}
    return list(dict.fromkeys(by_form[fold(name)] for name in names if fold(name) in by_form))


def _has_digits(body: pd.DataFrame, columns: list[str]) -> pd.Series:
    """Return whether a row has a digit in one of these columns."""
    found = pd.Series(data=False, index=body.index)
    for column in columns:
        found |= body[column].str.contains("[0-9]", regex=True).eq(True)
    return found


def _is_filled(body: pd.DataFrame, columns: list[str]) -> pd.Series:
    """Return whether a row is filled in one of these columns."""
    filled: pd.Series = body[columns].notna().any(axis="columns")
    return filled


def _is_usual(ids: pd.Series, is_placed: pd.Series, is_sized: pd.Series) -> pd.Series:
    """Return whether an id is shaped like the others; one with a position and sizes counts whatever its shape."""
    usual = _usual_shapes(ids, is_placed, is_sized)
    found = ids.notna() & is_placed & is_sized
    found[~found] = _shapes(ids[~found]).isin(usual)
    return found


def _usual_shapes(ids: pd.Series, has_position: pd.Series, has_size: pd.Series) -> pd.Index:
    """Return the shapes of the ids of rows that are certainly cores; of very many rows, only some are looked at."""
    for is_core in (has_position & has_size, has_position, has_size, ids.notna()):
        known = ids[is_core & ids.notna()]
        if len(known):
            break
    else:
        return pd.Index([], dtype="str")
    counts = _shapes(known.iloc[:: -(-len(known) // _MOST_LEARNT)]).value_counts()
    enough = max(_USUAL_SHARE * counts.sum(), 1 if counts.sum() < 20 else 2)
    return counts.index[counts.ge(enough)]


def _shapes(ids: pd.Series) -> pd.Series:
    """Return ids with each run of letters as A, each run of digits as 9: "HV-1046" is "A-9"."""
    cells = pa.array(ids, pa.large_string(), from_pandas=True)
    # letters first: the A that they become is not looked at again
    letters = pc.replace_substring_regex(cells, pattern=r"\pL+", replacement="A")
    shapes = pc.replace_substring_regex(letters, pattern=r"[0-9]+", replacement="9")
    return pd.Series(shapes.to_pandas(), dtype="str").set_axis(ids.index)


def _any_matches(texts: pd.DataFrame, pattern: str) -> pd.Series:
    """Return whether a cell of the row holds the pattern."""
    found = pd.Series(data=False, index=texts.index)
    for position in range(texts.shape[1]):
        cells = pa.array(texts.iloc[:, position], pa.large_string(), from_pandas=True)
        found |= pc.fill_null(pc.match_substring_regex(cells, pattern), False).to_numpy(zero_copy_only=False)
    return found


def _all_numbers(texts: pd.DataFrame) -> pd.Series:
    """Return whether every filled cell of a row is a bare number."""
    found = pd.Series(data=True, index=texts.index)
    for column in texts:
        found &= texts[column].isna() | texts[column].str.fullmatch(r"[+-]?[0-9][0-9.,' ]*").eq(True)
    return found


def _exceeds(sizes: pd.DataFrame, of_cores: pd.DataFrame) -> pd.Series:
    """Return whether each size that a row has is a number greater than that of every core: the sum of a column is."""
    found = pd.Series(data=True, index=sizes.index)
    for name in sizes:
        numbers, most = (pd.to_numeric(one[name], errors="coerce") for one in (sizes, of_cores))
        found &= numbers.gt(most.max()) | sizes[name].isna()
    return found


def _all_among(texts: pd.DataFrame, words: frozenset[str]) -> pd.Series:
    """Return whether every filled cell of a row is one of these words."""
    found = pd.Series(data=True, index=texts.index)
    for column in texts:
        found &= texts[column].isna() | texts[column].map(fold, na_action="ignore").isin(words)
    return found


def _repeats_header(texts: pd.DataFrame) -> pd.Series:
    """Return whether every filled cell of a row, two or more, is the name of its column."""
    filled, equal = texts.notna(), pd.DataFrame(index=texts.index)
    equal = pd.concat([texts[name].map(fold, na_action="ignore").eq(fold(name)) for name in texts], axis="columns")
    same = equal.sum(axis="columns")
    return same.ge(min(2, texts.shape[1])) & same.eq(filled.sum(axis="columns"))
