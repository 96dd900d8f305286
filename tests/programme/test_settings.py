"""The programme file: what is read, and what its errors say."""

from pathlib import Path

import pytest
from pydantic import ValidationError

from pipeline.errors import SettingsError
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Map, Where, load_programme
from pipeline.units import quantity, units_of

_SOUND = """
[programme]
name = "Town"
[cores]
path = "cores.csv"
columns = { core_id = "id", diameter = "dia", depth_mm = "depth" }
units = { diameter = "in" }
[roads]
path = "roads.gpkg"
"""


def _load(tmp_path: Path, text: str):
    path = tmp_path / "programme.toml"
    path.write_text(text, encoding="utf-8")
    return load_programme(path)


def test_a_column_may_be_named_with_or_without_its_unit(tmp_path):
    settings = _load(tmp_path, _SOUND)
    assert settings.cores[0].columns == {"core_id": "id", "diameter_mm": "dia", "depth_mm": "depth"}
    assert settings.cores[0].units == {"diameter_mm": "in"}


def test_what_is_not_said_has_its_default(tmp_path):
    settings = _load(tmp_path, _SOUND)
    assert settings.programme.crs == "auto"
    assert settings.programme.as_of is None
    assert settings.matching.max_distance_m == 15
    assert settings.matching.choose == "likeliest"
    assert settings.matching.accuracy_m == 5
    assert settings.cores[0].diameter_is == "hole"
    assert settings.surfaces is None


def test_several_registers_are_called_by_their_names_and_each_has_settings_of_its_own(tmp_path):
    several = """
[[cores]]
name = "North"
path = "north/*.csv"
day_first = true
diameter_is = "core"
columns = { core_id = "No." }

[[cores]]
path = "south.xlsx"
"""
    text = _SOUND[: _SOUND.index("[cores]")] + _SOUND[_SOUND.index("[roads]") :] + several
    settings = _load(tmp_path, text)
    assert [register.register_name for register in settings.cores] == ["North", "south"]
    assert [register.columns for register in settings.cores] == [{"core_id": "No."}, {}]
    # only one of them says how dates are written, and they differ in what a diameter measures
    assert (settings.day_first, settings.diameter_is) == (True, "hole")
    wrong = text.replace("day_first = true", "day_first = 7").replace('"south.xlsx"', "3")
    with pytest.raises(SettingsError) as error:
        _load(tmp_path, wrong)
    assert 'cores "North".day_first: found' in str(error.value)
    assert "cores no. 2.path: found 3" in str(error.value)
    with pytest.raises(SettingsError, match="found two registers named 'North', expected a `name` of its own"):
        _load(tmp_path, text.replace('path = "south.xlsx"', 'path = "south.xlsx"\nname = "North"'))


def test_a_length_in_feet_is_metres_inside(tmp_path):
    settings = _load(tmp_path, _SOUND + '[matching]\nmax_distance = "50 ft"\n')
    assert settings.matching.max_distance_m == pytest.approx(15.24)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("[roads]", "[raods]"), ["roads: missing", 'raods: unknown key. Did you mean "roads"?']),
        (('name = "Town"', 'nmae = "Town"'), ["programme.name: missing", "programme.nmae: unknown key"]),
        (("diameter =", "diametre ="), ["cores.columns", "'diametre'", 'Did you mean "diameter"?']),
        (('{ diameter = "in" }', '{ diameter = "kg" }'), ["cores.units", "'kg'", "mm, cm, m, km, in, ft"]),
        (('name = "Town"', 'name = "Town"\nas_of = "soon"'), ["programme.as_of", "'soon'"]),
        (('name = "Town"', 'name = "Town"\ntimezone = "Mars"'), ["programme.timezone", "'Mars'", "America/Toronto"]),
        (('path = "cores.csv"', 'path = "c.csv"\ntimezone = "Mars"'), ["cores.timezone", "'Mars'", "America/Toronto"]),
        (('path = "cores.csv"', "path = 7"), ["cores.path: found 7, expected text in quotation marks. Correct it."]),
        (('path = "cores.csv"', 'path = "c.csv"\nday_first = "maybe"'), ["cores.day_first", "'maybe'"]),
        (('path = "cores.csv"', 'path = "c.csv"\ndiameter_is = "pipe"'), ["cores.diameter_is", "'hole' or 'core'"]),
    ],
)
def test_an_error_names_file_key_value_and_what_was_expected(tmp_path, change, said):
    with pytest.raises(SettingsError) as error:
        _load(tmp_path, _SOUND.replace(*change, 1))
    text = str(error.value)
    assert text.startswith(str(tmp_path / "programme.toml"))
    for part in said:
        assert part in text


@pytest.mark.parametrize("reach", ['"15"', "15", '"15 kg"', '"far"', "true"])
def test_a_quantity_without_its_unit_or_with_another_dimension_is_refused(tmp_path, reach):
    with pytest.raises(SettingsError, match=r"matching\.max_distance: found .*, expected a length with its unit"):
        _load(tmp_path, _SOUND + f"[matching]\nmax_distance = {reach}\n")


