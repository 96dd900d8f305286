"""An inspection sample: drawn fairly and again the same, and judged row by row."""

import hashlib
import json
import shutil
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline import cli
from pipeline.intervals import bad_in_lot, true_rate
from pipeline.programme.sampling_schemes import Isolated, Series, load_sampling
from pipeline.sampling.draws import SHEET_COLUMNS, Lot, draw, sampling_frame, seed_of, single_lines
from pipeline.sampling.plans import Curve, Plan
from pipeline.sampling.verdicts import OUTCOMES, judge

DEMO = Path(__file__).parents[2] / "outputs" / "harbour-vale-2026" / "2026-09-30"
TABLES = load_sampling()
SHA256 = "0012f5a914aefc7f75b6a565a1553ee1fedbf3fe7067af3c451c7fb2f933b3df"


def _cores(**lots):
    """So many cores in each lot: ``East=50``."""
    names = [(lot, f"{lot}-{place:04}") for lot, count in lots.items() for place in range(count)]
    frame = pd.DataFrame(names, columns=["lot", "core_id"], dtype="str")
    return frame.assign(row=np.arange(1, len(frame) + 1))


def _ids(cores, lot):
    return cores.set_index("row").loc[lot.rows, "core_id"].tolist()


# the drawing


def test_each_lot_gets_its_plan_and_no_core_is_drawn_twice():
    lots = draw(_cores(East=240, West=40, Tiny=1), Series(level="II", aql="2.5"), TABLES.plans, 7)
    assert [(lot.name, lot.size, lot.plan.n, lot.plan.accept) for lot in lots] == [
        ("East", 240, 32, 2), ("Tiny", 1, 1, 0), ("West", 40, 5, 0),
    ]  # fmt: skip
    for lot in lots:
        assert len(set(lot.rows)) == lot.plan.n == len(lot.rows)


def test_the_same_seed_draws_the_same_cores_and_another_does_not():
    cores = _cores(East=240)
    first, again, other = (draw(cores, Series(), TABLES.plans, seed)[0].rows for seed in (7, 7, 8))
    assert first == again
    assert first != other


def test_another_district_changes_nothing_for_this_one():
    alone = _cores(East=240)
    both = _cores(Centre=90, East=240, West=40)
    east = draw(both, Series(), TABLES.plans, 7)[1]
    assert _ids(both, east) == _ids(alone, draw(alone, Series(), TABLES.plans, 7)[0])


def test_two_districts_of_one_size_are_drawn_each_in_its_own_way():
    lots = draw(_cores(East=240, West=240), Series(), TABLES.plans, 7)
    assert lots[0].rows != [row - 240 for row in lots[1].rows]


def test_the_order_of_the_rows_changes_nothing():
    cores = _cores(East=100, West=60)
    shuffled = cores.sample(frac=1, random_state=3).reset_index(drop=True)
    renumbered = shuffled.assign(row=np.arange(1, 161))
    for one in (shuffled, renumbered):
        for was, now in zip(draw(cores, Series(), TABLES.plans, 7), draw(one, Series(), TABLES.plans, 7)):
            assert _ids(cores, was) == _ids(one, now)


def test_a_smaller_plan_takes_the_first_of_a_larger_one():
    cores = _cores(East=240)
    small, large = (draw(cores, Series(level=level), TABLES.plans, 7)[0].rows for level in ("I", "III"))
    # letter E sends AQL 2.5 on to F, which is 20; H is 50
    assert (len(small), len(large)) == (20, 50)
    assert large[:20] == small


def test_cores_without_an_id_are_drawn_too():
    cores = _cores(East=10)
    cores.loc[2:5, "core_id"] = None
    lot = draw(cores, Isolated(limit=0.0, risk=0.01, accept=0), TABLES.plans, 7)[0]
    assert sorted(lot.rows) == list(range(1, 11))


def test_every_core_has_the_same_chance():
    """Of 600 seeds, how often each of 25 cores was the first drawn, the last drawn, and drawn at all."""
    cores, seeds = _cores(East=25), range(600)
    rows = np.array([draw(cores, Series(level="III", aql="2.5"), TABLES.plans, seed)[0].rows for seed in seeds])
    assert rows.shape == (600, 5)
    for place in (0, -1):
        assert stats.chisquare(np.bincount(rows[:, place], minlength=26)[1:]).pvalue > 0.01
    # five of 25 without replacement: counts vary by n/N (1 - n/N) N/(N - 1) about their mean, with N - 1 degrees
    counts = np.bincount(rows.ravel(), minlength=26)[1:]
    statistic = ((counts - 120) ** 2).sum() / (600 * 0.2 * 0.8 * 25 / 24)
    assert 0.01 < stats.chi2.sf(statistic, 24) < 0.99


