"""Which sheets of a workbook are meant: those that are named, that match a pattern, or the only one that serves."""

from collections.abc import Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Final

from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

from pipeline.errors import InputError
from pipeline.intake.files.header_rows import Wanted
from pipeline.intake.files.loaded_sheets import Sheet, load_sheet, opened_workbook

__all__ = ["Choice", "chosen_sheet", "matching_sheets"]

_NAMES_SHOWN: Final = 8


@dataclass(frozen=True)
class Choice:
    """The sheet to read, the ``others`` that are visible and not blank, and whether it was one of several."""

    sheet: Sheet
    others: tuple[str, ...]
    is_one_of_several: bool


def chosen_sheet(book: CalamineWorkbook, path: Path, label: str, name: str | None, wanted: Wanted) -> Choice:
    """Return the sheet that is named; without a name the only visible one that serves, or that is not blank.

    Raises
    ------
    InputError
        There is no such sheet, or several could be meant.
    """
    sheets = list(enumerate(book.sheets_metadata))
    if name is not None:
        named = load_sheet(book, path, label, _number_of(book, name, label, wanted), wanted)
        if named is None:
            raise InputError(
                f"{label}: sheet {name!r} holds no cells; expected one row per {wanted.one}. Name another sheet, or "
                "save the workbook with the data."
            )
        return Choice(named, (), sum(sheet.typ == SheetTypeEnum.WorkSheet for _, sheet in sheets) > 1)
    loaded = _visible_tables(book, path, label, wanted)
    # a sheet with more columns than another is no better than that: both hold cores
    serving = [sheet for sheet in loaded if sheet.head.serves] or [sheet for sheet in loaded if sheet.head.holds_all]
    candidates = serving or loaded
    if not candidates:
        raise InputError(
            f"{label}: every visible sheet is blank; expected one row per {wanted.one}. Save it with the data."
        )
    if len(candidates) > 1:
        why = "hold the columns that are needed" if serving else "do not hold every column that is expected"
        remedy = _how_to_name(wanted) if wanted.sets_aside else "Keep one of them visible, or remove the others."
        raise InputError(f"{label}: {len(candidates)} sheets {why}: {_listed(candidates)}. {remedy}")
    others = tuple(sheet.name for sheet in loaded if sheet is not candidates[0])
    return Choice(candidates[0], others, bool(others))


def matching_sheets(path: Path, label: str, asked: Sequence[str], wanted: Wanted) -> tuple[list[str], list[str]]:
    """Return the sheets that a list of names and patterns stands for, and notices of those that match but cannot serve.

    A name stands for its sheet, hidden or not. A pattern with ``*`` stands for the visible sheets that it matches and
    that hold the names without which no core can be read, in the order of the workbook.

    Raises
    ------
    InputError
        The workbook cannot be opened, a named sheet is not in it, or no sheet serves that a pattern matches.
    """
    names: dict[str, None] = {}
    notices: list[str] = []
    with opened_workbook(path, label) as book:
        tables: list[Sheet] | None = None
        for name in asked:
            if name in book.sheet_names or "*" not in name:
                _number_of(book, name, label, wanted)
                names[name] = None
                continue
            if tables is None:
                tables = _visible_tables(book, path, label, wanted)
            matched = [sheet for sheet in tables if fnmatchcase(sheet.name, name)]
            serving = [sheet.name for sheet in matched if sheet.head.serves]
            if not serving:
                seen = f"it matches {_listed(matched)}" if matched else f"the workbook has {_names(book)}"
                raise InputError(
                    f"{label}: no visible sheet that {wanted.section}.layer = {name!r} matches holds the columns that "
                    f"are needed; {seen}. Correct {wanted.section}.layer, or the columns."
                )
            names |= dict.fromkeys(serving)
            notices += [
                f"{label}: sheet {_shown(sheet)} is not read: it matches {name!r}, but does not hold the columns that "
                "are needed."
                for sheet in matched
                if not sheet.head.serves and sheet.name not in asked
            ]
            notices += [
                f"{label}: sheet {sheet.name!r} is hidden and not read; name it in {wanted.section}.layer to read it."
                for sheet in book.sheets_metadata
                if sheet.visible != SheetVisibleEnum.Visible
                and sheet.typ == SheetTypeEnum.WorkSheet
                and fnmatchcase(sheet.name, name)
                and sheet.name not in asked
            ]
    return list(names), list(dict.fromkeys(notices))


def _visible_tables(book: CalamineWorkbook, path: Path, label: str, wanted: Wanted) -> list[Sheet]:
    """Return the visible sheets that are not blank."""
    sheets = list(enumerate(book.sheets_metadata))
    visible = [number for number, sheet in sheets if sheet.visible == SheetVisibleEnum.Visible]
    tables = [number for number in visible if sheets[number][1].typ == SheetTypeEnum.WorkSheet]
    if not tables:
        what = "only charts" if visible else "only hidden sheets"
        raise InputError(
            f"{label}: the workbook has {what} ({_names(book)}), expected a visible sheet with one row per "
            f"{wanted.one}. Name a sheet in {wanted.section}.layer, or save the table in the workbook."
        )
    return [sheet for number in tables if (sheet := load_sheet(book, path, label, number, wanted)) is not None]


def _number_of(book: CalamineWorkbook, name: str, label: str, wanted: Wanted) -> int:
    """Return the number of a sheet by its name."""
    if name not in book.sheet_names:
        raise InputError(
            f"{label}: no sheet {name!r}; the workbook has: {', '.join(book.sheet_names)}. Correct "
            f"{wanted.section}.layer."
        )
    return book.sheet_names.index(name)


def _how_to_name(wanted: Wanted) -> str:
    """Return how the sheets that are meant are named in the programme."""
    key = f"{wanted.section}.layer"
    return (
        f'Name one in {key}, or several, such as layer = ["Jan", "Feb"], or a pattern, such as layer = "*" or "2026-*".'
    )


def _names(book: CalamineWorkbook) -> str:
    return ", ".join(repr(name) for name in book.sheet_names)


def _listed(sheets: Sequence[Sheet]) -> str:
    """Return the names of sheets with their headers."""
    return "; ".join(map(_shown, sheets))


def _shown(sheet: Sheet) -> str:
    """Return the name of a sheet with the row of its header and the first names in it."""
    filled = [name for name in sheet.head.names if name]
    more = ", ..." if len(filled) > _NAMES_SHOWN else ""
    return f"{sheet.name!r} (row {sheet.line:,}: {', '.join(filled[:_NAMES_SHOWN])}{more})"