def test_every_wrong_value_is_told_at_once(tmp_path):
    with pytest.raises(SettingsError) as error:
        _load(tmp_path, '[programme]\nname = ""\ntz = 1\n[cores]\npath = 1\n')
    assert len(str(error.value).splitlines()) == 4


@pytest.mark.parametrize("text", ["[programme", "name = Town", "a = 1\na = 2"])
def test_a_file_that_is_not_toml_is_refused(tmp_path, text):
    with pytest.raises(SettingsError, match="not valid TOML"):
        _load(tmp_path, text)


def test_a_missing_or_binary_programme_file_is_refused(tmp_path):
    with pytest.raises(SettingsError, match="cannot be read"):
        load_programme(tmp_path / "nothing.toml")
    (tmp_path / "x.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match="not UTF-8"):
        load_programme(tmp_path / "x.toml")


def test_quantities_are_read_from_a_list_of_spellings_alone():
    assert quantity("1 in", "mm") == pytest.approx(25.4)
    assert quantity("1590 kg/m^3", "kg/L") == pytest.approx(1.59)
    assert quantity("20 %", "%") == pytest.approx(0.2)
    assert quantity("70 degF", "degC") == pytest.approx(190 / 9)
    # pint alone would take these for 42.64 kg, a megamolar and 907 kg
    for text, unit in (("1 bag", "kg"), ("1 ton", "kg"), ("1 gallon", "L")):
        with pytest.raises(ValueError, match="expected"):
            quantity(text, unit)
    assert units_of("length") == "mm, cm, m, km, in, ft"


def test_an_override_changes_the_value_and_its_source():
    catalogue = load_catalogue(
        {"rules": {"open-too-long": {"max_open": "20 day"}}, "materials": {"geometry": {"kerf": "8 mm"}}}, "p.toml"
    )
    assert catalogue.materials.geometry.kerf.value == 8
    assert catalogue.materials.geometry.kerf.source == "set by the programme"
    assert catalogue.rules["open-too-long"].source == "set by the programme"
    assert set(catalogue.overridden) == {"catalogue.rules.open-too-long.max_open", "catalogue.materials.geometry.kerf"}


@pytest.mark.parametrize(
    ("overrides", "said"),
    [
        ({"rules": {"no-such-rule": {"limit": "1 day"}}}, "catalogue.rules.no-such-rule: no such rule"),
        ({"materials": {"geometry": {"kerf": "8 kg"}}}, "catalogue.materials.geometry.kerf.value: found '8 kg'"),
        (
            {"surfaces": {"asphalt": {"shade": "blue"}}},
            "surfaces.asphalt.shade: found 'blue', expected one of: dark, pale. Correct it",
        ),
        (
            {"surfaces": {"asphalt": {"aliases": ["concrete"]}}},
            "catalogue.surfaces: found the alias 'concrete' under 'asphalt' and 'concrete'",
        ),
        ({"surfaces": {"block paving": {"reinstate": True}}}, "found reinstate = true without shade and bedding"),
        ({"tools": {}}, "catalogue.tools: unknown key"),
        # 2.65 x (1 - 0.10) = 2.385, half as much again as 1.59
        ({"materials": {"bedding": {"pea gravel": {"voids": "10 %"}}}}, "particle_density and voids give 2.39 kg/L"),
    ],
)
def test_a_wrong_override_is_refused_by_its_key(overrides, said):
    with pytest.raises(SettingsError) as error:
        load_catalogue(overrides, "p.toml")
    assert said in str(error.value)
    assert str(error.value).startswith("p.toml: catalogue")


def test_every_shipped_value_says_where_it_comes_from():
    catalogue = load_catalogue({}, "p.toml")
    sources = [surface.source for surface in catalogue.surfaces.values()]
    sources += [rule.source for rule in catalogue.rules.values()]
    sources += [shade.source for shade in catalogue.shades.values()]
    for group in (catalogue.materials.geometry, catalogue.materials.grout, *catalogue.materials.bedding.values()):
        sources += [getattr(group, name).source for name in type(group).model_fields]
    assert len(sources) > 60
    assert all(sources)


def test_a_programmes_aliases_come_beside_the_shipped_ones():
    catalogue = load_catalogue({"surfaces": {"composite": {"aliases": ["COMP"]}}}, "p.toml")
    assert {"COMP", "overlay"} <= set(catalogue.surfaces["composite"].aliases)


@pytest.mark.parametrize(
    "address",
    [
        "http://tiles.example/{z}/{x}/{y}.png",
        "https://tiles.example/{z}/{x}.png",
        "https://tiles.example; script-src *//{z}/{x}/{y}",
        "https://tiles.example/'unsafe-inline'/{z}/{x}/{y}",
    ],
)
def test_a_background_is_an_https_address_of_tiles_and_nothing_else(address):
    with pytest.raises(ValidationError, match="background"):
        Map(background=address)


def test_a_background_is_off_unless_given():
    assert Map().background is None
    assert Map(background="https://tiles.example:8443/{z}/{x}/{y}.png?key=a").background is not None


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('[programme]\nlanguage = "../en"', "programme.language: found '../en', expected a language code, such as"),
        ('[programme]\nholidays = "XX"', "programme.holidays: found 'XX', expected the code of a country"),
        ('[programme]\nholidays = "GB-XX"', "programme.holidays: found 'GB-XX', expected GB alone, or with one of: "),
        ("[programme]\nsubstitute_days = 'no'", "programme.substitute_days: found 'no', expected true, false or a list of"),
        ("[programme]\nsubstitute_days = [28]", "programme.substitute_days: found [28], expected true, false or a list of"),
        ("[programme]\nsubstitute_days = true", "programme: found substitute_days without holidays, expected the region too, such as"),
        ("[cores]\ndelimiter = ';;'", "cores.delimiter: found ';;', expected text, at most 1 long. Correct it."),
        ("[cores]\ndecimal = ';'", "cores.decimal: found ';', expected '.' or ','. Correct it."),
        ('[roads]\ncolumns = { id = "x" }', "roads.columns: found the key 'id', expected one of: segment_id, street,"),
        ('[matching]\nname_right = "100 %"', "matching.name_right: found '100 %', expected above 0 % and below 100 %."),
        ('[matching]\nmax_distance = "0 m"', "matching.max_distance: found '0 m', expected above 0 m and at most 100 km. Correct it."),
        ('[matching]\ndistrict_gap = "-1 m"', "matching.district_gap: found '-1 m', expected at least 0 m and at most 100 km. Correct it."),
        ("[matching]\nnames_near = 0", "matching.names_near: found 0, expected a number from 1 to 1,000. Correct it."),
        ('[matching]\naccuracy_by_method = { gps = "0 m" }', "matching.accuracy_by_method.gps: found '0 m', expected above 0 m and at most 100 km."),
        ('[matching]\naccuracy_by_method = { GPS = "3 m", "gps " = "4 m" }', "matching.accuracy_by_method: found both 'GPS' and 'gps ', which are the same"),
        ("[programme]\nas_of = 9999-12-31", "programme.as_of: found 9999-12-31, expected a date from 1900-01-01 to 2199-12-31. Correct it."),
        ('[handover]\ncolumns = ["lon", "lon"]', "handover.columns: found 'lon' twice, expected each column once. Correct it."),
        ('[map]\nbackground = "tiles"', "map.background: found 'tiles', expected an https address of map tiles with {z}, {x} and {y}"),
        ('[[thresholds.where]]\ncode = "wales"', "thresholds.where no. 1: found none, expected one or more of road_authority,"),
        ('[[thresholds.where]]\nsurface = "asphalt"', "thresholds.where no. 1: found no thresholds, expected a code or rules. Correct it."),
        ("[map]\nzoom = 3", "map.zoom: unknown key. Known here: background, background_credit, units. Correct it."),
    ],
)  # fmt: skip
def test_each_setting_that_is_wrong_has_its_own_sentence(tmp_path, more, said):
    section, line = more.split("\n", 1)
    text = _SOUND.replace(section, more, 1) if section in _SOUND else _SOUND + more
    if section == "[roads]":
        text = _SOUND + line
    with pytest.raises(SettingsError) as error:
        _load(tmp_path, text)
    assert f"programme.toml: {said}" in str(error.value)


