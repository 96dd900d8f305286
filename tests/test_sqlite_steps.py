import signal
import sqlite3
from contextlib import closing, contextmanager

import pytest

from pipeline.errors import InputError
from pipeline.intake.files.databases import refuse_endless_views
from pipeline.readback.pack_package import open_package
from pipeline.sqlite_steps import Steps

_LONG = "WITH RECURSIVE r(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM r) SELECT max(n) AS most FROM r"


@contextmanager
def _stopped_meanwhile():
    before = signal.signal(signal.SIGALRM, signal.default_int_handler)
    was_stopped = False
    try:
        signal.setitimer(signal.ITIMER_REAL, 0.2)
        yield
    except KeyboardInterrupt:
        was_stopped = True
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
    assert was_stopped


def _package(folder):
    file = folder / "a.gpkg"
    with closing(sqlite3.connect(file)) as database:
        database.execute(f"CREATE VIEW v AS {_LONG}")
        database.commit()
    return file


def test_a_statement_of_too_many_steps_ends_and_another_error_is_told_apart():
    with closing(sqlite3.connect(":memory:")) as database:
        steps = Steps(database, 100)
        with pytest.raises(sqlite3.OperationalError) as endless:
            database.execute(_LONG).fetchall()
        assert steps.were_too_many(endless.value)
        with pytest.raises(sqlite3.OperationalError) as wrong:
            database.execute("SELECT nothing FROM nowhere")
        assert not steps.were_too_many(wrong.value)


def test_a_stop_while_a_package_of_a_pack_is_read_is_a_stop(tmp_path):
    file = _package(tmp_path)
    with _stopped_meanwhile(), open_package(file) as database:
        database.execute("SELECT * FROM v").fetchall()


def test_a_stop_while_the_views_of_a_layer_are_tried_is_a_stop(tmp_path):
    file = _package(tmp_path)
    with _stopped_meanwhile():
        refuse_endless_views(file, "a.gpkg")


def test_a_package_of_a_pack_that_never_ends_is_refused_in_words(tmp_path, monkeypatch):
    monkeypatch.setattr("pipeline.readback.pack_package._MOST_THOUSANDS", 300)
    with (
        pytest.raises(InputError, match=r"a\.gpkg: takes more steps to read than any pack does\. Ask the sender"),
        open_package(_package(tmp_path)) as database,
    ):
        database.execute("SELECT * FROM v").fetchall()
