"""A pack with a GeoPackage per district beside the whole: checked like the whole, and any edit of any is found."""

import datetime as dt
import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from pipeline.commands.verify import verify
from pipeline.errors import InputError
from pipeline.publish.record import as_json
from pipeline.readback import pack_files
from pipeline.readback.packs import read_identity
from pipeline.run import run_programme
from tests.commands import packs
from tests.small_town import write_town

_MINE, _OTHER = "cores-quayside.gpkg", "cores-no-district.gpkg"


@pytest.fixture(scope="module")
def town(tmp_path_factory):
    """The folder of the later of two runs whose GeoPackages are by district."""
    folder = tmp_path_factory.mktemp("districts")
    programme = write_town(folder, '[publish]\ngeopackage = "by district"\noutputs = ["handover"]\n')
    for day in (dt.date(2026, 8, 2), dt.date(2026, 9, 30)):
        run = run_programme(programme, folder / "out", as_of=day)
    return run.folder


@pytest.fixture
def pack(town, tmp_path):
    """A copy of its pack that a test may spoil."""
    return Path(shutil.copytree(town / "handover", tmp_path / "handover"))


def _refused(pack, words):
    packs.resum(pack)
    with pytest.raises(InputError, match=words):
        verify(pack)


def _edit(file, *statements):
    with closing(sqlite3.connect(file)) as database:
        # the triggers of the spatial index call functions that SQLite alone does not have
        for name in ("ST_IsEmpty", "ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
            database.create_function(name, 1, lambda _: 0)
        for statement in statements:
            database.execute(statement)
        database.commit()


def _as_of_another_build(pack):
    facts = read_identity(pack / "handover.json")
    facts["made_with"] = {**facts["made_with"], "kerfbook": "9.9"}
    (pack / "handover.json").write_text(as_json(facts), "utf-8")
    packs.resum(pack)


def test_the_pack_and_its_zip_are_what_was_sent(town):
    for sent in (town / "handover", town / "handover.zip"):
        checked = {file.name: file.checked for file in verify(sent).files}
        assert {name for name in checked if name.startswith("cores-")} == {_MINE, _OTHER}
        assert {checked[name] for name in (_MINE, _OTHER, "cores.gpkg")} == {
            "rewritten from the tables and its own shapes: identical"
        }
        assert checked["districts.csv"] == "redrawn from the tables: identical"


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        (
            "UPDATE cores SET street = 'Elsewhere' WHERE fid = 1",
            r"street of core HV-0 is 'Quay Road', but 'Elsewhere' in cores-quayside\.gpkg, layer cores",
        ),
        (
            "UPDATE findings SET severity = 'note'",
            r"findings\.csv: severity of core \S+ is '\w+', but 'note' in cores-quayside\.gpkg",
        ),
        ("DELETE FROM cores WHERE fid = 2", r"cores-quayside\.gpkg, layer cores: rows: found 4, expected 5"),
        (
            "UPDATE cores SET geom = (SELECT geom FROM cores WHERE fid = 2) WHERE fid = 3",
            r"lon of core HV-2 is -82\.198, but .* in cores-quayside\.gpkg, layer cores, by its point",
        ),
        (
            "UPDATE segments SET cores_flagged = 0, cores_pending = 9",
            r"cores-quayside\.gpkg: the rows of table segments are not those that the pack's files give",
        ),
        ("UPDATE layer_styles SET styleQML = styleQML || ' '", r"cores-quayside\.gpkg: the rows of table layer_styles"),
        ("CREATE TABLE crews (name TEXT)", r"cores-quayside\.gpkg: table crews is not the one"),
        ("CREATE VIEW mine AS SELECT * FROM cores", r"cores-quayside\.gpkg: has a view, mine, which no pack has"),
        (
            "CREATE TRIGGER mine AFTER UPDATE ON cores BEGIN UPDATE cores SET street = 'Elsewhere'; END",
            r"cores-quayside\.gpkg: has a trigger on cores, mine, which is not one of the GeoPackage standard",
        ),
        ("PRAGMA journal_mode = WAL", r"cores-quayside\.gpkg: is to be read with a second file"),
    ],
)
def test_an_edit_of_one_is_found_and_named(pack, statement, words):
    _edit(pack / _MINE, statement)
    _refused(pack, words)


