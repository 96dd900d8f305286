"""The days of crews as a phone and a calendar show them."""

from collections.abc import Iterator, Mapping
from typing import Any

import pandas as pd

from pipeline.publish.plan.day_stops import StopsByDay, stops_by_day
from pipeline.publish.plan.phone import PhoneDay, PhoneStop
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["phone_days"]


def phone_days(result: RunResult, words: Words, by_day: StopsByDay | None = None) -> Iterator[tuple[str, PhoneDay]]:
    """Return each crew day that has a sheet, with its crew; texts are plain, and in the language of ``words``.

    ``by_day``: the stops of these days, where they are known already.
    """
    programme = result.settings.programme.name
    ids = result.cores[["register", "core_id"]]
    # the id of a core outlives its row, which a new version of the register may change
    lasting = set(ids[~ids.duplicated(keep=False)].dropna().itertuples(index=False, name=None))
    for (crew, day), stops in (stops_by_day(result) if by_day is None else by_day).items():
        title = words.plainly("sheet.phone_title", crew=crew, day=words.day(day.date()))
        yield crew, PhoneDay(title, day.date(), tuple(_stop(stop, programme, lasting, words) for stop in stops))


def _stop(row: Mapping[Any, Any], programme: str, lasting: set[tuple[Any, ...]], words: Words) -> PhoneStop:
    say, task = words.plainly, str(row["task"])
    name = row["core_id"] if isinstance(row["core_id"], str) else say("sheet.row", n=int(row["row"]))
    lines = [say(f"sheet.task_{task.replace(' ', '_')}")]
    if pd.notna(row["mix"]):
        bags = say("sheet.bags", n=float(row["bags"]), bags=words.measure(row["bags"]))
        shade = words.translated(str(row["shade"]))
        lines += [say("sheet.phone_mix", mix=int(row["mix"]), shade=shade, bags=bags)]
        lines += [say("sheet.traffic", at=row["earliest_traffic"])]
    lines.append(str(row["cautions"]))
    place = [text for text in (row["street"], row["district"]) if isinstance(text, str)]
    own = "" if (row["register"], row["core_id"]) in lasting else row["row"]
    key = "\x1f".join(map(str, (programme, row["register"], name, own)))
    return PhoneStop(
        key, say("sheet.phone_stop", n=int(row["stop"]), core=name), tuple(lines), ", ".join(place), float(row["lon"]),
        float(row["lat"]), float(row["arrival_min"]), float(row["leave_min"]),
    )  # fmt: skip
