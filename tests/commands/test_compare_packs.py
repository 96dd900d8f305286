"""The command that compares two runs, given packs: what it says, and what it refuses."""

import json
import shutil
import zipfile
from pathlib import Path

import pandas as pd
import pytest

from pipeline.commands.compare import compare_runs
from pipeline.errors import InputError
from pipeline.history import KINDS
from tests.commands.packs import resum


@pytest.fixture(scope="module")
def shuffled(later_demo):
    """The demo's run, and one of five days later, its lines in another order; a few cores were worked on in between."""
    before, after, changed = later_demo
    return before, after.folder, changed


def _lines(found):
    return pd.read_csv(found.folder / "changes.csv", dtype=str, keep_default_na=False)


def test_a_register_that_was_sorted_anew_has_no_change_but_those_of_its_cores(shuffled, tmp_path):
    """Nearly every row moved; the lines are by core id, so that only the cores that were worked on have any."""
    before, after, changed = shuffled
    rows = [
        pd.read_csv(run / "cores.csv").drop_duplicates("core_id").set_index("core_id")["row"] for run in (before, after)
    ]
    assert rows[0].ne(rows[1].reindex(rows[0].index)).sum() > 350
    packs = [run / "handover" for run in (before, after)]
    lines = _lines(compare_runs(*packs, tmp_path / "packs"))
    for kind, ids in changed.items():
        assert sorted(lines.loc[lines["change"].eq(kind), "core_id"]) == ids, kind
    assert lines.loc[lines["change"].eq("permit changed"), "after"].item().endswith(" to 2026-12-24")
    assert lines.loc[lines["change"].eq("state changed"), ["before", "after"]].to_numpy().tolist() == [
        ["open", "plated"]
    ]
    elsewhere = lines["change"].isin(
        [f"{what} changed" for what in ("segment", "street", "surface", "shade", "district")]
    )
    assert set(lines.loc[elsewhere, "core_id"]) <= {*changed["moved"], *changed["position lost"]}
    # five days later some rules find more; nothing else differs
    assert set(lines.loc[~elsewhere, "change"]) - {*changed} <= {
        "urgency changed", "new finding", "cleared finding", "newly flagged", "cleared",
    }  # fmt: skip
    # a run beside a pack, and a zip beside either, have the same lines
    for at, pair in enumerate([(before, packs[1]), (packs[0], after), (before / "handover.zip", packs[1])]):
        assert _lines(compare_runs(*pair, tmp_path / f"pair-{at}")).equals(lines), pair
    own = _lines(compare_runs(before, after, tmp_path / "runs"))
    assert own[own["change"].isin(lines["change"])].reset_index(drop=True).equals(lines)


def test_a_run_and_its_own_pack_have_no_change_and_the_page_says_what_is_not_known(shuffled, tmp_path):
    _, after, *_ = shuffled
    found = compare_runs(after, after / "handover.zip", tmp_path / "own")
    assert found.changes.lines.empty
    assert not found.changes.not_compared
    page = " ".join((tmp_path / "own/compare.html").read_text("utf-8").split())
    assert "The later one is a pack. A pack does not hold the settings" in page
    assert "Bags before" not in page
    assert "not in a pack" in page


def test_the_outputs_lie_beside_the_run_that_a_pack_is_in(shuffled, tmp_path):
    before, after, *_ = shuffled
    kept = shutil.copytree(before.parent, tmp_path / "kept")
    found = compare_runs(kept / before.name / "handover.zip", kept / after.name / "handover")
    assert found.folder == kept / f"compare-{before.name}-to-{after.name}"


def test_a_column_that_one_pack_lacks_is_not_compared_and_named(shuffled, tmp_path):
    before, after, *_ = shuffled
    pack = shutil.copytree(before / "handover", tmp_path / "pack")
    table = pd.read_csv(pack / "cores.csv", dtype=str, keep_default_na=False)
    table.drop(columns=["state", "reinstated_at", "permit_no", "permit_expires_on"]).to_csv(
        pack / "cores.csv", index=False
    )
    resum(pack)
    found = compare_runs(pack, after / "handover", tmp_path / "out")
    assert found.changes.not_compared == ["closed", "reopened", "state changed", "permit changed"]
    assert any("the columns: closed, reopened, state changed, permit changed" in one for one in found.caveats)
    assert set(found.changes.not_compared) <= set(KINDS)


