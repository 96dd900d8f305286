"""A core in the runs kept beside a run: found by its id in any spelling, up to that run, a bad one left out."""

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.readback.core_history import read_core_history
from pipeline.readback.runs import read_run


@pytest.fixture
def months(run_folder, tmp_path):
    """The small town's run, kept as that of three dates; in August its first core was open and written otherwise."""
    for day in ("2026-08-31", "2026-09-30", "2026-10-31"):
        folder = Path(shutil.copytree(run_folder, tmp_path / day))
        record = json.loads((folder / "run.json").read_text())
        (folder / "run.json").write_text(json.dumps(record | {"as_of": day}))
    cores = pd.read_parquet(tmp_path / "2026-08-31" / "cores.parquet")
    cores.loc[0, ["core_id", "status", "findings"]] = ["hv - 0", "flagged", "permit-expired"]
    cores.to_parquet(tmp_path / "2026-08-31" / "cores.parquet", index=False)
    return tmp_path


def test_a_core_is_followed_up_to_the_run_and_later_runs_are_named(months):
    run = read_run(months / "2026-09-30")
    history = read_core_history(run, "HV-0", [1])
    assert history.runs.to_numpy().tolist() == [
        ["2026-08-31", 1, "flagged", "permit-expired"],
        ["2026-09-30", 1, *run.cores.loc[0, ["status", "findings"]]],
    ]
    assert history.later == ["2026-10-31"]
    assert history.notices == []


def test_a_run_that_cannot_be_read_is_left_out_with_a_notice(months):
    (months / "2026-08-31" / "cores.parquet").write_bytes(b"no table")
    history = read_core_history(read_run(months / "2026-09-30"), "HV-0", [1])
    assert history.runs["as_of"].tolist() == ["2026-09-30"]
    assert history.notices == ["The run of 2026-08-31 is not in the history: cores.parquet cannot be read."]


def test_a_table_without_a_status_is_left_out_with_a_notice(months):
    file = months / "2026-08-31" / "cores.parquet"
    pd.read_parquet(file).rename(columns={"status": "gone"}).to_parquet(file)
    history = read_core_history(read_run(months / "2026-09-30"), "HV-0", [1])
    assert len(history.notices) == 1


def test_a_core_without_an_id_is_not_followed(months):
    history = read_core_history(read_run(months / "2026-09-30"), None, [1])
    assert history.runs["as_of"].tolist() == ["2026-09-30"]
