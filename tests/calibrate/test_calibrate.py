"""Litres used, the range of the void, and what makes records of use enough; the command, on sound and spoiled towns."""

import csv
import re
import shutil
import sys
import tomllib
import xml.etree.ElementTree as ET
from dataclasses import replace
from math import ceil, pi, sqrt
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline import cli
from pipeline.calibrate import calibrate, calibrated_range_l, grout_used_l, needs_before_and_after, void_range_l
from pipeline.commands.calibrate import calibrate_programme
from pipeline.programme.catalogue import load_catalogue
from pipeline.quantify import quantify

_ROOT = Path(__file__).parents[2]
_CATALOGUE = load_catalogue({}, "test")
_GROUT = _CATALOGUE.materials.grout
_BAG_L = 22 / 2.15
_18_IN, _12_IN = pd.Series([457.2]), pd.Series([304.8])
_BEDDED = pd.DataFrame({"bedding": ["pea gravel"]})


def _void(hole, depth, kerf=9.0, bed=12.7, pilot=38.1):
    return (pi * (hole - kerf) * kerf * depth + pi / 4 * pilot**2 * depth + pi / 4 * hole**2 * bed) / 1e6


def _cores(count=60, kerf=9.0, bed=12.7, step=0.05, shallow=100, deep=430, noise=0.04, hole=457.2):
    """Records of one diameter, depths evenly spread, scatter of 4 %, written to the nearest ``step``."""
    depth = np.linspace(shallow, deep, count)
    bags = 1.2 * _void(hole, depth, kerf, bed) / _BAG_L * (1 + noise * np.random.default_rng(3).standard_normal(count))
    bags = np.round(bags / step) * step
    cores = pd.DataFrame({"hole_mm": hole, "depth_mm": depth, "bedding": "pea gravel", "bags_used": bags})
    used = grout_used_l(cores["bags_used"], pd.Series(np.nan, cores.index), _GROUT)
    return cores.assign(grout_used_l=used, is_usable=True)


# litres used


@pytest.mark.parametrize(
    ("bags", "water", "litres"),
    [
        (1, 2.0, _BAG_L),
        # litre for litre, more and less
        (1, 2.5, _BAG_L + 0.5),
        (2, 3.5, 2 * _BAG_L - 0.5),
        # half and double of the stated 2 L are the last that are believed
        (1, 1.0, _BAG_L - 1),
        (1, 4.0, _BAG_L + 2),
        (1, 0.99, _BAG_L),
        (1, 4.01, _BAG_L),
        (1, np.nan, _BAG_L),
        (0, np.nan, 0),
    ],
)
def test_litres_used_are_those_of_the_bags_and_the_water_beyond_what_they_want(bags, water, litres):
    assert grout_used_l(pd.Series([float(bags)]), pd.Series([water]), _GROUT)[0] == pytest.approx(litres)


def test_no_bags_recorded_are_no_litres_known():
    assert grout_used_l(pd.Series([np.nan]), pd.Series([2.0]), _GROUT).isna()[0]


# the stated range


def test_the_stated_range_adds_the_swings_in_quadrature():
    # each side: kerf to 5 or 10 mm, pilot hole to 25 or 50 mm, gap to 6 or 19 mm, fill to 0 or all of 40 % of 25 mm
    middle = _void(457.2, 304.8)
    below = [_void(457.2, 304.8, **one) - middle for one in ({"kerf": 5}, {"pilot": 25}, {"bed": 6})]
    above = [
        _void(457.2, 304.8, **one) - middle for one in ({"kerf": 10}, {"pilot": 50}, {"bed": 19}, {"bed": 12.7 + 10})
    ]
    found = void_range_l(_BEDDED, _18_IN, _12_IN, _CATALOGUE)
    assert found["grout_least_l"][0] == pytest.approx(middle - sqrt(sum(one**2 for one in below)))
    assert found["grout_most_l"][0] == pytest.approx(middle + sqrt(sum(one**2 for one in above)))
    # 6.295 - sqrt(1.698^2 + 0.198^2 + 1.100^2), and + sqrt(0.420^2 + 0.251^2 + 1.034^2 + 1.642^2)
    assert found.loc[0].tolist() == pytest.approx([4.263, 8.296], abs=0.001)


