"""The section ``[orders]``: periods, mixing, lead time, yards, stock, packing, prices and the safety stock."""

from collections.abc import Collection
from itertools import pairwise
from typing import Annotated, Any, Final, Literal

from pydantic import Field, StringConstraints, field_validator, model_validator

from pipeline.programme.addresses import InputPath
from pipeline.programme.names import as_known, refuse_repeated
from pipeline.programme.sections import (
    Days,
    KilometresAnHour,
    Minutes,
    Packs,
    PositiveDays,
    Price,
    Section,
    Share,
    Waste,
)

__all__ = ["NO_YARD", "Item", "Ordering", "PriceBreak", "Stock"]

# the yard of districts that the programme names no yard for
NO_YARD: Final = "(no yard)"
_CREWS = "[[crews]]: their shifts and the minutes per core set how many cores are reinstated per week"
_MIXES = "[orders] working_time and speed: they set how far apart cores can be to share a mix"
# keys of earlier versions, and what replaces each
_REPLACED: Final = {
    "cores_per_week": _CREWS,
    "cores_per_week_by_district": _CREWS,
    "share_within": _MIXES,
    "detour": "[plan] detour: it applies wherever a distance is not measured along the streets",
}
_Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]


class PriceBreak(Section):
    """The price of a pack if an order has at least so many."""

    least: Packs = Field(alias="from")
    price: Price


class Item(Section):
    """How one item is sold: packs per pallet (none: no pallets), smallest order in packs, price per pack."""

    pallet: Packs | None = None
    minimum: Packs = 1
    price: Price | None = None
    price_breaks: list[PriceBreak] = Field(default_factory=list)

    @model_validator(mode="after")
    def _breaks_follow_a_price(self) -> "Item":
        steps = [one.least for one in self.price_breaks]
        if steps and self.price is None:
            raise ValueError("found price_breaks without a price, expected the price of a pack in the smallest order")
        if any(later <= earlier for earlier, later in pairwise([1, *steps])):
            raise ValueError(f"found price_breaks from {steps}, expected numbers above 1 that increase")
        return self


class Stock(Section):
    """The table of what the yards have in stock and on order, and how its cells are written."""

    path: InputPath
    layer: str | None = None
    columns: dict[str, str] = Field(default_factory=dict)
    day_first: bool | None = None  # None: as in the registers
    decimal: Literal[".", ","] | None = None


class Ordering(Section):
    """How needs become orders; each field is a key of the section."""

    period: Literal["week", "month", "all"] = "week"
    units: Literal["metric", "us"] = "metric"
    lead_time_days: Days = Field(default="7 day", alias="lead_time")  # type: ignore[assignment]
    shelf_life_days: PositiveDays = Field(default="180 day", alias="shelf_life")  # type: ignore[assignment]
    working_time_min: Minutes = Field(default="10 min", alias="working_time")  # type: ignore[assignment]
    speed_km_h: KilometresAnHour = Field(default="5 km/h", alias="speed")  # type: ignore[assignment]
    half_bags: bool = False
    waste: Waste = Field(default="2 %")  # type: ignore[assignment]
    service_level: Share = Field(default="95 %")  # type: ignore[assignment]
    yards: dict[str, _Name] = Field(default_factory=dict)
    pool: bool = False
    stock: Stock | None = None
    items: dict[str, Item] = Field(default_factory=dict)
    currency: _Name | None = None

    @model_validator(mode="before")
    @classmethod
    def _names_no_key_of_earlier_versions(cls, written: Any) -> Any:  # noqa: ANN401 - whatever a TOML file holds
        for name in _REPLACED if isinstance(written, dict) else ():
            if name in written:
                raise ValueError(
                    f"found the key {name}, which is no longer used, expected {_REPLACED[name]}. Delete it"
                )
        return written

    @field_validator("yards", "items")
    @classmethod
    def _names_each_once(cls, named: dict[str, Any]) -> dict[str, Any]:
        return refuse_repeated(named)

    @property
    def smallest_mix(self) -> float:
        """The smallest share of a bag that is mixed."""
        return 0.5 if self.half_bags else 1.0

    def yard_of(self, district: str) -> str:
        """Return the yard that supplies a district: its own, of the same name, where the section names none."""
        key = as_known(district, self.yards)
        yard = district if key is None else self.yards[key]
        # the same yard may be written in two ways
        return as_known(yard, self.yards.values()) or yard

    def supplier_of(self, district: str, with_stock: Collection[str] = ()) -> str:
        """Return the yard that buys for a district: the one named for it, or the only one that there is.

        A yard that has stock and the district's own name is one that there is. Otherwise NO_YARD.
        """
        if as_known(district, self.yards) is not None:
            return self.yard_of(district)
        own, named = as_known(district, with_stock), {self.yard_of(name) for name in self.yards}
        return own or (named.pop() if len(named) == 1 else NO_YARD)

    def packing_of(self, item: str) -> Item:
        """Return how an item is sold."""
        key = as_known(item, self.items)
        return Item() if key is None else self.items[key]
