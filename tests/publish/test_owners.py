"""Tests of the findings files of owners."""

import datetime as dt
import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.publish import publish
from pipeline.publish.owners import owner_files
from pipeline.run import run_programme
from tests.small_town import write_town

_DAY = dt.date(2026, 9, 30)
_OWNERS = """
[[owners]]
name = "Records / North"
family = ["identity", "position"]
[[owners]]
name = "Nobody's"
district = "Atlantis"
[[owners]]
name = "Everyone else"
"""


def test_a_file_is_named_safely_and_no_two_are_the_same():
    assert owner_files(["Con", "con 1"]) == {"Con": "con-1.csv", "con 1": "con-1-2.csv"}
    assert owner_files(["Records / North", "records north", "../../etc", "Łódź", "***"]) == {
        "Records / North": "records-north.csv",
        "records north": "records-north-2.csv",
        "../../etc": "etc.csv",
        "Łódź": "łodz.csv",
        "***": "programme.csv",
    }


@pytest.fixture(scope="module")
def owned(tmp_path_factory):
    """A run of the small town with three owners."""
    folder = tmp_path_factory.mktemp("owned")
    programme = write_town(folder)
    programme.write_text(programme.read_text("utf-8") + _OWNERS, encoding="utf-8")
    return run_programme(programme, folder / "out", _DAY)


def _table(file):
    return pd.read_csv(file, dtype=str, keep_default_na=False)


def test_each_owner_has_the_findings_that_are_its_own_with_street_and_district(owned):
    files = sorted((owned.folder / "owners").iterdir())
    assert [file.name for file in files] == ["everyone-else.csv", "nobody-s.csv", "records-north.csv"]
    tables = {file.name: _table(file) for file in files}
    every = _table(owned.folder / "findings.csv")
    assert tables["nobody-s.csv"].empty
    assert sum(map(len, tables.values())) == len(every)
    records = tables["records-north.csv"]
    assert list(records) == [*every, "street", "district"]
    assert records[[*every]].to_dict("records") == every[every["owner"].eq("Records / North")].to_dict("records")
    cores = _table(owned.folder / "cores.csv").set_index("row")
    assert records["street"].tolist() == cores.loc[records["row"], "street"].tolist()


def test_a_name_that_matches_nothing_is_reported(owned):
    notices = [notice for notice in owned.inputs.notices if notice.startswith("owners")]
    assert len(notices) == 1
    assert notices[0].startswith(
        'owners "Nobody\'s".district: no district is called "Atlantis", so no finding is assigned by it.'
    )


def test_the_files_of_owners_who_are_gone_do_not_stay(owned, small_town, tmp_path):
    out = Path(shutil.copytree(owned.folder.parents[1], tmp_path / "out"))
    folder = out / owned.folder.relative_to(owned.folder.parents[1])
    assert (folder / "owners").is_dir()
    programme, without_owners = small_town
    assert publish(without_owners, programme, out, lambda *_: None) == folder
    assert not (folder / "owners").exists()
