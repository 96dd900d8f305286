"""Registers that are kept as raw tables and typed again are those that an audit reads."""

from pathlib import Path

import pandas as pd
import pytest

from pipeline.clock import silent
from pipeline.intake.reread import read_raw_registers
from pipeline.run import read_programme

_SAMPLES = Path(__file__).parents[2] / "sample_data"


@pytest.mark.parametrize("folder", [".", "three_contractors"])
def test_registers_typed_again_are_those_of_the_audit(folder):
    path = _SAMPLES / folder / "programme.toml"
    settings, catalogue, _, inputs = read_programme(path)
    raw = read_raw_registers(settings, path.parent, catalogue, silent)
    for _ in range(2):
        again = raw.typed(raw.tables, inputs)
        pd.testing.assert_frame_equal(again.cores, inputs.cores)
        pd.testing.assert_frame_equal(again.register.as_read, inputs.register.as_read)
        assert again.register.kept == inputs.register.kept
        assert again.register.notices == inputs.register.notices