def test_one_too_many_and_one_too_few_and_one_by_another_name_are_found(pack):
    shutil.copy2(pack / _MINE, pack / "cores-north.gpkg")
    _refused(pack, r"cores-north\.gpkg: not expected: nothing else in the pack accounts for it")
    (pack / _MINE).unlink()
    _refused(pack, r"cores-quayside\.gpkg: missing")
    (pack / "cores-north.gpkg").rename(pack / "cores-Quay side.gpkg")
    _refused(pack, re.escape("cores-Quay side.gpkg: does not belong to a pack"))


def test_two_that_were_swapped_are_found(pack):
    texts = [(pack / name).read_bytes() for name in (_MINE, _OTHER)]
    (pack / _MINE).write_bytes(texts[1])
    (pack / _OTHER).write_bytes(texts[0])
    _refused(pack, r"cores-quayside\.gpkg, layer cores: rows: found 2, expected 5")


def test_one_that_is_no_geopackage_or_is_a_link_is_refused(pack):
    (pack / _MINE).write_bytes(b"not a database at all" * 100)
    _refused(pack, r"cores-quayside\.gpkg: cannot be read \(not a GeoPackage\)")
    (pack / _MINE).unlink()
    (pack / _MINE).symlink_to(pack / "cores.gpkg")
    _refused(pack, r"cores-quayside\.gpkg: a link, expected a file")


def test_an_edit_of_their_table_is_found_and_so_is_its_absence(pack):
    text = (pack / "districts.csv").read_text("utf-8")
    (pack / "districts.csv").write_text(text.replace("Quayside", "Elsewhere"), "utf-8")
    _refused(pack, r"districts\.csv: not the page that the pack's tables give: it differs from line 2 on")
    (pack / "districts.csv").unlink()
    _refused(pack, r"districts\.csv: missing")


def test_a_pack_that_does_not_state_them_accounts_for_none(pack):
    facts = read_identity(pack / "handover.json")
    (pack / "handover.json").write_text(as_json({**facts, "geopackage": "one file"}), "utf-8")
    _refused(pack, r"handover\.json: has 'geopackage', which no pack has")
    (pack / "handover.json").write_text(as_json({key: facts[key] for key in facts if key != "geopackage"}), "utf-8")
    _refused(pack, r"how-to-read\.html: not the page")


def test_cells_are_compared_whatever_build_wrote_them_and_the_rest_is_then_not_checked(pack):
    _edit(pack / _MINE, "UPDATE layer_styles SET styleQML = styleQML || ' '")
    _as_of_another_build(pack)
    verified = verify(pack)
    assert verified.not_checked
    assert {one.name for one in verified.files if one.checked.startswith("NOT CHECKED")} == {_MINE}
    _edit(pack / _MINE, "UPDATE cores SET status = 'reinstated'")
    _refused(pack, r"cores\.csv: status of core \S+ is '\w+', but 'reinstated' in cores-quayside\.gpkg")


def test_a_pack_of_another_build_that_lacks_a_fact_has_them_not_checked_beyond_their_cells(pack):
    _as_of_another_build(pack)
    facts = read_identity(pack / "handover.json")
    del facts["shifts"]
    (pack / "handover.json").write_text(as_json(facts), "utf-8")
    packs.resum(pack)
    checked = {one.name: one.checked for one in verify(pack).files}
    assert checked[_MINE].startswith("NOT CHECKED beyond its cells")
    assert checked["districts.csv"].startswith("NOT CHECKED")


def test_more_bytes_together_than_a_whole_may_have_are_refused_in_the_folder_and_in_the_zip(town, monkeypatch):
    size = max((town / "handover" / name).stat().st_size for name in (_MINE, "cores.gpkg"))
    kept = pack_files.PACK_FILES["cores.gpkg"]._replace(most_bytes=size)
    monkeypatch.setitem(pack_files.PACK_FILES, "cores.gpkg", kept)
    words = rf"GeoPackages of districts of [\d,]+ bytes together, at most {size:,}"
    for sent in (town / "handover", town / "handover.zip"):
        with pytest.raises(InputError, match=words):
            verify(sent)