def test_the_need_without_overfill_lies_in_the_stated_range():
    need = quantify(_BEDDED.assign(shade="dark"), _18_IN, _12_IN, _CATALOGUE)
    found = void_range_l(_BEDDED, _18_IN, _12_IN, _CATALOGUE)
    assert found["grout_least_l"][0] < need["grout_net_l"][0] < found["grout_most_l"][0]


def test_no_range_is_made_up_where_bed_or_size_is_not_known():
    specified = pd.DataFrame({"bedding": pd.Series([None, "pea gravel", "pea gravel"], dtype="str")})
    found = void_range_l(specified, pd.Series([457.2, np.nan, 457.2]), pd.Series([300, 300, np.nan]), _CATALOGUE)
    assert found.isna().all(axis=None)
    calibration = calibrate(_cores(), _CATALOGUE)
    assert calibration.enough
    sizes = pd.Series([457.2, np.nan, 457.2]), pd.Series([300, 300, np.nan])
    assert calibrated_range_l(calibration, specified, *sizes, _CATALOGUE).isna().all(axis=None)


# the calibrated range


def test_the_calibrated_range_is_two_standard_errors_to_either_side_of_the_calibrated_void():
    found = calibrate(_cores(), _CATALOGUE)
    assert found.enough, found.reasons
    # the slopes of V in k and in b, by differences
    step = 1e-4
    middle = _void(457.2, 304.8, found.kerf.mm, found.bed.mm)
    by_kerf = (_void(457.2, 304.8, found.kerf.mm + step, found.bed.mm) - middle) / step
    by_bed = (_void(457.2, 304.8, found.kerf.mm, found.bed.mm + step) - middle) / step
    error = sqrt(np.array([by_kerf, by_bed]) @ np.array(found.covariance) @ np.array([by_kerf, by_bed]))
    ranges = calibrated_range_l(found, _BEDDED, _18_IN, _12_IN, _CATALOGUE)
    assert ranges.loc[0].tolist() == pytest.approx([middle - 1.96 * error, middle + 1.96 * error], rel=1e-4)
    stated = void_range_l(_BEDDED, _18_IN, _12_IN, _CATALOGUE).loc[0]
    assert stated["grout_least_l"] < ranges.loc[0, "grout_least_l"] < 6.29 < ranges.loc[0, "grout_most_l"]
    assert ranges.loc[0, "grout_most_l"] < stated["grout_most_l"]


def test_the_covariance_and_the_intervals_tell_the_same():
    found = calibrate(_cores(), _CATALOGUE)
    for place, one in enumerate((found.kerf, found.bed)):
        assert (one.high_mm - one.low_mm) / 2 == pytest.approx(1.96 * sqrt(found.covariance[place][place]), rel=0.1)
    # more of one is less of the other
    assert found.covariance[0][1] < 0


def test_the_calibrated_range_never_leaves_what_the_stated_ranges_allow_together():
    found = calibrate(_cores(), _CATALOGUE)
    # a standard error of 30 mm of kerf and of bed
    unsure = replace(found, covariance=((900.0, 0.0), (0.0, 900.0)))
    ranges = calibrated_range_l(unsure, _BEDDED, _18_IN, _12_IN, _CATALOGUE).loc[0].tolist()
    ends = [_void(457.2, 304.8, 5, 6, 25), _void(457.2, 304.8, 10, 19 + 10, 50)]
    assert ranges == pytest.approx(ends)


def test_the_stated_range_serves_where_the_records_are_not_enough():
    found = calibrate(_cores(29), _CATALOGUE)
    assert not found.enough
    pd.testing.assert_frame_equal(
        calibrated_range_l(found, _BEDDED, _18_IN, _12_IN, _CATALOGUE),
        void_range_l(_BEDDED, _18_IN, _12_IN, _CATALOGUE),
    )


# what is enough


def test_thirty_records_are_enough_and_twenty_nine_are_not():
    assert calibrate(_cores(30), _CATALOGUE).enough
    few = calibrate(_cores(29), _CATALOGUE)
    assert few.reasons[0].startswith("29 usable records of use; at least 30 are required.")
    assert np.isnan(few.kerf.mm)


