"""The cores of a run as they are compared."""

from pathlib import Path

from pipeline.contracts import no_text
from pipeline.readback import compared
from pipeline.readback.runs import read_run

_DEMO = Path(__file__).parents[2] / "outputs" / "harbour-vale-2026" / "2026-09-30"


def test_a_column_of_the_register_that_is_called_permit_is_not_taken_for_the_permit(monkeypatch):
    run = read_run(_DEMO)
    assert "permit" in run.cores
    # no column is mapped to the permit
    monkeypatch.setattr(compared, "register_text", lambda run, _: no_text(run.cores.index))
    monkeypatch.setattr(compared, "_expiry", lambda run: no_text(run.cores.index))
    assert "permit" not in compared.comparable_cores(run)
