"""The report's plan: who works when, what is late, what the plan minimises, its bounds, and what is not planned."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import TASK_WORDS, URGENCIES
from pipeline.publish.report.names import LONGEST_NAME, core_name, district_name
from pipeline.publish.report.plan_method import plan_method
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["plan_section"]

# with more crews, a week has only its total
_MOST_CREWS: Final = 12
# ids of a reason; all of them are in not_planned.csv
_MOST_IDS: Final = 40
_TASKS: Final = tuple(name for name, _ in TASK_WORDS)


def plan_section(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of the plan."""
    stops, left = result.plan.stops, result.plan.not_planned
    return {
        "plan_line": _line(stops, left, words),
        "plan_tasks": [
            words.say(f"planned.task_{task.replace(' ', '_')}", n=int(stops["task"].eq(task).sum()))
            for task in _TASKS
            if stops["task"].eq(task).any()
        ],
        **_weeks(stops, words),
        "plan_late": _late(stops, words),
        "plan_survey": _survey(stops, words),
        "plan_left": _not_planned(left, words),
        "plan_kept": int(stops["is_kept"].sum()),
        **plan_method(result, words),
    }


def _line(stops: pd.DataFrame, left: pd.DataFrame, words: Words) -> Markup:
    """Return the plan in one sentence, for the first page."""
    if stops.empty:
        return words.say("planned.nothing", n=len(left))
    late = int(stops["late_days"].gt(0).sum())
    return words.say(
        "planned.line", n=len(stops), first=words.date(stops["day"].min().date()),
        last=words.date(stops["day"].max().date()), late=late, left=len(left),
    )  # fmt: skip


def _weeks(stops: pd.DataFrame, words: Words) -> dict[str, Any]:
    """Return the stops by week and crew; a week is named by its Monday."""
    monday = (stops["day"] - pd.to_timedelta(stops["day"].dt.day_of_week, unit="D")).dt.strftime("%Y-%m-%d")
    counts = pd.crosstab(monday, stops["crew"])
    days = stops.drop_duplicates(["crew", "day"]).groupby(monday).size()
    named = list(map(str, counts)) if len(counts.columns) <= _MOST_CREWS else []
    return {
        "plan_crews": [words.own(name, LONGEST_NAME) for name in named],
        "plan_weeks": [
            {
                "week": words.date(str(week)),
                "stops": [words.number(row[name]) if row[name] else "" for name in named],
                "total": words.number(sum(row.values())),
                "days": words.number(int(days[str(week)])),
            }
            for week, row in counts.to_dict("index").items()
        ],
    }


def _late(stops: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    """Return how late the stops are, by urgency; those without an urgency last."""
    urgency = stops["urgency"].fillna("").where(stops["urgency"].isin(URGENCIES), "")
    rows = []
    for name in (*URGENCIES, ""):
        here = stops[urgency.eq(name)]
        if here.empty:
            continue
        late = here.loc[here["late_days"].gt(0), "late_days"].astype(float)
        rows.append(
            {
                "urgency": words.say(f"urgency.{name}") if name else words.say("planned.no_urgency"),
                "stops": words.number(len(here)),
                "due": words.number(int(here["due_on"].notna().sum())),
                "late": words.number(len(late)),
                "median": words.number(late.median()) if len(late) else "",
                "most": words.number(late.max()) if len(late) else "",
                "last": words.date(here["day"].max().date()),
            }
        )
    return rows


def _survey(stops: pd.DataFrame, words: Words) -> dict[str, Any] | None:
    """Return the survey round: how many cores, and when; None without one."""
    round_ = stops[stops["task"].eq("survey")]
    if round_.empty:
        return None
    return {
        "n": len(round_),
        "first": words.date(round_["day"].min().date()),
        "last": words.date(round_["day"].max().date()),
        **_ids(round_, words),
    }


def _not_planned(left: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    """Return what cannot be planned, by reason and by what would be needed, the most cores first."""
    found = left.assign(remedy=left["remedy"].fillna(""), district=left["district"].fillna(""))
    groups = sorted(found.groupby(["reason", "remedy"], sort=True), key=lambda one: -len(one[1]))
    return [
        {
            "reason": words.own(words.translated(str(reason))),
            "remedy": words.own(words.translated(str(remedy))),
            "n": len(rows),
            "districts": words.listed(district_name(name, words) for name in sorted(set(rows["district"]) - {""})),
            **_ids(rows, words),
        }
        for (reason, remedy), rows in groups
    ]


def _ids(rows: pd.DataFrame, words: Words) -> dict[str, Any]:
    """Return the ids of cores, the rows of those without one, and how many more there are."""
    shown = rows.sort_values("row").head(_MOST_IDS)
    return {
        "ids": [
            words.say("report.row", n=int(row)) if pd.isna(core) else core_name(core, words)
            for core, row in zip(shown["core_id"], shown["row"], strict=True)
        ],
        "ids_left": len(rows) - len(shown),
    }
