"""A setting that is wrong is named with its value; so is a programme file that cannot be read."""

import sys

import pytest

from pipeline import cli
from pipeline.run import read_programme


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[roads]", "[raods]", ["roads: missing", "Did you mean"]),
        ('name = "Town"', 'name = "Town"\ncolour = "red"', ["programme.colour", "unknown key"]),
        ('name = "Town"', "name = Town", ["not valid TOML", "line 3"]),
        ("as_of = 2026-09-30", 'as_of = "soon"', ["programme.as_of", "'soon'"]),
        ("as_of = 2026-09-30", 'crs = "EPSG:3857"', ["programme.crs", "Web Mercator"]),
        ("as_of = 2026-09-30", 'crs = "EPSG:4326"', ["programme.crs", "metres"]),
        ("as_of = 2026-09-30", 'crs = "the usual"', ["programme.crs", "'the usual'"]),
        ('"cores.gpkg"', '"cores.gpkg"\ncrs = "here"', ["cores.crs", "'here'"]),
        ('"cores.gpkg"', '"cores.gpkg"\nunits = { diameter = "kg" }', ["cores.units", "'kg'"]),
        ("[districts]", '[matching]\nmax_distance = "15"\n[districts]', ["matching.max_distance", "'15'"]),
        ("[districts]", '[matching]\nmax_distance = "-15 m"\n[districts]', ["matching.max_distance", "-15"]),
        ("[districts]", '[matching]\nmax_distance = "0 m"\n[districts]', ["matching.max_distance", "0"]),
        ("[districts]", '[matching]\nchoose = "best"\n[districts]', ["matching.choose", "'best'"]),
        ("[districts]", "[orders]\ncores_per_week = 10\n[districts]", ["orders", "cores_per_week", "[[crews]]"]),
        ("[districts]", '[orders]\nwaste = "100 %"\n[districts]', ["orders.waste", "'100 %'", "at most 50 %"]),
        ("[districts]", "[orders.items.cement]\n[districts]", ["orders.items", '"cement"', '"grout dark"']),
        ("[districts]", "[orders.items.grout-dark]\n[districts]", ['Did you mean "grout dark"?']),
        ("[districts]", '[catalogue.materials.geometry]\nbed_fill = "500 %"\n[districts]', ["geometry.bed_fill", "'500 %'", "at most 100 %"]),
        ("[districts]", '[catalogue.materials.geometry]\npilot_hole = "10 m"\n[districts]', ["geometry.pilot_hole", "'10 m'", "at most 150 mm"]),
        ("[districts]", '[catalogue.materials.geometry]\nkerf = "1 m"\n[districts]', ["geometry.kerf", "'1 m'", "at most 50 mm"]),
        ("[districts]", '[catalogue.materials.grout]\nbag = "0 kg"\n[districts]', ["grout.bag", "'0 kg'", "at least 0.1 kg"]),
        ("[districts]", '[catalogue.materials.grout]\nwet_density = "0 kg/L"\n[districts]', ["grout.wet_density", "'0 kg/L'"]),
        ("[districts]", '[catalogue.rules.open-too-long]\nmax_open = "-5 day"\n[districts]', ["open-too-long.max_open", "'-5 day'"]),
        ("[districts]", '[catalogue.rules.diameter-implausible]\nmin_diameter = "2 m"\n[districts]', ["min_diameter = '2 m' with max_diameter = '1000 mm'"]),
        ("[districts]", '[catalogue.rules.no-such]\nlimit = "1 m"\n[districts]', ["catalogue.rules.no-such"]),
        ("[districts]", '[catalogue.rules.pavement-thin]\nmin_thickness = "1 kg"\n[districts]', ["catalogue.rules.pavement-thin.min_thickness", "'1 kg'"]),
    ],
)  # fmt: skip
def test_a_wrong_setting_is_named_with_its_value(town, old, new, words):
    town.change(old, new)
    town.refuses(2, "programme.toml: ", *words)


@pytest.mark.parametrize("kind", ["not there", "a folder", "not text", "too deep"])
def test_a_programme_that_is_missing_or_not_text_is_refused(tmp_path, capsys, monkeypatch, kind):
    path = tmp_path / "programme.toml"
    if kind == "a folder":
        path.mkdir()
    elif kind == "not text":
        path.write_bytes(b"\xff\xfe[\x00")
    elif kind == "too deep":
        path.write_text("a = " + "[" * 3000 + "]" * 3000, encoding="utf-8")
    monkeypatch.setattr(sys, "argv", ["kerfbook", "audit", str(path), "--out", str(tmp_path / "out"), "--quiet"])
    with pytest.raises(SystemExit) as done:
        cli.main()
    assert done.value.code == 2
    printed = capsys.readouterr().err
    assert printed.count("Error: ") == 1
    assert "programme.toml" in printed
    assert "Traceback" not in printed
    assert not (tmp_path / "out").exists()


def test_stock_of_a_yard_that_supplies_nobody_is_refused(town):
    (town.folder / "stock.csv").write_text("yard,item,packs\nWset,grout dark,10\n", encoding="utf-8")
    town.change("[districts]", '[orders.stock]\npath = "stock.csv"\n[districts]')
    town.refuses(3, "stock.csv: row 1: found 'Wset' for `yard`", '"East", "West"', 'Did you mean "West"?')


def test_a_name_that_matches_nothing_is_reported_and_the_audit_goes_on(town):
    town.change("[districts]", '[orders.yards]\n"Wset" = "Depot"\n[districts]')
    assert town.check()[0] == 0
    *_, inputs = read_programme(town.folder / "programme.toml")
    (notice,) = inputs.notices
    assert notice == (
        'orders.yards: no district is called "Wset", so its yard supplies no district. Did you mean "West"? '
        'The data have: "East", "West", "(no district)".'
    )
