"""Values that no core has are counted by file, and a file of another size is told from the others."""

import pandas as pd
import pytest

from pipeline.contracts import REGISTER_COLUMNS
from pipeline.intake.outliers import outliers_of

_BY_NAME = {column.name: column for column in REGISTER_COLUMNS}
_RANGES = {"diameter_mm": (100.0, 1000.0), "flush_mm": (-100.0, 100.0)}


def _frame(name="diameter_mm", **files):
    cells = [(file, value) for file, values in files.items() for value in values]
    values = pd.Series([value for _, value in cells], dtype="float64")
    return pd.DataFrame(
        {
            name: values,
            f"{name}_text": values.astype("str"),
            "file": [file for file, _ in cells],
            "register_row": range(2, len(cells) + 2),
        }
    )


def test_values_outside_are_counted_by_file_with_the_first_cells():
    found = outliers_of(_frame(jan=[99, 100, 1000], feb=[450, 1001, 1002]), _BY_NAME["diameter_mm"], _RANGES)
    assert found.outside == (("jan", 1), ("feb", 2))
    assert [(cell.file, cell.place) for cell in found.cells] == [("jan", 2), ("feb", 6), ("feb", 7)]


@pytest.mark.parametrize(("middle", "is_odd"), [(899, False), (900, True), (226, False), (225, True)])
def test_a_file_is_odd_from_twice_or_half_the_median_of_the_others(middle, is_odd):
    found = outliers_of(_frame(jan=[450] * 5, feb=[450] * 5, mar=[middle] * 5), _BY_NAME["diameter_mm"], _RANGES)
    assert [one.file for one in found.odd_files] == ["mar"] * is_odd


def test_values_of_an_odd_file_are_not_counted_again():
    found = outliers_of(_frame(jan=[450] * 5, feb=[450] * 5, mar=[18] * 5), _BY_NAME["diameter_mm"], _RANGES)
    assert found.odd_files[0].factor == pytest.approx(25.0)
    assert found.number == 0


def test_fewer_than_five_values_tell_nothing_of_a_file():
    found = outliers_of(_frame(jan=[450] * 5, feb=[450] * 5, mar=[950] * 4), _BY_NAME["diameter_mm"], _RANGES)
    assert found.odd_files == ()


def test_measures_about_zero_are_not_compared_between_files():
    found = outliers_of(_frame("flush_mm", jan=[1] * 9, feb=[5] * 9), _BY_NAME["flush_mm"], _RANGES)
    assert found.odd_files == ()


def test_a_column_without_limits_and_a_text_have_no_outliers():
    assert outliers_of(_frame(jan=[5]), _BY_NAME["diameter_mm"], {}).number == 0
    assert outliers_of(pd.DataFrame(), _BY_NAME["street"], _RANGES).number == 0
