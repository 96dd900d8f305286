"""The record of a run: its account balances, its identity follows its results, and no path is in it."""

import hashlib
import json

import pytest

from pipeline.publish.record import COST_KEYS, as_json, record, run_id


@pytest.fixture(scope="module")
def entries(demo):
    return record(demo, demo.costs, "programme.toml", "0" * 64)


def test_the_keys_are_stable_for_the_programs_that_read_them(entries):
    assert list(entries) == [
        "programme", "as_of", "programme_file", "inputs", "crs", "settings", "days_off", "units_of_bare_numbers",
        "catalogue_overridden", "account", "cores_by_state", "findings_by_severity", "findings_by_urgency", "rows_of_findings", "rules", "thresholds", "setting_sources", "plan",
        "orders", "returned_fields", "corrected_cells", "compared_with", "findings_followed", "notices", "not_asked_for", "sources", "versions", "stages",
    ]  # fmt: skip


def test_every_row_is_in_exactly_one_outcome(entries):
    account = entries["account"]
    assert account["cores"] == account["flagged"] + account["reinstated"] + account["pending"]
    assert account["cores"] == account["placed"] + account["unplaced"]
    assert account["rows_read"] == account["cores"] + account["copies"]
    assert account["rows_in_file"] == account["rows_read"] + account["left_out_by_where"] + account["set_aside"]


def test_counts_are_those_of_the_tables(entries, demo):
    copies = demo.cores.loc[demo.cores["is_copy"], "row"]
    of_copies = demo.audit.findings["row"].isin(copies).sum()
    assert of_copies == len(copies) == 2
    assert sum(entries["findings_by_severity"].values()) == len(demo.audit.findings) - of_copies
    assert sum(entries["findings_by_urgency"].values()) == sum(entries["findings_by_severity"].values())
    # the demo plants two uncovered holes, four that are open too long, four steps and dips, and a cavity
    assert entries["findings_by_urgency"]["hazard"] == 2 + 4 + 3 + 1 + 1 + 1
    assert entries["rows_of_findings"] == len(demo.audit.findings)
    assert len(entries["rules"]) == len(demo.audit.rules)
    states = entries["cores_by_state"]
    assert list(states) == ["open", "plated", "interim", "back", "unknown"]
    assert sum(states.values()) == entries["account"]["cores"]
    # "done" and a 31st of September
    assert states["unknown"] == 2
    orders = entries["orders"]
    open_cores = demo.counted_cores["is_open"].sum()
    assert orders["cores_served"] + orders["cores_left_out"] == open_cores
    assert sum(orders["left_out"].values()) == orders["cores_left_out"]


def test_inputs_have_their_checksums_and_no_path_of_this_machine_is_named(entries, demo):
    assert all(len(file["sha256"]) == 64 for file in entries["inputs"])
    text = as_json(entries)
    assert "/tmp" not in text
    assert str(demo.folder) not in text


def test_every_stage_is_there_with_its_seconds(entries):
    assert [cost["stage"] for cost in entries["stages"]] == [
        "intake", "locate", "specify", "calibrate", "quantify", "audit", "plan", "order", "publish",
    ]  # fmt: skip
    assert all(cost["seconds"] >= 0 for cost in entries["stages"])


def test_the_identity_follows_inputs_and_results_and_neither_times_nor_versions(entries, tmp_path):
    (tmp_path / "a.csv").write_text("1")
    identity = run_id(entries, [tmp_path / "a.csv"])
    assert len(identity) == 64
    for key in COST_KEYS:
        assert run_id(entries | {key: "other"}, [tmp_path / "a.csv"]) == identity
    assert run_id(entries | {"as_of": "2026-10-01"}, [tmp_path / "a.csv"]) != identity
    (tmp_path / "a.csv").write_text("2")
    assert run_id(entries, [tmp_path / "a.csv"]) != identity


def test_an_identity_can_be_worked_out_by_hand(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"x")
    text = '{\n  "a": "ü"\n}\n'
    inner = hashlib.sha256(b"x").digest()
    assert run_id({"a": "ü", "stages": []}, [tmp_path / "a.csv"]) == hashlib.sha256(text.encode() + inner).hexdigest()


def test_json_is_for_people_too_and_holds_no_number_that_is_none():
    assert as_json({"b": 1, "a": "ü"}) == '{\n  "b": 1,\n  "a": "ü"\n}\n'
    with pytest.raises(ValueError, match="Out of range float"):
        as_json({"a": float("nan")})
    assert json.loads(as_json({"a": None})) == {"a": None}
