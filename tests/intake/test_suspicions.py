"""What looks misread in a register is said in a sentence, and a sound register has none."""

import pandas as pd
import pytest

from pipeline.intake.suspicions import suspicions_of
from tests.intake.registers_understood import AS_OF, register_of, rows, understood

_LIMITS = {"diameter_mm": (100.0, 1000.0), "depth_mm": (25.0, 1000.0)}
_DATES = {"opened_on": "cut", "reinstated_at": "done"}
_SOUND = {"cut": "2026-04-02", "done": [f"2026-05-{day:02}" for day in range(1, 31)]}


def _said(cells, columns=None, **settings):
    part = register_of(cells, columns=_DATES | (columns or {}), **settings)
    return suspicions_of(understood(part, limits=_LIMITS), _LIMITS, AS_OF)


def _sound(**more):
    """Thirty rows, each opened on another day of April."""
    return rows(30, **(_SOUND | {"cut": [f"2026-04-{day:02}" for day in range(1, 31)]} | more))


def test_a_sound_register_has_none():
    assert _said(_sound()) == []


def test_inches_read_as_millimetres_come_first():
    said = _said(_sound(dia="18", depth="8"))
    assert said[0] == (
        'North: "dia" has a median diameter of 18 mm, expected 100 to 1000 mm. Check the column and its unit, mm '
        "(programme)."
    )
    assert said[1].startswith('North: "depth" has a median depth of 8 mm, expected 25 to 1000 mm.')


@pytest.mark.parametrize(("dia", "is_said"), [("100", False), ("99", True), ("1000", False), ("1001", True)])
def test_a_median_on_a_limit_is_plausible(dia, is_said):
    assert any("median diameter" in one for one in _said(_sound(dia=dia, depth="50"))) is is_said


def test_water_in_the_column_of_temperatures_is_seen_by_its_header_and_its_values():
    cells = _sound() | {"Water (L)": [f"{0.8 + number / 100:.2f}" for number in range(30)]}
    said = _said(
        cells, {"air_temperature": "Water (L)"}, units={"diameter": "mm", "depth": "mm", "air_temperature": "degC"}
    )
    assert 'North: "Water (L)" is read as air temperature, but its header names water used.' in said
    assert any('"Water (L)" has only air temperatures from 0.8 to 1.09 °C.' in one for one in said)


def test_day_and_month_exchanged_show_in_days_that_all_come_before_the_thirteenth():
    cut = [f"0{month}/{day:02}/2026" for month in (4, 5) for day in range(1, 13)] + ["04/01/2026"] * 6
    said = _said(_sound(cut=cut), day_first=False)
    assert any('no date of "cut" has a day after the 12th of a month' in one for one in said)
    cut[-1] = "04/13/2026"
    assert not any("after the 12th" in one for one in _said(_sound(cut=cut), day_first=False))


def test_many_dates_ahead_raise_the_order_of_day_and_month_and_one_alone_does_not():
    one = _said(_sound(done=["2026-05-01"] * 29 + ["2026-12-24"]))
    assert one == [
        'North: 1 date of "done" lies after the day of the audit, 2026-09-30; the latest is 2026-12-24 ("2026-12-24" in line 33).'
    ]
    many = _said(_sound(done=["2026-05-01"] * 28 + ["2026-12-24"] * 2))
    assert many[0].endswith("Check the order of day and month.")


def test_a_cell_in_ten_that_cannot_be_read_is_a_fault_of_the_column():
    said = _said(_sound(dia=["450"] * 27 + ["large"] * 3))
    assert said == ['North: 3 of 30 cells of "dia" cannot be read as diameter, such as "large" in line 31: unreadable.']
    # one of thirty is a slip of its row
    assert _said(_sound(dia=["450"] * 29 + ["large"])) == []


def test_a_register_without_dates_of_reinstatement_can_have_no_reinstated_core():
    part = register_of(_sound(), columns={"opened_on": "cut"})
    said = suspicions_of(understood(part, limits=_LIMITS), _LIMITS, AS_OF)
    assert len(said) == 1
    assert "no core of this register can count as reinstated" in said[0]


