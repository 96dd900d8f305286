"""What the sheet says of one stop: what it is, where, how large, from which mix, and from when traffic may return."""

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.publish.plan.sheet_units import SheetUnits
from pipeline.publish.words import Words, title_text

__all__ = ["StopLines"]

# longest texts of a register on a sheet, in characters
_ID: Final = 28
_STREET: Final = 50
# findings named at a stop; the rest are counted
_MOST_FOUND: Final = 3
_EXPIRED: Final = "permit-expired"
_OPEN_TOO_LONG: Final = "open-too-long"
_STRONG: Final = Markup("<b>{}</b>")
_BLANK: Final = Markup(" ")
# what is written in each box, by task
_BOXES: Final = {
    "reinstate": ("bags", "water", "air", "poured", "opened", "flush", "shade", "initials"),
    "survey": ("diameter", "depth", "surface", "state", "initials"),
    "make safe": ("made_safe", "how", "initials"),
}


def _has(value: Any) -> bool:  # noqa: ANN401 - a cell of any kind
    return not bool(pd.isna(value))


class StopLines:
    """The lines of stops; each stop is a row of the plan's table with its permit.

    Parameters
    ----------
    words, units
        The language, and the programme's units.
    titles
        Titles of the rules by slug, those that matter most first.
    inspect
        What is ticked before a core goes back.
    """

    def __init__(self, words: Words, units: str, titles: Mapping[str, str], inspect: list[str]) -> None:
        self._words, self._say, self.units = words, words.say, SheetUnits(words, units)
        self._rank = {slug: place for place, slug in enumerate(titles)}
        self._titles, self._inspect = titles, [words.translated(text) for text in inspect]

    def name(self, stop: Mapping[str, Any]) -> Markup:
        """Return the core's id, or its row where it has none."""
        if _has(stop["core_id"]):
            return self._words.own(title_text(stop["core_id"], _ID))
        return self._say("sheet.row", n=int(stop["row"]))

    def where(self, stop: Mapping[str, Any]) -> Markup:
        """Return street, side, distance along and district."""
        say, parts = self._say, []
        parts.append(
            self._words.own(title_text(stop["street"], _STREET)) if _has(stop["street"]) else say("sheet.no_street")
        )
        if _has(stop["side"]):
            parts.append(say(f"sheet.side_{stop['side']}"))
        if _has(stop["chainage_m"]):
            parts.append(say("sheet.along", distance=self.units.one(stop["chainage_m"], "m", "ft")))
        if _has(stop["district"]):
            parts.append(self._words.own(title_text(stop["district"], _ID)))
        return Markup(", ").join(parts)

    def what(self, stop: Mapping[str, Any]) -> Markup:
        """Return size, weight, surface and state."""
        say, units, parts = self._say, self.units, []
        if _has(stop["diameter_mm"]) and _has(stop["depth_mm"]):
            sizes = (units.one(stop[name], "mm", "in") for name in ("diameter_mm", "depth_mm"))
            parts.append(_STRONG.format(say("sheet.size", wide=next(sizes), deep=next(sizes))))
        else:
            parts.append(say("sheet.no_size"))
        if _has(stop["weight_kg"]):
            parts.append(say("sheet.weighs", weight=units.one(stop["weight_kg"], "kg", "lb")))
        parts.append(self._words.own(self._words.translated(str(stop["surface"]))))
        parts.append(_STRONG.format(say(f"state.{stop['state']}")))
        return Markup(" · ").join(parts)

    def mix(self, stop: Mapping[str, Any], sharing: list[Mapping[str, Any]]) -> Markup:
        """Return from which mix the grout comes, who shares it, and what is opened here.

        ``sharing``: all stops of the mix in order, this one included.
        """
        say, number = self._say, int(stop["mix"])
        others = [one for one in sharing if one["row"] != stop["row"]]
        named = self._words.listed(say("sheet.other_stop", core=self.name(one), n=int(one["stop"])) for one in others)
        parts = [say("sheet.mix_shared", mix=number, others=named) if others else say("sheet.mix_alone", mix=number)]
        if stop["bags"] > 0:
            water = self.units.one(stop["water_l"], "L", "gal", 1)
            parts.append(say("sheet.open_here", bags=self.bags(stop["bags"]), water=water))
        else:
            before = [one for one in sharing if one["stop"] < stop["stop"] and one["bags"] > 0]
            parts.append(say("sheet.open_none", n=int(before[-1]["stop"]) if before else int(stop["stop"])))
        if _has(stop["gravel_kg"]) and stop["gravel_kg"] > 0:
            parts.append(say("sheet.gravel", weight=self.units.one(stop["gravel_kg"], "kg", "lb")))
        return _BLANK.join(parts)

    def bags(self, count: float) -> Markup:
        """Return a number of bags with its noun."""
        return self._say("sheet.bags", n=float(count), bags=self._words.measure(count))

    def times(self, stop: Mapping[str, Any]) -> Markup:
        """Return arrival, pour, the earliest return of traffic, and the permit."""
        say = self._say
        parts = [say("sheet.arrive", at=stop["arrival"])]
        if _has(stop["mix"]):
            parts.append(say("sheet.pour", at=stop["pour"]))
            key = "sheet.traffic_at" if _has(stop["air_c"]) else "sheet.traffic"
            air = self.units.air(stop["air_c"]) if _has(stop["air_c"]) else ""
            parts.append(_STRONG.format(say(key, at=stop["earliest_traffic"], air=air)))
        if not self._has_expired(stop) and _has(stop["permit_expires_on"]):
            parts.append(self._permit("sheet.permit", stop))
        return _BLANK.join(parts)

    def _has_expired(self, stop: Mapping[str, Any]) -> bool:
        return _has(stop["permit_expires_on"]) and stop["permit_expires_on"].date() < stop["day"].date()

    def _permit(self, key: str, stop: Mapping[str, Any]) -> Markup:
        words = self._words
        number = (
            words.own(title_text(stop["permit_no"], _ID))
            if _has(stop["permit_no"])
            else self._say("sheet.permit_no_number")
        )
        return self._say(key, permit=number, day=words.date(stop["permit_expires_on"].date()))

    def notes(self, stop: Mapping[str, Any]) -> list[Markup]:
        """Return what else to know: late, promised, permit expired, and what was flagged."""
        say, parts = self._say, []
        if stop["late_days"] > 0 and _has(stop["due_on"]):
            day = self._words.date(stop["due_on"].date())
            parts.append(_STRONG.format(say("sheet.late", day=day, n=int(stop["late_days"]))))
        if stop["is_kept"]:
            parts.append(say("sheet.promised"))
        if self._has_expired(stop):
            parts.append(_STRONG.format(self._permit("sheet.permit_expired", stop)))
        parts += self._flagged(stop)
        return [_BLANK.join(parts)] if parts else []

    def _flagged(self, stop: Mapping[str, Any]) -> list[Markup]:
        known = set(str(stop["findings"] or "").split(";")) & set(self._rank)
        # what a line above says already
        known -= {_EXPIRED} if self._has_expired(stop) else set()
        known -= {_OPEN_TOO_LONG} if stop["late_days"] > 0 else set()
        found = sorted(known, key=self._rank.__getitem__)
        if not found:
            return []
        shown = [self._words.translated(self._titles[slug]) for slug in found[:_MOST_FOUND]]
        text = self._say("sheet.flagged", titles=" ".join(shown))
        more = len(found) - len(shown)
        return [text + " " + self._say("sheet.flagged_more", n=more) if more else text]

    def ticks(self, task: str) -> list[str]:
        """Return what is ticked before the core goes back."""
        return self._inspect if task == "reinstate" else []

    def boxes(self, task: str) -> list[Markup]:
        """Return the heads of the boxes to fill in."""
        us = {"water", "air", "flush", "diameter", "depth"} if self.units.is_us else set()
        return [self._say(f"sheet.box_us_{name}" if name in us else f"sheet.box_{name}") for name in _BOXES[task]]
