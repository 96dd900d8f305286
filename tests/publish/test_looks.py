"""One place for how things look: its colours and shapes are written in no other file."""

import re
from itertools import combinations
from pathlib import Path

import pytest

from pipeline.contracts import STATUSES
from pipeline.publish.looks import (
    COLOURS,
    DARK_COLOURS,
    DARK_STATUSES,
    DISTRICT_LINE,
    HALO,
    HOLLOW,
    INK,
    SEGMENT_LINE,
    SEVERITY_LOOKS,
    STATUS_LOOKS,
    colour_variables,
    dark_variables,
)

_PACKAGE = Path(__file__).parents[2] / "pipeline"
_FILES = sorted(path for kind in ("py", "js", "css", "html") for path in _PACKAGE.rglob(f"*.{kind}"))
_OTHERS = [path for path in _FILES if path != _PACKAGE / "publish" / "looks.py"]
_COLOUR = re.compile(r"#(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{3})\b(?!;?\w)")


def in_full(colour):
    """``#abc`` as ``#aabbcc``."""
    digits = colour[1:].lower()
    return f"#{digits}" if len(digits) == 6 else "#" + "".join(2 * digit for digit in digits)


def colours_in(text):
    return {in_full(found) for found in _COLOUR.findall(text)}


def luminance(colour):
    """Relative luminance, WCAG 2.2."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    low, high = sorted([luminance(one), luminance(other)])
    return (high + 0.05) / (low + 0.05)


_SHARED = {
    *COLOURS.values(),
    *DARK_COLOURS.values(),
    *(colour for look in DARK_STATUSES.values() for colour in look),
    *(colour for look in STATUS_LOOKS.values() for colour in (look.fill, look.outline, look.letters)),
    *(colour for look in SEVERITY_LOOKS.values() for colour in look),
    *(INK, HALO, SEGMENT_LINE, DISTRICT_LINE),
}


def test_a_colour_of_looks_is_written_in_no_other_file():
    repeated = {path: colours_in(path.read_text("utf-8")) & _SHARED for path in _OTHERS}
    assert {path.name: found for path, found in repeated.items() if found} == {}


def test_a_shape_of_a_status_is_drawn_in_no_other_file():
    shapes = [look.path for look in STATUS_LOOKS.values()]
    assert [path.name for path in _OTHERS if any(shape in path.read_text("utf-8") for shape in shapes)] == []


@pytest.mark.parametrize(
    ("line", "found"),
    [
        (".chip { background: #B1123F; }", {"#b1123f"}),
        ('stroke="#222"', {"#222222"}),
        ("fill:#ffe07a;", {"#ffe07a"}),
        ('href="#sources"', set()),
        ("&#x3c;", set()),
    ],
)
def test_a_colour_is_found_however_it_is_written(line, found):
    assert colours_in(line) == found


def test_every_status_and_severity_has_a_look_and_no_two_share_it():
    assert tuple(STATUS_LOOKS) == STATUSES
    assert tuple(SEVERITY_LOOKS) == ("fail", "check", "note")
    for part in ("fill", "path", "gis_marker"):
        assert len({getattr(look, part) for look in STATUS_LOOKS.values()}) == 3
    assert len({look.line for look in SEVERITY_LOOKS.values()}) == 3


def test_statuses_stand_out_from_the_ground_and_from_each_other():
    """WCAG 2.2, 1.4.11: 3:1 for what is needed to understand a graphic; the outline carries it on any fill."""
    for look in STATUS_LOOKS.values():
        assert contrast(look.outline, COLOURS["ground"]) > 3
        # the outline or the fill itself stands out from the ground, whichever is seen
        assert max(contrast(look.outline, look.fill), contrast(look.fill, COLOURS["ground"])) > 3
    # in a grey print too: no two fills within a quarter of the other's luminance
    for one, other in combinations([luminance(look.fill) for look in STATUS_LOOKS.values()], 2):
        assert max(one, other) / min(one, other) > 1.25


def test_letters_can_be_read_on_their_ground():
    """WCAG 2.2, 1.4.3: 4.5:1 for text."""
    for look in STATUS_LOOKS.values():
        assert contrast(look.letters, look.fill) > 4.5
    for ground in ("paper", "ground", "warning-ground"):
        assert contrast(COLOURS["ink"], COLOURS[ground]) > 4.5
    for letters in ("muted", "accent", "district-name", "street-name"):
        assert contrast(COLOURS[letters], COLOURS["paper"]) > 4.5
    for look in SEVERITY_LOOKS.values():
        assert contrast(COLOURS["muted"], look.ground) > 4.5


def test_style_sheets_get_every_colour_by_name():
    written = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", colour_variables()))
    assert written["flagged"] == STATUS_LOOKS["flagged"].fill
    assert written["flagged-letters"] == STATUS_LOOKS["flagged"].letters
    assert written["check-ground"] == SEVERITY_LOOKS["check"].ground
    assert written.items() >= COLOURS.items()
    assert len(written) == len(COLOURS) + 2 * len(STATUS_LOOKS) + 2 * len(SEVERITY_LOOKS)


def test_style_sheets_use_no_colour_that_does_not_exist():
    # the shadows are the page's own
    own = next(path for path in _FILES if path.name == "page.css").read_text("utf-8")
    named = set(re.findall(r"--([\w-]+):", colour_variables() + own))
    for path in _FILES:
        if path.suffix == ".css":
            assert set(re.findall(r"var\(--([\w-]+)\)", path.read_text("utf-8"))) <= named, path.name


def test_scripts_use_no_colour_that_does_not_exist():
    for path in _FILES:
        if path.suffix == ".js":
            text = path.read_text("utf-8")
            used = set(re.findall(r"COLOURS\.(\w+)", text)) | set(re.findall(r'COLOURS\["([\w-]+)"\]', text))
            assert used <= set(COLOURS), path.name


def test_a_hollow_symbol_leaves_more_of_the_fill_than_it_cuts_out():
    assert 0 < HOLLOW**2 < 0.5


def test_a_dark_screen_has_every_colour_and_paper_stays_light():
    dark = dark_variables()
    assert dark.startswith("@media screen and (prefers-color-scheme: dark) {")
    named = re.findall(r"--([\w-]+):", dark)
    assert sorted(named) == sorted(re.findall(r"--([\w-]+):", colour_variables()))
    works = [f"works-{kind}" for kind in ("planned", "protected", "resurfaced")]
    assert min(contrast(COLOURS[name], COLOURS["ground"]) for name in works) > 4.5
    for letters in ("ink", "muted", "accent", "district-name", "street-name", "warning", *works):
        for ground in ("paper", "ground"):
            assert contrast(DARK_COLOURS[letters], DARK_COLOURS[ground]) > 4.5
    for fill, outline, letters in DARK_STATUSES.values():
        assert contrast(fill, DARK_COLOURS["ground"]) > 3
        assert contrast(outline, fill) > 3
        assert contrast(letters, fill) > 4.5
