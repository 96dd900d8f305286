"""Tests of how the findings of a run are read back, of whatever version."""

import pandas as pd
import pytest

from pipeline.contracts import FINDING_COLUMNS
from pipeline.errors import InputError
from pipeline.ledger import fingerprints, fingerprints_as_written
from pipeline.readback.findings import read_findings

_OLD = '"row","core_id","rule","severity","message","evidence"\n'
_LATER = [*FINDING_COLUMNS[FINDING_COLUMNS.index("fingerprint") :]]


def _written(folder, text):
    file = folder / "findings.csv"
    file.write_text(text, encoding="utf-8")
    return file


def _print(*finding):
    return fingerprints(*(pd.Series([cell], dtype="str") for cell in finding)).item()


@pytest.mark.parametrize(
    ("rule", "evidence", "partner"),
    [
        ("off-network", "distance_m=40", ""),
        ("cores-overlap", "other_id=HV-9; apart_mm=298", "HV-9"),
        ("cores-overlap", "other_id=–; apart_mm=298", ""),
        ("cores-overlap", "apart_mm=298; other_id=HV; 9", "HV; 9"),
        ("core-in-two-registers", "other_register=north; other_register_row=7", "north"),
    ],
)
def test_of_an_older_run_the_fingerprints_are_worked_out(tmp_path, rule, evidence, partner):
    found = read_findings(_written(tmp_path, f'{_OLD}3,"HV-1","{rule}","check","Bad.","{evidence}"\n'), 1)
    assert found["fingerprint"].tolist() == [_print(rule, "HV-1", partner)]
    assert found.columns.tolist() == [*FINDING_COLUMNS]
    assert found[[name for name in _LATER if name != "fingerprint"]].isna().all(axis=None)


def test_what_a_demos_findings_say_gives_the_fingerprints_that_they_have(demo):
    found = read_findings(demo.folder / "findings.csv", len(demo.audit.findings))
    again = fingerprints_as_written(found)
    assert again.fillna("").tolist() == found["fingerprint"].fillna("").tolist()
    assert found.fillna("").astype("str").to_dict("list") == demo.audit.findings.fillna("").astype("str").to_dict(
        "list"
    )


def test_a_core_without_an_id_has_no_fingerprint(tmp_path):
    found = read_findings(_written(tmp_path, f'{_OLD}3,,"id-missing","check","Bad.",""\n'), 1)
    assert found["fingerprint"].isna().all()


def test_where_the_evidence_does_not_name_the_other_core_there_is_no_fingerprint(tmp_path):
    found = read_findings(
        _written(tmp_path, f'{_OLD}3,"HV-1","core-in-two-registers","check","Bad.","other_register_file=a.csv"\n'), 1
    )
    assert found["fingerprint"].isna().all()


def test_a_column_that_every_version_writes_must_be_there(tmp_path):
    with pytest.raises(InputError, match=r"findings.csv: cannot be used .*evidence"):
        read_findings(_written(tmp_path, '"row","core_id","rule","severity","message"\n'), 0)
