"""A setting that is wrong is named with its value; so is a programme file that cannot be read."""

import pytest

from tests.spoiled.town import command


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
        ("[districts]", '[catalogue.rules.no-such]\nlimit = "1 m"\n[districts]', ["catalogue.rules.no-such"]),
        ("[districts]", '[catalogue.rules.pavement-thin]\nmin_thickness = "1 kg"\n[districts]', ["catalogue.rules.pavement-thin.min_thickness", "'1 kg'"]),
    ],
)  # fmt: skip
def test_a_wrong_setting_is_named_with_its_value(town, old, new, words):
    town.change(old, new)
    town.refuses(2, "programme.toml: ", *words)


@pytest.mark.parametrize("kind", ["not there", "a folder", "not text"])
def test_a_programme_that_is_missing_or_not_text_is_refused(tmp_path, kind):
    path = tmp_path / "programme.toml"
    if kind == "a folder":
        path.mkdir()
    elif kind == "not text":
        path.write_bytes(b"\xff\xfe[\x00")
    done = command("audit", path, "--out", tmp_path / "out")
    assert done.returncode == 2
    assert done.stderr.count("Error: ") == 1
    assert "programme.toml" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()
