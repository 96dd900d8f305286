"""Minutes at a core, step by step, by size and surface."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.programme.plan import StepMinutes

__all__ = ["DEFAULT_MINUTES", "MINUTE_COLUMNS", "minutes_of", "minutes_table"]

# our default: about an hour for a core with one bag, waiting for traffic left out
DEFAULT_MINUTES: Final = {
    "set_up": 12.0,
    "dry_fit": 8.0,
    "mix": 3.0,
    "pour": 2.0,
    "press": 1.0,
    "clean": 6.0,
    "survey": 15.0,
    "make_safe": 20.0,
}
MINUTE_COLUMNS: Final = tuple(f"{step}_min" for step in DEFAULT_MINUTES)


def minutes_of(jobs: pd.DataFrame, stated: StepMinutes) -> pd.DataFrame:
    """Return the minutes of each step at each core, MINUTE_COLUMNS; those of ``mix`` are for one bag."""
    values = {
        f"{step}_min": default if getattr(stated, step) is None else getattr(stated, step)
        for step, default in DEFAULT_MINUTES.items()
    }
    return pd.DataFrame({name: np.full(len(jobs), float(value)) for name, value in values.items()}, index=jobs.index)


def minutes_table(stated: StepMinutes) -> pd.DataFrame:
    """Return the minutes in force, as the table ``minutes`` of the plan shows them."""
    rows = [
        {
            "step": step.replace("_", " "),
            "size": "all",
            "surface": "all",
            "minutes": default if getattr(stated, step) is None else float(getattr(stated, step)),
            "cores": 0,
            "origin": "our default" if getattr(stated, step) is None else "programme",
        }
        for step, default in DEFAULT_MINUTES.items()
    ]
    return pd.DataFrame(rows)
