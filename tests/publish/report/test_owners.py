"""Tests of the report's table of who has to act."""

import dataclasses

import pytest

from pipeline.programme.owners import Owner
from pipeline.publish.report.owners import owner_counts, owners
from pipeline.publish.words import words_of


@pytest.fixture
def owned(demo):
    """The demo with two owners: hazards and failures of all other kinds."""
    findings = demo.audit.findings
    owner = findings["severity"].map({"fail": "Yard"}).mask(findings["urgency"].eq("hazard"), "Safety <b>")
    settings = demo.settings.model_copy(update={"owners": [Owner(name="Safety <b>"), Owner(name="Yard")]})
    audit = dataclasses.replace(demo.audit, findings=findings.assign(owner=owner))
    return dataclasses.replace(demo, settings=settings, audit=audit)


def test_every_failure_and_check_that_nobody_accepted_is_counted_for_one_owner(demo, owned):
    table = owner_counts(owned).set_index("owner")
    assert table.index.tolist() == ["Safety <b>", "Yard", ""]
    to_act_on = demo.counted_findings.query("severity != 'note'")
    assert table[["hazard", "overdue", "quality", "record"]].sum().to_dict() == {
        urgency: int(to_act_on["urgency"].eq(urgency).sum()) for urgency in ("hazard", "overdue", "quality", "record")
    }
    assert table.loc["Safety <b>", "hazard"] == to_act_on["urgency"].eq("hazard").sum()
    assert table.loc["Safety <b>", "cores"] == to_act_on.loc[to_act_on["urgency"].eq("hazard"), "row"].nunique()
    assert table["accepted"].sum() == 0


def test_accepted_findings_are_left_out_and_counted(owned):
    findings = owned.audit.findings.assign(decision="accept", decision_standing="holds")
    table = owner_counts(dataclasses.replace(owned, audit=dataclasses.replace(owned.audit, findings=findings)))
    assert table[["cores", "hazard", "overdue", "quality", "record", "new"]].sum().sum() == 0
    assert table["accepted"].sum() == len(owned.counted_findings.query("severity != 'note'"))


def test_the_table_names_the_file_of_each_owner_and_escapes_its_name(owned):
    rows = owners(owned, words_of("en"))["owned"]["rows"]
    assert [row["file"] for row in rows] == ["owners/safety-b.csv", "owners/yard.csv", ""]
    assert "Safety &lt;b&gt;" in str(rows[0]["owner"])


def test_without_owners_there_is_no_table(demo):
    assert owners(demo, words_of("en")) == {"owned": None}
