"""The record of a run: inputs, settings, results, versions, and the cost of each stage."""

import hashlib
import json
import platform
from collections.abc import Iterable
from dataclasses import asdict
from importlib.metadata import version
from math import fsum
from pathlib import Path
from typing import Any, Final

import pandas as pd
import pyogrio
import shapely

from pipeline.clock import StageCost
from pipeline.contracts import CORE_STATES, SEVERITIES, URGENCIES
from pipeline.intake import InputFile
from pipeline.intake.crs import name_of
from pipeline.ledger import GONE, NEW, UNCHANGED
from pipeline.programme.outputs import Publish
from pipeline.programme.settings import Settings
from pipeline.publish.days_off import days_off_record
from pipeline.publish.setting_sources import setting_sources
from pipeline.results import RunResult
from pipeline.version import __version__

__all__ = ["COST_KEYS", "as_json", "database_record", "record", "run_id", "stages_record"]

_LIBRARIES: Final = (
    "babel",
    "folium",
    "geopandas",
    "numpy",
    "pandas",
    "pint",
    "pyarrow",
    "pyogrio",
    "pyproj",
    "shapely",
    "xlsxwriter",
)
# the entries in which two runs of the same inputs may differ
COST_KEYS: Final = ("stages", "versions")


def record(result: RunResult, costs: list[StageCost], programme_file: str, sha256: str) -> dict[str, Any]:
    """Return the run's record; it holds no path of this machine."""
    orders = result.orders
    return {
        "programme": result.settings.programme.name,
        "as_of": result.as_of.isoformat(),
        "programme_file": {"name": programme_file, "sha256": sha256},
        "inputs": [_input(file) for file in result.inputs.files],
        "crs": name_of(result.inputs.crs),
        "settings": _settings(result.settings),
        "days_off": days_off_record(result),
        "units_of_bare_numbers": _only(result.inputs.register.units),
        "catalogue_overridden": result.catalogue.overridden,
        "account": result.account,
        "cores_by_state": _counts(result.counted("state"), CORE_STATES),
        "findings_by_severity": _counts(result.counted_findings["severity"], SEVERITIES),
        "findings_by_urgency": _counts(result.counted_findings["urgency"], URGENCIES),
        # those on copies included
        "rows_of_findings": len(result.audit.findings),
        "rules": result.audit.rules.to_dict("records"),
        "thresholds": result.audit.thresholds.to_dict("records"),
        "setting_sources": {one.key: one.source for one in setting_sources(result.settings)},
        "plan": _plan(result),
        "orders": {
            "cores_served": orders.cores,
            "cores_left_out": int(orders.left_out["cores"].sum()),
            "left_out": orders.left_out.groupby("reason")["cores"].sum().sort_index().astype(int).to_dict(),
            "bags_needed": round(fsum(result.cores.loc[result.cores["is_open"], "bags"].dropna()), 6),
            "bags_if_no_mix_is_shared": orders.unshared_bags,
        },
        "returned_fields": _outcomes(result.inputs.returns),
        "corrected_cells": int(result.decided.corrections["standing"].eq("holds").sum()),
        "compared_with": None
        if result.earlier.run is None
        else {"as_of": result.earlier.run.as_of.isoformat(), "cores_csv_sha256": result.earlier.sha256},
        "findings_followed": _followed(result),
        "notices": result.inputs.notices,
        "not_asked_for": result.settings.publish.left_out,
        "sources": result.inputs.credits,
        "versions": {
            "kerfbook": __version__,
            "python": platform.python_version(),
            **{name: version(name) for name in _LIBRARIES},
            "gdal": pyogrio.__gdal_version_string__,
            "geos": shapely.geos_version_string,
        },
        "stages": stages_record(costs),
    }


def database_record(publish: Publish) -> dict[str, Any]:
    """Return the entry that says in which database the run is kept too, without credentials; empty for none."""
    if publish.database is None:
        return {}
    return {"database": {"path": publish.database.place, "schema": publish.database.schema_name}}


def stages_record(costs: list[StageCost]) -> list[dict[str, Any]]:
    """Return what the record says of the stages."""
    return [
        {
            "stage": cost.stage,
            "seconds": round(cost.seconds, 3),
            "peak_mb": None if cost.peak_mb is None else round(cost.peak_mb),
        }
        for cost in costs
    ]


def _plan(result: RunResult) -> dict[str, Any]:
    """Return how much is planned, late and not planned, with the bounds and the faults that the check found."""
    plan = result.plan
    stops, last = plan.stops, plan.stops["day"].max()
    return {
        "stops": len(stops),
        "by_task": stops["task"].value_counts().sort_index().astype(int).to_dict(),
        "last_day": None if pd.isna(last) else last.date().isoformat(),
        "late": int(stops["late_days"].gt(0).sum()),
        "kept": int(stops["is_kept"].sum()),
        "crew_days": len(plan.days),
        "not_planned": plan.not_planned["reason"].value_counts().sort_index().astype(int).to_dict(),
        "bounds": plan.bounds.astype(object).where(plan.bounds.notna(), None).to_dict("records"),
        "faults": len(plan.faults),
    }


def _followed(result: RunResult) -> dict[str, int]:
    """Return how many rows of findings are new, unchanged and gone; those without a fingerprint cannot be followed."""
    found = result.audit.findings
    counts = {name: int(found["baseline"].eq(name).sum()) for name in (NEW, UNCHANGED)}
    return counts | {GONE: len(result.gone), "not_followed": int(found["fingerprint"].isna().sum())}


def _outcomes(returns: pd.DataFrame) -> dict[str, int]:
    """Return how many returned fields had each outcome."""
    if returns.empty:
        return {}
    return {str(outcome): int(count) for outcome, count in returns["outcome"].value_counts().sort_index().items()}


def _input(file: InputFile) -> dict[str, Any]:
    """Return what the record says of an input; of parts only where it has any."""
    facts = asdict(file)
    return facts if file.parts else {name: fact for name, fact in facts.items() if name != "parts"}


def _counts(values: pd.Series, names: Iterable[str]) -> dict[str, int]:
    """Return how often each name occurs."""
    counts = values.value_counts()
    return {name: int(counts.get(name, 0)) for name in names}


def _settings(settings: Settings) -> dict[str, Any]:
    """Return the settings as the programme writes them: a lone register as a table, several as a list, each named."""
    written = settings.model_dump(mode="json", by_alias=True, exclude={"catalogue"})
    named = [one | {"name": read.register_name} for one, read in zip(written["cores"], settings.cores, strict=True)]
    # where else the run is kept is an entry of its own, and no setting that an answer or the run's identity rests on
    del written["publish"]["database"]
    return written | {"cores": written["cores"][0] if len(named) == 1 else named}


def _only(by_register: dict[str, Any]) -> Any:  # noqa: ANN401 - what a register has, or that by register
    """Return what is kept by register; of a lone register without its name."""
    return next(iter(by_register.values())) if len(by_register) == 1 else by_register


def run_id(entries: dict[str, Any], results: Iterable[Path]) -> str:
    """Return the run's identity: a checksum over its inputs, settings and results, without times and versions.

    Parameters
    ----------
    entries
        The run's record.
    results
        Files that hold the results.
    """
    kept = {key: value for key, value in entries.items() if key not in COST_KEYS}
    digest = hashlib.sha256(as_json(kept).encode())
    for file in results:
        with file.open("rb") as content:
            digest.update(hashlib.file_digest(content, "sha256").digest())
    return digest.hexdigest()


def as_json(value: dict[str, Any]) -> str:
    """Return JSON text laid out for people to read."""
    return json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
