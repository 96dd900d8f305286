"""Names in a programme file that match nothing: those that cannot be are refused, the others reported."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

import geopandas as gpd
import pandas as pd

from pipeline.contracts import NO_DISTRICT
from pipeline.errors import SettingsError
from pipeline.intake.stock import StockTable
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.names import as_known, did_you_mean, listed
from pipeline.programme.orders import Ordering
from pipeline.programme.owners import OF_CORES
from pipeline.programme.settings import Settings
from pipeline.wording import counted

__all__ = ["district_names", "refuse_unknown_items", "unmatched_names", "unmatched_stock", "yard_names"]

_NO_THRESHOLD: Final = "these thresholds apply to no core"
_NO_FINDING: Final = "no finding is assigned by it"


class _Named(NamedTuple):
    """The names under one key, the names in the data, the noun for them, and what follows if a name matches nothing."""

    key: str
    names: Iterable[str]
    known: Sequence[str]
    noun: str
    consequence: str


def refuse_unknown_items(ordering: Ordering, items: Sequence[str]) -> None:
    """Stop at an item under ``[orders.items]`` that cannot be ordered.

    Raises
    ------
    SettingsError
        The catalogue has no such item.
    """
    for name in ordering.items:
        if as_known(name, items) is None:
            raise SettingsError(
                f'orders.items: found "{name}", expected one of: {listed(items, len(items))}.'
                f"{did_you_mean(name, items)} Correct it."
            )


def district_names(districts: gpd.GeoDataFrame | None) -> list[str]:
    """Return the districts that orders can be made for: those of the layer, and that of the cores in none."""
    return [*([] if districts is None else districts["district"]), NO_DISTRICT]


def yard_names(ordering: Ordering, districts: gpd.GeoDataFrame | None) -> list[str]:
    """Return the yards that may have stock: that of each district, and every one that the programme names."""
    of_districts = [ordering.yard_of(name) for name in district_names(districts)]
    named = [as_known(yard, ordering.yards.values()) or yard for yard in ordering.yards.values()]
    return sorted(dict.fromkeys([*of_districts, *named]), key=lambda yard: (yard == NO_DISTRICT, yard))


def unmatched_names(
    settings: Settings,
    catalogue: Catalogue,
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame | None,
    districts: gpd.GeoDataFrame | None,
) -> list[str]:
    """Return a notice for each name of the programme file that matches nothing in the data.

    Parameters
    ----------
    settings
        The programme.
    catalogue
        Reads the surfaces that the register writes.
    cores
        The rows of the registers, with ``position_method`` and ``surface_recorded``.
    segments, surfaces, districts
        The layers as read; None where the programme has no such layer.
    """
    return [
        f'{one.key}: no {one.noun} is called "{name}", so {one.consequence}.{did_you_mean(name, one.known)} '
        f"The data have: {listed(one.known)}."
        for one in _names(settings, catalogue, cores, segments, surfaces, district_names(districts))
        for name in one.names
        if as_known(name, one.known) is None
    ]


def _names(
    settings: Settings,
    catalogue: Catalogue,
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame | None,
    districts: list[str],
) -> Iterator[_Named]:
    """Yield the names of the programme file that the data decide about."""
    yield _Named("orders.yards", settings.orders.yards, districts, "district", "its yard supplies no district")
    methods = _distinct(cores["position_method"])
    yield _Named(
        "matching.accuracy_by_method", settings.matching.accuracy_by_method, methods, "position method of the register",
        "its accuracy applies to no core",
    )  # fmt: skip
    recorded = catalogue.surface_names(cores["surface_recorded"])
    layers = [segments["surface"], *([] if surfaces is None else [surfaces["surface"]]), recorded]
    known = {
        "road_authority": _distinct(segments["road_authority"]),
        "road_class": _distinct(segments["class_name"]),
        "surface": _distinct(pd.concat(layers)),
    }
    for number, where in enumerate(settings.thresholds.where, start=1):
        for name, value in where.scope.items():
            noun = name.replace("_", " ")
            yield _Named(f"thresholds.where no. {number}.{name}", [value], known[name], noun, _NO_THRESHOLD)
    known |= {"district": districts, "register": _distinct(cores["register"])}
    for owner in settings.owners:
        for name in OF_CORES:
            names, noun = owner.scope.get(name, []), name.replace("_", " ")
            yield _Named(f'owners "{owner.name}".{name}', names, known[name], noun, _NO_FINDING)


def _distinct(names: pd.Series) -> list[str]:
    """Return the names of a column, the most frequent first."""
    return [str(name) for name in names.str.strip().value_counts().index]


def unmatched_stock(stock: StockTable, ordering: Ordering, districts: gpd.GeoDataFrame | None) -> list[str]:
    """Return a notice for each yard that has stock and supplies no district of the data."""
    supplying = {ordering.yard_of(name) for name in district_names(districts)}
    idle = stock.frame[~stock.frame["yard"].isin(supplying)]
    return [
        f'{stock.label}: the yard "{yard}" supplies no district of the data, so its {counted(round(packs), "pack")} of '
        "stock are not counted. Check [orders.yards]."
        for yard, packs in idle.groupby("yard")["packs"].sum().items()
    ]
