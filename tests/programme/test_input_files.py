"""The input files of a programme: their names and keys."""

import pytest
from pydantic import ValidationError

from pipeline.programme.input_files import Cores, MapLayer


@pytest.mark.parametrize(
    ("path", "name"), [("cores.csv", "cores"), ("2026/*.csv", "2026"), ("*.csv", "cores"), ("a/b/c.xlsx", "c")]
)
def test_a_register_without_a_name_has_that_of_its_file_or_folder(path, name):
    assert Cores(path=path).register_name == name


def test_an_empty_path_is_refused():
    with pytest.raises(ValidationError, match="at least 1 character"):
        Cores(path="")


def test_sheets_are_a_name_a_list_or_a_pattern_and_are_kept_as_they_were_written():
    for layer in (None, "Jan", "2026-*", ["Jan", "Feb"]):
        assert Cores(path="a.xlsx", layer=layer).model_dump()["layer"] == layer
    for wrong in ([], [""], 3, [1, 2]):
        with pytest.raises(ValidationError, match="expected the name of a sheet or layer, a list of names"):
            Cores(path="a.xlsx", layer=wrong)
    with pytest.raises(ValidationError, match="found 'Jan' twice"):
        Cores(path="a.xlsx", layer=["Jan", "Feb", "Jan"])
    with pytest.raises(ValidationError, match="valid string"):
        MapLayer(path="a.gpkg", layer=["a", "b"])
