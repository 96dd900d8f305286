"""The inputs of a programme, read and validated."""

import shutil
from pathlib import Path

import pytest

from pipeline.commands.check import check_inputs
from pipeline.errors import InputError

_DATA = Path(__file__).parents[2] / "sample_data"


class _Record:
    def __init__(self):
        self.stages, self.details = [], []

    def stage(self, name, place, count):
        self.stages.append((name, place, count))

    def detail(self, text):
        self.details.append(text)


def test_the_inputs_of_the_demo_are_read_with_progress():
    progress = _Record()
    inputs = check_inputs(_DATA / "programme.toml", progress)
    assert len(inputs.cores) == 400
    assert progress.stages == [("intake", 1, 1)]
    assert {"cores.csv", "roads.gpkg", "stock.csv"} <= set(progress.details)


def test_a_missing_layer_is_an_error_that_names_it(tmp_path):
    town = Path(shutil.copytree(_DATA, tmp_path / "town"))
    (town / "roads.gpkg").unlink()
    with pytest.raises(InputError, match=r"roads\.gpkg"):
        check_inputs(town / "programme.toml")
