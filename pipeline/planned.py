"""The stages ``plan`` and ``order`` as the audit and ``kerfbook plan`` share them, each held to its contract."""

import datetime as dt
from typing import NamedTuple

import geopandas as gpd
import pandas as pd
from pyproj import CRS

from pipeline.audit import BoundRule, limits_of
from pipeline.audit.pouring import pouring_limits
from pipeline.audit.rules.dates import OpenLimits
from pipeline.clock import Told
from pipeline.contracts import ORDER_TABLES, PLAN_TABLES, Temperatures, check_tables
from pipeline.engines import HERE, Engine
from pipeline.intake.promised import Promised, promised_stops
from pipeline.order import Orders, Spending, order
from pipeline.plan import Plan, Supplier, plan
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.plan_defaults import plan_defaults
from pipeline.programme.settings import Settings

__all__ = ["Ground", "order_supplies", "plan_work"]


class Ground(NamedTuple):
    """What a plan is made on besides the cores: roads in the run's CRS, temperatures, promises; the audit's day."""

    segments: gpd.GeoDataFrame
    crs: CRS
    temperatures: Temperatures | None
    promised: Promised
    day: dt.date


def plan_work(
    cores: pd.DataFrame,
    settings: Settings,
    catalogue: Catalogue,
    rules: list[BoundRule],
    ground: Ground,
    told: Told,
    engine: Engine = HERE,
) -> tuple[Plan, list[str]]:
    """Return the plan, and notices on it: promised stops that match no core, and the plan's own.

    Parameters
    ----------
    cores
        N rows with all columns of the audit.
    settings, catalogue, rules
        The programme, and the limits in force for it.
    ground
        Roads, temperatures and promises.
    told, engine
        Receives progress updates; does the work for crews that share no district.
    """
    allowed_days = limits_of(rules, "open-too-long", OpenLimits, cores).max_open_days
    supplier = Supplier(*pouring_limits(rules, cores), settings.frost_free_min)
    kept, notices = promised_stops(ground.promised, cores)
    planned = plan(
        cores.assign(allowed_days=allowed_days), ground.segments, settings, catalogue.materials.grout, supplier,
        ground.day, ground.crs, plan_defaults(), ground.temperatures, kept if len(kept) else None, told,
        engine,
    )  # fmt: skip
    check_tables({name: getattr(planned, name) for name in PLAN_TABLES}, PLAN_TABLES, "plan")
    return planned, [*notices, *planned.notices]


def order_supplies(
    cores: pd.DataFrame,
    stops: pd.DataFrame,
    settings: Settings,
    catalogue: Catalogue,
    day: dt.date,
    stock: pd.DataFrame | None,
    kerf_and_bed: tuple[float, float, tuple[tuple[float, float], tuple[float, float]]] | None,
) -> Orders:
    """Return what to order for the stops of a plan; the arguments are those of ``pipeline.order.order``."""
    orders = order(
        cores, stops, catalogue, settings.orders, day, stock, settings.diameter_is, kerf_and_bed, Spending.of(settings)
    )
    check_tables({name: getattr(orders, name) for name in ORDER_TABLES}, ORDER_TABLES, "order")
    return orders
