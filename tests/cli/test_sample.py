"""What the command on samples prints: counts with their noun, shares as percentages, decisions in words."""

from pathlib import Path

import pytest

from pipeline.cli.sample import _percent, _print_results, _print_sample, _share
from pipeline.commands.sample import Judged, Sample

_LOT = {
    "lot": "East [1]", "cores": 1200, "letter": "L", "n": 200, "accept": 10, "reject": 11, "every_core": False,
    "accepted_with_95_percent": 0.0309, "accepted_with_10_percent": None, "rows": [],
}  # fmt: skip
_RECORD = {
    "programme": "Town [bold]", "as_of": "2026-09-30", "of_in_words": "open cores", "by": "district", "seed": 7,
    "seed_from": "from --seed", "plan": {"plan": "series", "level": "II", "aql": "2.5"}, "lots": [_LOT],
    "left_out": {"duplicate row, counted once": 1, "not yet reinstated": 1200}, "cautions": ["Mind the traffic."],
    "drawn": 1,
}  # fmt: skip


def _sampled(capsys, **changed):
    _print_sample(Sample(None, [], _RECORD | changed, Path("out")))
    return " ".join(capsys.readouterr().out.split())


def test_a_drawn_sample_is_summarised_in_sentences(capsys):
    said = _sampled(capsys)
    assert said.startswith("Town [bold], as of 2026-09-30: inspection sample of open cores.")
    assert "Plan for a series of lots: level II, AQL 2.5%." in said
    assert "Excluded: 1 row, duplicate row, counted once." in said
    assert "Excluded: 1,200 rows, not yet reinstated." in said
    assert "Seed 7, from --seed. The same seed draws the same cores." in said
    assert "Caution: Mind the traffic." in said
    assert said.endswith("1 core to inspect: out/sample.csv")


def test_a_district_that_is_inspected_whole_is_marked(capsys):
    assert "200 (all)" in _sampled(capsys, lots=[_LOT | {"every_core": True}])
    assert "(all)" not in _sampled(capsys)


def test_an_isolated_plan_is_described_by_limit_and_risk(capsys):
    said = _sampled(capsys, plan={"plan": "isolated", "limit": 0.05, "risk": 0.125, "accept": 0}, drawn=3)
    assert "a lot with more than 5% bad cores is accepted with a probability of at most 12.5%." in said
    assert "3 cores to inspect" in said


@pytest.mark.parametrize(("share", "said"), [(None, "none"), (0.0, "0.0%"), (0.3689, "36.9%"), (1.0, "100.0%")])
def test_a_share_of_bad_cores_has_one_decimal(share, said):
    assert _percent(share) == said


@pytest.mark.parametrize(("share", "said"), [(0.05, "5%"), (0.125, "12.5%"), (0.0, "0%"), (1 / 3, "33.33%")])
def test_a_setting_is_shown_as_it_was_given(share, said):
    assert _share(share) == said


def _judged(capsys, **changed):
    lot = {
        "lot": "East", "cores": 40, "n": 5, "accept": 0, "reject": 1, "inspected": 4, "failed": 1,
        "decision": "reject", "decided_early": True, "rate_low": 0.0063, "rate_high": 0.8059, "bad_low": 1, "bad_high": 31,
    } | changed  # fmt: skip
    account = {"rows in the file": 1, "passed": 3, "failed": 1, "duplicate": 0, "drawn, but not in the file": 1}
    record = {
        "programme": "Town",
        "as_of": "2026-09-30",
        "by": "crew",
        "lots": [lot],
        "account": account,
        "cautions": [],
    }
    _print_results(Judged(None, record, Path("out")))
    return " ".join(capsys.readouterr().out.split())


def test_results_give_the_decision_and_both_intervals(capsys):
    said = _judged(capsys)
    for cell in ("4 of 5", "reject early (0/1)", "crew", "1 to 31 of 40", "0.6% to 80.6%"):
        assert cell in said
    assert "Rows in the file: 1 (3 passed, 1 failed). Drawn, but not in the file: 1." in said


def test_a_district_without_results_has_no_interval(capsys):
    said = _judged(
        capsys, inspected=0, failed=0, decision="undecided", decided_early=False, rate_low=None, bad_low=None
    )
    assert "undecided (0/1)" in said
    assert "31 of 40" not in said
