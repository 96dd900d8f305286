"""``kerfbook rules``: the rule book on the screen and as CSV."""

import csv
import io
import json

import pytest
from click.testing import CliRunner

from pipeline.audit.registry import RULES
from pipeline.cli import commands
from pipeline.contracts import SEVERITIES, URGENCIES

_PROGRAMME = """
[programme]
name = "Test"
[cores]
path = "cores.csv"
[roads]
path = "roads.gpkg"
[[thresholds.where]]
road_authority = "Vale County"
source = "its permits"
rules.flush-out-of-tolerance.max_step = "3 mm"
[catalogue.rules.open-too-long]
max_open = "1 day"
"""


def _run(*arguments):
    return CliRunner().invoke(commands, ["rules", *map(str, arguments)], env={"COLUMNS": "160"})


@pytest.fixture(scope="module")
def programme(tmp_path_factory):
    path = tmp_path_factory.mktemp("programme") / "programme.toml"
    path.write_text(_PROGRAMME)
    return path


def test_the_shipped_rules_are_listed_with_limits_and_sources():
    done = _run()
    assert done.exit_code == 0
    assert all(slug in done.output for slug in RULES)
    assert "Limits: max open 30 days." in done.output
    assert "Limits set by the programme" not in done.output
    assert "Found" not in done.output


def test_one_rule_says_what_it_needs_and_which_cores_it_applies_to():
    done = _run("--rule", "flush-out-of-tolerance")
    assert "Needs: flush_mm. Applies to: reinstated cores." in done.output
    assert "open-too-long" not in done.output
    assert "Needs: no data. Applies to: all cores." in _run("--rule", "id-missing").output


def test_one_rule_shows_the_source_of_each_of_its_limits():
    words = " ".join(_run("--rule", "depression-with-step").output.split())
    assert "max step 3 mm, everywhere (shipped; our default: smaller steps do not count)" in words
    assert "(shipped; our default: four fifths of the limit for a depression alone)" in words


def test_a_rule_that_does_not_exist_is_a_wrong_command_line():
    done = _run("--rule", "no-such")
    assert done.exit_code == 2
    assert "--rule: no rule is called 'no-such'. `kerfbook rules` lists them." in done.output


def test_a_programme_shows_its_own_limits_and_where_they_apply(programme):
    done = _run(programme)
    assert "Limits: max open 1 day." in done.output
    assert "Limits set by the programme or its code of practice:" in done.output
    said = "flush-out-of-tolerance: max step 3 mm, road authority Vale County (programme; set by Test: its permits)"
    assert said in " ".join(done.output.split())


def test_csv_has_every_column_and_no_counts_of_a_run():
    rows = list(csv.DictReader(io.StringIO(_run("--csv").output)))
    assert len(rows) == len(RULES)
    assert list(rows[0]) == [
        "rule",
        "family",
        "title",
        "severity",
        "limits",
        "source",
        "needs",
        "applies_to",
        "urgency",
    ]
    assert {row["applies_to"] for row in rows} == {"all", "open", "reinstated"}


def _book(**counts):
    shown = {
        "family": "dates",
        "title": "Late.",
        "severity": "fail",
        "limits": "",
        "source": "here",
        "needs": "opened_on",
    }
    return {"rule": "open-too-long", **shown, "applies_to": "open", **counts, "urgency": "overdue"}


def test_a_run_shows_how_many_cores_each_rule_found_and_which_check_did_not_run(tmp_path):
    rules = [
        _book(found=2, assessed=1500, not_assessed=0, not_applicable=3, at_limit=40),
        {**_book(found=0, assessed=0, not_assessed=7, not_applicable=1, at_limit=0), "rule": "permit-expired"},
    ]
    (tmp_path / "run.json").write_text(json.dumps({"rules": rules, "thresholds": []}))
    done = _run(tmp_path)
    assert done.exit_code == 0
    words = " ".join(done.output.replace("│", " ").split())
    assert (
        "Found on 2 of 1,500 cores assessed; at the limit, cannot be told: 40; 0 not assessed; not applicable to 3."
        in words
    )
    assert words.count("stands for values of which some breach the limit") == 1
    assert done.output.count("Check not run:") == 1


def test_the_most_urgent_rules_are_listed_first_and_each_has_its_urgency():
    rows = list(csv.DictReader(io.StringIO(_run("--csv").output)))
    ranks = [(URGENCIES.index(row["urgency"]), SEVERITIES.index(row["severity"]), row["rule"]) for row in rows]
    assert ranks == sorted(ranks)
    assert rows[0]["rule"] == "flush-out-of-tolerance"
    shown = _run("--rule", "open-too-long").output
    assert "Urgency" in shown
    assert "overdue" in shown


@pytest.mark.parametrize("record", [None, "{", "{}", '{"rules": [{"rule": "open-too-long"}], "thresholds": []}'])
def test_a_folder_that_holds_no_run_of_this_version_is_refused(tmp_path, record):
    if record is not None:
        (tmp_path / "run.json").write_text(record)
    error = _run(tmp_path).exception
    assert "no run of this version was found there" in str(error)
    assert "Give the folder of a run, such as outputs/harbour-vale-2026/2026-09-30" in str(error)
