"""The work of a finished run planned anew: other crews, another start, a promised plan kept; no second audit."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any, Final, cast

import geopandas as gpd
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.clock import Clock, Counted, Progress, numbered
from pipeline.errors import OutputError, SettingsError
from pipeline.intake.promised import read_promised
from pipeline.intake.stock import read_stock
from pipeline.intake.unmatched import yard_names
from pipeline.intake.weather import read_weather
from pipeline.order import Orders
from pipeline.plan import Plan
from pipeline.planned import Ground, order_supplies, plan_work
from pipeline.programme.settings import Settings, load_programme
from pipeline.publish.folder import new_folder, same_but_for
from pipeline.publish.held import held
from pipeline.publish.item_units import in_units
from pipeline.publish.plan import write_plan
from pipeline.publish.return_sheet import RETURN_SHEET, keep_filled_in, return_sheet
from pipeline.publish.tables import as_cells, rounded, write_csv
from pipeline.readback.basis import read_basis_tables
from pipeline.readback.findings import damaged
from pipeline.readback.runs import Run, read_run
from pipeline.results import RunResult
from pipeline.run import rules_of

__all__ = ["Replanned", "plan_again"]

_STAGES: Final = ("intake", "plan", "order", "publish")
# a file that no plan has: everything in the folder is compared
_NO_FILE: Final = ""
_OF_RULES: Final = ("rule", "title", "severity", "urgency")
# what is named as it is written: the tables, the sheets and the days
_OUTPUTS: Final = 3


@dataclass(frozen=True)
class Replanned:
    """A run's work as it was planned anew; ``folder``: where plan, sheets and orders are."""

    run: Run
    plan: Plan
    orders: Orders
    notices: list[str]
    folder: Path


def plan_again(
    run: Path,
    programme: Path | None = None,
    changes: dict[str, Any] | None = None,
    out: Path | None = None,
    progress: Progress | None = None,
) -> Replanned:
    """Plan the work of a finished run anew, and write plan, sheets, orders, loads and purchases.

    Parameters
    ----------
    run
        The run's folder; it stays as it is.
    programme
        The programme file whose crews, plan, orders, weather, costs and budget apply; None: the one that the run was
        made from, where it lies in the working folder or above the run's folder.
    changes
        Settings of ``[plan]`` that replace those of the programme: ``start``, ``horizon_days``, ``keep``.
    out
        The folder to write; None: ``<as_of>-plan`` beside the run's folder.
    progress
        Receives progress updates.

    Raises
    ------
    SettingsError
        The programme is not found, is wrong, or is another one; or ``out`` is in a run's folder.
    InputError
        The folder is not a finished run, or stock, weather or promised plan cannot be read.
    OutputError
        The folder cannot be written.
    """
    clock = Clock(progress, _STAGES)
    with clock.stage("intake"):
        read = read_run(run)
        path = programme or _programme_of(read)
        target = out or read.folder.resolve().parent / f"{read.folder.resolve().name}-plan"
        settings = _settings(path, read, target, changes or {})
        catalogue, rules = rules_of(settings, path)
        rules_run = _rules_run(read)
        clock.detail("basis")
        cores, roads, fitted = read_basis_tables(read, "cores", "segments", "fitted")
        crs = CRS.from_user_input(read.record["crs"])
        lines = shapely.from_wkb(roads["geometry"])
        segments = gpd.GeoDataFrame(roads.drop(columns="geometry"), geometry=lines, crs=crs)
        temperatures, stock = _tables(settings, path.parent, catalogue.items, cores)
        promised = read_promised(settings.plan.keep, path.parent, day_first=settings.day_first)
    with clock.stage("plan"):
        ground = Ground(segments, crs, temperatures, promised, read.as_of)
        planned, notices = plan_work(cores, settings, catalogue, rules, ground, clock.detail)
    with clock.stage("order"):
        orders = order_supplies(cores, planned.stops, settings, catalogue, read.as_of, stock, _kerf_and_bed(fitted))
    # what the sheets and tables of a plan take of a run
    shown = SimpleNamespace(
        settings=settings, catalogue=catalogue, as_of=read.as_of, cores=cores, plan=planned, orders=orders,
        inputs=SimpleNamespace(segments=segments), audit=SimpleNamespace(rules=rules_run),
    )  # fmt: skip
    with clock.stage("publish"):
        _write(cast("RunResult", shown), target, numbered(clock.detail, _OUTPUTS, "outputs"))
    return Replanned(read, planned, orders, [*notices, *orders.notices], target)


