"""The runs kept beside a run: found by their records, the latest of them read, and a bad one left out with a notice."""

import datetime as dt
import json
import shutil
from pathlib import Path

import pytest

from pipeline.readback.kept_runs import NO_EARLIER, find_kept_runs, read_earlier

RECORD = {
    "account": {"rows_read": 1, "flagged": 0, "pending": 1, "reinstated": 0, "unplaced": 0},
    "findings_by_severity": {"fail": 0, "check": 0, "note": 0},
    "programme": "Town",
}


def _keep(folder: Path, day: str, **changes) -> Path:
    (folder / day).mkdir(parents=True)
    (folder / day / "run.json").write_text(json.dumps(RECORD | {"as_of": day} | changes))
    return folder / day


def test_runs_come_by_date_with_their_records(tmp_path):
    for day in ("2026-10-01", "2025-12-31", "2026-09-30"):
        _keep(tmp_path, day)
    kept = find_kept_runs(tmp_path, "Town")
    assert [folder.name for folder in kept.folders] == ["2025-12-31", "2026-09-30", "2026-10-01"]
    assert [record["as_of"] for record in kept.records] == ["2025-12-31", "2026-09-30", "2026-10-01"]
    assert kept.notices == ()


def test_only_runs_before_a_date_are_earlier(tmp_path):
    for day in ("2026-09-29", "2026-09-30", "2026-10-01"):
        _keep(tmp_path, day)
    kept = find_kept_runs(tmp_path, "Town", dt.date(2026, 9, 30))
    assert [folder.name for folder in kept.folders] == ["2026-09-29"]


@pytest.mark.parametrize("name", ["2026-9-3", "2026-13-01", "2026-02-30", "notes", "2026-09-30 copy", "٢٠٢٦-٠٩-٣٠"])
def test_what_is_not_named_by_a_date_is_no_run(tmp_path, name):
    _keep(tmp_path, name)
    (tmp_path / "2026-09-01").write_text("a file")
    assert find_kept_runs(tmp_path, "Town").folders == ()
    assert find_kept_runs(tmp_path, "Town").notices == ()


def test_a_folder_that_is_not_there_has_no_runs(tmp_path):
    assert find_kept_runs(tmp_path / "nowhere", "Town").folders == ()
    assert read_earlier(tmp_path / "nowhere", "Town", dt.date(2026, 9, 30)) == NO_EARLIER


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (None, "run.json cannot be read (No such file or directory)"),
        ("{", "run.json is incomplete or damaged"),
        ("[" * 100_000, "run.json is incomplete or damaged"),
        ("{}", "run.json lacks entries that an audit writes"),
        ("[]", "run.json lacks entries that an audit writes"),
        (json.dumps(RECORD), "run.json lacks entries that an audit writes"),
        (json.dumps(RECORD | {"as_of": "2026-09-29"}), "run.json has another date than its folder"),
        (json.dumps(RECORD | {"as_of": "2026-09-30", "programme": 7}), "run.json has another date than its folder"),
        (
            json.dumps(RECORD | {"as_of": "2026-09-30", "account": RECORD["account"] | {"pending": "1"}}),
            "a count that is not a number",
        ),
    ],
)
def test_a_run_without_a_usable_record_is_left_out_with_the_reason(tmp_path, text, reason):
    (tmp_path / "2026-09-30").mkdir()
    if text is not None:
        (tmp_path / "2026-09-30" / "run.json").write_text(text)
    kept = find_kept_runs(tmp_path, "Town")
    assert kept.folders == ()
    (notice,) = kept.notices
    assert notice.startswith("Folder 2026-09-30 is not in the history: ")
    assert reason in notice
    # no path of this machine
    assert str(tmp_path) not in notice


def test_a_run_of_another_programme_is_left_out_by_its_name(tmp_path):
    _keep(tmp_path, "2026-09-30", programme="Other " + "x" * 500)
    (notice,) = find_kept_runs(tmp_path, "Town").notices
    assert notice.startswith("The run of 2026-09-30 is not in the history: it is of another programme, 'Other xxx")
    assert len(notice) < 200


def _copy(run_folder, folder, day):
    """The small town's run as if it had been made on another day."""
    target = Path(shutil.copytree(run_folder, folder / day, ignore=shutil.ignore_patterns("handover*", "*.html")))
    record = json.loads((target / "run.json").read_text())
    (target / "run.json").write_text(json.dumps(record | {"as_of": day}))
    return target


def test_the_latest_earlier_run_is_read_with_the_records_of_all(run_folder, tmp_path):
    for day in ("2026-07-31", "2026-08-31"):
        _copy(run_folder, tmp_path, day)
    earlier = read_earlier(tmp_path, "Quay 2026", dt.date(2026, 9, 30))
    assert earlier.run.as_of == dt.date(2026, 8, 31)
    assert len(earlier.run.cores) == 7
    assert [record["as_of"] for record in earlier.records] == ["2026-07-31", "2026-08-31"]
    assert len(earlier.sha256) == 64
    assert earlier.notices == ()


def test_a_run_that_cannot_be_read_gives_way_to_the_one_before_it(run_folder, tmp_path):
    for day in ("2026-07-31", "2026-08-31"):
        _copy(run_folder, tmp_path, day)
    (tmp_path / "2026-08-31" / "cores.parquet").write_bytes(b"no table")
    earlier = read_earlier(tmp_path, "Quay 2026", dt.date(2026, 9, 30))
    assert earlier.run.as_of == dt.date(2026, 7, 31)
    assert [record["as_of"] for record in earlier.records] == ["2026-07-31"]
    (notice,) = earlier.notices
    assert notice.startswith("The run of 2026-08-31 is not in the history: cores.parquet: cannot be used")
    assert str(tmp_path) not in notice


def test_with_no_run_left_there_is_no_history_but_its_notices(run_folder, tmp_path):
    _copy(run_folder, tmp_path, "2026-08-31")
    (tmp_path / "2026-08-31" / "cores.csv").unlink()
    earlier = read_earlier(tmp_path, "Quay 2026", dt.date(2026, 9, 30))
    assert (earlier.run, earlier.sha256, earlier.records) == (None, "", ())
    assert earlier.notices == ("The run of 2026-08-31 is not in the history: cores.csv: No such file or directory.",)
