"""Checks of the stops: which core, which crew, which day, in which order and at which times."""

import pandas as pd

from pipeline.plan.checker.given import BOTH, CLOSE, Given, Tables, faults, looked_up

__all__ = ["districts", "needed", "numbers", "once", "surfaces", "times", "windows", "working_days"]


def once(tables: Tables, given: Given) -> pd.DataFrame:  # noqa: ARG001 - every check takes the same two
    """Each core is planned once at most."""
    stops = tables.stops.reset_index(names="core").drop_duplicates(["core", *BOTH, "stop"])
    return faults(stops[stops.duplicated("core")], "The core is planned more than once.")


def needed(tables: Tables, given: Given) -> pd.DataFrame:
    """Each stop is at a core where something has to be done, and does that."""
    stops = tables.stops.reset_index(names="core")
    known = stops["core"].isin(given.jobs.index)
    # a core that the register has no id for has none at its stop either
    is_its_id = stops["core_id"].fillna("").eq(stops["job_core_id"].fillna(""))
    same = stops["task"].eq(stops["job_task"]) & is_its_id
    return pd.concat(
        [
            faults(stops[~known], "Nothing has to be done at the core."),
            faults(stops[known & ~same], "The task or the core id is not that of the core."),
        ]
    )


def numbers(tables: Tables, given: Given) -> pd.DataFrame:  # noqa: ARG001 - every check takes the same two
    """The stops of a crew's day are numbered from 1, without a gap."""
    stops = tables.stops.reset_index(drop=True)
    counted = stops.groupby(BOTH).cumcount() + 1
    wrong = stops["stop"].ne(counted)
    return faults(stops[wrong], "Stop {stop} should be stop {counted}.", stop=stops["stop"], counted=counted)


def working_days(tables: Tables, given: Given) -> pd.DataFrame:
    """A crew works on each of its days."""
    stops = tables.stops.reset_index(drop=True)
    return faults(stops[~looked_up(given.works, stops["crew"], stops["day"])], "The crew does not work on that day.")


def windows(tables: Tables, given: Given) -> pd.DataFrame:
    """The work at a core may be done on its day: no window, booked day or closure is against it."""
    stops = tables.stops[tables.stops.index.isin(given.jobs.index)]
    closed = ~looked_up(given.allowed, stops.index, stops["day"])
    return faults(stops.reset_index(drop=True)[closed], "The work may not be done on that day.")


def districts(tables: Tables, given: Given) -> pd.DataFrame:  # noqa: ARG001 - every check takes the same two
    """A crew serves the districts of its stops."""
    return _outside(tables, "districts", "job_district", "The crew does not serve {name}.")


def surfaces(tables: Tables, given: Given) -> pd.DataFrame:  # noqa: ARG001 - every check takes the same two
    """A crew works in the surfaces of its stops."""
    return _outside(tables, "surfaces", "job_surface", "The crew does not work in {name}.")


def _outside(tables: Tables, of_crew: str, of_job: str, text: str) -> pd.DataFrame:
    """Return a fault for each stop whose job is none of those listed for its crew; an empty list has them all."""
    stops = tables.stops.reset_index(drop=True)
    stops = stops[stops[of_job].notna()]
    listed = stops["crew"].map(tables.crews.set_index("crew")[of_crew].fillna("").str.casefold())
    # a name may have a semicolon of its own
    pairs = zip("; " + listed + "; ", "; " + stops[of_job].str.casefold() + "; ", strict=True)
    wrong = pd.Series([job not in every for every, job in pairs], stops.index, dtype=bool) & listed.ne("")
    return faults(stops[wrong], text, name=stops[of_job])


def times(tables: Tables, given: Given) -> pd.DataFrame:  # noqa: ARG001 - every check takes the same two
    """A stop ends after its work, and the next begins after the way to it."""
    stops = tables.stops.reset_index(drop=True)
    alone = stops["mix"].isna()
    work = stops["job_survey_min"].where(stops["task"].eq("survey"), stops["job_make_safe_min"])
    short = alone & stops["leave_min"].lt(stops["arrival_min"] + work - CLOSE)
    before = stops.groupby(BOTH)[["leave_min", "mix"]].shift()
    # those of one mix are fitted one after the other before the first is poured: the checks of mixes see to them
    apart = alone | stops["mix"].ne(before["mix"])
    ready = before["leave_min"].fillna(-float("inf"))
    rushed = apart & stops["arrival_min"].lt(ready + stops["travel_min"] - CLOSE)
    first = stops.groupby(BOTH)["stop"].transform("size").gt(0) & before["leave_min"].isna()
    starts = stops[BOTH].merge(tables.days[[*BOTH, "start_min"]], on=BOTH, how="left", validate="many_to_one")
    too_soon = first & stops["arrival_min"].lt(starts["start_min"] + stops["travel_min"] - CLOSE)
    return pd.concat(
        [
            faults(stops[short], "The crew leaves before the work is done."),
            faults(stops[rushed], "The crew arrives sooner than the way from the stop before allows."),
            faults(stops[too_soon], "The crew arrives sooner than the way from its start allows."),
        ]
    )
