"""A column to hand over must exist: in cores.csv, or as a column that the register may have."""

import pytest

from pipeline.contracts import HANDED_COLUMNS
from pipeline.errors import SettingsError
from pipeline.programme.handed_columns import refuse_unknown_columns


def _refused(columns, register=()):
    with pytest.raises(SettingsError) as error:
        refuse_unknown_columns(columns, register, "town.toml")
    return str(error.value)


def test_columns_of_the_table_of_the_contract_and_of_the_register_exist():
    refuse_unknown_columns(HANDED_COLUMNS, [], "town.toml")
    refuse_unknown_columns(["crew", "bags", "Cost centre", "register_Status"], ["Cost centre", "Status"], "town.toml")
    refuse_unknown_columns([], [], "town.toml")


def test_an_unknown_column_is_refused_with_the_key_the_nearest_name_and_what_there_is():
    text = _refused(["crews"])
    assert text.startswith(
        "town.toml: handover.columns: no column 'crews'. Did you mean \"crew\"? Expected a column of"
    )
    assert "permit_expires_on" in text
    assert text.endswith("Correct or remove the name.")
    assert "Did you mean" not in _refused(["zzzz"])


def test_a_register_column_whose_name_is_taken_is_meant_by_its_other_name():
    assert 'Did you mean "register_Shade"?' in _refused(["Shade"], ["Shade"])


def test_the_registers_street_is_not_handed_over_as_the_frame_calls_it():
    """In a table "street" is the segment's; what the register wrote is "street_recorded"."""
    refuse_unknown_columns(["street", "street_recorded"], [], "town.toml")
    assert "no column 'street_matched'" in _refused(["street_matched"])