def test_pairs_of_cores_come_together_as_often_as_chance_has_it():
    """Ten pairs of five cores, two drawn: each pair a tenth of the time."""
    cores = _cores(East=5)
    drawn = [draw(cores, Series(level="III", aql="4.0"), TABLES.plans, seed)[0].rows[:2] for seed in range(800)]
    pairs = pd.Series([tuple(sorted(pair)) for pair in drawn]).value_counts()
    assert len(pairs) == 10
    assert stats.chisquare(pairs.to_numpy()).pvalue > 0.01


def test_intervals_of_drawn_samples_hold_the_truth_in_95_percent():
    """Twelve bad cores among 120, and 20 of the 120 drawn, with each of 400 seeds."""
    cores = _cores(East=120)
    bad = set(range(5, 125, 10))
    rows = [draw(cores, Series(), TABLES.plans, seed)[0].rows for seed in range(400)]
    assert {len(one) for one in rows} == {20}
    failures = pd.Series([len(bad.intersection(one)) for one in rows]).value_counts().to_dict()
    lots = {failed: bad_in_lot(failed, 20, 120) for failed in failures}
    rates = {failed: true_rate(failed, 20) for failed in failures}
    # 380 expected at least; 367 is three standard errors below
    assert sum(count for failed, count in failures.items() if lots[failed][0] <= 12 <= lots[failed][1]) >= 367
    assert sum(count for failed, count in failures.items() if rates[failed][0] <= 0.1 <= rates[failed][1]) >= 367
    assert np.average(list(failures), weights=list(failures.values())) == pytest.approx(2, abs=0.2)


def test_the_seed_is_the_registers_checksum():
    # 0x0012f5a914ae, by hand: 81430910126
    assert seed_of(SHA256) == 81_430_910_126 < 2**53


def test_the_numbers_drawn_from_stay_the_same_in_every_version():
    """The first numbers of the bit generator, as its authors promise to keep them: the draw of one small lot."""
    lot = draw(_cores(East=8), Series(level="II", aql="4.0"), TABLES.plans, 1)[0]
    words = np.frombuffer(hashlib.sha256(b"East").digest(), dtype="<u4").tolist()
    numbers = np.random.PCG64(np.random.SeedSequence([1, *words])).random_raw(8).tolist()
    by_hand = sorted(range(8), key=numbers.__getitem__)[:3]
    assert lot.rows == [place + 1 for place in by_hand]


# what is drawn from


def _register():
    table = pd.DataFrame(
        {
            "row": [1, 2, 3, 4, 5, 6],
            "core_id": ["a", "b", "b", "c", "d", "e"],
            "findings": [
                "",
                "row-duplicated",
                "cores-overlap;row-duplicated",
                "reinstatement-date-unreadable",
                "",
                "x",
            ],
            "district": ["East", "East", "East", None, "West", "West"],
            "lon": [1.0, 2, 2, 3, 4, 5],
            "lat": [1.0, 2, 2, 3, 4, 5],
            "done": ["d", "d", "d", "later", None, "d"],
        }
    )
    is_back = pd.Series([True, True, True, False, False, True])
    return table, ["done"], is_back, table["done"].notna()


def test_a_row_written_twice_is_one_core():
    chosen = sampling_frame(*_register(), "reinstated")
    assert chosen.cores["row"].tolist() == [1, 2, 6]
    assert chosen.left_out["duplicate row, counted once"] == 1


@pytest.mark.parametrize(("of", "rows"), [("reinstated", [1, 2, 6]), ("open", [5]), ("all", [1, 2, 4, 5, 6])])
def test_every_row_is_drawn_from_or_left_out_for_a_reason(of, rows):
    chosen = sampling_frame(*_register(), of)
    assert chosen.cores["row"].tolist() == rows
    assert len(rows) + sum(chosen.left_out.values()) == 6