@pytest.mark.parametrize("name", ["cores.csv", "findings.csv", "rules.csv", "handover.json", "SHA256SUMS"])
@pytest.mark.parametrize("harm", ["gone", "altered", "linked"])
def test_a_damaged_pack_is_refused_by_the_name_that_was_given(shuffled, tmp_path, name, harm):
    before, after, *_ = shuffled
    pack = Path(shutil.copytree(before / "handover", tmp_path / "pack"))
    file = pack / name
    if harm == "gone":
        file.unlink()
    elif harm == "altered":
        file.write_bytes(file.read_bytes().replace(b"0", b"1", 1))
    else:
        file.rename(tmp_path / name)
        file.symlink_to(tmp_path / name)
    with pytest.raises(InputError, match=r"pack") as error:
        compare_runs(pack, after / "handover", tmp_path / "out")
    assert str(pack) in str(error.value)
    assert not (tmp_path / "out").exists()


def test_a_zip_that_is_no_pack_and_a_table_with_a_wrong_cell_are_refused(shuffled, tmp_path):
    before, after, *_ = shuffled
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as other:
        other.writestr("notes/letter.txt", "Dear all")
    with pytest.raises(InputError, match=r"other\.zip"):
        compare_runs(tmp_path / "other.zip", after, tmp_path / "out")
    pack = Path(shutil.copytree(before / "handover", tmp_path / "pack"))
    text = (pack / "cores.csv").read_text("utf-8")
    (pack / "cores.csv").write_text(text.replace('\n1,"', '\nsix,"', 1), "utf-8")
    resum(pack)
    with pytest.raises(InputError, match=r"pack/cores\.csv: cannot be used"):
        compare_runs(pack, after, tmp_path / "out")


@pytest.mark.parametrize(
    ("column", "cell", "words"),
    [
        ("row", None, "no column 'row'"),
        ("core_id", None, "no column 'core_id'"),
        ("row", "", "a row without a number"),
        ("row", "99999999999999999999", "row: found '99999999999999999999', not a whole number"),
        ("row", "1e400", "not a whole number"),
        ("copy_of", "1.5", "copy_of: found '1.5', not a whole number"),
        ("copy_of", "9007199254740993", "not a whole number"),
        ("diameter_mm", "inf", "diameter_mm: found 'inf', not a number"),
        ("lat", "north", "lat: found 'north', not a number"),
    ],
)
def test_a_lost_column_and_a_cell_that_holds_no_such_number_are_damage_of_the_file(
    shuffled, tmp_path, column, cell, words
):
    before, after, *_ = shuffled
    pack = Path(shutil.copytree(before / "handover", tmp_path / "pack"))
    table = pd.read_csv(pack / "cores.csv", dtype=str, keep_default_na=False)
    if cell is None:
        table = table.drop(columns=[column])
    else:
        table.loc[3, column] = cell
    table.to_csv(pack / "cores.csv", index=False)
    resum(pack)
    with pytest.raises(InputError) as error:
        compare_runs(pack, after, tmp_path / "out")
    assert f"{pack / 'cores.csv'}: " in str(error.value)
    assert words in str(error.value)


def test_a_long_number_that_is_not_counted_with_is_compared_as_it_is(shuffled, tmp_path):
    before, after, *_ = shuffled
    pack = Path(shutil.copytree(before / "handover", tmp_path / "pack"))
    table = pd.read_csv(pack / "cores.csv", dtype=str, keep_default_na=False)
    table.loc[3, "diameter_mm"] = "9007199254740993.0"
    table.to_csv(pack / "cores.csv", index=False)
    resum(pack)
    compared = compare_runs(pack, after, tmp_path / "out")
    assert compared.folder.is_dir()


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("language", "../../x", "language: found '../../x', expected one of the languages of this installation: en"),
        ("language", [], "language: found '[]'"),
        ("programme", "\ud800", "half of a character"),
        ("contact", "Ask \udfff", "half of a character"),
        ("cores", 10**30, "no pack has as many"),
        ("as_of", "today", "as_of cannot be used"),
    ],
)
def test_what_a_pack_states_of_itself_is_told_as_its_own_fault(shuffled, tmp_path, key, value, words):
    before, after, *_ = shuffled
    pack = Path(shutil.copytree(before / "handover", tmp_path / "pack"))
    facts = json.loads((pack / "handover.json").read_text("utf-8"))
    (pack / "handover.json").write_text(json.dumps(facts | {key: value}), "utf-8")
    resum(pack)
    with pytest.raises(InputError) as error:
        compare_runs(after, pack, tmp_path / "out")
    assert f"{pack / 'handover.json'}: " in str(error.value)
    assert words in str(error.value)
