"""The section ``[orders]``: periods, sharing of mixes, lead time, stock, packing, prices and the safety stock."""

from typing import Literal

from pydantic import Field

from pipeline.programme.sections import Days, KilometresAnHour, Metres, Minutes, Section, Share, ShareOrNone

__all__ = ["Item", "Ordering", "Stock"]

_METRES_PER_KM = 1000.0
_MINUTES_PER_HOUR = 60.0


class Item(Section):
    """How one item is sold: packs per pallet, minimum order in packs, price per pack."""

    pallet: int = Field(default=1, ge=1)
    minimum: int = Field(default=1, ge=1)
    price: float | None = Field(default=None, ge=0)


class Stock(Section):
    """The table of what the yards have in stock and on order."""

    path: str
    columns: dict[str, str] = Field(default_factory=dict)


class Ordering(Section):
    """How needs become orders; each field is a key of the section."""

    period: Literal["week", "month", "all"] = "week"
    units: Literal["metric", "us"] = "metric"
    lead_time_days: Days = Field(default="7 day", alias="lead_time")  # type: ignore[assignment]
    shelf_life_days: Days = Field(default="180 day", alias="shelf_life", gt=0)  # type: ignore[assignment]
    working_time_min: Minutes = Field(default="10 min", alias="working_time")  # type: ignore[assignment]
    speed_km_h: KilometresAnHour = Field(default="5 km/h", alias="speed")  # type: ignore[assignment]
    detour: float = Field(default=1.3, ge=1)
    share_within_m: Metres | None = Field(default=None, alias="share_within", ge=0)
    half_bags: bool = False
    waste: ShareOrNone = Field(default="2 %")  # type: ignore[assignment]
    service_level: Share = Field(default="95 %")  # type: ignore[assignment]
    cores_per_week: float | None = Field(default=None, gt=0)
    cores_per_week_by_district: dict[str, float] = Field(default_factory=dict)
    yards: dict[str, str] = Field(default_factory=dict)
    stock: Stock | None = None
    items: dict[str, Item] = Field(default_factory=dict)
    currency: str | None = None

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