def test_rows_alike_at_two_places_are_two_cores():
    table, own, is_back, says_back = _register()
    table.loc[2, "lon"] = 2.5
    assert sampling_frame(table, own, is_back, says_back, "reinstated").cores["row"].tolist() == [1, 2, 3, 6]


def test_cores_without_a_district_are_a_lot_of_their_own():
    assert sampling_frame(*_register(), "all").cores["lot"].tolist() == [
        "East",
        "East",
        "(no district)",
        "West",
        "West",
    ]


def test_no_cell_of_the_sheet_breaks_its_line():
    cells = ["=1+1", "a=b", "two\nlines", "\t=x", "  =y", None, "a\x00b"]
    found = single_lines(pd.DataFrame({"text": pd.Series(cells, dtype="str")}))["text"]
    assert found.tolist()[:5] == ["=1+1", "a=b", "two lines", "=x", "=y"]
    assert pd.isna(found[5])
    assert found[6] == "a b"


# the judging

LOTS = [Lot("East", 40, Plan("C", 5, 1), Curve(0.0, 0.4), [11, 12, 13, 14, 15])]
DRAWN = pd.DataFrame(
    {
        "lot": "East", "draw_order": [1, 2, 3, 4, 5], "row": [11, 12, 13, 14, 15],
        "core_id": ["C-11", "C-12", "C-13", "C-14", "C-15"], "street": "Hay Road",
    }
)  # fmt: skip


def _judge(*lines):
    """Lines of row, id and result."""
    filled = pd.DataFrame([*lines], columns=["row", "core_id", "result"], dtype="str")
    filled = filled.assign(remark=pd.Series(None, filled.index, dtype="str"), line=np.arange(1, len(filled) + 1))
    filled["ragged"] = pd.Series(None, filled.index, dtype="str")
    return judge(DRAWN, LOTS, filled, TABLES.inspection)


def _five(*results):
    return [(str(row), f"C-{row}", result) for row, result in zip(range(11, 16), results)]


@pytest.mark.parametrize(
    ("results", "decision"),
    [
        (("pass",) * 5, "accept"),
        (("pass", "pass", "pass", "pass", "fail"), "accept"),
        (("pass", "pass", "pass", "fail", "fail"), "reject"),
        (("fail", "fail", None, None, None), "reject"),
        (("pass", "pass", "pass", "pass", None), "undecided"),
        (("pass", "pass", "pass", "pass", "perhaps"), "undecided"),
        ((None,) * 5, "undecided"),
    ],
)
def test_a_lot_is_accepted_rejected_or_not_decided_yet(results, decision):
    lot = _judge(*_five(*results)).lots.iloc[0]
    assert lot["decision"] == decision
    inspected = sum(result in {"pass", "fail"} for result in results)
    assert (lot["inspected"], lot["failed"]) == (inspected, results.count("fail"))
    assert inspected + lot["not_inspected"] + lot["unreadable"] == 5


def test_the_intervals_are_those_of_what_was_inspected():
    lot = _judge(*_five("pass", "fail", "pass", "pass", None)).lots.iloc[0]
    assert (lot["rate_low"], lot["rate_high"]) == true_rate(1, 4)
    assert (lot["bad_low"], lot["bad_high"]) == bad_in_lot(1, 4, 40)
    nothing = _judge(*_five(*[None] * 5)).lots.iloc[0]
    assert nothing[["rate_low", "rate_high", "bad_low", "bad_high"]].isna().all()


@pytest.mark.parametrize(
    "text", ["pass", "Pass", " PASSED ", "ok", "O.K", "OK.", "Accept", "accepted", "good!", "✓", "p"]
)
def test_these_say_pass(text):
    expected = "unreadable" if text == "O.K" else "passed"
    assert _judge(("11", "C-11", text)).rows["outcome"][0] == expected


@pytest.mark.parametrize("text", ["fail", "FAILED", "Reject", "rejected.", "bad", "not  OK", "✗", "f"])
def test_these_say_fail(text):
    assert _judge(("11", "C-11", text)).rows["outcome"][0] == "failed"


@pytest.mark.parametrize("text", [None, "", " ", "-", "n/a", "tbc", "No access", "not inspected"])
def test_these_say_that_nobody_inspected(text):
    assert _judge(("11", "C-11", text)).rows["outcome"][0] == "not inspected"


