"""What became of every decision, as tables and notices."""

import pandas as pd
import pytest

from pipeline.contracts import names_of
from pipeline.contracts.decisions import CORRECTION_TABLE, DECISION_REPORT
from pipeline.decide import decide
from pipeline.decide.reporting import problem_notices
from tests.decide.frames import CORES, FINDINGS, URGENCIES, corrected, entries, entry


def _decide(*rows, cells=()):
    return decide(FINDINGS, CORES, entries(*rows), corrected(*cells), URGENCIES)


def test_every_entry_has_one_row_of_the_report_with_its_dates_as_they_were_read_or_written():
    bad = entry(fingerprint="F3", evidence_mark="day 1", standing="expired", problem="until is no date")
    rows = entries(bad, entry(rule="position-rounded", register="works"))
    rows.loc[0, "until_text"] = "end of term"
    report = decide(FINDINGS, CORES, rows, corrected(), URGENCIES).report
    assert tuple(report.columns) == names_of(DECISION_REPORT)
    assert report["line"].tolist() == [2, 3]
    assert report["until"].fillna("").tolist() == ["end of term", ""]
    assert report["findings"].tolist() == [1, 2]
    assert report["problem"].fillna("").tolist() == ["until is no date", ""]


def test_the_table_of_corrections_has_the_original_beside_the_corrected_cell_and_who_and_why():
    fix = entry(decision="correct", core_id="HV 2", column="cut", value="2026-02-01", until="2026-12-31")
    late = entry(decision="correct", core_id="HV 1", column="cut", value="x", standing="expired")
    table = _decide(
        fix, late, cells=[
            (0, 2, "HV 2", "works", "cut", "2026-01-01", "2026-02-01", "holds"),
            (1, 1, "HV 1", "works", "cut", "2026-01-05", "x", "expired"),
        ],
    ).corrections  # fmt: skip
    assert tuple(table.columns) == names_of(CORRECTION_TABLE)
    assert table.drop(columns=["until"]).to_numpy().tolist() == [
        [1, "HV 1", "works", "cut", "2026-01-05", "x", "J. Okafor", "seen on site", "2026-09-01", "expired", "decisions.csv", 3],
        [2, "HV 2", "works", "cut", "2026-01-01", "2026-02-01", "J. Okafor", "seen on site", "2026-09-01", "holds", "decisions.csv", 2],
    ]  # fmt: skip


def test_equal_problems_make_one_notice_that_names_the_first_lines():
    report = _decide(*[entry(fingerprint=f"X{n}") for n in range(7)]).report
    assert problem_notices(report) == [
        (
            "decisions.csv, 7 entries (lines 2, 3, 4, 5, 6 and 2 more): match no finding and no cell of a register; "
            "delete them, or correct what they name."
        )
    ]


@pytest.mark.parametrize(
    ("standing", "one", "several"),
    [
        ("expired", "has expired; decide again, or delete it.", "have expired; decide again, or delete them."),
        ("superseded", "is superseded by another decision", "are superseded by other decisions"),
        ("evidence changed", "no longer holds because its evidence", "no longer hold because their evidence"),
        ("matches nothing", "matches no finding", "match no finding"),
    ],
)
def test_what_is_said_agrees_with_the_number_of_entries(standing, one, several):
    rows = {"file": "decisions.csv", "problem": pd.NA, "standing": standing}
    report = pd.DataFrame([rows | {"line": line} for line in (2, 3)])
    assert problem_notices(report.head(1))[0].startswith(f"decisions.csv, line 2: {one}")
    assert problem_notices(report)[0].startswith(f"decisions.csv, 2 entries (lines 2, 3): {several}")


def test_many_kinds_of_problems_and_long_cells_do_not_flood_the_notices():
    report = _decide(*[entry(rule=f"rule {n} " + "x" * 40_000, fingerprint=None) for n in range(30)]).report
    notices = problem_notices(report)
    assert len(notices) == 21
    assert max(map(len, notices)) < 250
    assert notices[0].startswith('decisions.csv, line 2: no rule is called "rule 0 xxx')
    assert notices[0].endswith('…"; `kerfbook rules` lists them.')
    assert notices[-1] == "decisions.csv: 10 more entries to correct; decisions_report.csv lists them."
