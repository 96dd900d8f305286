"""Registers and layers as GeoParquet in parts, written by geopandas and pyarrow: the audit is that of the whole files."""

import json
import shutil
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
from pyarrow import parquet

from pipeline.run import run_programme
from tests.small_town import write_town


def _town(folder: Path) -> Path:
    """The small town with every input as one Parquet file."""
    folder.mkdir()
    programme = write_town(folder)
    text = programme.read_text("utf-8").replace('"cores.csv"', '"cores.parquet"')
    for name in ("roads", "districts"):
        gpd.read_file(folder / f"{name}.gpkg").to_parquet(folder / f"{name}.parquet")
        text = text.replace(f"{name}.gpkg", f"{name}.parquet")
    pd.read_csv(folder / "cores.csv", dtype="str", keep_default_na=False).to_parquet(folder / "cores.parquet")
    programme.write_text(text, "utf-8")
    return programme


def _in_parts(whole: Path, folder: Path) -> Path:
    """The same with every input as a folder of parts with a covering."""
    shutil.copytree(whole, folder)
    for name in ("cores", "roads", "districts"):
        (folder / f"{name}.parquet").unlink()
        (folder / f"{name}.parquet").mkdir()
    table = pd.read_parquet(whole / "cores.parquet")
    for number, rows in enumerate(np.array_split(np.arange(len(table)), 3)):
        parquet.write_table(pa.Table.from_pandas(table.iloc[rows]), folder / "cores.parquet" / f"part-{number}.parquet")
    (folder / "cores.parquet" / "_SUCCESS").touch()
    for name in ("roads", "districts"):
        layer = gpd.read_parquet(whole / f"{name}.parquet")
        layer.to_parquet(folder / f"{name}.parquet" / "part-0.parquet", write_covering_bbox=True)
        layer.iloc[:0].to_parquet(folder / f"{name}.parquet" / "part-1.parquet", write_covering_bbox=True)
    return folder / "programme.toml"


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """The folders of the run of the whole files and of that of the parts."""
    folder = tmp_path_factory.mktemp("parts")
    whole = _town(folder / "whole")
    parts = _in_parts(folder / "whole", folder / "parts")
    return [run_programme(programme, folder / "out" / programme.parent.name).folder for programme in (whole, parts)]


@pytest.mark.parametrize("name", ["cores.csv", "findings.csv", "orders.csv", "map.html", "cores.gpkg", "plan.csv"])
def test_the_outputs_are_the_same(runs, name):
    whole, parts = ((run / name).read_bytes() for run in runs)
    assert whole == parts


def test_the_record_has_the_checksum_of_every_part(runs):
    whole, parts = (json.loads((run / "run.json").read_text("utf-8"))["inputs"] for run in runs)
    assert all("parts" not in file for file in whole)
    assert [list(file["parts"]) for file in parts if file["section"] == "cores"] == [
        [f"cores.parquet/part-{number}.parquet" for number in range(3)]
    ]
    assert [file["rows_in_file"] for file in parts] == [file["rows_in_file"] for file in whole]
    assert all(len(sha256) == 64 for file in parts for sha256 in file["parts"].values())
