"""Tests of the audit as JUnit XML."""

import dataclasses
from xml.etree import ElementTree as ET

import pandas as pd
import pytest

from pipeline.contracts import NO_DISTRICT
from pipeline.errors import OutputError, SettingsError
from pipeline.publish.junit import junit_xml, refuse_junit_place, write_junit


@pytest.fixture(scope="module")
def written(demo):
    return junit_xml(demo)


@pytest.fixture(scope="module")
def suites(written):
    return ET.fromstring(written)


def _case(suites, rule, district):
    return suites.find(f"testsuite[@name='{rule}']/testcase[@name='{district}']")


def test_there_is_a_suite_for_each_rule_and_a_case_for_each_district(demo, suites):
    assert [suite.get("name") for suite in suites] == demo.audit.rules["rule"].tolist()
    districts = sorted({*demo.counted_cores["district"].dropna(), NO_DISTRICT})
    for suite in suites:
        assert [case.get("name") for case in suite] == sorted(districts)
        assert {case.get("classname") for case in suite} == {suite.get("name")}


def test_failures_are_the_counted_cores_with_findings_of_severity_fail(demo, suites):
    found = demo.counted_findings.query("severity == 'fail'")
    district = demo.cores.set_index("row")["district"].reindex(found["row"]).fillna(NO_DISTRICT).to_numpy()
    wanted = found.assign(district=district, core_id=found["core_id"].fillna("row " + found["row"].astype("str")))
    listed = {
        (case.get("classname"), case.get("name")): case.find("failure").text.split(", ")
        for case in suites.iter("testcase")
        if case.find("failure") is not None
    }
    assert listed == wanted.groupby(["rule", "district"])["core_id"].agg(list).to_dict()
    assert len(listed) > 10


def test_each_suite_states_its_numbers_and_all_of_them_add_up(suites):
    for element in (suites, *suites):
        for name, tag in (("tests", "testcase"), ("failures", "failure"), ("skipped", "skipped")):
            assert int(element.get(name)) == len([*element.iter(tag)])
        assert element.get("errors") == "0"
        assert element.get("timestamp") is element.get("time") is None
    # the elements of a case, in the order of the common schema
    kinds = {tuple(child.tag for child in case) for case in suites.iter("testcase")}
    assert kinds <= {
        (),
        ("skipped",),
        ("failure",),
        ("system-out",),
        ("skipped", "system-out"),
        ("failure", "system-out"),
    }


def test_a_rule_without_data_is_skipped_and_says_so(demo, suites):
    (rule, *_) = demo.audit.rules.query("assessed == 0 and not_assessed > 0")["rule"].tolist() or [None]
    if rule is None:
        rules = demo.audit.rules.assign(rule="x")
        assert not rules.empty
        pytest.skip("the demo has data for every rule")
    messages = [skipped.get("message") for skipped in suites.find(f"testsuite[@name='{rule}']").iter("skipped")]
    assert any(message.startswith("Not assessed: ") for message in messages)


def _with(result, **columns):
    """The run with its first failure changed."""
    findings = result.audit.findings.copy()
    at = result.counted_findings.index[result.counted_findings["severity"].eq("fail")][0]
    for name, cell in columns.items():
        findings.loc[at, name] = cell
    changed = dataclasses.replace(result, audit=dataclasses.replace(result.audit, findings=findings))
    line = findings.loc[at]
    district = result.cores.set_index("row")["district"].get(line["row"])
    return changed, line["rule"], NO_DISTRICT if pd.isna(district) else district


def test_an_accepted_failure_passes_and_is_listed_as_accepted(demo, suites):
    changed, rule, district = _with(demo, decision="accept", decision_standing="holds")
    before, after = (_case(one, rule, district) for one in (suites, ET.fromstring(junit_xml(changed))))
    ids = [[] if case.find("failure") is None else case.find("failure").text.split(", ") for case in (before, after)]
    assert len(ids[0]) == len(ids[1]) + 1
    assert "Accepted: 1 core: " in after.find("system-out").text


@pytest.mark.parametrize("standing", ["expired", "evidence changed"])
def test_a_decision_that_does_not_hold_accepts_nothing(demo, written, standing):
    changed, *_ = _with(demo, decision="accept", decision_standing=standing)
    assert junit_xml(changed) == written


def test_whatever_an_id_holds_the_file_can_be_read_and_shows_it_without_control_characters(demo):
    changed, rule, district = _with(demo, core_id='a<b>&"]]>\x00\x1b[31m\x0b\ufffe😀')
    case = _case(ET.fromstring(junit_xml(changed)), rule, district)
    assert 'a<b>&"]]>[31m😀' in case.find("failure").text


def test_the_same_run_gives_the_same_file(demo, written, tmp_path):
    file = tmp_path / "new" / "audit.xml"
    for _ in range(2):
        write_junit(demo, file)
        assert file.read_bytes() == written
    assert [one.name for one in file.parent.iterdir()] == ["audit.xml"]


def test_a_runs_folder_stays_unchanged(demo):
    with pytest.raises(OutputError, match="is in a run's folder"):
        write_junit(demo, demo.folder / "audit.xml")
    with pytest.raises(OutputError, match="is in a run's folder"):
        write_junit(demo, demo.folder / "handover" / "audit.xml")


def test_a_folder_is_no_file(demo, tmp_path):
    with pytest.raises(OutputError, match="is a folder, expected the name of a file"):
        write_junit(demo, tmp_path)


def test_no_input_is_overwritten_by_a_slip(tmp_path):
    for name in ("programme.toml", "cores.csv", "audit"):
        with pytest.raises(SettingsError, match=r"expected a file that ends in \.xml"):
            refuse_junit_place(tmp_path / name)
    refuse_junit_place(tmp_path / "AUDIT.XML")


def test_a_place_that_cannot_be_written_to_names_its_own_option(demo, tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(OutputError, match=r"cannot be written .* Choose another folder with --junit\."):
        write_junit(demo, tmp_path / "file" / "audit.xml")
