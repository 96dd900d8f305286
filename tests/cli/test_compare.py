"""What the command that compares two runs prints."""

import datetime as dt
from pathlib import Path
from types import SimpleNamespace

from pipeline.cli.compare import _print
from pipeline.history import compare
from pipeline.results import Comparison
from tests.history.sides import FLAG, run_of


def _printed(capsys, before, after, **changed):
    old = SimpleNamespace(programme="Town", as_of=dt.date(2026, 9, 30))
    new = SimpleNamespace(programme="Town [1]", as_of=dt.date(2026, 10, 31))
    parts = {"caveats": [], "records": [], "notices": [], "is_swapped": False, "folder": Path("out")} | changed
    _print(Comparison(old, new, compare(before, after), **parts))
    return " ".join(capsys.readouterr().out.split())


def test_changes_are_counted_with_what_they_mean(capsys):
    said = _printed(capsys, run_of({"core_id": "A"}), run_of({"core_id": "A"} | FLAG, {"core_id": "B"}))
    assert said.startswith("Town [1]: from 2026-09-30 to 2026-10-31")
    for cell in ("opened", "new id in the register", "newly flagged", "new finding"):
        assert cell in said
    assert "Rows: 1 matched, 0 removed, 1 added; not comparable: 0 before, 0 after." in said
    assert said.endswith("Outputs: out")


def test_without_changes_it_says_so(capsys):
    assert "Nothing has changed." in _printed(capsys, run_of({}), run_of({}))


def test_caveats_come_before_the_counts_and_notices_after_them(capsys):
    said = _printed(capsys, run_of({}), run_of({}), caveats=["Settings differ."], notices=["One run is damaged."])
    assert said.index("Read first: Settings differ.") < said.index("Rows:") < said.index("Note: One run is damaged.")


def test_swapped_runs_are_reported(capsys):
    assert "The later run was given first, so the two are swapped." in _printed(capsys, run_of({}), run_of({}), is_swapped=True)  # fmt: skip


def test_only_the_first_ten_notices_are_printed(capsys):
    said = _printed(capsys, run_of({}), run_of({}), notices=[f"Notice {number}." for number in range(30)])
    assert "Notice 9." in said
    assert "Notice 10." not in said
