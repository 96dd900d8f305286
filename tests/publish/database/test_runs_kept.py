"""Several runs in one database: which is the latest, what a run made again replaces, and who writes when."""

import datetime as dt
import json
import threading
from dataclasses import replace

import pytest

from pipeline.clock import silent
from pipeline.errors import OutputError
from pipeline.programme.outputs import Publish
from pipeline.publish import publish
from pipeline.publish.folder import same_but_for
from tests.publish.database.runs import TABLES, Updates, counts, frame, keep

_LATER = dt.date(2026, 10, 31)


def _same_rows(one, other):
    return one.astype(str).to_numpy().tolist() == other.astype(str).to_numpy().tolist()


def test_the_latest_run_of_each_programme_is_seen_through_the_views(database, small_town, tmp_path):
    for name, day in (("Quay 2026", _LATER), ("Quay 2026", None), ("Bay", None)):
        keep(database, small_town, tmp_path, name=name, as_of=day)
    assert counts(database)["cores"] == 3 * 7
    latest = frame(database, "runs_latest", "programme")
    assert latest[["programme", "as_of"]].to_numpy().tolist() == [["Bay", dt.date(2026, 9, 30)], ["Quay 2026", _LATER]]
    for name in ("cores", "findings", "orders", "plan"):
        seen = frame(database, f"{name}_latest")
        assert set(seen["run"]) <= {*latest["run"]}
        of_latest = frame(database, name)[lambda rows: rows["run"].isin(latest["run"])]
        assert len(seen) == len(of_latest) > 0
        assert _same_rows(seen[[*of_latest]], of_latest.reset_index(drop=True))
    assert frame(database, "cores_latest")["id"].is_unique


def test_a_run_made_again_replaces_its_rows_and_keeps_its_number(database, small_town, tmp_path):
    keep(database, small_town, tmp_path, name="Bay")
    keep(database, small_town, tmp_path)
    before = {name: frame(database, name) for name in TABLES[:-1]}
    database.run("UPDATE kerfbook.cores SET status = 'by hand'", "DELETE FROM kerfbook.findings")
    keep(database, small_town, tmp_path)
    others = frame(database, "cores")[lambda rows: rows["run"].eq(1)]
    assert set(others["status"]) == {"by hand"}
    for name, rows in before.items():
        assert _same_rows(frame(database, name)[lambda now: now["run"].eq(2)], rows[rows["run"].eq(2)]), name
    assert frame(database, "runs", "run")["run"].tolist() == [1, 2]


def test_a_run_whose_folder_was_left_untouched_has_the_record_that_is_there(database, small_town, tmp_path):
    folder = keep(database, small_town, tmp_path)
    record = folder / "run.json"
    record.write_text(json.dumps(json.loads(record.read_text()) | {"stages": ["of the run before"]}))
    keep(database, small_town, tmp_path)
    assert json.loads(record.read_text())["stages"] == ["of the run before"]
    assert database.rows("SELECT record FROM kerfbook.runs") == [(json.loads(record.read_text()),)]


def test_a_run_that_is_deleted_takes_its_rows_with_it(database, small_town, tmp_path):
    for name in ("Quay 2026", "Bay"):
        keep(database, small_town, tmp_path, name=name)
    both = counts(database)
    database.run("DELETE FROM kerfbook.runs WHERE programme = 'Bay'")
    assert counts(database) == {name: count // 2 for name, count in both.items()}


def test_a_run_is_seen_whole_or_not_at_all(database, small_town, tmp_path):
    seen = []
    keep(database, small_town, tmp_path, Updates(lambda: seen.append(counts(database))))
    keep(database, small_town, tmp_path, Updates(lambda: seen.append(counts(database))), as_of=_LATER)
    assert seen[0] == {}
    assert seen[1] == {name: count // 2 for name, count in counts(database).items()}


@pytest.mark.parametrize("first", ["the first ever", "one of several"])
def test_two_programmes_that_are_written_at_once_wait_for_each_other(database, small_town, tmp_path, first):
    if first == "one of several":
        keep(database, small_town, tmp_path, name="Old")
    failures, second = [], []

    def write(name, told):
        try:
            keep(database, small_town, tmp_path / name, told, name=name)
        except Exception as error:  # noqa: BLE001 - of a thread, seen by the test
            failures.append(error)

    def start_another():
        second.append(threading.Thread(target=write, args=("Bay", Updates(lambda: None))))
        second[0].start()
        for _ in range(200):
            waiting = database.rows("SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND NOT granted")
            if waiting == [(1,)]:
                return
            threading.Event().wait(0.05)
        failures.append("the second did not wait")

    write("Quay", Updates(start_another))
    second[0].join(60)
    assert failures == []
    assert {*frame(database, "runs", "run")["programme"]} - {"Old"} == {"Quay", "Bay"}


def test_a_programme_of_another_name_is_another_run_whatever_its_folder_is_called(database, small_town, tmp_path):
    for number, name in enumerate(("Quay 2026", "quay-2026", "Quay  2026", "Quay' 2026")):
        keep(database, small_town, tmp_path / str(number), name=name)
    assert len(frame(database, "runs", "run")) == 4


def test_a_schema_may_have_any_name_and_two_are_two_places(database, small_town, tmp_path):
    names = ["kerfbook", 'Wat%er "mains"; x', "public"]
    for name in names:
        keep(database, small_town, tmp_path / str(len(name)), schema=name)
    assert {counts(database, name)["runs"] for name in names} == {1}


def test_a_later_run_that_fails_leaves_the_first_in_both(database, small_town, tmp_path):
    folder = keep(database, small_town, tmp_path)
    files = {file.name: file.read_bytes() for file in folder.iterdir() if file.is_file()}
    before = {name: frame(database, name, "1") for name in TABLES}
    database.run("ALTER TABLE kerfbook.plan ADD CONSTRAINT never CHECK (stop < 0) NOT VALID")
    with pytest.raises(OutputError, match=r'violates check constraint "never".*Nothing of this run was written'):
        keep(database, small_town, tmp_path, timezone="Europe/Paris")
    with pytest.raises(OutputError, match='"never"'):
        keep(database, small_town, tmp_path, as_of=_LATER)
    assert {file.name: file.read_bytes() for file in folder.iterdir() if file.is_file()} == files
    assert [entry.name for entry in folder.parent.iterdir()] == [folder.name]
    assert all(_same_rows(frame(database, name, "1"), rows) for name, rows in before.items())


def test_a_run_is_the_same_with_and_without_a_database(database, small_town, tmp_path):
    """Where else a run is kept is an entry of its record, and no part of its identity."""
    programme, result = small_town
    settings = result.settings.model_copy(update={"publish": Publish(outputs=[])})
    alone = publish(replace(result, settings=settings), programme, tmp_path / "alone", silent)
    both = keep(database, small_town, tmp_path / "both")
    records = [json.loads((folder / "run.json").read_text()) for folder in (alone, both)]
    assert "database" not in records[0]["settings"]["publish"]
    assert records[1].pop("database") == {"path": database.address, "schema": "kerfbook"}
    assert [{**record, "stages": []} for record in records[:1]] == [{**record, "stages": []} for record in records[1:]]
    assert same_but_for("run.json", both, alone)
