"""Which outputs a programme asks for."""

import pytest

from pipeline.errors import SettingsError
from pipeline.programme.outputs import OUTPUTS, Publish
from pipeline.programme.settings import load_programme
from tests.small_town import write_town


def test_every_output_is_written_unless_the_programme_says_otherwise(tmp_path):
    asked = load_programme(write_town(tmp_path)).publish
    assert asked.outputs == list(OUTPUTS)
    assert asked.left_out == []


def test_what_is_not_named_is_left_out_in_the_order_of_the_readme():
    asked = Publish.model_validate({"outputs": ["map.html", "days"]})
    assert asked.left_out == ["crew-sheets.html", "orders.xlsx", "cores.gpkg", "report.html", "handover", "basis"]


@pytest.mark.parametrize(
    ("outputs", "message"),
    [
        ('["map"]', r"publish\.outputs.*'map'.*'map\.html'"),
        ('["days", "days"]', r"publish\.outputs: found 'days' twice, expected each output once"),
    ],
)
def test_a_wrong_output_is_named_with_what_was_expected(tmp_path, outputs, message):
    with pytest.raises(SettingsError, match=message):
        load_programme(write_town(tmp_path, f"[publish]\noutputs = {outputs}\n"))
