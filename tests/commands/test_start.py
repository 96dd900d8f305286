"""The starter programme."""

import tomllib

import pytest

from pipeline.commands.start import start
from pipeline.errors import OutputError
from pipeline.run import read_programme


@pytest.mark.parametrize(("folder", "name"), [("my-programme", "my-programme"), ('Old "Town" 7', "Old Town 7")])
def test_a_starter_is_named_after_its_folder_and_can_be_read(tmp_path, folder, name):
    files = start(tmp_path / folder)
    assert tomllib.loads(files[0].read_text("utf-8"))["programme"]["name"] == name
    settings, _, _, inputs = read_programme(files[0])
    assert settings.programme.name == name
    assert len(inputs.cores) == 400


def test_nothing_is_overwritten(tmp_path):
    start(tmp_path)
    with pytest.raises(OutputError, match="exists already, and nothing is overwritten"):
        start(tmp_path)
