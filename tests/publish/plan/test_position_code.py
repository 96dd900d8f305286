"""Tests of the QR codes of positions."""

import io
import re

import numpy as np
import pytest
import segno

from pipeline.publish.plan.position_code import geo_uri, position_codes


def test_a_position_is_latitude_then_longitude_to_a_tenth_of_a_metre():
    assert geo_uri(-82.1956691, 44.8) == "geo:44.800000,-82.195669"
    assert geo_uri(0.0000001, -0.5) == "geo:-0.500000,0.000000"


def _code(lon, lat):
    return str(position_codes([(lon, lat)])[0])


def _modules(svg):
    """Return the dark modules of the drawing: ``M x y`` starts a row, ``m`` moves, and ``h`` draws to the right."""
    path = re.search(r'd="([^"]+)"', svg)[1]
    dark, x, y = set(), 0.0, 0.0
    for letter, numbers in re.findall(r"([Mmh])([-\d. ]+)", path):
        values = [float(number) for number in re.findall(r"-?\d*\.?\d+", numbers)]
        if letter == "M":
            x, y = values
        elif letter == "m":
            x, y = x + values[0], y + values[1]
        else:
            dark |= {(int(x) + step, int(y)) for step in range(int(values[0]))}
            x += values[0]
    return dark


@pytest.mark.parametrize("corner", [(4, 4), (22, 4), (4, 22)])
def test_the_drawing_has_the_three_finder_patterns_inside_a_quiet_zone_of_four_modules(corner):
    """ISO/IEC 18004: version 2 has 25 modules a side; a finder is 7 by 7, a ring of one module round a core of 3 by 3."""
    svg = _code(-82.1956691, 44.8)
    assert 'viewBox="0 0 33 33"' in svg
    dark = _modules(svg)
    left, top = corner
    finder = {
        (left + x, top + y) for x in range(7) for y in range(7) if {x, y} & {0, 6} or (2 <= x <= 4 and 2 <= y <= 4)
    }
    square = {(left + x, top + y) for x in range(7) for y in range(7)}
    assert dark & square == finder
    assert min(min(place) for place in dark) == 4
    assert max(max(place) for place in dark) == 28


def test_the_drawing_is_the_symbol_of_the_position_and_of_no_other():
    dark = _modules(_code(-82.1956691, 44.8))
    symbol = segno.make("geo:44.800000,-82.195669", error="m", micro=False, boost_error=False)
    expected = {(x + 4, y + 4) for y, row in enumerate(symbol.matrix) for x, is_dark in enumerate(row) if is_dark}
    assert dark == expected
    assert dark != _modules(_code(-82.1956691, 44.800001))


def _drawn_by_the_library(lon, lat):
    code = segno.make(geo_uri(lon, lat), error="m", micro=False, boost_error=False)
    drawn = io.BytesIO()
    code.save(drawn, kind="svg", xmldecl=False, svgns=False, omitsize=True, border=4, nl=False, svgclass="position")
    return drawn.getvalue().decode("ascii")


def test_any_position_is_drawn_as_the_library_draws_it_alone():
    random = np.random.default_rng(18004)
    ends = [(0.0, 0.0), (-179.999999, -89.999999), (180.0, 90.0), (-0.0000001, 9.9), (9.999999, -0.5)]
    some = [(lon, lat) for lon, lat in zip(random.uniform(-180, 180, 200), random.uniform(-90, 90, 200), strict=True)]
    near = [(lon / 100, lat / 10) for lon, lat in some[:40]]
    positions = [*ends, *some, *near]
    assert [str(code) for code in position_codes(positions)] == [_drawn_by_the_library(*one) for one in positions]


def test_no_position_has_no_code():
    assert position_codes([]) == []
