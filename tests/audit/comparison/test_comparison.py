"""Groups compared from cores and outcomes to the table of rates."""

import numpy as np
import pytest

from pipeline.audit.comparison import COMPARED, compare_groups
from pipeline.audit.outcomes import FOUND, NOT_ASSESSED, PASSED
from pipeline.contracts import AUDIT_TABLES, check_tables
from tests.audit.comparison.worlds import AS_OF, cores_of, outcomes_of, rule_book

_DAYS = [f"2026-06-{day:02}" for day in range(1, 31)]


def _two_crews(first, second, **columns):
    cores = cores_of(
        crew=["A"] * len(first) + ["B"] * len(second),
        **{"reinstated_at": [_DAYS[at % 30] for at in range(len(first) + len(second))], **columns},
    )
    outcomes = outcomes_of(grout_short=[*first, *second])
    return compare_groups(cores, outcomes, rule_book(["grout-short"]), AS_OF)


def _of_crews(rates, measure="grout-short"):
    return rates[rates["by"].eq("crew") & rates["measure"].eq(measure)].set_index("group")


def test_the_table_holds_to_its_contract_with_and_without_groups():
    full = _two_crews([FOUND] * 30 + [PASSED] * 30, [PASSED] * 60)
    empty = _two_crews([], [])
    check_tables({"rates": full}, {"rates": AUDIT_TABLES["rates"]}, "audit")
    check_tables({"rates": empty}, {"rates": AUDIT_TABLES["rates"]}, "audit")
    assert empty.empty


def test_workmanship_of_one_rule_is_that_rule():
    rates = _two_crews([FOUND] * 30 + [PASSED] * 30, [FOUND] * 3 + [PASSED] * 57)
    columns = ["cores", "checks", "with_findings", "rate", "p", "differs"]
    assert _of_crews(rates)[columns].equals(_of_crews(rates, "workmanship")[columns])
    assert _of_crews(rates)["differs"].tolist() == ["more", "less"]


def test_an_odds_ratio_is_given_where_a_difference_is_at_issue():
    """30 x 57 / (30 x 3) = 19."""
    rows = _of_crews(_two_crews([FOUND] * 30 + [PASSED] * 30, [FOUND] * 3 + [PASSED] * 57))
    assert rows["odds_ratio"].tolist() == pytest.approx([19, 1 / 19])
    assert _of_crews(_two_crews([FOUND] * 5 + [PASSED] * 55, [FOUND] * 3 + [PASSED] * 57))["odds_ratio"].isna().all()


def test_where_few_cores_are_alike_a_model_adjusts():
    """Of eight surfaces each belongs to one crew, but for two cores of the other on two of them; A is worse throughout."""
    surfaces = [f"S{at % 4}" for at in range(118)] + ["S4"] * 2 + [f"S{4 + at % 4}" for at in range(118)] + ["S0"] * 2
    first, second = [FOUND, PASSED] * 60, ([FOUND] + [PASSED] * 11) * 10
    rows = _of_crews(_two_crews(first, second, surface=surfaces))
    assert rows["alike_share"].max() < 0.5
    assert set(rows["adjusted_by"]) <= {"model", "none"}


def test_where_no_core_is_alike_nothing_holds():
    """Each crew has a surface of its own: what is the crew's and what the surface's, nobody can tell."""
    rows = _of_crews(
        _two_crews([FOUND] * 30 + [PASSED] * 30, [PASSED] * 60, surface=["asphalt"] * 60 + ["concrete"] * 60)
    )
    assert rows["differs"].tolist() == ["raw only", "raw only"]
    assert rows["adjusted_by"].tolist() == ["none", "none"]


def test_three_contractors_of_the_same_work_of_whom_one_records_less_do_not_differ():
    """The third records neither water nor temperature; by each rule that it does record it does as the others do."""
    rng = np.random.default_rng(1)
    register = np.repeat(["north", "south", "east"], 600)
    rules = {
        "water-ratio-off": 0.3,
        "air-temperature-outside": 0.2,
        "bedding-off": 0.02,
        "flush-out-of-tolerance": 0.02,
    }
    cores = cores_of(
        register=register,
        crew=np.char.add("Crew ", register),
        reinstated_at=[f"2026-{month:02}-{day:02}" for month in (6, 7, 8) for day in range(1, 21) for _ in range(10)]
        * 3,
    )
    codes = {slug: np.where(rng.random(1800) < rate, FOUND, PASSED) for slug, rate in rules.items()}
    for slug in ("water-ratio-off", "air-temperature-outside"):
        codes[slug] = np.where(register == "east", NOT_ASSESSED, codes[slug])
    rates = compare_groups(cores, outcomes_of(**codes), rule_book(list(rules)), AS_OF)
    assert not set(rates["differs"]) & {"more", "less", "raw only", "adjusted only"}
    east = rates[rates["by"].eq("contractor") & rates["group"].eq("east")].set_index("measure")
    assert east.loc["water-ratio-off", "differs"] == "not recorded"
    # findings among all cores would make it a seventh of the others: 0.04 of 0.54
    north = rates[rates["by"].eq("contractor") & rates["group"].eq("north")].set_index("measure").loc["workmanship"]
    assert east.loc["workmanship", "with_findings"] < north["with_findings"] / 5


def test_a_core_in_two_rows_is_counted_once():
    copies = [False] * 60 + [False] * 30 + [True] * 30
    rates = _two_crews([FOUND] * 30 + [PASSED] * 30, [FOUND] * 30 + [FOUND] * 30, is_copy=copies)
    assert _of_crews(rates)["cores"].to_dict() == {"A": 60, "B": 30}


def test_the_order_of_rows_changes_nothing():
    cores = cores_of(crew=["A", "B", "C"] * 40, reinstated_at=[_DAYS[at % 30] for at in range(120)])
    outcomes = outcomes_of(grout_short=[FOUND, PASSED, PASSED, FOUND, FOUND, PASSED] * 20)
    mixed = np.random.default_rng(2).permutation(120)
    rules = rule_book(["grout-short"])
    one, other = (
        compare_groups(cores.iloc[order], outcomes.iloc[order], rules, AS_OF) for order in (slice(None), mixed)
    )
    assert one.round(9).equals(other.round(9))


def test_what_is_compared_is_told_by_kind_of_group():
    cores = cores_of(crew=["A"] * 60 + ["B"] * 60, reinstated_at=[_DAYS[at % 30] for at in range(120)])
    outcomes, told = outcomes_of(grout_short=[FOUND] * 30 + [PASSED] * 90), []
    compare_groups(cores, outcomes, rule_book(["grout-short"]), AS_OF, told=lambda *update: told.append(update))
    total = len(COMPARED)
    begun = [("groups compared", done, total, "comparisons") for done in range(total)]
    assert told == [begun[0], *begun, ("differences between groups",)]
