"""Sheets as crews send them back, changed at random: ``kerfbook return`` takes what can be used and names the rest."""

import re
import shutil

import pandas as pd

from pipeline.contracts import RETURN_FIELDS
from pipeline.intake.returns import read_returns
from pipeline.programme.returns import Returns
from tests.fuzz.cells import made_up_cells
from tests.fuzz.odd_files import odd_bytes, odd_lines
from tests.fuzz.whole_runs import run_command, wrong_with

_ZONE = "America/Toronto"
_FILLED = {
    "bags_used": ("1", "1.5", "2,5", "0"),
    "water_used_l": ("5", "5 L", "1.3 gal"),
    "air_temperature_c": ("12", "54 °F"),
    "reinstated_at": ("2026-10-02 10:20", "02/10/2026 10:20", "2 Oct 2026 10:20 am"),
    "reopened_at": ("2026-10-02 11:20", "11:20"),
    "flush_mm": ("-2", "0", "1/8 in"),
    "shade_used": ("dark", "light"),
    "diameter_found_mm": ("450", '17 3/4"'),
    "depth_found_mm": ("190", '7 1/2"'),
    "surface_found": ("asphalt",),
    "remarks": ("no access", "wet; ask again"),
}


def _filled(rng, run):
    """Return the run's sheet, filled in here and there, some of it as nobody would."""
    sheet = pd.read_csv(run / "return-sheet.csv", dtype=str, keep_default_na=False)
    for name, cells in _FILLED.items():
        written = [cells[int(rng.integers(len(cells)))] if rng.random() < 0.6 else "" for _ in range(len(sheet))]
        sheet[name] = [made_up_cells(rng, 1)[0] if rng.random() < 0.1 else cell for cell in written]
    if rng.random() < 0.2:
        name = sheet.columns[int(rng.integers(len(sheet.columns)))]
        sheet[name] = [cell.replace("\x00", "") for cell in made_up_cells(rng, len(sheet))]
    if rng.random() < 0.2:
        sheet = sheet.drop(columns=sheet.columns[int(rng.integers(len(sheet.columns)))])
    return sheet


def _written(rng, sheet, folder):
    """Write the sheet as somebody's program may, and return its path."""
    folder.mkdir(parents=True)
    if rng.random() < 0.25:
        path = folder / "back.xlsx"
        sheet.map(lambda cell: re.sub("[\x00-\x08\x0b-\x1f\ud800-\udfff]", "", cell)[:32_000]).to_excel(
            path, index=False, engine="xlsxwriter", engine_kwargs={"options": {"strings_to_formulas": False}}
        )
        text = path.read_bytes()
    else:
        path = folder / "back.csv"
        mark = ",;\t"[int(rng.integers(3))]
        encoding = ("utf-8", "utf-8-sig", "utf-16", "cp1252")[int(rng.integers(4))]
        text = sheet.to_csv(index=False, sep=mark).encode(encoding, "replace")
        if rng.random() < 0.4:
            text = odd_lines(rng, text)
    path.write_bytes(odd_bytes(rng, text) if rng.random() < 0.15 else text)
    return path


def try_sheet(run, folder, rng):
    """Take back one sheet; return what is wrong, with how the command ended."""
    shutil.rmtree(folder, ignore_errors=True)
    sheet = _written(rng, _filled(rng, run), folder)
    out = folder / "register.csv"
    outcome = run_command("return", run, sheet, "--out", out)
    if wrong := wrong_with(outcome):
        return wrong, outcome
    if outcome.code:
        return "a register was written although the command failed" if out.exists() else "", outcome
    return _wrong_with_register(out), outcome


def _wrong_with_register(out):
    """Return what of a register of returns is read otherwise than it was meant; a register holds nothing to correct."""
    table = pd.read_csv(out, dtype=str, keep_default_na=False)
    read = read_returns(Returns(path=[out.name]), out.parent, _ZONE, day_first=None)
    if len(read.problems):
        return f"its own register has a problem: {read.problems.iloc[0].to_dict()}"
    if len(read.frame) != len(table):
        return f"{len(table)} rows written, {len(read.frame)} read"
    for field in RETURN_FIELDS:
        written, known = table[field.head].ne("").to_numpy(), read.frame[field.column].notna().to_numpy()
        if (written != known).any():
            return f"{field.head}: cells written and cells read differ"
    return ""
