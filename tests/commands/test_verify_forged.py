"""A pack whose checksums were made good again is refused for any single edit, without a hang and without a traceback."""

import re
import shutil
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.commands.verify import verify
from pipeline.errors import InputError
from tests.commands import forgeries, packs


@pytest.fixture
def pack(run_folder, tmp_path):
    """A copy that a test may spoil."""
    return Path(shutil.copytree(run_folder / "handover", tmp_path / "handover"))


# what the error says of some of them
WORDS = {
    "size": r"cores\.csv: diameter_mm of core HV-0 is 300\.0, but 450\.0 in cores\.gpkg, layer cores",
    "severity": r"findings\.csv: severity of core \S+ is 'note', but '\w+' in cores\.gpkg, layer findings",
    "rules": r"rules\.csv: SHA-256: found \w+, expected \w+ as in handover\.json",
    "line by a bit": r"cores\.gpkg: checksums of its layers: found \{'segments'",
    "two points swapped": r"cores\.gpkg: checksums of its layers: found \{'cores'",
    "style": r"cores\.gpkg: the rows of table layer_styles are not those that the pack's files give",
    "nested views": r"cores\.gpkg: has a view, v0, which no pack has",
    "trigger": r"cores\.gpkg: has a trigger on cores, mine, which is not one of the GeoPackage standard",
    "virtual table": r"cores\.gpkg: has a virtual table, mine, which is not a spatial index",
    "index": r"cores\.gpkg: has an index, mine, which no pack has",
    "check": r"cores\.gpkg: has a table, cores, with a check or a computed column, which no pack has",
    "computed column": r"cores\.gpkg: has a table, segments, with a check or a computed column, which no pack has",
    "bytes after its end": r"cores\.gpkg: [\d,]+ bytes, expected [\d,]+ pages of 4,096 bytes and nothing after them",
    "write-ahead log": r"cores\.gpkg: is to be read with a second file",
    "not a GeoPackage": r"cores\.gpkg: is not marked as a GeoPackage",
    "table": r"cores\.gpkg: .*crews",
    "script": r"map\.html: not the page that the pack's tables give: it differs from line \d+ on",
    "how to read it": r"how-to-read\.html: not the page that the pack's tables give",
    "number in another spelling": r"cores\.csv: not written as a pack's tables are: it differs from line 2 on",
    "not a number": r"cores\.csv: (not written|chainage_m)",
    "fact of its own": r"handover\.json: has 'note', which no pack has",
    "fact twice": r"handover\.json: not written as in a pack: it differs from line 1 on",
    "fact without effect": r"handover\.json: reasons beside the road: found True, expected False",
    "checksums of layers taken out": r"handover\.json: lacks layers: either made by another version",
    "data package taken out": r"datapackage\.json: missing",
    "grid of shifts by a path": r"handover\.json: crs: found .BOUNDCRS",
}


@pytest.mark.parametrize("name", forgeries.FORGERIES)
def test_a_single_edit_with_good_checksums_is_found_and_named(pack, name):
    forgeries.forge(pack, name)
    with pytest.raises(InputError, match=f"not the pack that was sent[\\s\\S]*{WORDS.get(name, '')}"):
        verify(pack)


def test_every_expected_sentence_is_of_a_forgery():
    assert set(WORDS) <= set(forgeries.FORGERIES)


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (forgeries.pipe_for_checksums, "SHA256SUMS: a pipe, device or folder, expected a file"),
        (forgeries.device_for_checksums, "SHA256SUMS: a link, expected a file"),
        (forgeries.link_for_a_table, "rules.csv: a link, expected a file"),
    ],
)
def test_a_pipe_a_device_and_a_link_are_refused_unread(pack, spoil, words):
    spoil(pack)
    with pytest.raises(InputError, match=re.escape(words)):
        verify(pack)


def test_a_pack_of_another_version_is_reported_as_not_checked_but_its_cells_are(pack):
    (pack / "handover.json").write_text(
        re.sub(r'"kerfbook": "[^"]+"', '"kerfbook": "99.1"', (pack / "handover.json").read_text("utf-8")), "utf-8"
    )
    packs.resum(pack)
    # nothing differs, whatever version it claims
    assert verify(pack).not_checked == ""
    forgeries.forge(pack, "script")
    verified = verify(pack)
    assert verified.not_checked.startswith("kerfbook 99.1 (here ")
    checked = {file.name: file.checked for file in verified.files}
    assert checked["map.html"].startswith("NOT CHECKED beyond the cells of the tables: made with kerfbook 99.1")
    assert checked["cores.csv"] == "every cell the same in GeoPackage and map"
    forgeries.forge(pack, "street")
    with pytest.raises(InputError, match=r"street of core HV-0 is 'Other Road', but 'Quay Road' in map\.html"):
        verify(pack)


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        ([("in/a.txt", 0o120777 << 16)], "a link or device, expected a file"),
        ([("in/a.txt", 0o010644 << 16)], "a link or device, expected a file"),
        ([("/a.txt", 0)], "expected one folder of files"),
        ([("../a.txt", 0)], "expected one folder of files"),
        ([(f"in/{number}.txt", 0) for number in range(101)], "101 files, more than any pack has"),
    ],
)
def test_a_zip_with_links_other_paths_or_too_many_files_is_refused(tmp_path, entries, words):
    with zipfile.ZipFile(tmp_path / "sent.zip", "w") as sent:
        for name, attributes in entries:
            entry = zipfile.ZipInfo(name)
            entry.external_attr = attributes
            sent.writestr(entry, b"x")
    with pytest.raises(InputError, match=words):
        verify(tmp_path / "sent.zip")


@settings(max_examples=3, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.sampled_from(["cores.csv", "findings.csv", "rules.csv", "handover.json", "how-to-read.html", "map.html",
                          "cores.gpkg"]),
    share=st.floats(0, 1, exclude_max=True),
    byte=st.integers(1, 255),
)  # fmt: skip
def test_any_byte_that_is_changed_is_found_or_changes_nothing_that_is_read(run_folder, tmp_path, name, share, byte):
    """In a text file each byte counts; SQLite leaves bytes of its pages unused. ``tests/bench`` tries more of them."""
    spoiled = tmp_path / "spoiled"
    shutil.rmtree(spoiled, ignore_errors=True)
    shutil.copytree(run_folder / "handover", spoiled)
    raw = bytearray((spoiled / name).read_bytes())
    raw[int(share * len(raw))] ^= byte
    (spoiled / name).write_bytes(raw)
    packs.resum(spoiled)
    try:
        verified = verify(spoiled)
    except InputError:
        return
    # a digit of a version there is another version
    assert name == "cores.gpkg" or (name == "handover.json" and not verified.not_checked)
