"""Made-up worlds of crews: who works where, what goes wrong there, and how each crew records it."""

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.audit.outcomes import AT_LIMIT, FOUND, NOT_ASSESSED, PASSED

AS_OF = dt.date(2026, 9, 30)
_ZONE = "America/Toronto"
# rules on the work on reinstated cores
WORK_RULES = ("water-ratio-off", "air-temperature-outside", "bedding-off", "flush-out-of-tolerance", "grout-short")


def rule_book(slugs=WORK_RULES, family="placement", severity="check", applies_to="reinstated"):
    """Return the rows of the rule book that a comparison reads."""
    return pd.DataFrame([
        {"rule": slug, "family": family, "severity": severity, "applies_to": applies_to} for slug in slugs
    ])  # fmt: skip


def cores_of(**columns):
    """Return N cores with the columns named, each a list; the others are the same for all cores."""
    count = len(next(iter(columns.values())))
    same = {
        "register": "north", "crew": "Crew A", "district": "Mill Bank", "surface": "asphalt", "road_class": "main",
        "hole_mm": 457.2, "depth_believed_mm": 200.0, "street_matched": "Quay", "segment_id": "S1", "is_open": False,
        "is_copy": False, "core_id": [f"C-{number}" for number in range(count)],
    }  # fmt: skip
    days = columns.pop("reinstated_at", ["2026-08-01"] * count)
    opened = columns.pop("opened_on", days)
    cores = pd.DataFrame({**same, **columns}, index=range(count))
    for name, cells in (("reinstated_at", days), ("opened_on", opened)):
        instants = pd.to_datetime(pd.Series(cells, dtype="str"), format="ISO8601").dt.tz_localize(_ZONE)
        cores[name] = instants.astype(f"datetime64[us, {_ZONE}]")
    texts = ["register", "crew", "district", "surface", "road_class", "street_matched", "segment_id", "core_id"]
    return cores.astype(dict.fromkeys(texts, "str"))


def outcomes_of(**codes):
    """Return the outcomes of rules: by slug, with "_" for "-", a code for each of N cores."""
    return pd.DataFrame({slug.replace("_", "-"): np.asarray(one, dtype="int8") for slug, one in codes.items()})


@dataclass(frozen=True)
class World:
    """How a world is made.

    ``crews`` crews of ``days`` days with ``per_day`` cores each; three contractors take turns. ``rate``: share of cores
    with a finding of a rule, on asphalt; on concrete it is ``harder`` times as high. ``correlation``: of findings
    within a day. ``mixed``: crews differ in how much they work on concrete, and in which months. ``gaps``: crews differ
    in what they record. ``coarse``: crews differ in how finely they record. ``worse``: odds by which the first crew's,
    ``worse_contractor`` the first contractor's, findings exceed those of the others.
    """

    crews: int = 12
    days: int = 12
    per_day: int = 8
    rate: float = 0.08
    harder: float = 1.0
    correlation: float = 0.1
    mixed: bool = False
    gaps: bool = False
    coarse: bool = False
    worse: float = 1.0
    worse_contractor: float = 1.0


def make(world, rng):
    """Return the cores of a world and the outcomes of ``WORK_RULES``."""
    crew = np.repeat(np.arange(world.crews), world.days * world.per_day)
    day = np.repeat(np.arange(world.crews * world.days), world.per_day)
    share = np.linspace(0.1, 0.9, world.crews)[crew] if world.mixed else 0.5
    concrete = rng.random(len(crew)) < share
    # a crew of a mixed world works in its own half of the year more than in the other
    span = 90 if world.mixed else 180
    begins = np.where(crew % 2, 90, 0) if world.mixed else np.zeros_like(crew)
    date = pd.Timestamp("2026-03-01") + pd.to_timedelta(
        begins + rng.integers(0, span, world.crews * world.days)[day], unit="D"
    )
    cores = cores_of(
        crew=[f"Crew {one:02}" for one in crew],
        register=np.array(["north", "south", "east"])[crew % 3],
        surface=np.where(concrete, "concrete", "asphalt"),
        district=np.array(["Mill Bank", "Harbourside", "Old Market"])[rng.integers(0, 3, len(crew))],
        reinstated_at=date.strftime("%Y-%m-%d"),
        segment_id=[f"S{one}" for one in range(len(crew))],
    )
    chance = np.where(concrete, world.rate * world.harder, world.rate)
    odds = chance / (1 - chance) * np.where(crew == 0, world.worse, 1.0)
    odds = odds * np.where(crew % 3 == 0, world.worse_contractor, 1.0)
    columns = {slug: _codes(world, odds / (1 + odds), crew, day, rng) for slug in WORK_RULES}
    return cores, pd.DataFrame(columns)


def _codes(world, chance, crew, day, rng):
    """The outcomes of one rule: a day shares a part of what decides, and each crew records in its way."""
    from scipy.stats import norm  # noqa: PLC0415 - a helper of tests that need no more of it

    days = day.max() + 1
    # what lies under the outcome: normal, with the day's part in common; findings correlate somewhat less than it does
    shared = np.sqrt(2.2 * world.correlation) * rng.standard_normal(days)[day]
    under = shared + np.sqrt(1 - 2.2 * world.correlation) * rng.standard_normal(len(crew))
    beyond = under - norm.ppf(1 - chance)
    codes = np.where(beyond > 0, FOUND, PASSED)
    if world.coarse:
        width = rng.choice([0.0, 0.1, 0.4], world.crews)[crew]
        codes = np.where(np.abs(beyond) < width, AT_LIMIT, codes)
    if world.gaps:
        recorded = rng.choice([0.0, 0.3, 0.9, 1.0], world.crews)[crew]
        codes = np.where(rng.random(len(crew)) < recorded, codes, NOT_ASSESSED)
    return codes.astype("int8")
