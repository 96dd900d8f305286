"""An inspected sample is judged row by row."""

import itertools

import numpy as np
import pandas as pd
import pytest

from pipeline.intervals import bad_in_lot, true_rate
from pipeline.programme.sampling_schemes import load_sampling
from pipeline.sampling.draws import Lot
from pipeline.sampling.plans import Curve, Plan
from pipeline.sampling.verdicts import OUTCOMES, judge

TABLES = load_sampling()

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
        # one failure is accepted, so whatever the fifth core is like cannot change the decision
        (("pass", "pass", "pass", "pass", None), "accept"),
        (("pass", "pass", "pass", "pass", "perhaps"), "accept"),
        (("pass", "pass", "pass", None, None), "undecided"),
        (("pass", "pass", "pass", "fail", None), "undecided"),
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
    # the second core has failed already, so the plan, which accepts one failure, depends on the first
    verdict = _judge(*_five("pass", "fail", "pass", "pass", "pass"), ("11", "C-11", "fail"))
    assert (verdict.account["passed"], verdict.account["failed"]) == (3, 1)
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


@pytest.mark.parametrize(
    ("results", "early"),
    [(("pass",) * 5, False), (("pass",) * 4 + (None,), True), (("fail", "fail", None, None, None), True)],
)
def test_a_decision_made_before_every_core_was_inspected_is_marked(results, early):
    assert _judge(*_five(*results)).lots["decided_early"].tolist() == [early]


def test_a_lot_accepted_early_is_accepted_whatever_the_rest_is_like():
    """Every way in which five cores can come back, each core once: what is decided early stays decided."""
    decisions = {
        results: _judge(*_five(*results, *[None] * (5 - seen))).lots["decision"][0]
        for seen in range(6)
        for results in itertools.product(("pass", "fail"), repeat=seen)
    }
    for whole in itertools.product(("pass", "fail"), repeat=5):
        for seen in range(5):
            assert decisions[whole[:seen]] in {decisions[whole], "undecided"}
