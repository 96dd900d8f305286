"""The section ``[orders]``: periods, sharing of mixes, lead time, stock, packing, prices and the safety stock."""

from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, field_validator

from pipeline.programme.names import as_known, refuse_repeated
from pipeline.programme.sections import (
    CoresPerWeek,
    Days,
    Detour,
    KilometresAnHour,
    Minutes,
    Packs,
    PositiveDays,
    Price,
    Reach,
    Section,
    Share,
    Waste,
)

__all__ = ["Item", "Ordering", "Stock"]

_METRES_PER_KM = 1000.0
_MINUTES_PER_HOUR = 60.0
_Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]


class Item(Section):
    """How one item is sold: packs per pallet, minimum order in packs, price per pack."""

    pallet: Packs = 1
    minimum: Packs = 1
    price: Price | None = None


class Stock(Section):
    """The table of what the yards have in stock and on order, and how its cells are written."""

    path: str
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
    detour: Detour = 1.3
    share_within_m: Reach | None = Field(default=None, alias="share_within")
    half_bags: bool = False
    waste: Waste = Field(default="2 %")  # type: ignore[assignment]
    service_level: Share = Field(default="95 %")  # type: ignore[assignment]
    cores_per_week: CoresPerWeek | None = None
    cores_per_week_by_district: dict[str, CoresPerWeek] = Field(default_factory=dict)
    yards: dict[str, _Name] = Field(default_factory=dict)
    stock: Stock | None = None
    items: dict[str, Item] = Field(default_factory=dict)
    currency: _Name | None = None

    @field_validator("cores_per_week_by_district", "yards", "items")
    @classmethod
    def _names_each_once(cls, named: dict[str, Any]) -> dict[str, Any]:
        return refuse_repeated(named)

    @property
    def reach_m(self) -> float:
        """The furthest that two cores sharing a mix may be apart, in metres, in a straight line."""
        if self.share_within_m is not None:
            return self.share_within_m
        return self.working_time_min / _MINUTES_PER_HOUR * self.speed_km_h * _METRES_PER_KM / self.detour

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

    def cores_per_week_in(self, district: str) -> float | None:
        """Return how many cores the crews of a district reinstate per week; None where that is not known."""
        key = as_known(district, self.cores_per_week_by_district)
        return self.cores_per_week if key is None else self.cores_per_week_by_district[key]

    def packing_of(self, item: str) -> Item:
        """Return how an item is sold."""
        key = as_known(item, self.items)
        return Item() if key is None else self.items[key]
