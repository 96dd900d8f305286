"""Where in a file a table begins: its sheet, and the row or line of its header, in words."""

from collections.abc import Callable

__all__ = ["header_shown"]


def header_shown(label: str, sheet: str, place: int, say: Callable[..., str], own: Callable[[object], str]) -> str:
    """Return the sheet and the row of the header, or the line of it in a text; empty for a map layer.

    Parameters
    ----------
    label
        The file as it is named beside this; where that names the sheet too, the sheet is not repeated.
    sheet, place
        The sheet, empty for a text; the row or line of the header, 0 where there is none.
    say, own
        A sentence with its values, and the text of a file made safe.
    """
    if not place:
        return ""
    if not sheet:
        return say("inputs.header_line", place=str(place))
    if label.endswith(f", sheet {sheet}"):
        return say("inputs.header_row", place=str(place))
    return say("inputs.sheet", sheet=own(sheet), place=str(place))