@pytest.mark.parametrize(
    ("cells", "columns", "sentence"),
    [
        ({"id": "N1"}, {}, '29 of 30 rows repeat the id of another row. Check that "id" holds the ids of cores.'),
        (
            {"dia": "200", "depth": "450"},
            {},
            '30 of 30 cores are deeper than they are wide. Check that "dia" and "depth"',
        ),
        ({"done": "2026-03-01"}, {}, "30 of 30 cores were reinstated before they were opened."),
        ({"done": "2026-06-01"}, {}, 'all 30 dates of "done" are 2026-06-01.'),
        ({"road": "Quay"}, {"street": "road"}, "all 30 cores are on one street, 'Quay'."),
        ({"gang": ""}, {"crew": "gang"}, '"gang", read as crew, is empty in every row.'),
        ({}, {"plated_on": "cut"}, 'column "cut" is read twice: Opened and Plated.'),
        ({"n": ["4961003"] * 27 + [""] * 3}, {}, "3 of 30 rows have no position (missing 3)."),
        ({"cut": ["2026-04-01"] * 14 + [""] * 16}, {}, '"cut" has the day of opening for only 14 of 30 rows.'),
        (
            {"cut": ["1900-01-01"] + ["2026-04-02"] * 29},
            {},
            'the earliest date of "cut" is 1900-01-01 ("1900-01-01" in line 4).',
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_unlikely_of_a_whole_register_is_said(cells, columns, sentence):
    assert any(sentence in one for one in _said(_sound(**cells), columns))


def test_a_large_share_of_rows_set_aside_is_said():
    aside = pd.DataFrame({"place": range(20), "reason": "total", "text": "Total"})
    assert _said(_sound(), set_aside=aside) == [
        "North: 20 rows set aside as holding no core, and 30 cores kept. Check the rows set aside."
    ]
    assert _said(_sound(), set_aside=aside.head(5)) == []


def test_rows_that_do_not_fit_the_header_are_counted_and_located():
    ragged = [None] * 30
    ragged[7] = "14 fields where the header has 15"
    said = (
        "North: 1 row has more or fewer cells than the header: line 11. Cells may be in the wrong columns: correct the "
        "file, or export it again."
    )
    assert _said(_sound(), ragged=ragged) == [said]
    ragged[2] = "16 fields where the header has 15"
    assert _said(_sound(), ragged=ragged)[0].startswith(
        "North: 2 rows have more or fewer cells than the header: lines 6, 11. Cells may be"
    )
    every = _said(_sound(), ragged=["2 fields where the header has 15"] * 30)[0]
    assert (
        "30 rows have more or fewer cells than the header: lines 4, 5, 6, 7, 8, 9, 10, 11, 12, 13 and 20 more." in every
    )


def test_the_files_of_rows_that_do_not_fit_are_named_where_there_are_several():
    ragged = ["14 fields where the header has 15"] + [None] * 29
    files = [register_of(_sound(), path=path, columns=_DATES, ragged=ragged) for path in ("a/one.csv", "two.csv")]
    said = suspicions_of(understood(*files, limits=_LIMITS), _LIMITS, AS_OF)
    assert any(
        "2 rows have more or fewer cells than the header: one.csv, line 4; two.csv, line 4. Cells" in one
        for one in said
    )


def test_single_values_that_no_core_has_are_counted_and_located():
    said = _said(_sound(dia=["450"] * 29 + ["9999"]))
    assert said == [
        (
            'North: 1 of 30 values of "dia" is outside the likely range of the diameter: "9999" in line 33; expected 100 to 1000 mm. '
            "Check the column and its unit, mm (programme)."
        )
    ]
    # more than one in twenty comes before what concerns single rows
    many = _said(_sound(dia=["450"] * 26 + ["9999"] * 4))
    assert many[0].startswith(
        'North: 4 of 30 values of "dia" are outside the likely range of the diameter, such as "9999" in line 30, "9999" in line 31, '
        '"9999" in line 32; expected'
    )


def _files_said(**texts):
    parts = [
        register_of(_sound(dia=dia), path=f"{name}.csv", columns=_DATES, name="North") for name, dia in texts.items()
    ]
    return [one for one in suspicions_of(understood(*parts, limits=_LIMITS), _LIMITS, AS_OF) if "diameter" in one]


def test_a_file_whose_median_is_many_times_that_of_the_others_may_be_in_another_unit():
    # 600 against 60: the register is in mm, and one file was typed in cm
    said = _files_said(jan="600", feb="600", mar="60")
    assert said == [
        (
            'North: "dia" of mar.csv may be in another unit: its median diameter is 60 mm, of the other files 600 mm, a '
            "factor of 10. Check the column and its unit, mm (programme)."
        )
    ]
    assert _files_said(jan="600", feb="450", mar="310") == []


def test_of_two_files_that_differ_one_sentence_names_both_medians():
    assert len(_files_said(jan="457", feb="914")) == 1


def test_values_outside_are_counted_by_file():
    said = _files_said(jan=["450"] * 29 + ["2"], feb=["450"] * 28 + ["9999"] * 2)
    assert said == [
        (
            'North: 3 of 60 values of "dia" are outside the likely range of the diameter (jan.csv 1, feb.csv 2), such as "2" in jan.csv, '
            'line 33, "9999" in feb.csv, line 32, "9999" in feb.csv, line 33; expected 100 to 1000 mm. '
            "Check the column and its unit, mm (programme)."
        )
    ]
