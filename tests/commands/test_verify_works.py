"""Works, the cores in them, rules and changes of a pack are compared cell by cell, whichever side was altered."""

import datetime as dt
import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.commands.verify import verify
from pipeline.errors import InputError
from pipeline.run import run_programme
from tests.commands.forgeries import in_package, in_table
from tests.commands.packs import resum
from tests.small_town import write_town

_WORKS = """
[planned_works]
path = "works.geojson"
columns = { works_id = "id", name = "name", due_on = "first", ends_on = "last" }
"""


@pytest.fixture(scope="module")
def with_works(tmp_path_factory):
    """The pack of the second of two runs of the small town: an area of works with the cores 0 and 1, a line with all.

          +------+
       0  |  1   |  2    3    4        cores, 80 m apart
    ===W-2====================         Quay Road
    """
    folder = tmp_path_factory.mktemp("works")
    shapes = [shapely.box(-82.2005, 44.799, -82.1985, 44.801), shapely.LineString([(-82.21, 44.8), (-82.19, 44.8)])]
    gpd.GeoDataFrame(
        {"id": ["W-1", "W-2"], "name": ["Quay renewal", None], "first": "2026-10-05", "last": "2026-11-20"},
        geometry=shapes, crs=4326,
    ).to_file(folder / "works.geojson")  # fmt: skip
    programme = write_town(folder, _WORKS)
    for day in (dt.date(2026, 8, 2), dt.date(2026, 9, 30)):
        run = run_programme(programme, folder / "out", as_of=day)
    return run.folder / "handover"


@pytest.fixture
def pack(with_works, tmp_path):
    """A copy that a test may spoil."""
    return Path(shutil.copytree(with_works, tmp_path / "handover"))


def test_works_and_changes_are_checked_in_every_place_that_has_them(with_works):
    assert pd.read_csv(with_works / "works.csv")["works_id"].tolist() == ["W-1", "W-2"]
    assert len(pd.read_csv(with_works / "changes.csv"))
    checked = {file.name: file.checked for file in verify(with_works).files}
    assert checked["works.csv"] == "every cell as in the GeoPackage; 5 of 10 columns as in the map"
    assert checked["works_cores.csv"].startswith("every cell as in the GeoPackage and cores.csv; 2 of ")
    assert checked["changes.csv"].startswith("every cell as in the GeoPackage; 2 of ")
    assert checked["rules.csv"] == "every cell as in the GeoPackage"


def _drop_the_last_line(file):
    def spoil(pack):
        lines = (pack / file).read_text("utf-8").splitlines(keepends=True)
        (pack / file).write_text("".join(lines[:-1]), "utf-8")

    return spoil


def _in_page(old, new):
    def spoil(pack):
        text = (pack / "map.html").read_text("utf-8")
        assert old in text
        (pack / "map.html").write_text(text.replace(old, new, 1), "utf-8")

    return spoil


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (
            in_table("works.csv", "until", '"2027-01-01"'),
            r"works\.csv: until of works W-1 is '2027-01-01', but '2026-11-20' in cores\.gpkg, layer works",
        ),
        (in_table("works.csv", "streets", '"Other Road"'), r"works\.csv: streets of works W-1 is 'Other Road', but"),
        (in_table("works.csv", "cores", "0"), r"works\.csv: cores of works W-1 is 0, but 2 in cores\.gpkg, layer works"),
        (in_table("works.csv", "name", '"Nothing"'), r"name of works W-1 is 'Nothing', but 'Quay renewal' in map\.html"),
        (in_table("works.csv", "works_id", '"W-2"'), r"works\.csv: works_id: missing, or twice"),
        (in_table("works.csv", "works_id", '"W-9"'), r"cores\.gpkg, layer works: has works W-1, which works\.csv lacks"),
        (_drop_the_last_line("works.csv"), r"has works W-2, which works\.csv lacks"),
        (in_table("works_cores.csv", "row", "4"), r"works_cores\.csv: works_id W-1, row \d: (not|only) in cores\.gpkg"),
        (in_table("works_cores.csv", "status", '"pending"'), r"status of core HV-0 is 'pending', but 'flagged' in cores"),
        (in_table("works_cores.csv", "core_id", '"HV-9"'), r"core_id of core HV-9 is 'HV-9', but 'HV-0' in cores\.csv"),
        (in_table("works_cores.csv", "row", "99"), r"works_cores\.csv: row 99: not in cores\.csv"),
        (_drop_the_last_line("works_cores.csv"), r"works_cores\.csv: works_id W-2, row \d: only in cores\.gpkg"),
        (in_table("changes.csv", "after", '"in order"'), r"changes\.csv: after of core \S+ is 'in order', but"),
        (in_table("changes.csv", "change", '"cleared"'), r"change of core \S+ is 'cleared', but '.*' in cores\.gpkg"),
        (_drop_the_last_line("changes.csv"), r"layer changes: rows: found \d+, expected \d+ as in changes\.csv"),
        (lambda pack: (pack / "changes.csv").unlink(), r"changes\.csv"),
        (in_package("UPDATE works SET until = '2027-01-01'"), r"until of works W-1 is '2026-11-20', but '2027-01-01'"),
        (in_package("UPDATE works_lines SET cores = 0"), r"cores of works W-2 is \d, but 0 in cores\.gpkg, layer works_l"),
        (in_package("DELETE FROM works_cores WHERE fid = 1"), r"works_cores\.csv: works_id W-1, row 1: not in cores\.gp"),
        (in_package("UPDATE rules SET severity = 'note'"), r"rules\.csv: severity of rule \S+ is '\w+', but 'note' in"),
        (in_package("UPDATE changes SET change = 'cleared'"), r"changes\.csv: change of core \S+ is .* but 'cleared' in"),
        (_in_page('"name":"Quay renewal"', '"name":"Nothing"'), r"name of works W-1 is 'Quay renewal', but 'Nothing' in"),
    ],
)  # fmt: skip
def test_a_cell_of_works_rules_or_changes_that_was_altered_is_named(pack, spoil, words):
    spoil(pack)
    resum(pack)
    with pytest.raises(InputError, match=words):
        verify(pack)


def test_a_cell_that_was_altered_in_table_and_geopackage_alike_is_found_by_what_handover_json_states(pack):
    in_table("changes.csv", "before", '"in order"')(pack)
    with closing(sqlite3.connect(pack / "cores.gpkg")) as database, database:
        database.execute("UPDATE changes SET before = 'in order' WHERE fid = 1")
    resum(pack)
    with pytest.raises(InputError) as refused:
        verify(pack)
    assert re.search(r"what-changed\.html: not the page|changes\.csv: SHA-256: found", str(refused.value))
