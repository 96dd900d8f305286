"""The input files of a programme: their names and keys."""

import pytest
from pydantic import ValidationError

from pipeline.programme.input_files import Cores


@pytest.mark.parametrize(
    ("path", "name"), [("cores.csv", "cores"), ("2026/*.csv", "2026"), ("*.csv", "cores"), ("a/b/c.xlsx", "c")]
)
def test_a_register_without_a_name_has_that_of_its_file_or_folder(path, name):
    assert Cores(path=path).register_name == name


def test_an_empty_path_is_refused():
    with pytest.raises(ValidationError, match="at least 1 character"):
        Cores(path="")