def _settings(path: Path, read: Run, target: Path, changes: dict[str, Any]) -> Settings:
    """Return a programme's settings with changes to its plan; refuse a target in a run, and another programme."""
    _refuse_a_run(target)
    settings = load_programme(path)
    if settings.programme.name != read.programme:
        raise SettingsError(
            f"{path}: programme.name: found {settings.programme.name!r}, expected {read.programme!r}, whose run this "
            "is. Give its programme file after the run."
        )
    return settings.model_copy(update={"plan": settings.plan.model_copy(update=changes)})


def _refuse_a_run(target: Path) -> None:
    if any((folder / "run.json").is_file() for folder in (target.resolve(), *target.resolve().parents)):
        raise SettingsError(
            f"{target}: is a run's folder, which must stay unchanged. Choose another folder with --out."
        )


def _programme_of(run: Run) -> Path:
    """Return the programme file that a run was made from, where it can be found."""
    file = run.record.get("programme_file")
    if file is None:
        raise SettingsError(f"{run.folder}: its record names no programme file. Give its path after the run.")
    name = str(file["name"])
    for folder in (Path(), *list(run.folder.resolve().parents)[:4]):
        if (folder / name).is_file():
            return folder / name
    raise SettingsError(
        f"{run.folder}: its programme file {name} is not in this folder, nor above the run. Give its "
        "path after the run."
    )


def _rules_run(run: Run) -> pd.DataFrame:
    """Return the rules of a run by its record, with what the sheets of the crews show of them."""
    rules = pd.DataFrame(run.record.get("rules", []))
    lost = [name for name in _OF_RULES if name not in rules or rules[name].isna().any()]
    if lost:
        raise damaged(run.folder / "run.json", f"rules without {lost[0]!r}")
    return rules


def _tables(settings: Settings, folder: Path, items: list[str], cores: pd.DataFrame) -> tuple[Any, pd.DataFrame | None]:
    """Return the temperatures and the stock of a programme; None for what it has not."""
    zone, order = settings.programme.timezone, settings.day_first
    temperatures = stock = None
    if settings.weather is not None:
        temperatures, _ = read_weather(settings.weather, folder, zone, day_first=order)
    if settings.orders.stock is not None:
        named = pd.DataFrame({"district": sorted(cores["district"].dropna().unique())})
        yards = yard_names(settings.orders, gpd.GeoDataFrame(named))
        stock = read_stock(settings.orders.stock, folder, items, yards, day_first=order).frame
    return temperatures, stock


def _kerf_and_bed(
    fitted: pd.DataFrame,
) -> tuple[float, float, tuple[tuple[float, float], tuple[float, float]]] | None:
    if fitted.empty:
        return None
    kerf, bed, kerf_variance, both, bed_variance = map(float, fitted.iloc[0])
    return kerf, bed, ((kerf_variance, both), (both, bed_variance))


def _write(result: RunResult, target: Path, detail: Callable[[str], Counted]) -> None:
    """Write the plan's folder; a folder with other files than a plan's is refused."""
    if target.exists() and not (target / "plan.csv").is_file():
        raise OutputError(f"{target}: already exists and holds no plan. Choose another folder with --out.")
    units = result.settings.orders.units
    with held(target), new_folder(target, lambda new, old: same_but_for(_NO_FILE, new, old), {"days"}) as folder:
        write_plan(result, folder, detail)
        write_csv(return_sheet(result.plan.stops, result.cores, units), folder / RETURN_SHEET)
        keep_filled_in(target, folder)
        write_csv(rounded(in_units(result.orders.lines, units)), folder / "orders.csv")
        write_csv(as_cells(rounded(result.orders.purchases)), folder / "purchases.csv")
        write_csv(rounded(in_units(result.orders.loads, units)), folder / "loads.csv")