@pytest.mark.parametrize("text", ["x", "1", "0", "yes", "no", "pass?", "pass/fail", "passed by", "{{ 7 }}"])
def test_what_may_mean_either_is_not_guessed(text):
    verdict = _judge(("11", "C-11", text))
    assert verdict.rows["outcome"][0] == "unreadable"
    assert "neither pass, fail nor empty" in verdict.rows["reason"][0]


@pytest.mark.parametrize(
    ("row", "core_id", "ours"),
    [
        ("11", "C-11", True),
        ("11.0", "c 11", True),
        (" 11 ", "C-0011", False),
        ("11", "'C-11", True),
        ("11", "C-12", False),
        ("11", None, False),
        ("16", "C-16", False),
        ("16", None, False),
        ("", "C-11", False),
        ("eleven", "C-11", False),
        ("-11", "C-11", False),
        ("9" * 30, "C-11", False),
    ],
)
def test_a_result_counts_only_for_a_core_that_was_drawn(row, core_id, ours):
    verdict = _judge((row, core_id, "pass"))
    assert verdict.account["passed"] == ours
    assert verdict.account["not in the sample"] == (not ours)
    assert verdict.account["drawn, but not in the file"] == 5 - ours
    assert len(verdict.rows) == 5 + (not ours)


def test_an_id_that_a_spreadsheet_took_for_a_number_is_still_known():
    drawn = DRAWN.assign(core_id=["0011", "0012", "0013", "0014", "0015"])
    filled = pd.DataFrame(
        {"row": ["11"], "core_id": ["11"], "result": ["ok"], "remark": [None], "line": [1]}, dtype="str"
    )
    filled = filled.assign(line=1, ragged=pd.Series(None, filled.index, dtype="str"))
    assert judge(drawn, LOTS, filled, TABLES.inspection).account["passed"] == 1


def test_a_drawn_core_without_an_id_is_known_by_its_row():
    filled = pd.DataFrame({"row": ["11", "12"], "core_id": [None, None], "result": ["ok", "ok"]}, dtype="str")
    nothing = pd.Series(None, filled.index, dtype="str")
    drawn = DRAWN.assign(core_id=DRAWN["core_id"].mask(DRAWN["row"].eq(11)))
    account = judge(drawn, LOTS, filled.assign(remark=nothing, ragged=nothing, line=[1, 2]), TABLES.inspection).account
    assert (account["passed"], account["not in the sample"]) == (1, 1)


def test_a_core_that_stands_twice_counts_once():
    verdict = _judge(*_five(None, *["pass"] * 4), ("11", "C-11", "fail"), ("12", "C-12", "pass"))
    assert verdict.lots.iloc[0]["failed"] == 1
    assert verdict.lots.iloc[0]["inspected"] == 5
    assert verdict.account["duplicate"] == 2


def test_a_core_that_stands_twice_with_results_that_differ_is_not_decided():
    verdict = _judge(*_five(*["pass"] * 5), ("11", "C-11", "fail"))
    assert (verdict.account["passed"], verdict.account["failed"]) == (4, 0)
    assert (verdict.account["unreadable"], verdict.account["duplicate"]) == (1, 1)
    assert verdict.lots.iloc[0]["decision"] == "undecided"
    assert "different results" in verdict.rows["reason"][0]


def test_every_row_of_the_file_has_exactly_one_outcome():
    rng = np.random.default_rng(5)
    results = ["pass", "fail", None, "perhaps", "n/a"]
    for _ in range(15):
        rows = rng.integers(9, 18, size=rng.integers(1, 14))
        verdict = _judge(*((str(row), f"C-{row}", results[rng.integers(5)]) for row in rows))
        account = dict(verdict.account)
        absent = account.pop("drawn, but not in the file")
        assert account.pop("rows in the file") == len(rows) == sum(account.values())
        assert set(account) == set(OUTCOMES)
        assert absent == 5 - len({row for row in rows if 11 <= row <= 15})
        assert verdict.rows["line"].dropna().sort_values().tolist() == list(range(1, len(rows) + 1))
        lot = verdict.lots.iloc[0]
        assert lot["inspected"] + lot["not_inspected"] + lot["unreadable"] == 5
        assert lot["inspected"] == account["passed"] + account["failed"]


# the command


