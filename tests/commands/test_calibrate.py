"""The command that calibrates, on sound and damaged towns."""

import csv
import re
import shutil
import sys
import tomllib
import xml.etree.ElementTree as ET
from math import ceil
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline import cli
from pipeline.commands.calibrate import calibrate_programme
from tests.calibrate.made_records import BAG_L, records

_ROOT = Path(__file__).parents[2]

_PROGRAMME = """
[programme]
name = "Town"
as_of = 2026-09-30
[cores]
path = "cores.csv"
x = "x"
y = "y"
crs = "EPSG:32617"
columns = { core_id = "id", diameter = "diameter", depth = "depth", bags_used = "bags", reinstated_at = "done" }
[roads]
path = "roads.gpkg"
columns = { segment_id = "segment_id", surface = "surface" }
"""

_HOSTILE = '=1+1<script>alert(1)</script>"'


@pytest.fixture(scope="module")
def town(tmp_path_factory):
    """A street of 80 cores whose bags were written to a twentieth, cut with a kerf of 7 mm."""
    folder = tmp_path_factory.mktemp("town")
    east, north = 478_000.0, 4_963_000.0
    street = shapely.LineString([(east, north), (east + 2000, north)])
    roads = gpd.GeoDataFrame({"segment_id": ["1"], "surface": ["asphalt"]}, geometry=[street], crs=32617)
    roads.to_file(folder / "roads.gpkg")
    cores = records(80, kerf=7)
    table = pd.DataFrame(
        {
            "id": [f"C{place}" for place in range(79)] + [_HOSTILE],
            "x": east + 10 + 20.0 * np.arange(80),
            "y": north + 1,
            "diameter": "457.2 mm",
            "depth": [f"{depth:.1f} mm" for depth in cores["depth_mm"]],
            "bags": cores["bags_used"].round(2),
            "done": "2026-09-01",
        }
    )
    table.to_csv(folder / "cores.csv", index=False)
    (folder / "programme.toml").write_text(_PROGRAMME, encoding="utf-8")
    return folder


def _run(monkeypatch, capsys, *arguments):
    monkeypatch.setattr(sys, "argv", ["kerfbook", "calibrate", *map(str, arguments)])
    try:
        cli.main()
    except SystemExit as done:
        return done.code, *capsys.readouterr()
    return 0, *capsys.readouterr()


def test_the_command_says_what_it_found_and_gives_values_to_paste(town, tmp_path, monkeypatch, capsys):
    code, said, _ = _run(monkeypatch, capsys, town / "programme.toml")
    assert code == 0
    assert "80 records of use" in said
    assert "Not enough" not in said
    snippet = said[said.index("[catalogue") :]
    geometry = tomllib.loads(snippet)["catalogue"]["materials"]["geometry"]
    assert set(geometry) == {"kerf", "gap", "bed_fill", "pilot_hole"}
    assert "records of use, as of 2026-09-30, 95% interval" in geometry["kerf"]["source"]
    # what is contained in the fit, or given with it, swings no more
    assert [geometry["bed_fill"][key] for key in ("value", "low", "high")] == ["0 %"] * 3
    assert [geometry["pilot_hole"][key] for key in ("value", "low", "high")] == ["38.1 mm"] * 3
    # with it the need is the calibrated one, and its range the calibrated interval
    (tmp_path / "cores.csv").write_bytes((town / "cores.csv").read_bytes())
    (tmp_path / "roads.gpkg").write_bytes((town / "roads.gpkg").read_bytes())
    (tmp_path / "programme.toml").write_text(_PROGRAMME + snippet, encoding="utf-8")
    before, after = calibrate_programme(town / "programme.toml"), calibrate_programme(tmp_path / "programme.toml")
    assert after.needs["bags_stated"].tolist() == pytest.approx(before.needs["bags_calibrated"].tolist(), abs=2e-3)
    assert after.calibration.kerf.mm == pytest.approx(before.calibration.kerf.mm, abs=0.01)
    assert after.calibration.enough, after.calibration.reasons
    kerf = after.calibration.kerf
    assert kerf.least_mm <= kerf.low_mm <= 7 <= kerf.high_mm <= kerf.most_mm


