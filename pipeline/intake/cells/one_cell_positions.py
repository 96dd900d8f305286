"""Both coordinates of a position written in one cell, split into two texts and the order they are certain to be in."""

from typing import Final, NamedTuple

import pandas as pd

from pipeline.contracts import no_text
from pipeline.intake.cells.coordinates import matched, tidied

__all__ = ["Halves", "split_positions"]

_POINTED: Final = r"[+-]?[0-9]+(?:\.[0-9]+)?"
_UP: Final = r"(?:latitude|lat|northing|north|hochwert|h|y)\b\.?\s*[:=]?"
_ACROSS: Final = r"(?:longitude|long|lon|lng|easting|east|rechtswert|r|x)\b\.?\s*[:=]?"
# what parts two coordinates that letters or words already tell apart
_APART: Final = r"[\s,;/|]*"
_GROUPS: Final = r"[+-]?[0-9]{1,3}(?: [0-9]{3})+"
_WHOLE: Final = r"[+-]?[0-9]{1,3}°?"
_PART: Final = r"[0-9]{1,2}(?:[.,][0-9]+)?"
_POINT: Final = r"(?i:(?:srid\s*=\s*(?P<srid>[0-9]+)\s*;\s*)?point\s*(?:zm|z|m)?\s*)"
_GRID_LETTERS: Final = r"[A-HJ-Za-hj-z]{1,2} ?[0-9]{2,5} ?[0-9]{2,5}"


class Halves(NamedTuple):
    """N cells split in two.

    ``first``, ``second``: missing where a cell cannot be split. ``order``: "x y" or "y x" where letters or the notation
    settle it for the cell, else missing. ``srid``: the EPSG code that the cell itself gives, else missing.
    ``has_grid``: the cell is a reference with the letters of a grid square, such as "SU 1234 5678".
    """

    first: pd.Series
    second: pd.Series
    order: pd.Series
    srid: pd.Series
    has_grid: pd.Series


# patterns with the groups a and b, in the order in which they are tried, and the order of the coordinates they settle
_LETTERED: Final = (
    (rf"{_POINT}\(\s*(?P<a>{_POINTED})\s+(?P<b>{_POINTED})(?:\s+{_POINTED}){{0,2}}\s*\)", "x y"),
    (rf"(?i:geo:)(?P<a>{_POINTED}),(?P<b>{_POINTED})(?:,{_POINTED})?(?:;.*)?", "y x"),
    (rf"(?i:{_UP})\s*(?P<a>.+?){_APART}(?i:{_ACROSS})\s*(?P<b>.+)", "y x"),
    (rf"(?i:{_ACROSS})\s*(?P<a>.+?){_APART}(?i:{_UP})\s*(?P<b>.+)", "x y"),
    # letters before both or after both; in "40.77 N 111.90 W" the N belongs to what is before it
    (rf"(?P<a>[^NSEWnsew]+[NSns]){_APART}(?P<b>[^NSEWnsew]+[EWew])", "y x"),
    (rf"(?P<a>[^NSEWnsew]+[EWew]){_APART}(?P<b>[^NSEWnsew]+[NSns])", "x y"),
    (rf"(?P<a>[NSns][^NSEWnsew]+?){_APART}(?P<b>[EWew][^NSEWnsew]+)", "y x"),
    (rf"(?P<a>[EWew][^NSEWnsew]+?){_APART}(?P<b>[NSns][^NSEWnsew]+)", "x y"),
)  # fmt: skip
# patterns that leave the order open
_OPEN: Final = (
    # a mark that no number has
    r"(?P<a>[^;/|]+)[;/|](?P<b>[^;/|]+)",
    # "40,77, -111,90" and "512,345.67, 4,512,345.67": only one comma has a blank after it
    r"(?P<a>\S+),\s+(?P<b>\S+)",
    rf"(?P<a>{_POINTED})\s*,\s*(?P<b>{_POINTED})",
    r"(?P<a>[+-]?[0-9]+,[0-9]+),(?P<b>[+-]?[0-9]+,[0-9]+)",
    r"(?P<a>[^\s,]+(?:,[0-9]+)?)\s+(?P<b>[^\s,]+(?:,[0-9]+)?)",
    # groups of three: the first number ends at its decimals, or before a group that is shorter than three
    rf"(?P<a>{_GROUPS}[.,][0-9]+)\s+(?P<b>{_GROUPS}(?:[.,][0-9]+)?)",
    rf"(?P<a>{_GROUPS})\s+(?P<b>[+-]?[0-9]{{1,2}}(?: [0-9]{{3}})+(?:[.,][0-9]+)?)",
)
# the same for angles: in two or in three parts each, or with the signs of degrees, minutes and seconds
_ANGLES: Final = (
    rf"(?P<a>{_WHOLE}\s+{_PART}'?)[\s,]+(?P<b>{_WHOLE}\s+{_PART}'?)",
    rf"(?P<a>{_WHOLE}\s+[0-9]{{1,2}}'?\s+{_PART}(?:\"|'')?)[\s,]+(?P<b>{_WHOLE}\s+[0-9]{{1,2}}'?\s+{_PART}(?:\"|'')?)",
    r"(?P<a>[+-]?[0-9]+°[^°,]*?)[\s,]+(?P<b>[+-]?[0-9]+°[^°,]*)",
)


