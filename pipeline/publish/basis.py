"""What a run's answers follow from, written as Parquet into the run's folder for ``kerfbook explain``."""

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow as pa
from pyarrow import parquet

from pipeline.audit.limits import limit_in_words
from pipeline.audit.registry import RULES
from pipeline.clock import Counted, uncounted
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.thresholds import SCOPE_COLUMNS
from pipeline.readback.basis import BASIS, BASIS_FORMAT, BASIS_TABLES
from pipeline.results import RunResult

__all__ = ["basis_tables", "write_basis"]

# seven digits are enough for distances, likelihoods and chances, which fill most of these tables
_SHORT = ("candidates", "surfaces")


def write_basis(result: RunResult, folder: Path, tell: Counted = uncounted) -> dict[str, Any]:
    """Write ``basis/`` into a run's folder; return for the run's record its format and the checksums of its files.

    The same run gives the same bytes. ``tell``: is told the tables written.
    """
    (folder / BASIS).mkdir()
    sums = {}
    tables = basis_tables(result)
    for done, (name, table) in enumerate(tables.items()):
        tell(done, len(tables), "tables")
        file = folder / BASIS / f"{name}.parquet"
        _write(table, file)
        sums[file.name] = hashlib.sha256(file.read_bytes()).hexdigest()
    return {"format": BASIS_FORMAT, "sha256": sums}


def basis_tables(result: RunResult) -> dict[str, pd.DataFrame]:
    """Return the tables by name; those by core have the column ``row`` and are in the order of the register."""
    row, reasons = result.cores["row"], result.reasons
    plan = result.orders.plan
    segments = result.inputs.segments[["segment_id", "street"]]
    tables = {
        "cores": pd.concat([result.cores, reasons.errors], axis="columns"),
        "outcomes": result.audit.outcomes.assign(row=row),
        "candidates": reasons.candidates.assign(
            row=row.to_numpy()[reasons.candidates["core"]],
            **{name: segments[name].to_numpy()[reasons.candidates["segment"]] for name in segments},
        ).astype(dict.fromkeys(segments, "str")),
        "surfaces": _surfaces(result),
        "plan": plan.join(result.plan.stops[["row", "crew", "stop"]]).sort_values("row"),
        "corrections": result.decided.corrections,
        "limits": _limits(result.catalogue),
        "rules": _rules(result),
        "materials": pd.DataFrame(_materials(result.catalogue), columns=list(BASIS_TABLES["materials"])),
        "segments": _segments(result),
        "fitted": _fitted(result),
    }
    # the frame of cores and the outcomes have a column for whatever there is, the others for what is shown
    return {
        name: table[[*dict.fromkeys((*BASIS_TABLES[name], *map(str, table)))]]
        if name in {"cores", "outcomes"}
        else table[list(BASIS_TABLES[name])]
        for name, table in tables.items()
    }


def _surfaces(result: RunResult) -> pd.DataFrame:
    chances = result.reasons.surfaces
    if chances is None:
        return pd.DataFrame(columns=list(BASIS_TABLES["surfaces"])).astype({"row": "int64", "chance": float})
    row = result.cores["row"].to_numpy()[chances["core"]]
    return chances.assign(row=row).rename(columns={"name": "surface"}).astype({"surface": "str", "source": "str"})


def _segments(result: RunResult) -> pd.DataFrame:
    """Return what a plan needs of the road segments, in the run's CRS."""
    segments = result.inputs.segments
    return pd.DataFrame(segments.drop(columns="geometry")).assign(geometry=segments.geometry.to_wkb())


def _fitted(result: RunResult) -> pd.DataFrame:
    """Return the kerf and the bed that records of use show, in one row; none where the records are not sufficient."""
    found = result.calibration.kerf_and_bed
    rows = [] if found is None else [(found[0], found[1], found[2][0][0], found[2][0][1], found[2][1][1])]
    return pd.DataFrame(rows, columns=list(BASIS_TABLES["fitted"])).astype(float)


def _limits(catalogue: Catalogue) -> pd.DataFrame:
    rows = [
        {
            "rule": setting.rule,
            "threshold": setting.name,
            "value": limit_in_words(setting.written),
            "where": setting.where,
            "origin": setting.origin,
            "source": setting.source,
            **{name: setting.scope.get(name) for name in SCOPE_COLUMNS},
        }
        for setting in catalogue.threshold_settings
    ]
    return pd.DataFrame(rows, columns=list(BASIS_TABLES["limits"])).astype("str")


def _rules(result: RunResult) -> pd.DataFrame:
    rules = [RULES[slug] for slug in result.audit.rules["rule"]]
    return pd.DataFrame(
        {
            "rule": [rule.slug for rule in rules],
            "needs": [";".join(rule.needs) for rule in rules],
            "needs_any": [";".join(rule.needs_any) for rule in rules],
            "at_least": [rule.at_least for rule in rules],
            "shows": [";".join(rule.shows) for rule in rules],
        }
    )


def _materials(catalogue: Catalogue) -> Iterator[tuple[object, ...]]:
    """Yield a row per value: its name as a programme writes it, and where it comes from."""
    materials = catalogue.materials
    groups = {"geometry": materials.geometry, "grout": materials.grout}
    groups |= {f"bedding.{name}": bed for name, bed in materials.bedding.items()}
    named = [
        (f"{group}.{name}", getattr(values, name))
        for group, values in groups.items()
        for name in type(values).model_fields
    ]
    named += [(f"core_density.{surface}", density) for surface, density in materials.core_density.items()]
    for key, one in named:
        own = any(f"{changed}.".startswith(f"catalogue.materials.{key}.") for changed in catalogue.overridden)
        low, high = getattr(one, "low", None), getattr(one, "high", None)
        yield key, one.value, one.unit, low, high, one.source, "programme" if own else "shipped"


def _write(table: pd.DataFrame, path: Path) -> None:
    """Write a table in as few bytes as it takes: texts by a dictionary, the bytes of numbers side by side."""
    floats = [str(name) for name in table.select_dtypes("float")]
    if path.stem in _SHORT:
        table = table.astype(dict.fromkeys(floats, "float32"))
    parquet.write_table(
        pa.Table.from_pandas(table, preserve_index=False),
        path,
        compression="zstd",
        use_dictionary=[str(name) for name in table if name not in floats],
        use_byte_stream_split=floats,
    )
