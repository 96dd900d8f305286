"""Which rows of three registers hold a core, against the answers that were written with them.

Answers: ``sample_data/three_contractors/truth.csv`` and ``not_cores.csv``, which its scripts write from what they drew, without
this project's readers. ``tests/sample_data/test_three_contractors.py`` shows that the two account for every row.
"""

import tomllib
from pathlib import Path

import pandas as pd
import pytest

from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Cores

_DATA = Path(__file__).parents[2] / "sample_data" / "three_contractors"
_SECTIONS = {
    file.relative_to(_DATA).as_posix(): section
    for section in tomllib.loads((_DATA / "programme.toml").read_text("utf-8"))["cores"]
    for file in sorted(_DATA.glob(section["path"]))
}
# what the answers call it -> the reason
_WHY = {"rule line": "ruled line", "blank line": "blank"}


def _answers(name, file):
    table = pd.read_csv(_DATA / name, dtype=str, keep_default_na=False)
    return table[table["file"].eq(file) & ~table["sheet"].isin(["Rates", "old"])].astype({"place": int})


@pytest.mark.parametrize("sheet_is_named", [True, False])
@pytest.mark.parametrize("file", _SECTIONS)
def test_every_core_arrives_in_its_place_and_nothing_else_does(file, sheet_is_named):
    settings = {**_SECTIONS[file], "path": file}
    if not sheet_is_named:
        # the rate card comes first, and another sheet is hidden
        settings.pop("layer", None)
    section = Cores.model_validate(settings)
    table = read_raw(section, _DATA, "cores", None)
    cores, others = _answers("truth.csv", file), _answers("not_cores.csv", file)
    assert len(cores) > 0
    assert table.places.tolist() == cores["place"].tolist()
    assert table.frame[section.columns["core_id"]].fillna("").str.strip().tolist() == cores["core_id"].tolist()

    expected = {place: _WHY.get(why, why) for place, why in zip(others["place"], others["why"]) if why != "header"}
    found = dict(zip(table.set_aside["place"].tolist(), table.set_aside["reason"]))
    assert found == expected