def test_no_record_at_all_is_said_and_nothing_breaks():
    none = calibrate(_cores(40).assign(is_usable=False), _CATALOGUE)
    assert none.reasons[0].startswith("0 usable records")
    assert len(none.records) == len(none.by_diameter) == none.outliers == 0
    assert needs_before_and_after(none)["bags_calibrated"].isna().all()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"shallow": 200, "deep": 250}, "Nine in ten depths are within 45 mm"),
        ({"step": 0.5, "count": 200}, "Bags are recorded in steps of 0.5"),
        ({"kerf": 12, "bed": 12.7, "count": 300}, "outside its plausible range of 5 to 10 mm"),
        ({"kerf": 8, "bed": 35, "count": 300}, "outside its plausible range of 6 to 29 mm"),
        ({"kerf": 7, "noise": 0.25, "count": 30}, "no more precise than"),
    ],
)
def test_records_that_cannot_tell_are_not_gone_by(change, said):
    found = calibrate(_cores(**change), _CATALOGUE)
    assert not found.enough
    assert said in " ".join(found.reasons)


def test_a_third_of_records_that_fit_no_model_is_too_many():
    cores = _cores(120)
    wrong = np.arange(120) % 3 == 0
    cores.loc[wrong, "grout_used_l"] *= 4
    cores.loc[wrong, "bags_used"] *= 4
    found = calibrate(cores, _CATALOGUE)
    assert found.outliers == 40
    assert "33% of the records are outliers" in " ".join(found.reasons)


def test_only_records_that_can_be_used_are_used():
    cores = _cores(80)
    spoiled = cores.copy()
    for place, (column, value) in enumerate(
        [
            ("hole_mm", np.nan),
            ("depth_mm", np.nan),
            ("bedding", None),
            ("bags_used", np.nan),
            ("bags_used", 0.0),
            ("bags_used", -1.0),
            ("is_usable", False),
        ]
    ):
        spoiled.loc[place, column] = value
    spoiled["grout_used_l"] = grout_used_l(spoiled["bags_used"], pd.Series(np.nan, spoiled.index), _GROUT)
    found, without = calibrate(spoiled, _CATALOGUE), calibrate(cores.iloc[7:], _CATALOGUE)
    assert found.records.index.tolist() == list(range(7, 80))
    assert found.kerf == without.kerf


# the fit


def test_the_order_of_the_rows_does_not_matter():
    cores = _cores(50)
    turned = calibrate(cores.iloc[::-1], _CATALOGUE)
    found = calibrate(cores, _CATALOGUE)
    assert turned.kerf == found.kerf
    assert turned.records.sort_index().equals(found.records)


def test_holes_of_all_diameters_are_fitted_together():
    # neither 18 in holes of one depth nor 24 in holes of one depth tell kerf from bed; together they do not lie
    both = pd.concat([_cores(60), _cores(60, hole=609.6)], ignore_index=True)
    found = calibrate(both, _CATALOGUE)
    assert found.kerf.mm == pytest.approx(9, abs=0.4)
    assert found.bed.mm == pytest.approx(12.7, abs=0.8)
    assert found.by_diameter["inch"].tolist() == [18, 24]
    assert found.by_diameter["records"].tolist() == [60, 60]


def test_where_the_core_was_measured_the_hole_follows_the_fitted_kerf():
    # cores of 439.2 mm cut with a kerf of 6 mm, so holes of 451.2 mm; the stated 9 mm makes them 457.2 mm
    cores = _cores(200, kerf=6, hole=451.2, noise=0.01, step=0.01).assign(hole_mm=439.2 + 18)
    found = calibrate(cores, _CATALOGUE, "core")
    assert found.kerf.mm == pytest.approx(6, abs=0.1)
    assert found.bed.mm == pytest.approx(12.7, abs=0.2)
    void = found.void_l(_18_IN, _12_IN)
    assert void["grout_net_l"][0] == pytest.approx(_void(451.2, 304.8, 6), abs=0.02)
    # the slope in k, with the hole widening by two, by differences
    step = 1e-4

    def moved(kerf, bed):
        return _void(439.2 + 2 * kerf, 304.8, kerf, bed)

    middle = moved(found.kerf.mm, found.bed.mm)
    slopes = np.array(
        [
            (moved(found.kerf.mm + step, found.bed.mm) - middle) / step,
            (moved(found.kerf.mm, found.bed.mm + step) - middle) / step,
        ]
    )
    assert void["se_l"][0] == pytest.approx(sqrt(slopes @ np.array(found.covariance) @ slopes), rel=1e-3)


