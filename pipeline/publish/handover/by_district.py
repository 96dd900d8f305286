"""The GeoPackages of districts in a pack and the table of them: cut from the pack's own, which stays the whole."""

from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pyarrow as pa

from pipeline.clock import Counted
from pipeline.publish.geopackage.by_district import index_line, index_of, packages_by_district
from pipeline.publish.geopackage.package import GeoPackage, write_geopackage
from pipeline.publish.tables import write_csv
from pipeline.readback.pack_files import district_package

__all__ = ["district_packages", "draw_districts", "list_districts", "write_district_packages"]


def district_packages(package: GeoPackage) -> Iterator[tuple[str, GeoPackage]]:
    """Give the GeoPackage of each district that has cores, by the name of its file."""
    for part, content in packages_by_district(package):
        yield district_package(part.stem), content


def list_districts(package: GeoPackage) -> pd.DataFrame:
    """Return a row for each of these GeoPackages: its cores, and where they are."""
    parts = packages_by_district(package)
    return index_of([index_line(district_package(part.stem), part, content) for part, content in parts])


def draw_districts(districts: pd.DataFrame) -> str:
    """Return the text of the table of them."""
    written = pa.BufferOutputStream()
    write_csv(districts, written)
    text: str = written.getvalue().to_pybytes().decode()
    return text


def write_district_packages(package: GeoPackage, folder: Path, tell: Counted) -> None:
    """Write them into a pack; ``tell`` is told the files written."""
    count = package.cores["district"].nunique(dropna=False)
    for done, (name, content) in enumerate(district_packages(package)):
        tell(done, count, "files")
        write_geopackage(content, folder / name)
