"""Units in headers: what is certain, what may be two units, and words that only look like units."""

import pytest

from pipeline.intake.cells.header_units import HeaderUnit, header_unit, stated_unit

_CERTAIN = {
    "degF": ["Temp °F", "Temp (F)", "Air temp deg F", "Air temp (deg. F)", "temp_f", "TEMP_F", "tempF", "AirTemp_degF",
             "Temp ºF", "Temp, F", "Temp F", "Temp °F *", "Temperature in Fahrenheit", "Temp degrees F"],
    "degC": ["Temp (°C)", "airTempC", "Temperature Celsius", "temp c", "Air temperature [degC]"],
    "in": ["Core Ø (in)", 'Dia (")', 'Dia "', "Depth, in.", "DIAM_IN", "Diameter in inches", "Depth in", "DiaIn",
           "Thk. in.", "Dia (in) (hole)", "Size (in.)", "Depth_inches", "Dia.(in)", "Inches"],
    "mm": ["Depth [mm]", "dia_mm", "Depth mm", "Depth / mm", "Depth - mm", "Depth: mm", "DepthMM", "Depth in mm", "Ø mm",
           "max dia mm", "step +/- mm", "bedding_mm"],
    "m": ["Depth m", "cover_m", "Cover m", "Depth of cover (m)"],
    "ft": ["Depth ft", "Depth (ft.)", "Depth (')"],
    "L": ["Water L", "Water (litres)", "Water used (l)", "Water used L", "water_l", "waterL", "Water (ltr)", "Water qty L",
          "litres"],
    "us gal": ["Water (US gal)", "Water US gal", "Water (U.S. gal)", "Water (gal US)"],
    "imp gal": ["Water, imp. gal", "Water UK gallons", "Water (imperial gallons)"],
}  # fmt: skip
_WANTED = {"degF": "degC", "degC": "degC", "L": "L", "us gal": "L", "imp gal": "L"}


@pytest.mark.parametrize(("unit", "header"), [(unit, header) for unit, all_of in _CERTAIN.items() for header in all_of])
def test_a_unit_is_read_from_a_header_that_states_it(unit, header):
    found = header_unit(header, _WANTED.get(unit, "mm"))
    assert found is not None
    assert found.unit == unit
    assert found.could_be == ()


@pytest.mark.parametrize(
    ("header", "wanted"),
    [
        ("Put in", "mm"), ("put_in", "mm"), ("Signed in", "mm"), ("signed_in", "mm"), ("Date in", "mm"), ("Check-in", "mm"),
        ("Check m", "mm"), ("Crew m", "mm"), ("No. m", "mm"), ("Bedding in", "mm"), ("Diameter", "mm"), ("Main", "mm"),
        ("Depth of main", "mm"), ('"Dia"', "mm"), ("ø18", "mm"), ("Crew C", "degC"), ("crew_c", "degC"),
        ("Location F", "degC"), ("Temp", "degC"), ("Off", "degC"), ("Temp (min)", "degC"), ("Date in", "degC"),
        ("No. l", "L"), ("Water in", "L"), ("Water (L/bag)", "L"), ("Water", "L"),
    ],
)  # fmt: skip
def test_a_word_that_ends_a_header_is_no_unit(header, wanted):
    assert header_unit(header, wanted) is None


@pytest.mark.parametrize(
    "header", ["Dia in/mm", "Depth (in or mm)", "Depth (mm) [in]", "Size in mm or inches", "Depth mm & in"]
)
def test_a_header_with_two_units_states_neither(header):
    assert header_unit(header, "mm") is None


@pytest.mark.parametrize("header", ["Water (gal)", "Water gal", "water_gal", "Water gallons", "Gal", "Water (Gal.)"])
def test_a_gallon_without_its_country_is_left_open(header):
    found = header_unit(header, "L")
    assert found is not None
    assert found.unit is None
    assert found.could_be == ("us gal", "imp gal")


@pytest.mark.parametrize("header", ["Temp (deg)", "Temp °", "Temp degrees"])
def test_a_temperature_without_its_scale_is_left_open(header):
    found = header_unit(header, "degC")
    assert found is not None
    assert (found.unit, found.could_be) == (None, ("degC", "degF"))


def test_a_unit_of_another_dimension_is_reported_as_written():
    assert header_unit("Water (kg)", "L") == HeaderUnit("kg", None)
    assert header_unit("water_kg", "L") == HeaderUnit("kg", None)


def test_a_cell_in_a_row_of_units_states_its_unit_with_or_without_brackets():
    assert stated_unit("in", "mm") == HeaderUnit("in", "in")
    assert stated_unit(" (mm) ", "mm") == HeaderUnit("mm", "mm")
    assert stated_unit("[°F]", "degC") == HeaderUnit("°F", "degF")
    assert stated_unit("gal", "L") == HeaderUnit("gal", None, ("us gal", "imp gal"))
    assert stated_unit("as cut", "mm") is None
