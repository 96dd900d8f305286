"""One register as a proposed section: its file or files, header, columns, units, dates, decimals and position."""

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

import pandas as pd

from pipeline.contracts import REGISTER_COLUMNS
from pipeline.errors import InputError
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.tables import RawTable
from pipeline.programme.settings import Cores
from pipeline.propose.cell_kinds import Known, column_cells
from pipeline.propose.columns import PLACES, Columns, ask_for_dates, ask_for_missing, propose_columns
from pipeline.propose.crs_by_roads import Roads
from pipeline.propose.dates_and_decimals import (
    propose_date_order,
    propose_decimal,
    propose_serial_dates,
    propose_timezone,
)  # fmt: skip
from pipeline.propose.diameters import ask_what_a_diameter_is
from pipeline.propose.first_look import TEXTS, Look
from pipeline.propose.layers import add_crs
from pipeline.propose.measure_units import MEASURED, ColumnUnit, propose_unit
from pipeline.propose.positions import propose_position
from pipeline.propose.programme_text import toml_value
from pipeline.propose.questions import Choice, Question, Section, Value, one_line

__all__ = ["ColumnLine", "FileGroup", "Register", "propose_register"]

_DATES: Final = frozenset(column.short for column in REGISTER_COLUMNS if column.kind == "instant")
_ORDER: Final = [column.short for column in REGISTER_COLUMNS]
_REQUIRED: Final = frozenset(column.short for column in REGISTER_COLUMNS if column.required)
_NUMBERS: Final = frozenset(column.short for column in REGISTER_COLUMNS if column.kind == "number")


@dataclass(frozen=True)
class FileGroup:
    """Files with the same header: their paths, what the first look found in each, and the path for all of them."""

    path: str
    files: list[Path]  # of each look, so that a workbook comes once for each of its sheets
    looks: list[Look]
    name: str

    @property
    def sheets(self) -> tuple[str, ...]:
        """The sheets that are read of each workbook, each once."""
        return tuple(dict.fromkeys(look.sheet for look in self.looks if look.sheet is not None))

    @property
    def candidates(self) -> tuple[str, ...]:
        """The sheets with other columns that could be the register too."""
        return tuple(dict.fromkeys(name for look in self.looks for name in look.candidates))


@dataclass(frozen=True)
class ColumnLine:
    """A line of the summary: a header, what it means, its unit, and how sure that is."""

    header: str
    meaning: str
    unit: str
    shown_by: str


@dataclass
class Register:
    """A register as proposed, and what the summary says of it."""

    section: Section
    columns: list[ColumnLine] = field(default_factory=list)
    unmapped: list[str] = field(default_factory=list)
    rows: int = 0
    set_aside: int = 0
    notices: list[str] = field(default_factory=list)


def propose_register(group: FileGroup, words: dict[str, list[str]], known: Known, roads: Roads | None) -> Register:
    """Return a register as a proposed section.

    Parameters
    ----------
    group
        Its files.
    words
        What headers call each column.
    known, roads
        What cells and positions are compared with; without roads the CRS stays a question.
    """
    section = Section("cores", group.name)
    register = Register(section)
    first = group.looks[0]
    section.add("", "name", group.name, "name of the register in the outputs")
    several = len(set(group.files))
    count = f"{several} files with the same columns" if several > 1 else ""
    section.add("", "path", group.path, count)
    _add_reading(section, group)
    loose = _loose(group)
    frames = [_without(look.table.frame, loose) for look in group.looks]
    columns = propose_columns(pd.concat(frames, ignore_index=True), words, known)
    tables = [_clean(file, look, columns) for file, look in zip(group.files, group.looks, strict=True)]
    frame = pd.concat([_without(table.frame, loose) for table in tables], ignore_index=True)
    columns.cells = column_cells(frame)
    place: list[str] = []
    if first.table.geometry is None:
        place = propose_position(section, columns, frame, roads)
    elif first.table.crs is None:
        add_crs(section, first.table, roads)
    ask_for_missing(columns, known, place)
    ask_for_dates(columns, place)
    dates = [frame[columns.found[name]] for name in _ORDER if name in _DATES and name in columns.found]
    if dates:
        propose_date_order(section, dates)
        if group.files[0].suffix.lower() in TEXTS:
            propose_serial_dates(section, dates)
        propose_timezone(section, dates)
    numbers = [header for name, header in columns.found.items() if name in _NUMBERS]
    propose_decimal(section, [frame[header] for header in [*numbers, *_lengths_of(section, place)]])
    ask_what_a_diameter_is(section, columns, frame)
    register.unmapped = [header for header in columns.unmapped if header not in place] + loose
    if loose:
        section.remarks.append(
            "Kept as read, since not all files and sheets of the register have it: "
            f"{', '.join(one_line(header) for header in loose)}."
        )
    _add_columns(register, columns, tables[0].header_units, frame, place)
    for question in columns.dates:
        section.ask(question)
    register.rows = len(frame)
    register.set_aside = sum(len(table.set_aside) for table in tables)
    register.notices = _one_for_several([notice for table in tables for notice in table.notices])
    if not first.is_certain:
        section.remarks.append(
            "No row holds known names of columns; the first filled row was taken for the header. If it is "
            "another row, set header_row."
        )
    return register


def _one_for_several(notices: list[str]) -> list[str]:
    """Return notices, those that say the same of several files as one."""
    files: dict[str, list[str]] = {}
    for notice in dict.fromkeys(notices):
        file, _, text = notice.partition(": ") if ": " in notice else ("", "", notice)
        files.setdefault(text, []).append(file)
    more = {text: f" and {len(names) - 1} more" if len(names) > 1 else "" for text, names in files.items()}
    return [f"{names[0]}{more[text]}: {text}" if names[0] else text for text, names in files.items()]