@pytest.fixture
def kerfbook(capsys, monkeypatch):
    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["kerfbook", *map(str, arguments)])
        try:
            cli.main()
        except SystemExit as done:
            captured = capsys.readouterr()
            return done.code, captured.out, captured.err
        captured = capsys.readouterr()
        return 0, captured.out, captured.err

    return run


@pytest.fixture
def run(tmp_path):
    shutil.copytree(DEMO, tmp_path / "town" / "2026-09-30")
    return tmp_path / "town" / "2026-09-30"


def _sheet(folder):
    return pd.read_csv(folder / "sample.csv", dtype=str, keep_default_na=False)


def _refused(answer, code, *words):
    found, _, said = answer
    assert found == code, said
    assert said.startswith("Error: ")
    assert "Traceback" not in said
    for word in words:
        assert word in said


def test_the_command_draws_beside_the_run_and_leaves_the_run_as_it_was(kerfbook, run):
    before = {file: file.read_bytes() for file in run.rglob("*") if file.is_file()}
    code, said, _ = kerfbook("sample", run)
    assert code == 0
    assert {file: file.read_bytes() for file in run.rglob("*") if file.is_file()} == before
    folder = run.parent / "sample-2026-09-30"
    assert sorted(file.name for file in folder.iterdir()) == ["sample.csv", "sample.json"]
    sheet, record = _sheet(folder), json.loads((folder / "sample.json").read_text("utf-8"))
    assert sheet.columns.tolist() == list(SHEET_COLUMNS)
    assert (sheet[["result", "remark"]] == "").all(axis=None)
    # by the tables: level II, AQL 2.5
    plans = {8: (5, 0), 21: (5, 0), 27: (5, 0), 35: (5, 0), 42: (5, 0), 51: (20, 1), 63: (20, 1)}
    assert {lot["cores"]: (lot["n"], lot["accept"]) for lot in record["lots"]} == plans
    assert sheet["lot"].value_counts().to_dict() == {lot["lot"]: lot["n"] for lot in record["lots"]}
    # 250 rows have something under "done": two are no dates, and one core stands twice
    assert record["cores"] == 247 == sum(plans)
    assert record["cores"] + sum(record["left_out"].values()) == 400
    assert (record["seed"], record["seed_from"]) == (81_430_910_126, "from the register's checksum")
    assert record["register_sha256"] == SHA256
    for word in ("81430910126", "series of lots", "--plan isolated", "Traffic", "Harbourside"):
        assert word in said
    assert any("series of lots" in caution for caution in record["cautions"])
    assert any(caution.startswith("Traffic") for caution in record["cautions"])


def test_the_sheet_is_in_the_order_of_the_streets_and_says_what_the_audit_found(kerfbook, run):
    kerfbook("sample", run)
    sheet = _sheet(run.parent / "sample-2026-09-30")
    last = "\U0010ffff"
    keys = [(lot, street or last) for lot, street in zip(sheet["lot"], sheet["street"])]
    assert keys == sorted(keys)
    cores = pd.read_csv(run / "cores.csv", dtype=str, keep_default_na=False).set_index("row")
    for name in ("core_id", "findings", "status", "lon", "lat", "chainage_m", "surface", "shade"):
        assert sheet[name].tolist() == cores.loc[sheet["row"], name].tolist()
    assert (cores.loc[sheet["row"], "done"] != "").all()


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
    assert (cores.loc[_sheet(tmp_path / "a")["row"], "done"] == "").all()


def _fill(folder, results, file="filled.csv", **how):
    sheet = _sheet(folder)
    sheet["result"] = results(sheet)
    sheet.to_csv(folder / file, index=False, **how)
    return folder / file


