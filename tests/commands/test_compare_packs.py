"""The command that compares two runs, given packs: what it says, and what it refuses."""

import csv
import random
import shutil
import zipfile
from pathlib import Path

import pandas as pd
import pytest

from pipeline.commands.compare import compare_runs
from pipeline.errors import InputError
from pipeline.history import KINDS
from pipeline.run import run_programme
from tests.commands.packs import resum

_DATA = Path(__file__).parents[2] / "sample_data"


@pytest.fixture(scope="module")
def shuffled(demo, tmp_path_factory):
    """The demo's run, and one of the same register two days later, its lines in another order.

    One core was closed, one permit was prolonged, and one plate was laid in between.
    """
    folder = tmp_path_factory.mktemp("shuffled")
    shutil.copytree(_DATA, folder / "town")
    programme = folder / "town" / "programme.toml"
    out = Path(shutil.copytree(demo.folder.parents[1], folder / "out"))
    before = out / demo.folder.relative_to(demo.folder.parents[1])
    register = folder / "town" / "cores.csv"
    # one row of the demo has a cell too many
    with register.open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    cores = pd.read_csv(before / "cores.csv").set_index("core_id")
    prolonged, plated = (
        cores.index[cores["state"].eq(state) & cores["status"].eq("pending") & ~cores.index.duplicated(keep=False)][0]
        for state in ("plated", "open")
    )
    for core, name, cell in ((prolonged, "permit_to", "24/12/2026"), (plated, "plated", "30/09/2026")):
        next(row for row in rows if row[head.index("id")] == core)[head.index(name)] = cell
    random.Random(15).shuffle(rows)
    with register.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([head, *rows])
    programme.write_text(programme.read_text("utf-8").replace("as_of = 2026-09-30", "as_of = 2026-10-01"), "utf-8")
    after = run_programme(programme, out).folder
    return before, after, prolonged, plated


def _lines(found):
    return pd.read_csv(found.folder / "changes.csv", dtype=str, keep_default_na=False)


def test_a_register_that_was_sorted_anew_has_no_change_but_those_of_its_cores(shuffled, tmp_path):
    """Nearly every row moved; the lines are by core id, so that no core is opened, removed or moved."""
    before, after, prolonged, plated = shuffled
    rows = [
        pd.read_csv(run / "cores.csv").drop_duplicates("core_id").set_index("core_id")["row"] for run in (before, after)
    ]
    assert rows[0].ne(rows[1].reindex(rows[0].index)).sum() > 350
    packs = [run / "handover" for run in (before, after)]
    lines = _lines(compare_runs(*packs, tmp_path / "packs"))
    assert lines.loc[lines["change"].eq("permit changed"), "core_id"].tolist() == [prolonged]
    assert lines.loc[lines["change"].eq("permit changed"), "after"].item().endswith(" to 2026-12-24")
    assert lines.loc[lines["change"].eq("state changed"), ["core_id", "before", "after"]].to_numpy().tolist() == [
        [plated, "open", "plated"]
    ]
    # a day later some rules find more; nothing else differs
    assert set(lines["change"]) <= {
        "permit changed", "state changed", "urgency changed", "new finding", "cleared finding", "newly flagged", "cleared",
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
