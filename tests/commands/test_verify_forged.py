"""A pack whose checksums were made good again is refused for any single edit, without a hang and without a traceback."""

import json
import re
import shutil
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.commands.verify import verify
from pipeline.errors import InputError
from pipeline.publish.record import as_json
from pipeline.version import __version__
from tests.commands import forgeries, packs


@pytest.fixture
def pack(run_folder, tmp_path):
    """A copy that a test may spoil."""
    return Path(shutil.copytree(run_folder / "handover", tmp_path / "handover"))


# what the error says of some of them
WORDS = {
    "size": r"cores\.csv: diameter_mm of core HV-0 is 300\.0, but 450\.0 in cores\.gpkg, layer cores",
    "severity": r"findings\.csv: severity of core \S+ is 'note', but '\w+' in cores\.gpkg, layer findings",
    "rules": r"rules\.csv: limits of rule \S+ is 'max open 300 days', but '.*' in cores\.gpkg, layer rules",
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
    "fact among the errors": r"handover\.json: errors of positions: found 'note', which no page shows",
    "fact twice": r"handover\.json: not written as in a pack: it differs from line 1 on",
    "fact without effect": r"handover\.json: reasons beside the road: found True, expected False",
    "checksums of layers taken out": r"handover\.json: states that this build made the pack, which lacks 1 fact in handover\.json \(layers\)",
    "data package taken out": r"handover\.json: states that this build made the pack, which lacks datapackage\.json",
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


def _state(pack, change):
    """Let a pack state that another build made it."""
    facts = json.loads((pack / "handover.json").read_text("utf-8"))
    change(facts)
    (pack / "handover.json").write_text(as_json(facts), "utf-8")
    packs.resum(pack)


@pytest.mark.parametrize(
    ("change", "build"),
    [
        (lambda facts: facts["made_with"].update(kerfbook="99.1"), "kerfbook 99.1 (here "),
        (
            lambda facts: facts["made_with"].update({"drawing code": "0" * 12}),
            f"another build of kerfbook {__version__}: drawing code 000000000000 (here ",
        ),
        (
            lambda facts: facts["made_with"].update(shapely="1.0"),
            f"another build of kerfbook {__version__}: shapely 1.0",
        ),
        (lambda facts: facts["made_with"].clear(), "an earlier version of Kerfbook, which did not state its number"),
    ],
)
def test_what_a_pack_that_states_another_build_could_show_is_not_checked_but_its_cells_are(pack, change, build):
    _state(pack, change)
    # nothing differs, whatever build it states
    assert verify(pack).not_checked == ""
    forgeries.forge(pack, "script")
    verified = verify(pack)
    assert verified.not_checked.startswith(build)
    checked = {file.name: file.checked for file in verified.files}
    assert checked["map.html"] == "NOT CHECKED beyond its cells: another build made it"
    assert checked["cores.csv"].startswith("every cell as in the GeoPackage; ")
    forgeries.forge(pack, "street")
    with pytest.raises(
        InputError, match=r"street of core HV-0 is 'Other Road', but 'Quay Road' in map\.html"
    ) as refused:
        verify(pack)
    # what may be another way of writing is no accusation
    assert "its files contradict each other as this version reads them" in str(refused.value)
    assert "not the pack that was sent" not in str(refused.value)


@pytest.mark.parametrize("name", ["script", "policy", "how to read it", "style", "number in another spelling",
                                  "fact of its own", "other version of the standard", "data package"])  # fmt: skip
def test_a_forger_who_also_states_another_build_gets_no_pack_that_passes(pack, name):
    forgeries.forge(pack, name)
    _state(pack, lambda facts: facts["made_with"].update({"drawing code": "0" * 12}))
    try:
        verified = verify(pack)
    except InputError:
        return
    assert verified.not_checked


def test_a_file_that_only_another_version_knows_is_refused_without_an_accusation(pack):
    _state(pack, lambda facts: facts["made_with"].update(kerfbook="99.1"))
    (pack / "permits.csv").write_text("a\n1\n", "utf-8")
    packs.resum(pack)
    with pytest.raises(InputError, match=r"made with kerfbook 99\.1[\s\S]*permits\.csv: does not belong") as refused:
        verify(pack)
    assert "not the pack that was sent" not in str(refused.value)
    # a file that was altered is altered, whatever the pack states
    packs.flip_a_bit(pack)
    with pytest.raises(InputError, match="not the pack that was sent"):
        verify(pack)


def test_a_pack_of_an_earlier_version_is_compared_as_far_as_it_goes_and_reported_as_not_checked(pack, kerfbook):
    """Such packs stated neither what they were made with nor what their pages are drawn from."""
    lacking = ("made_with", "layers", "tables", "language", "contact", "cautions", "sources", "short_words")

    def shorten(facts):
        for name in lacking:
            del facts[name]

    (pack / "datapackage.json").unlink()
    _state(pack, shorten)
    code, printed, _ = kerfbook("verify", pack)
    assert code == 1
    words = " ".join(printed.split())
    assert (
        "NOT CHECKED: cores.gpkg, how-to-read.html, map.html. The pack states that it was made with an earlier" in words
    )
    assert "A pack of this version also has datapackage.json, 8 facts in handover.json." in words
    assert "Do not open them before you have checked the pack with that build of Kerfbook" in words
    code, printed, _ = kerfbook("verify", pack, "--fingerprint", packs.fingerprint(pack))
    assert code == 0
    assert "They are as the sender made them." in " ".join(printed.split())
    forgeries.forge(pack, "size")
    code, _, printed = kerfbook("verify", pack)
    assert code == 3
    assert "diameter_mm of core HV-0 is 300.0, but 450.0 in cores.gpkg, layer cores" in " ".join(printed.split())


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