def test_a_filled_in_sheet_is_judged(kerfbook, run, tmp_path):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = _fill(tmp_path / "a", lambda sheet: np.where(sheet["lot"].eq("Mill Bank"), "Reject", "OK"))
    code, said, _ = kerfbook("sample", run, "--results", file)
    assert code == 0
    record = json.loads((tmp_path / "a" / "results.json").read_text("utf-8"))
    lots = {lot["lot"]: lot for lot in record["lots"]}
    assert record["decisions"] == {"accept": 6, "reject": 1}
    assert (lots["Mill Bank"]["decision"], lots["Mill Bank"]["failed"]) == ("reject", 5)
    # all of five failed: the rate is at least the fifth root of 2.5 percent
    assert lots["Mill Bank"]["rate_low"] == pytest.approx(0.025 ** (1 / 5), abs=1e-6)
    assert (lots["Mill Bank"]["bad_high"], lots["Mill Bank"]["cores"]) == (27, 27)
    assert lots["Harbourside"]["rate_high"] == pytest.approx(1 - 0.025 ** (1 / 20), abs=1e-6)
    assert record["account"]["passed"] == 60
    assert record["account"]["failed"] == 5
    assert any(caution.startswith("Traffic") for caution in record["cautions"])
    rows = pd.read_csv(tmp_path / "a" / "results.csv", dtype=str, keep_default_na=False)
    assert rows["outcome"].value_counts().to_dict() == {"passed": 60, "failed": 5}
    for word in ("Mill Bank", "reject", "65 (60 passed, 5 failed)"):
        assert word in said


@pytest.mark.parametrize("how", [{"sep": ";"}, {"sep": "\t", "encoding": "utf-16"}, {"encoding": "utf-8-sig"}])
def test_a_sheet_may_come_back_as_any_program_saves_it(kerfbook, run, tmp_path, how):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = _fill(tmp_path / "a", lambda _: "pass", **how)
    assert kerfbook("sample", run, "--results", file, "--out", tmp_path / "b")[0] == 0
    assert json.loads((tmp_path / "b" / "results.json").read_text("utf-8"))["account"]["passed"] == 65


def test_a_sheet_may_come_back_as_a_workbook_without_its_other_columns(kerfbook, run):
    kerfbook("sample", run)
    folder = run.parent / "sample-2026-09-30"
    sheet = _sheet(folder).assign(result="ok")
    (run.parent / "reinstated").mkdir()
    file = run.parent / "back" / "sheet.xlsx"
    sheet.assign(row=sheet["row"].astype(int))[["row", "core_id", "result"]].to_excel(
        file, index=False, engine="xlsxwriter"
    )
    # the record is where a sample of this run is written unless another folder is named
    assert kerfbook("sample", run, "--results", file)[0] == 0
    assert json.loads((file.parent / "results.json").read_text("utf-8"))["account"]["passed"] == 65


def test_a_field_too_many_makes_a_result_unreadable(kerfbook, run, tmp_path):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = _fill(tmp_path / "a", lambda _: "pass")
    lines = file.read_text("utf-8").splitlines()
    lines[3] += ",cracked"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert kerfbook("sample", run, "--results", file)[0] == 0
    account = json.loads((tmp_path / "a" / "results.json").read_text("utf-8"))["account"]
    assert (account["passed"], account["unreadable"]) == (64, 1)


def test_a_sheet_that_was_filled_in_is_never_replaced(kerfbook, run):
    kerfbook("sample", run)
    folder = run.parent / "sample-2026-09-30"
    _fill(folder, lambda _: "pass", "sample.csv")
    filled = (folder / "sample.csv").read_bytes()
    _refused(kerfbook("sample", run), 4, "sample.csv", "filled in", "--out")
    assert (folder / "sample.csv").read_bytes() == filled
    assert sorted(file.name for file in folder.iterdir()) == ["sample.csv", "sample.json"]
    assert kerfbook("sample", run, "--results", folder / "sample.csv")[0] == 0


def test_nothing_is_written_into_a_runs_folder(kerfbook, run, tmp_path):
    _refused(kerfbook("sample", run, "--out", run), 2, "must stay unchanged")
    _refused(kerfbook("sample", run, "--out", run / "sample"), 2, "must stay unchanged")
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = _fill(tmp_path / "a", lambda _: "pass")
    _refused(kerfbook("sample", run, "--results", file, "--out", run), 2, "must stay unchanged")
    assert not (run / "sample").exists()


def test_a_sample_of_another_run_is_refused(kerfbook, run, tmp_path):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = _fill(tmp_path / "a", lambda _: "pass")
    record = json.loads((run / "run.json").read_text("utf-8"))
    record["inputs"][0]["sha256"] = "0" * 64
    (run / "run.json").write_text(json.dumps(record), encoding="utf-8")
    _refused(kerfbook("sample", run, "--results", file), 3, "sample.json", "another run", "register_sha256")
    assert not (tmp_path / "a" / "results.csv").exists()


