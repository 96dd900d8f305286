"""A pack with a map per district: checked like any other, and any edit of any map is found."""

import re
import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.commands.verify import verify
from pipeline.errors import InputError
from pipeline.publish.record import as_json
from pipeline.readback.packs import read_identity
from pipeline.run import run_programme
from tests.commands import packs
from tests.small_town import write_town


@pytest.fixture(scope="module")
def town(tmp_path_factory):
    """The folder of a run whose maps are by district."""
    folder = tmp_path_factory.mktemp("maps")
    return run_programme(write_town(folder, '[publish]\nmap = "by district"\n'), folder / "out").folder


@pytest.fixture
def pack(town, tmp_path):
    """A copy of its pack that a test may spoil."""
    return Path(shutil.copytree(town / "handover", tmp_path / "handover"))


def _refused(pack, words):
    packs.resum(pack)
    with pytest.raises(InputError, match=words):
        verify(pack)


def test_the_pack_and_its_zip_are_what_was_sent(town):
    for sent in (town / "handover", town / "handover.zip"):
        checked = {file.name: file.checked for file in verify(sent).files}
        names = {name for name in checked if name.startswith("map")}
        assert names == {"map.html", "map-quayside.html", "map-no-district.html"}
        assert {checked[name] for name in names} == {"redrawn from the tables: identical"}
        assert "columns as in the map" in checked["cores.csv"]


def test_the_page_on_how_to_read_it_names_the_maps(pack):
    page = (pack / "how-to-read.html").read_text("utf-8")
    assert "map-….html" in page
    assert "Start here" in page


def test_an_edit_of_a_map_is_found(pack):
    file = pack / "map-quayside.html"
    file.write_text(file.read_text("utf-8").replace("<body>", "<body><p>All is well</p>"), "utf-8")
    _refused(pack, r"map-quayside\.html: not the page that the pack's tables give: it differs from line \d+ on")


def test_an_edit_of_the_index_is_found(pack):
    file = pack / "map.html"
    file.write_text(file.read_text("utf-8").replace("map-quayside", "map-elsewhere"), "utf-8")
    _refused(pack, r"map\.html: not the page that the pack's tables give")


def test_a_map_too_many_and_one_too_few_are_found(pack):
    shutil.copy2(pack / "map-quayside.html", pack / "map-north.html")
    _refused(pack, r"map-north\.html: not expected: nothing else in the pack accounts for it")
    (pack / "map-north.html").unlink()
    (pack / "map-no-district.html").unlink()
    _refused(pack, r"map-no-district\.html: not a readable map")


def test_maps_that_were_swapped_are_found(pack):
    one, other = (pack / "map-quayside.html", pack / "map-no-district.html")
    texts = [one.read_bytes(), other.read_bytes()]
    one.write_bytes(texts[1])
    other.write_bytes(texts[0])
    _refused(pack, r"map-no-district\.html: title: found .*Quayside.*, expected .no district")


def test_a_map_of_any_other_name_does_not_belong_to_a_pack(pack):
    shutil.copy2(pack / "map-quayside.html", pack / "map-Quay side.html")
    with pytest.raises(InputError, match=re.escape("map-Quay side.html: does not belong to a pack")):
        verify(pack)


def test_a_pack_that_states_one_map_but_has_several_is_refused(pack):
    facts = read_identity(pack / "handover.json")
    (pack / "handover.json").write_text(as_json({**facts, "maps": "one file"}), "utf-8")
    _refused(pack, r"map\.html: not a readable map")


def test_another_build_is_named_where_a_map_differs(pack):
    facts = read_identity(pack / "handover.json")
    facts["made_with"] = {**facts["made_with"], "kerfbook": "9.9"}
    (pack / "handover.json").write_text(as_json(facts), "utf-8")
    file = pack / "map-quayside.html"
    file.write_text(file.read_text("utf-8").replace("<body>", "<body><!-- -->"), "utf-8")
    packs.resum(pack)
    checked = {one.name: one.checked for one in verify(pack).files}
    assert checked["map-quayside.html"].startswith("NOT CHECKED beyond its cells")


def test_a_changed_cell_of_a_district_contradicts_its_map(pack):
    table = pd.read_csv(pack / "cores.csv", dtype="str", keep_default_na=False)
    table.loc[0, "street"] = "Elsewhere"
    table.to_csv(pack / "cores.csv", index=False)
    _refused(pack, r"street of core HV-0 is 'Elsewhere', but 'Quay Road' in cores\.gpkg")
