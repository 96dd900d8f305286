"""The command that draws an inspection sample."""

import json

import pandas as pd
import pytest

from pipeline.sampling.draws import SHEET_COLUMNS
from tests.commands.sheets import fill, read_sheet, refused

SHA256 = "2246e80ae295771bd590e7067cf31a1e8fc88294fc2e4ff496488cd4451d54f9"


def test_the_command_draws_beside_the_run_and_leaves_the_run_as_it_was(kerfbook, run):
    before = {file: file.read_bytes() for file in run.rglob("*") if file.is_file()}
    code, said, _ = kerfbook("sample", run)
    assert code == 0
    assert {file: file.read_bytes() for file in run.rglob("*") if file.is_file()} == before
    folder = run.parent / "sample-2026-09-30"
    assert sorted(file.name for file in folder.iterdir()) == ["sample.csv", "sample.json"]
    sheet, record = read_sheet(folder), json.loads((folder / "sample.json").read_text("utf-8"))
    assert sheet.columns.tolist() == list(SHEET_COLUMNS)
    assert (sheet[["result", "remark"]] == "").all(axis=None)
    # by the tables: level II, AQL 2.5
    plans = {9: (5, 0), 21: (5, 0), 27: (5, 0), 35: (5, 0), 42: (5, 0), 50: (5, 0), 63: (20, 1)}
    assert {lot["cores"]: (lot["n"], lot["accept"]) for lot in record["lots"]} == plans
    assert sheet["lot"].value_counts().to_dict() == {lot["lot"]: lot["n"] for lot in record["lots"]}
    # 250 rows have something under "done": two are no dates, and one core stands twice
    assert record["cores"] == 247 == sum(plans)
    assert record["cores"] + sum(record["left_out"].values()) == 400
    assert (record["seed"], record["seed_from"]) == (37_687_936_082_581, "from the register's checksum")
    assert record["register_sha256"] == SHA256
    for word in ("37687936082581", "series of lots", "--plan isolated", "Traffic", "Harbourside"):
        assert word in said
    assert any("series of lots" in caution for caution in record["cautions"])
    assert any(caution.startswith("Traffic") for caution in record["cautions"])


def test_the_sheet_is_in_the_order_of_the_streets_and_says_what_the_audit_found(kerfbook, run):
    kerfbook("sample", run)
    sheet = read_sheet(run.parent / "sample-2026-09-30")
    last = "\U0010ffff"
    keys = [(lot, street or last) for lot, street in zip(sheet["lot"], sheet["street"])]
    assert keys == sorted(keys)
    cores = pd.read_csv(run / "cores.csv", dtype=str, keep_default_na=False).set_index("row")
    for name in ("core_id", "findings", "status", "lon", "lat", "chainage_m", "surface", "shade"):
        assert sheet[name].tolist() == cores.loc[sheet["row"], name].tolist()
    assert (cores.loc[sheet["row"], "done"] != "").all()


def test_each_line_has_the_state_the_weight_and_the_cautions_of_its_core(kerfbook, run_folder, tmp_path):
    kerfbook("sample", run_folder, "--of", "all", "--plan", "isolated", "--out", tmp_path)
    sheet = read_sheet(tmp_path)
    cores = pd.read_csv(run_folder / "cores.csv", dtype=str, keep_default_na=False).set_index("row")
    for name in ("state", "urgency", "core_kg"):
        assert sheet[name].tolist() == cores.loc[sheet["row"], name].tolist()
    first = {
        "back": "Traffic: set out signs, tapers and barriers as the local code requires before anyone steps into the "
        "road to inspect it.",
        "open": "Services: the hole may expose a live gas or water main.",
    }
    assert set(sheet["state"]) == set(first)
    assert all(text.startswith(first[state]) for state, text in zip(sheet["state"], sheet["cautions"], strict=True))
    weighed = sheet[sheet["core_kg"].ne("")]
    for kg, text in zip(weighed["core_kg"].astype(float), weighed["cautions"], strict=True):
        assert f"Core: about {kg:.0f} kg (" in text


def test_a_run_of_an_earlier_version_has_the_cautions_for_cores_that_are_back(kerfbook, run):
    table = pd.read_parquet(run / "cores.parquet").drop(columns=["state", "urgency", "core_kg"], errors="ignore")
    table.to_parquet(run / "cores.parquet")
    kerfbook("sample", run)
    sheet = read_sheet(run.parent / "sample-2026-09-30")
    assert set(sheet["state"]) == {"back"}
    assert sheet["cautions"].str.startswith("Traffic: set out signs").all()