@pytest.mark.parametrize(
    "change",
    [
        lambda record: record.update(seed=5),
        lambda record: record["lots"][0]["rows"].reverse(),
        lambda record: record["lots"][0].update(accept=9),
        lambda record: record["lots"].pop(),
        lambda record: record["plan"].update(level="I"),
        lambda record: record.update(of="all"),
    ],
)
def test_a_record_that_was_changed_is_refused(kerfbook, run, tmp_path, change):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = _fill(tmp_path / "a", lambda _: "pass")
    record = json.loads((tmp_path / "a" / "sample.json").read_text("utf-8"))
    change(record)
    (tmp_path / "a" / "sample.json").write_text(json.dumps(record), encoding="utf-8")
    _refused(kerfbook("sample", run, "--results", file), 3, "sample.json", "was changed since")


@pytest.mark.parametrize("raw", [b"", b"{", b"[]", b"{}", b"\x89PNG\r\n", b"[" * 9999, b'{"seed": -1}'])
def test_a_spoiled_record_is_refused(kerfbook, run, tmp_path, raw):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = _fill(tmp_path / "a", lambda _: "pass")
    (tmp_path / "a" / "sample.json").write_bytes(raw)
    _refused(kerfbook("sample", run, "--results", file), 3, "sample.json", "draw it again")


@pytest.mark.parametrize(
    ("raw", "word"),
    [
        (b"", "empty"),
        (b"row,core_id,result\n", "no rows"),
        (b"row,core_id\n1,a\n", "no column 'result'"),
        (b"core_id,result\na,pass\n", "no column 'row'"),
        (b"row,core_id,result\n1,nobody,pass\n", "its only row is not in the sample"),
        (b"\x89PNG\r\n\x1a\n" + bytes(99), "picture"),
        (bytes(500), "binary"),
        (b'row,core_id,result\n1,"HV,1,pass\n2,HV,pass\n3,HV,pass\n', "quotation mark"),
    ],
)
def test_a_sheet_that_cannot_be_used_is_refused(kerfbook, run, tmp_path, raw, word):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = tmp_path / "a" / "filled.csv"
    file.write_bytes(raw)
    _refused(kerfbook("sample", run, "--results", file), 3, "filled.csv", word)
    assert not (tmp_path / "a" / "results.csv").exists()


def test_results_do_not_replace_the_sheet_they_come_from(kerfbook, run, tmp_path):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = _fill(tmp_path / "a", lambda _: "pass", "results.csv")
    before = file.read_bytes()
    _refused(kerfbook("sample", run, "--results", file), 2, "results.csv", "another name")
    assert file.read_bytes() == before


def test_a_missing_sheet_or_record_is_refused(kerfbook, run, tmp_path):
    _refused(kerfbook("sample", run, "--results", tmp_path / "none.csv"), 3, "no such file")
    (tmp_path / "some.csv").write_text("row,core_id,result\n1,a,pass\n", encoding="utf-8")
    _refused(kerfbook("sample", run, "--results", tmp_path / "some.csv"), 3, "sample.json", "in one folder")


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


def test_a_folder_that_is_no_run_or_a_place_that_cannot_be_written_is_refused(kerfbook, run, tmp_path):
    _refused(kerfbook("sample", tmp_path), 3, "no run.json")
    (tmp_path / "file").write_text("x", encoding="utf-8")
    _refused(kerfbook("sample", run, "--out", tmp_path / "file" / "x"), 4, "--out")


def test_a_run_with_nothing_to_draw_from_is_refused(kerfbook, run):
    table = pd.read_parquet(run / "cores.parquet")
    table.assign(status="pending", done=None).to_parquet(run / "cores.parquet")
    _refused(kerfbook("sample", run), 3, "no cores to draw from", "--of")


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
    cells = _sheet(folder)
    for name in ("core_id", "lot", "street"):
        assert not cells[name].str.match(r"[=+@\t\r]|-(?![0-9]+$)").any()
    assert (folder / "sample.csv").read_text("utf-8").count("\n") == len(cells) + 1
    file = _fill(folder, lambda _: "pass")
    assert kerfbook("sample", run, "--results", file)[0] == 0
    account = json.loads((folder / "results.json").read_text("utf-8"))["account"]
    assert account["passed"] == len(cells)
