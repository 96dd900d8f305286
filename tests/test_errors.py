"""The named errors and the exit codes that the command line ends with."""

import pytest

from pipeline.errors import ContractError, InputError, KerfbookError, OutputError, SettingsError


@pytest.mark.parametrize(("error", "code"), [(SettingsError, 2), (InputError, 3), (OutputError, 4)])
def test_each_error_that_a_user_can_correct_has_its_exit_code(error, code):
    assert error.exit_code == code
    assert issubclass(error, KerfbookError)
    assert str(error("cores.csv: no rows. Export it again.")) == "cores.csv: no rows. Export it again."


def test_a_broken_contract_is_a_defect_and_no_error_of_a_user():
    assert not issubclass(ContractError, KerfbookError)
    assert issubclass(ContractError, AssertionError)