def split_positions(text: pd.Series, decimal: str | None, *, is_degrees: bool) -> Halves:
    """Return cells that hold both coordinates, split in two.

    Parameters
    ----------
    text
        N cells; missing where there is nothing to read.
    decimal
        The decimal mark that the programme sets, if any.
    is_degrees
        The coordinates are angles: the letters N, S, E and W are their hemispheres. In lengths, N and E only name them.
    """
    cells = tidied(text).str.replace(r"^[(\[]([^()\[\]]*)[)\]]$", r"\1", regex=True).str.strip()
    first, second, order, srid = (no_text(text.index) for _ in range(4))

    def split(pattern: str, settled: str | None) -> None:
        """Split the cells of one form that are not split yet."""
        left = cells[first.isna() & cells.notna()]
        if not len(left):
            return
        parts = matched(left, pattern).dropna(subset=["a", "b"])
        first.loc[parts.index], second.loc[parts.index] = parts["a"].str.strip(), parts["b"].str.strip()
        if settled:
            order.loc[parts.index] = settled
        if "srid" in parts:
            srid.loc[parts.index] = parts["srid"]

    if cells.str.contains("[A-Za-z]").any():
        for pattern, settled in _LETTERED:
            split(pattern, settled)
    # "40,77" is one number with a decimal comma, or two whole ones
    unclear = cells.str.fullmatch(r"[+-]?[0-9]+,[0-9]+").eq(True)
    cells = cells.mask(
        unclear & (is_degrees | (decimal == ",") | ~cells.str.fullmatch(r"[0-9]{4,},[0-9]{4,}").eq(True))
    )
    for pattern in (*_OPEN, *_ANGLES) if is_degrees else _OPEN:
        split(pattern, None)
    if is_degrees:
        # a letter on one half settles the order of both; letters that contradict it leave nothing certain
        north, east = (
            [half.str.contains(f"(?i)[{axis}]").eq(True) for half in (first, second)] for axis in ("NS", "EW")
        )
        order = order.mask(order.isna() & (north[0] | east[1]), "y x").mask(order.isna() & (north[1] | east[0]), "x y")
        wrong = (order.eq("y x") & (north[1] | east[0])) | (order.eq("x y") & (north[0] | east[1]))
        first, second = first.mask(wrong), second.mask(wrong)
    else:
        letters = r"^[NEne]\s*(?=[0-9])|(?<=[0-9])\s*[NEne]$"
        first, second = (half.str.replace(letters, "", regex=True) for half in (first, second))
    return Halves(first, second, order, srid, cells.str.fullmatch(_GRID_LETTERS).eq(True))
