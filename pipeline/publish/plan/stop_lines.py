"""What the sheet says of one stop: what it is, where, how large, from which mix, and from when traffic may return."""

import textwrap
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any, Final

import pandas as pd
from markupsafe import Markup, escape

from pipeline.publish.plan.sheet_units import SheetUnits
from pipeline.publish.words import Words, as_markup, title_text

__all__ = ["StopLines", "joined"]

# longest texts on a sheet, in characters
_ID: Final = 28
_STREET: Final = 50
_TITLE: Final = 60
# where there is room for more titles than this, they are given in full
_FULL: Final = 2
_EXPIRED: Final = "permit-expired"
_OPEN_TOO_LONG: Final = "open-too-long"
_DOT: Final = " · "
# what is written in each box, by task
_BOXES: Final = {
    "reinstate": ("bags", "water", "air", "poured", "opened", "flush", "shade", "initials"),
    "survey": ("diameter", "depth", "surface", "state", "initials"),
    "make safe": ("made_safe", "how", "initials"),
}


def joined(between: str, parts: Iterable[str]) -> Markup:
    """Return parts as one text, escaped, unless they are markup, with a text without markup between them."""
    return Markup(between.join(map(as_markup, parts)))  # noqa: S704 - every part is escaped


def _strong(text: str) -> Markup:
    return Markup(f"<b>{as_markup(text)}</b>")  # noqa: S704 - escaped


def _has(value: Any) -> bool:  # noqa: ANN401 - a cell of any kind
    # most cells are texts, which the library takes long over
    return isinstance(value, str) or not bool(pd.isna(value))


class StopLines:
    """The lines of stops; each stop is a row of the plan's table with its permit.

    Parameters
    ----------
    words, units
        The language, and the programme's units.
    titles
        Titles of the rules by slug, those that matter most first.
    """

    def __init__(self, words: Words, units: str, titles: Mapping[str, str]) -> None:
        self._words, self._say, self.units = words, words.say, SheetUnits(words, units)
        self._rank = {slug: place for place, slug in enumerate(titles)}
        self._titles = titles
        # many stops have the same findings, and there are few tasks
        self._flagged_once = lru_cache(maxsize=4096)(self._flagged)
        self.boxes = lru_cache(self._boxes)

    def name(self, stop: Mapping[str, Any]) -> Markup:
        """Return the core's id, or its row where it has none."""
        if _has(stop["core_id"]):
            return self._words.own(title_text(stop["core_id"], _ID))
        return self._say("sheet.row", n=int(stop["row"]))

    def what(self, stop: Mapping[str, Any]) -> Markup:
        """Return street, side and distance along, size, weight, surface and state."""
        say, words, units = self._say, self._words, self.units
        street = words.own(title_text(stop["street"], _STREET)) if _has(stop["street"]) else say("sheet.no_street")
        where = [_strong(street)]
        if _has(stop["side"]):
            where.append(say(f"sheet.side_{stop['side']}"))
        if _has(stop["chainage_m"]):
            where.append(say("sheet.along", distance=units.one(stop["chainage_m"], "m", "ft")))
        parts = [joined(", ", where)]
        if _has(stop["diameter_mm"]) and _has(stop["depth_mm"]):
            wide, deep = (units.one(stop[name], "mm", "in") for name in ("diameter_mm", "depth_mm"))
            parts.append(_strong(say("sheet.size", wide=wide, deep=deep)))
        else:
            parts.append(say("sheet.no_size"))
        if _has(stop["weight_kg"]):
            parts.append(escape(units.one(stop["weight_kg"], "kg", "lb")))
        parts.append(words.own(words.translated(str(stop["surface"]))))
        parts.append(_strong(say(f"state.{stop['state']}")))
        return joined(_DOT, parts)

    def task(self, task: str) -> Markup:
        """Return what is to be done at a core that nothing is mixed for."""
        return self._say("sheet.survey" if task == "survey" else "sheet.make_safe")

    def mix(self, stop: Mapping[str, Any], sharing: list[Mapping[str, Any]]) -> Markup:
        """Return what is opened here, from which mix the grout comes, who shares it, and the gravel.

        ``sharing``: all stops of the mix in order, this one included.
        """
        say, number = self._say, int(stop["mix"])
        others = [int(one["stop"]) for one in sharing if one["row"] != stop["row"]]
        if stop["bags"] > 0:
            water = self.units.one(stop["water_l"], "L", "gal", 1)
            parts = [_strong(say("sheet.open_here", bags=self.bags(stop["bags"]), water=water))]
        else:
            before = [one for one in sharing if one["stop"] < stop["stop"] and one["bags"] > 0]
            giver = int(before[-1]["stop"]) if before else int(stop["stop"])
            parts = [_strong(say("sheet.open_none", stop=giver))]
        if others:
            shared = self._words.listed(map(str, others))
            parts.append(say("sheet.mix_shared", mix=number, n=len(others), stops=shared))
        else:
            parts.append(say("sheet.mix_alone", mix=number))
        if _has(stop["gravel_kg"]) and stop["gravel_kg"] > 0:
            # last on its line: a number is not parted from its unit
            weight = self.units.one(stop["gravel_kg"], "kg", "lb").replace(" ", "\u00a0")
            parts.append(say("sheet.gravel", weight=weight))
        return joined(_DOT, parts)

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
            parts.append(_strong(say(key, at=stop["earliest_traffic"], air=air)))
        if not self._has_expired(stop) and _has(stop["permit_expires_on"]):
            parts.append(self._permit("sheet.permit", stop))
        return joined(" ", parts)

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
        """Return what else to know: late, promised, permit expired."""
        say, parts = self._say, []
        if stop["late_days"] > 0:
            parts.append(_strong(say("sheet.late", n=int(stop["late_days"]))))
        if stop["is_kept"]:
            parts.append(_strong(say("sheet.promised")))
        if self._has_expired(stop):
            parts.append(_strong(self._permit("sheet.permit_expired", stop)))
        return parts

    def flagged(self, stop: Mapping[str, Any], most: int) -> Markup:
        """Return what was flagged: the titles of so many findings, shortened, and the number of the others."""
        known = set(str(stop["findings"] or "").split(";")) & set(self._rank)
        # what a line above says already
        known -= {_EXPIRED} if self._has_expired(stop) else set()
        known -= {_OPEN_TOO_LONG} if stop["late_days"] > 0 else set()
        return self._flagged_once(tuple(sorted(known, key=self._rank.__getitem__)), most)

    def _flagged(self, found: tuple[str, ...], most: int) -> Markup:
        titles = [self._words.translated(self._titles[slug]) for slug in found[:most]]
        shown = titles if most > _FULL else [textwrap.shorten(text, _TITLE, placeholder="…") for text in titles]
        more = len(found) - len(shown)
        if not found:
            return Markup()
        if not shown:
            return self._say("sheet.flagged_count", n=more)
        text = _strong(self._say("sheet.flagged", titles=" ".join(shown)))
        return text + " " + self._say("sheet.flagged_more", n=more) if more else text

    def _boxes(self, task: str) -> tuple[Markup, ...]:
        us = {"water", "air", "flush", "diameter", "depth"} if self.units.is_us else set()
        return tuple(self._say(f"sheet.box_us_{name}" if name in us else f"sheet.box_{name}") for name in _BOXES[task])