def test_two_keys_for_one_column_are_refused_by_its_name(tmp_path):
    with pytest.raises(SettingsError) as error:
        _load(tmp_path, _SOUND.replace('diameter = "dia"', 'diameter = "dia", diameter_mm = "d2"'))
    assert "cores.columns: found two keys for the column `diameter`, expected one. Correct it." in str(error.value)


def test_a_language_and_a_region_that_exist_are_taken(tmp_path):
    text = _SOUND.replace(
        'name = "Town"', 'name = "Town"\nlanguage = "fr-CA"\nholidays = "CA-ON"\ntimezone = "America/Toronto"'
    )
    programme = _load(tmp_path, text).programme
    assert (programme.language, programme.holidays, programme.timezone) == ("fr-CA", "CA-ON", "America/Toronto")


def test_without_them_a_handover_has_what_a_map_needs(tmp_path):
    settings = _load(tmp_path, _SOUND + '[handover]\ncolumns = ["shade"]\n')
    assert {"core_id", "status", "lon", "lat"} < set(settings.handover.columns)
    assert settings.handover.columns[-1] == "shade"


def test_a_place_is_what_is_named_of_it():
    here = Where(road_class="main", surface="asphalt", code="wales")
    assert here.scope == {"road_class": "main", "surface": "asphalt"}


def test_a_byte_order_mark_is_no_part_of_the_file(tmp_path):
    assert _load(tmp_path, "\ufeff" + _SOUND).programme.name == "Town"
