"""One core of a finished run explained, as text and as a page; everything comes from the run's own folder."""

from pathlib import Path

import pandas as pd
from rapidfuzz import process

from pipeline.contracts import CORE_COLUMNS, NO_DISTRICT, plain_ids
from pipeline.errors import SettingsError
from pipeline.order.lines import item_of
from pipeline.programme.catalogue import load_catalogue
from pipeline.publish.explain.document import explain_document
from pipeline.publish.explain.page import run_words, write_explanation
from pipeline.publish.explain.text import as_text
from pipeline.readback.basis import CoreBasis, read_basis
from pipeline.readback.core_history import read_core_history
from pipeline.readback.order_lines import read_order_lines
from pipeline.readback.runs import Run, read_run, register_headers, register_sections
from pipeline.results import ExplainedCore

__all__ = ["explain_core", "explain_in_words"]

# an id less alike than this, of 100, is another one
_ALIKE = 70


def explain_in_words(folder: Path, core: str | None, row: int | None, width: int, page: Path | None = None) -> str:
    """Return everything about one core as text, and write it as a page where one is asked for.

    Parameters
    ----------
    folder, core, row
        As for ``explain_core``.
    width
        Characters per line.
    page
        The page's file; None writes none.

    Raises
    ------
    SettingsError, InputError, OutputError
        As for ``explain_core``, or the page cannot be written.
    """
    explained = explain_core(folder, core, row)
    if page is not None:
        write_explanation(explained, page)
    return as_text(explain_document(explained, run_words(explained)), width)


def explain_core(folder: Path, core: str | None = None, row: int | None = None) -> ExplainedCore:
    """Gather everything about one core of a finished run.

    Parameters
    ----------
    folder
        The run's folder.
    core
        A core id; capitals and blanks do not count. All rows that carry it are explained.
    row
        One of these rows; without ``core`` any row, for a core without an id.

    Raises
    ------
    SettingsError
        No core has that id or row, or neither is given.
    InputError
        The folder is not of a finished run, is damaged, or keeps no basis.
    """
    run = read_run(folder)
    every = _rows_of(run, core, row)
    shown = every if row is None else [row]
    basis = read_basis(run, shown)
    one = run.cores[run.cores["row"].eq(shown[0])].iloc[0]
    core_id = one["core_id"] if isinstance(one["core_id"], str) else None
    history = read_core_history(run, core_id, shown)
    lines = read_order_lines(run)
    by_row = {int(row.core["row"]): row for row in basis.rows}
    mixed = {int(number) for row in basis.rows for number in row.mix["row"]}
    sharing = run.cores[run.cores["row"].isin(mixed) & run.cores["core_id"].notna()]
    ids = dict(zip(sharing["row"].tolist(), sharing["core_id"].tolist(), strict=True))
    return ExplainedCore(
        run=run,
        basis=basis,
        other_rows=[number for number in every if number not in shown],
        headers={number: _headers(run, row) for number, row in by_row.items()},
        other_cells={number: _other_cells(run, row) for number, row in by_row.items()},
        order_lines={number: _lines(lines, row) for number, row in by_row.items()},
        ids=ids,
        history=history.runs,
        later=history.later,
        notices=history.notices,
        cautions=load_catalogue({}, "").cautions,
    )


def _rows_of(run: Run, core: str | None, row: int | None) -> list[int]:
    """Return the rows that carry an id, in their order."""
    numbers = run.cores["row"]
    if core is None:
        if row is None:
            raise SettingsError("kerfbook explain: found no core id, expected one, or --row. Give a core id or a row.")
        if not numbers.eq(row).any():
            raise SettingsError(f"--row: found {row}, expected a row from {numbers.min()} to {numbers.max()}.")
        return [row]
    plain = plain_ids(run.cores["core_id"])
    # an argument that is not UTF-8 has letters that no id has
    legible = core.encode(errors="replace").decode()
    wanted = plain_ids(pd.Series([legible], dtype="str")).iloc[0]
    found = [int(number) for number in numbers[plain.eq(wanted)]]
    if not found:
        raise SettingsError(
            f"{run.folder}: no core has the id {core!r}.{_meant(wanted, plain, run.cores['core_id'])} Give an id as "
            "cores.csv has it."
        )
    if row is not None and row not in found:
        rows = ", ".join(map(str, found))
        raise SettingsError(f"--row: found {row}, expected one of the rows with the id {core!r}: {rows}. Correct it.")
    return found


def _meant(wanted: object, plain: pd.Series, ids: pd.Series) -> str:
    """Return the question that names the id nearest to what was written; nothing where none is near."""
    known = plain.dropna()
    near = process.extractOne(str(wanted), known.tolist(), score_cutoff=_ALIKE) if isinstance(wanted, str) else None
    return f" Did you mean {ids[known.index[near[2]]]!r}?" if near else ""


def _headers(run: Run, row: CoreBasis) -> dict[str, str]:
    return {name: header.written for name, header in register_headers(run, _settings(run, row)).items()}


def _settings(run: Run, row: CoreBasis) -> dict[str, object]:
    sections = register_sections(run)
    return next((one for one in sections if one.get("name") == row.core["register"]), sections[0])


def _other_cells(run: Run, row: CoreBasis) -> dict[str, str]:
    """Return the cells of the register's columns that were not used, as they were read."""
    used = {header.column for header in register_headers(run, _settings(run, row)).values()}
    own = [str(name) for name in run.cores.columns[len(CORE_COLUMNS) :]]
    cells = run.cores[run.cores["row"].eq(row.core["row"])].iloc[0]
    return {name: cells[name] for name in own if name not in used and isinstance(cells[name], str)}


def _lines(lines: pd.DataFrame, row: CoreBasis) -> pd.DataFrame:
    """Return the order lines of a row's district and period that its core is part of."""
    if row.plan is None:
        return lines.head(0)
    district = row.core["district"] if isinstance(row.core["district"], str) else NO_DISTRICT
    items = (item_of(str(row.core["shade"])), row.core["bedding"], "water")
    here = lines["district"].eq(district) & lines["period"].eq(row.plan["period"]) & lines["item"].isin(items)
    return lines[here]
