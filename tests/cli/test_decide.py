"""What the command decide prints."""

import datetime as dt
from pathlib import Path
from types import SimpleNamespace

import pandas as pd

from pipeline.cli.decide import _print
from pipeline.commands.decide import DecisionSheet
from pipeline.decide.awaiting import Awaiting


def test_cores_of_two_registers_with_the_same_ids_are_all_counted(capsys):
    """Four findings: two about C1 of the north, one about C1 and one about C2 of the south."""
    sheet = pd.DataFrame(
        {
            "core_id": ["C1", "C1", "C1", "C2"],
            "register": ["north", "north", "south", "south"],
            "urgency": "quality",
        }
    )
    run = SimpleNamespace(programme="Quay", as_of=dt.date(2026, 9, 30))
    _print(DecisionSheet(run, Awaiting(sheet, decided=0, returned=0, without_id=0, others=0), Path("sheet.csv")))
    (row,) = [line.split() for line in capsys.readouterr().out.splitlines() if "quality" in line]
    assert [cell for cell in row if cell.isdigit()] == ["4", "3"]
