"""The results of a run and of a comparison, for everything that publishes or prints them."""

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.audit import Audit
from pipeline.calibrate import Calibration
from pipeline.clock import StageCost
from pipeline.decide import NOTHING_DECIDED, Decided
from pipeline.errors import KerfbookError
from pipeline.history import Changes, trend
from pipeline.intake import Inputs
from pipeline.intake.layer_facts import LayerFacts, StockFacts
from pipeline.intake.understood import RegisterFacts
from pipeline.ledger import nothing_gone
from pipeline.locate import Reasons
from pipeline.order import Orders
from pipeline.plan import Plan
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Settings
from pipeline.readback.basis import Basis
from pipeline.readback.kept_runs import NO_EARLIER, Earlier
from pipeline.readback.runs import Run
from pipeline.works import ListedWorks

__all__ = ["Checked", "Comparison", "ExplainedCore", "RuleInputs", "RunResult"]


@dataclass(frozen=True)
class RunResult:
    """The results of a run.

    ``cores``: N rows with all columns of the contract, ``status`` and ``findings``. ``table``: the same cores as
    ``cores.csv`` has them. ``reasons``: why each core was placed where it is. ``folder``: where the outputs are, None
    if none were written. ``earlier``: the runs of earlier dates that are kept there. ``gone``: the findings that
    the latest of them has and this run has not. ``decided``: what became of the decisions. ``works``: planned works,
    protected streets and resurfaced roads with the cores in each, None without such a layer.
    """

    settings: Settings
    catalogue: Catalogue
    inputs: Inputs
    as_of: dt.date
    cores: pd.DataFrame
    table: pd.DataFrame
    audit: Audit
    plan: Plan
    orders: Orders
    costs: list[StageCost]
    calibration: Calibration
    reasons: Reasons
    folder: Path | None = None
    earlier: Earlier = NO_EARLIER
    gone: pd.DataFrame = field(default_factory=nothing_gone)
    decided: Decided = NOTHING_DECIDED
    works: ListedWorks | None = None

    @property
    def account(self) -> dict[str, int]:
        """The balance of rows and cores.

        Each row of the files is left out by the programme's filter, set aside because it holds no core, or read. Each
        row read is a core or a copy of one. Each core is flagged, reinstated or pending, and placed or unplaced.
        """
        status = self.counted("status").value_counts()
        cores, unplaced = int(status.sum()), int(self.counted("x_m").isna().sum())
        in_file, set_aside = self.inputs.register.rows_in_file, len(self.inputs.register.set_aside)
        return {
            "rows_in_file": in_file,
            "left_out_by_where": in_file - set_aside - len(self.cores),
            "set_aside": set_aside,
            "rows_read": len(self.cores),
            "copies": len(self.cores) - cores,
            "cores": cores,
            **{name: int(status.get(name, 0)) for name in ("flagged", "reinstated", "pending")},
            "placed": cores - unplaced,
            "unplaced": unplaced,
        }

    @property
    def has_district_maps(self) -> bool:
        """Whether each district has a map of its own."""
        count = int((~self.cores["is_copy"]).sum())
        return self.settings.publish.maps_by_district(count, has_districts=self.inputs.districts is not None)

    @property
    def counted_cores(self) -> pd.DataFrame:
        """The rows of ``cores`` that are counted: each core once."""
        return self._once(self.cores)

    def counted(self, name: str) -> pd.Series:
        """Return one column of ``counted_cores``, at the cost of that column alone."""
        return self.cores.loc[~self.cores["is_copy"], name]

    @property
    def counted_table(self) -> pd.DataFrame:
        """The rows of ``table`` that are counted: each core once."""
        return self._once(self.table)

    @property
    def counted_findings(self) -> pd.DataFrame:
        """The findings about rows that are counted: those of each core once."""
        found, copies = self.audit.findings, self.cores.loc[self.cores["is_copy"], "row"]
        return found[~found["row"].isin(copies)] if len(copies) else found.copy(deep=False)

    def _once(self, rows: pd.DataFrame) -> pd.DataFrame:
        """Return the rows that are counted; without copies they share the memory of those given."""
        copies = self.cores["is_copy"].to_numpy()
        return rows[~copies] if copies.any() else rows.copy(deep=False)


@dataclass(frozen=True)
class RuleInputs:
    """Whether a rule can be assessed: ``lacking`` has, for each register for which it cannot, what it lacks.

    Of each tuple of inputs any one is enough.
    """

    rule: str
    title: str
    severity: str
    lacking: dict[str, tuple[tuple[str, ...], ...]]


@dataclass(frozen=True)
class Checked:
    """What was understood of the inputs of a programme.

    ``inputs``: as the audit would use them; None if it would refuse them. ``errors``: why, every input by itself.
    ``suspicions``: what looks misread, the most telling first. ``crs``: the run's CRS, None where the roads cannot be
    used; ``stretch``: by what share its metres differ from metres on the ground. ``page``: the page, if it was written.
    """

    settings: Settings
    as_of: dt.date
    registers: list[RegisterFacts]
    layers: list[LayerFacts]
    stock: StockFacts | None
    rules: list[RuleInputs]
    suspicions: list[str]
    notices: list[str]
    errors: list[KerfbookError]
    crs: str | None
    stretch: float | None
    inputs: Inputs | None = None
    page: Path | None = None


@dataclass(frozen=True)
class Comparison:
    """The results of a comparison of two runs.

    ``caveats``: what other than work on the road may explain a difference. ``records``: of every run kept, for the
    trend. ``notices``: what was left out of the trend, and why. ``is_swapped``: the later run was given first.
    ``folder``: where the outputs are, None if none were written.
    """

    before: Run
    after: Run
    changes: Changes
    caveats: list[str]
    records: list[dict[str, Any]]
    notices: list[str]
    is_swapped: bool
    folder: Path | None = None

    @property
    def trend(self) -> pd.DataFrame:
        """The history, one row per run kept."""
        return trend(self.records)


@dataclass(frozen=True)
class ExplainedCore:
    """One core of a finished run, with all that its answers follow from.

    ``basis``: of each row that is explained. ``other_rows``: further rows with the same id. By row, ``headers`` has the
    register's name of each column that was used, ``other_cells`` the cells of those that were not, and
    ``order_lines`` the lines of the core's district and period. ``ids``: ids of the cores that share a mix with it, by
    row. ``history``: ``as_of``, ``row``, ``status`` and ``findings`` of the core in each run up to this one. ``later``:
    dates of the runs kept after it. ``notices``: which runs were left out, and why.
    """

    run: Run
    basis: Basis
    other_rows: list[int]
    headers: dict[int, dict[str, str]]
    other_cells: dict[int, dict[str, str]]
    order_lines: dict[int, pd.DataFrame]
    ids: dict[int, str]
    history: pd.DataFrame
    later: list[str]
    notices: list[str]
    cautions: list[str]