def test_rounding_up_and_to_the_nearest_differ_by_half_a_step_of_bed():
    cores = _cores(200, step=0.25)
    up, nearest = calibrate(cores, _CATALOGUE, rounded="up"), calibrate(cores, _CATALOGUE, rounded="nearest")
    # half a step, an eighth of a bag without its overfill, over the hole
    assert nearest.bed.mm - up.bed.mm == pytest.approx(0.125 * _BAG_L / 1.2 / (pi / 4 * 0.4572**2), abs=1.5)
    assert (up.records["to_l"] - up.records["grout_used_l"]).abs().max() == pytest.approx(0)
    assert (nearest.records["to_l"] - nearest.records["grout_used_l"]).max() == pytest.approx(0.125 * _BAG_L)


@pytest.mark.parametrize(
    ("bags", "step"),
    [
        ([1, 2, 1, 3] * 10, 1),
        ([0.5, 1, 1.5, 1] * 10, 0.5),
        ([0.5, 0.75, 1, 1.25] * 10, 0.25),
        ([0.6, 0.8, 1.0, 1.2] * 10, 0.2),
        ([0.5, 0.7, 0.9, 1.0] * 10, 0.1),
        ([0.55, 0.7, 0.95, 1.0] * 10, 0.05),
        ([0.53, 0.71, 0.94, 1.0] * 10, 0.01),
        # one in ten may be out of step, more may not
        ([0.5, 1, 1.5, 1, 0.5, 1, 1.5, 1, 1, 0.7] * 4, 0.5),
        ([0.5, 1, 1.5, 1, 0.5, 1, 1.5, 1, 0.7, 0.7] * 4, 0.1),
    ],
)
def test_the_step_is_the_largest_that_nine_in_ten_records_are_multiples_of(bags, step):
    cores = pd.DataFrame({"hole_mm": 457.2, "depth_mm": np.linspace(100, 400, len(bags)), "bags_used": bags})
    cores = cores.assign(bedding="pea gravel", grout_used_l=cores["bags_used"] * _BAG_L, is_usable=True)
    found = calibrate(cores, _CATALOGUE)
    assert found.step_bags == step
    in_step = np.isclose(cores["bags_used"] / step, (cores["bags_used"] / step).round())
    width = found.records["to_l"] - found.records["from_l"]
    assert width.tolist() == pytest.approx(np.where(in_step, step, 0.01) * _BAG_L)


def test_the_overfill_and_the_pilot_hole_are_taken_as_given():
    overrides = {"materials": {"grout": {"overfill": "0 %"}, "geometry": {"pilot_hole": "45 mm"}}}
    catalogue = load_catalogue(overrides, "test")
    found = calibrate(_cores(100), catalogue)
    # the same litres, all of them void: a fifth more, less what the wider pilot hole takes
    void = found.void_l(_18_IN, _12_IN)["grout_net_l"][0]
    assert void == pytest.approx(1.2 * _void(457.2, 304.8), rel=0.02)
    assert (found.pilot_mm, found.overfill) == (45, 0)


def test_the_needs_before_are_those_of_the_catalogue():
    needs = needs_before_and_after(calibrate(_cores(), _CATALOGUE))
    assert needs["depth_in"].tolist() == [6, 8.5, 12, 17]
    by_hand = [1.2 * _void(457.2, 25.4 * depth) / _BAG_L for depth in (6, 8.5, 12, 17)]
    assert needs["bags_stated"].tolist() == pytest.approx(by_hand)
    assert needs["bags_calibrated"].tolist() == pytest.approx(by_hand, rel=0.03)
    assert (needs["bags_low"] < needs["bags_calibrated"]).all()
    assert (needs["bags_calibrated"] < needs["bags_high"]).all()


# the command

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
    cores = _cores(80, kerf=7)
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
    assert "Not sufficient" not in said
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
        used, fitted = float(row["bags_used"]) * _BAG_L, float(row["fitted_l"])
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
    assert "Not sufficient for a calibration: Bags are recorded in steps of 0.5" in said
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