def test_the_cautions_for_surfaces_are_those_of_the_programme_that_was_audited(kerfbook, run):
    record = json.loads((run / "run.json").read_text("utf-8"))
    record["catalogue_overridden"]["catalogue.surfaces.asphalt.cautions"] = ["Asphalt: the programme's own caution."]
    (run / "run.json").write_text(json.dumps(record), "utf-8")
    kerfbook("sample", run, "--of", "open")
    sheet = read_sheet(run.parent / "sample-2026-09-30")
    own = sheet["cautions"].str.contains("the programme's own caution", regex=False)
    assert own.any()
    assert own.tolist() == sheet["surface"].eq("asphalt").tolist()


def test_the_same_command_gives_the_same_bytes(kerfbook, run, tmp_path):
    kerfbook("sample", run, "--out", tmp_path / "a")
    kerfbook("sample", run, "--out", tmp_path / "b")
    kerfbook("sample", run, "--out", tmp_path / "b")
    for name in ("sample.csv", "sample.json"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    assert str(tmp_path) not in (tmp_path / "a" / "sample.json").read_text("utf-8")


def test_an_isolated_plan_and_open_cores_can_be_asked_for(kerfbook, run, tmp_path):
    code, said, _ = kerfbook(
        "sample", run, "--plan", "isolated", "--limit", "10 %", "--risk", "10 %", "--accept", 1, "--of", "open",
        "--seed", 4, "--out", tmp_path / "a",
    )  # fmt: skip
    assert code == 0
    record = json.loads((tmp_path / "a" / "sample.json").read_text("utf-8"))
    assert record["plan"] == {"plan": "isolated", "limit": 0.1, "risk": 0.1, "accept": 1}
    assert (record["seed"], record["seed_from"], record["of"]) == (4, "from --seed", "open")
    assert not any("series of lots" in caution for caution in record["cautions"])
    assert "isolated lot" in said
    # 400 rows, 250 of them with something under "done"; one open core stands twice
    assert record["cores"] == 149
    for lot in record["lots"]:
        assert lot["accepted_with_10_percent"] >= 0.1
    cores = pd.read_csv(run / "cores.csv", dtype=str, keep_default_na=False).set_index("row")
    assert (cores.loc[read_sheet(tmp_path / "a")["row"], "done"] == "").all()


def test_a_sheet_that_was_filled_in_is_never_replaced(kerfbook, run):
    kerfbook("sample", run)
    folder = run.parent / "sample-2026-09-30"
    fill(folder, lambda _: "pass", "sample.csv")
    filled = (folder / "sample.csv").read_bytes()
    refused(kerfbook("sample", run), 4, "sample.csv", "filled in", "--out")
    assert (folder / "sample.csv").read_bytes() == filled
    assert sorted(file.name for file in folder.iterdir()) == ["sample.csv", "sample.json"]
    assert kerfbook("sample", run, "--results", folder / "sample.csv")[0] == 0


def test_nothing_is_written_into_a_runs_folder(kerfbook, run, tmp_path):
    refused(kerfbook("sample", run, "--out", run), 2, "must stay unchanged")
    refused(kerfbook("sample", run, "--out", run / "sample"), 2, "must stay unchanged")
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = fill(tmp_path / "a", lambda _: "pass")
    refused(kerfbook("sample", run, "--results", file, "--out", run), 2, "must stay unchanged")
    assert not (run / "sample").exists()


@pytest.mark.parametrize(
    "options",
    [
        ["--plan", "isolated", "--aql", "1.0"],
        ["--limit", "5 %"],
        ["--plan", "isolated", "--limit", "5 kg"],
        ["--plan", "isolated", "--risk", "100 %"],
        ["--plan", "isolated", "--accept", "-1"],
        ["--aql", "3"],
        ["--level", "IV"],
        ["--seed", "-1"],
        ["--seed", "1e3"],
        ["--of", "lost"],
        ["--results", "x.csv", "--seed", "0"],
        ["--results", "x.csv", "--accept", "0"],
    ],
)
def test_options_that_make_no_sense_end_with_two(kerfbook, run, options):
    code, _, said = kerfbook("sample", run, *options)
    assert code == 2
    assert "Error: " in said
    assert "Traceback" not in said
    assert not (run.parent / "sample-2026-09-30").exists()


def test_a_folder_that_is_no_run_or_a_place_that_cannot_be_written_isrefused(kerfbook, run, tmp_path):
    refused(kerfbook("sample", tmp_path), 3, "no run.json")
    (tmp_path / "file").write_text("x", encoding="utf-8")
    refused(kerfbook("sample", run, "--out", tmp_path / "file" / "x"), 4, "--out")


def test_a_run_with_nothing_to_draw_from_isrefused(kerfbook, run):
    table = pd.read_parquet(run / "cores.parquet")
    table.assign(status="pending", done=None).to_parquet(run / "cores.parquet")
    refused(kerfbook("sample", run), 3, "no cores to draw from", "--of")


def test_what_a_register_wrote_stays_text_in_the_sheet_and_comes_back(kerfbook, run):
    table = pd.read_parquet(run / "cores.parquet")
    hostile = ['=HYPERLINK("http://example.org")', "[red]x[/red]", "{{ 7 * 191 }}", "two\nlines", "-1", "@x", 'a,b"c']
    ids = pd.Series(table["core_id"].to_numpy(), dtype="str")
    ids.iloc[:] = [f"{hostile[place % 7]}{place}" for place in range(len(ids))]
    table.assign(core_id=ids, district=table["district"].replace("Mill Bank", "[bold]=1+1[/bold]")).to_parquet(
        run / "cores.parquet"
    )
    code, said, _ = kerfbook("sample", run)
    assert code == 0
    assert "[bold]=1+1[/bold]" in said
    folder = run.parent / "sample-2026-09-30"
    cells = read_sheet(folder)
    for name in ("core_id", "lot", "street"):
        assert not cells[name].str.match(r"[=+@\t\r]|-(?![0-9]+$)").any()
    assert (folder / "sample.csv").read_text("utf-8").count("\n") == len(cells) + 1
    file = fill(folder, lambda _: "pass")
    assert kerfbook("sample", run, "--results", file)[0] == 0
    account = json.loads((folder / "results.json").read_text("utf-8"))["account"]
    assert account["passed"] == len(cells)


@pytest.mark.parametrize("by", ["register", "crew"])
def test_lots_can_be_registers_or_crews(kerfbook, run, by):
    """Of the 247 reinstated cores, by hand from the register: see the crews in ``cores.csv``."""
    code, said, _ = kerfbook("sample", run, "--by", by)
    assert code == 0
    folder = run.parent / f"sample-2026-09-30-by-{by}"
    record = json.loads((folder / "sample.json").read_text("utf-8"))
    assert record["by"] == by
    assert sum(lot["cores"] for lot in record["lots"]) == record["cores"] == 247
    names = [lot["lot"] for lot in record["lots"]]
    crews = pd.read_csv(run / "cores.csv", dtype=str)["crew"].str.strip().dropna().unique()
    expected = {"cores"} if by == "register" else {*crews, "(no crew)"}
    assert {name.casefold() for name in names} <= {name.casefold() for name in expected}
    # a sheet that comes back is judged by the lots that it was drawn by
    filled = fill(folder, lambda sheet: ["pass"] * len(sheet))
    code, said, _ = kerfbook("sample", run, "--results", filled)
    assert code == 0
    results = json.loads((folder / "results.json").read_text("utf-8"))
    assert {lot["decision"] for lot in results["lots"]} == {"accept"}
    assert results["by"] == by
    assert by in said


def test_lots_by_crew_need_a_crew(kerfbook, run, tmp_path):
    record = json.loads((run / "run.json").read_text("utf-8"))
    sections = record["settings"]["cores"]
    for section in sections if isinstance(sections, list) else [sections]:
        del section["columns"]["crew"]
    (run / "run.json").write_text(json.dumps(record), encoding="utf-8")
    cores = pd.read_parquet(run / "cores.parquet").drop(columns="crew")
    cores.to_parquet(run / "cores.parquet")
    refused(
        kerfbook("sample", run, "--by", "crew", "--out", tmp_path),
        3,
        "name no crew",
        "cores.columns.crew",
        "--by district",
    )