def test_the_command_writes_the_records_and_a_chart_the_same_each_time(town, tmp_path, monkeypatch, capsys):
    for name in ("a", "b"):
        assert _run(monkeypatch, capsys, town / "programme.toml", "--out", tmp_path / name)[0] == 0
    assert sorted(file.name for file in (tmp_path / "a").iterdir()) == ["calibration.csv", "calibration.svg"]
    for name in ("calibration.csv", "calibration.svg"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    with (tmp_path / "a/calibration.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["row"] for row in rows] == [str(place) for place in range(1, 81)]
    for row in rows:
        used, fitted = float(row["bags_used"]) * BAG_L, float(row["fitted_l"])
        assert float(row["grout_used_l"]) == pytest.approx(used, abs=1e-5)
        assert float(row["residual_l"]) == pytest.approx(used - fitted, abs=1e-5)


def test_the_chart_says_the_same_in_words_and_holds_no_text_of_the_register(town, tmp_path):
    result = calibrate_programme(town / "programme.toml", tmp_path)
    text = (tmp_path / "calibration.svg").read_text("utf-8")
    assert "script" not in text
    assert "1+1" not in text
    root = ET.fromstring(text)  # our own file
    words = root.find("{http://www.w3.org/2000/svg}desc").text
    kerf = result.calibration.kerf
    assert f"a kerf of {kerf.mm:.1f} mm ({kerf.low_mm:.1f} to {kerf.high_mm:.1f})" in words
    assert "Holes of 457 mm: 80 records" in words
    # a bar a record, on a line of stated and fitted model
    assert text.count('stroke-linecap="round"') == 80
    assert text.count('stroke-width="2.5"') == 2


def test_files_already_there_stay_and_a_place_that_is_a_file_is_refused(town, tmp_path, monkeypatch, capsys):
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    assert _run(monkeypatch, capsys, town / "programme.toml", "--out", tmp_path)[0] == 0
    assert sorted(file.name for file in tmp_path.iterdir()) == ["calibration.csv", "calibration.svg", "notes.txt"]
    code, _, said = _run(monkeypatch, capsys, town / "programme.toml", "--out", tmp_path / "notes.txt" / "deeper")
    assert code == 4
    assert said.splitlines()[-1].startswith("Error: ")


def test_the_demo_gives_back_the_kerf_and_the_bed_that_its_bags_were_made_with(monkeypatch, capsys):
    code, said, _ = _run(monkeypatch, capsys, _ROOT / "sample_data/programme.toml")
    assert code == 0
    assert "[catalogue.materials.geometry.kerf]" in said
    for name, true in (("kerf", 9), ("bed", 12.7)):
        low, high = re.search(rf"{name}, mm .* (\S+) to (\S+) ", said).groups()
        assert float(low) <= true <= float(high)


def test_the_demo_with_its_bags_rounded_up_to_halves_is_too_coarse(tmp_path, monkeypatch, capsys):
    shutil.copytree(_ROOT / "sample_data", tmp_path / "town")
    header, *rows = (tmp_path / "town/cores.csv").read_text("utf-8").splitlines()
    at = header.split(",").index("bags")
    halved = []
    for row in csv.reader(rows):
        cell = row[at].replace(",", ".")
        row[at] = f"{ceil(2 * float(cell)) / 2:g}" if cell.replace(".", "").isdigit() else row[at]
        halved.append(row)
    with (tmp_path / "town/cores.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([header.split(","), *halved])
    code, said, _ = _run(monkeypatch, capsys, tmp_path / "town/programme.toml")
    assert code == 0
    text = " ".join(said.split())
    assert "Not enough to go by. The stated values apply" in text
    # the reason comes before the figures
    assert text.index("- Bags are recorded in steps of 0.5") < text.index("records of use,") < text.index("kerf, mm")
    assert "[catalogue" not in said


@pytest.mark.parametrize(
    ("spoil", "code", "said"),
    [
        (lambda text, programme: (text, programme.replace('bags_used = "bags", ', "")), 0, "0 records of use"),
        (lambda text, programme: (text[:0], programme), 3, "cores.csv"),
        (lambda text, programme: (text[:200], programme), 0, "of use; at least 30 are required"),
        (lambda text, programme: (text, programme.replace('"bags"', '"bagz"')), 3, "bagz"),
        (lambda text, programme: (text, programme.replace("roads.gpkg", "lanes.gpkg")), 3, "lanes.gpkg"),
        (lambda text, programme: (text, programme + "[catalogue.materials.geometry.kerf]\nlow = 3"), 2, "kerf.low"),
        (lambda text, programme: (text.replace("mm,0.", "mm,about 0."), programme), 0, "of use; at least 30"),
    ],
)
def test_a_spoiled_town_ends_in_a_sentence(town, tmp_path, monkeypatch, capsys, spoil, code, said):
    text, programme = spoil((town / "cores.csv").read_text("utf-8"), _PROGRAMME)
    (tmp_path / "cores.csv").write_text(text, encoding="utf-8")
    (tmp_path / "programme.toml").write_text(programme, encoding="utf-8")
    (tmp_path / "roads.gpkg").write_bytes((town / "roads.gpkg").read_bytes())
    found, out, errors = _run(monkeypatch, capsys, tmp_path / "programme.toml", "--out", tmp_path / "out")
    assert found == code, errors
    assert said in " ".join((out + errors).split())
    assert "Traceback" not in errors


def test_only_cores_that_are_back_and_their_own_count(town, tmp_path):
    table = pd.read_csv(town / "cores.csv", dtype=str)
    # one still open, one written twice, one too thin for its core to go back
    table.loc[0, "done"] = ""
    table.loc[1, "depth"] = "60 mm"
    table.loc[80] = table.loc[2]
    table.to_csv(tmp_path / "cores.csv", index=False)
    (tmp_path / "roads.gpkg").write_bytes((town / "roads.gpkg").read_bytes())
    (tmp_path / "programme.toml").write_text(_PROGRAMME, encoding="utf-8")
    assert calibrate_programme(tmp_path / "programme.toml").calibration.records.index.tolist() == list(range(2, 80))