def _loose(group: FileGroup) -> list[str]:
    """Return the headers that not all files or sheets of a group have."""
    headers = [{name.casefold() for name in map(str, look.table.frame.columns)} for look in group.looks]
    common = set.intersection(*headers)
    every = dict.fromkeys(str(name) for look in group.looks for name in look.table.frame.columns)
    return [name for name in every if name.casefold() not in common]


def _without(frame: pd.DataFrame, headers: list[str]) -> pd.DataFrame:
    return frame.drop(columns=headers, errors="ignore")


def _lengths_of(section: Section, place: list[str]) -> list[str]:
    """Return the columns of the position if they hold lengths: degrees show nothing about other numbers."""
    crs = [setting.value for setting in section.settings if setting.key == "crs"]
    return place if len(place) == 2 and "EPSG:4326" not in crs else []


def _add_reading(section: Section, group: FileGroup) -> None:
    """Add what a file is read with: its sheet, encoding and delimiter."""
    first = group.looks[0]
    alike = group.sheets if len(group.sheets) > 1 else ()
    own: Value | None = alike or first.sheet
    if group.candidates and own is not None:
        choices = tuple(Choice(toml_value(one), "", {("", "layer"): one}) for one in (own, *group.candidates))
        section.ask(Question("Which sheet is the register? Several have a header that could be one.", choices))
    elif alike:
        section.add("", "layer", alike, "sheets with the same columns, all read; delete those that are no registers")
    elif first.sheet is not None:
        others = ", ".join(f'"{name}"' for name in first.others)
        section.add("", "layer", first.sheet, f"the sheet; not read: {others}" if others else "the sheet")
    encodings = {look.encoding for look in group.looks}
    if encodings - {None}:
        section.add("", "encoding", "cp1252", "not UTF-8: check that letters such as é and ø look right")
    marks = {look.delimiter for look in group.looks}
    if len(marks) == 1 and first.delimiter is not None:
        section.add("", "delimiter", first.delimiter, "found from the header")


def _settings(columns: Columns, look: Look) -> dict[str, Any]:
    """Return the settings of a register as far as its rows can be told from titles and totals."""
    found = dict(columns.found)
    for name, question in columns.questions.items():
        # any of them shows which rows hold cores
        found[name] = str(next(iter(question.choices[0].gives.values())))
    place: dict[str, str] = {}
    if columns.places.get("position"):
        place = {"position": columns.places["position"][0]}
    elif columns.places.get("x") and columns.places.get("y"):
        place = {"x": columns.places["x"][0], "y": columns.places["y"][0]}
    mapped = {name: header for name, header in found.items() if header in look.table.frame}
    return {"layer": look.sheet, "delimiter": look.delimiter, "columns": mapped, **place, "encoding": look.encoding}


def _clean(file: Path, look: Look, columns: Columns) -> RawTable:
    """Return a file without the rows that hold no core; as it was looked at where that cannot be told."""
    settings = _settings(columns, look)
    if look.table.geometry is not None or not set(settings["columns"]) >= _REQUIRED:
        return look.table
    try:
        table = read_raw(Cores(path=file.name, **settings), file.parent, "cores", None)
    except InputError:
        return look.table
    return table if set(look.table.frame.columns) <= set(table.frame.columns) else look.table


def _add_columns(
    register: Register, columns: Columns, header_units: dict[str, str], frame: pd.DataFrame, place: list[str]
) -> None:
    """Add the columns and their units, and a line of the summary for each."""
    section = register.section
    table = RawTable(frame, pd.RangeIndex(len(frame)).to_numpy(), len(frame), section.label, header_units=header_units)
    units: list[tuple[str, ColumnUnit]] = []
    marks = [one.value for one in section.settings if one.key == "decimal" and one.question is None]
    decimal = str(marks[0]) if marks else None
    for key in PLACES:
        header = next((str(one.value) for one in section.settings if (one.table, one.key) == ("", key)), "")
        if header in place:
            register.columns.append(ColumnLine(header, key, "", "header and cells"))
    for name in _ORDER:
        if name in columns.questions:
            question = columns.questions[name]
            section.ask(_with_units(question, name, table))
            register.columns.extend(
                ColumnLine(choice.label.strip('"'), f"{name}?", "", "question") for choice in question.choices
            )
        elif name in columns.found:
            header = columns.found[name]
            unit = propose_unit(name, header, table, decimal) if name in MEASURED else ColumnUnit()
            # without its unit an optional column would stop the run
            waits = unit.question if unit.question is not None and name not in _REQUIRED else None
            section.add("columns", name, header, question=waits)
            if name in MEASURED:
                units.append((name, unit))
            shown = unit.unit or ("?" if unit.question else "in the cells" if name in MEASURED else "")
            register.columns.append(
                ColumnLine(header, name, shown, "question" if unit.question else "header and cells")
            )
    for name, unit in units:
        if unit.question is not None:
            section.ask(unit.question)
        elif unit.unit is not None:
            section.add("units", name, unit.unit, unit.note)


def _with_units(question: Question, name: str, table: RawTable) -> Question:
    """Return a question for a column whose answers give the unit too, where the header or the cells show it."""
    if name not in MEASURED:
        return question
    choices = []
    for choice in question.choices:
        header = str(choice.gives["columns", name])
        unit = propose_unit(name, header, table).unit if header in table.frame else None
        gives: dict[tuple[str, str], Value] = dict(choice.gives)
        if unit is not None:
            gives["units", name] = unit
        choices.append(Choice(choice.label, choice.reading, gives))
    return replace(question, choices=tuple(choices))
