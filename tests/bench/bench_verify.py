"""Processor seconds and memory of ``kerfbook verify`` by stage: ``python -m tests.bench.bench_verify 100000``.

Audits a grid of streets twice, two weeks apart, so that the pack has works and changes. With the path of a pack as a
second argument, checks that one instead.
"""

import datetime as dt
import sys
import tempfile
import time
from pathlib import Path

import geopandas as gpd

from pipeline.clock import peak_mb
from pipeline.commands.verify import verify
from pipeline.run import run_programme
from tests.bench.whole_town import make_town

_WORKS = """
[planned_works]
path = "works.gpkg"
columns = { works_id = "id", name = "name", due_on = "first", ends_on = "last" }
"""
_WIDTH_M = 15
_EACH = 40


class _Stages:
    """Prints what each stage took as the next one begins."""

    def __init__(self) -> None:
        self._name = ""
        self._from = self.start = time.process_time()

    def stage(self, name: str, _number: int, _count: int) -> None:
        now = time.process_time()
        if self._name:
            print(f"  {self._name:<12} {now - self._from:8.2f} s   peak {peak_mb():,.0f} MB")
        self._name, self._from = name, now

    def detail(self, text: str, done: int = 0, total: int = 0, unit: str = "") -> None:
        """Ignore what a stage works on."""


def _pack(folder: Path, cores: int) -> Path:
    make_town(folder, cores, cores // 4, cores // 12)
    roads = gpd.read_parquet(folder / "roads.parquet").iloc[::_EACH]
    works = {"id": [f"W-{number}" for number in range(len(roads))], "first": "2026-10-05", "last": "2026-11-20"}
    gpd.GeoDataFrame(
        {**works, "name": "Works on " + roads["name"].to_numpy()},
        geometry=roads.buffer(_WIDTH_M).to_numpy(),
        crs=roads.crs,
    ).to_file(folder / "works.gpkg")
    programme = folder / "programme.toml"
    programme.write_text(programme.read_text("utf-8") + _WORKS, encoding="utf-8")
    for day in (dt.date(2026, 9, 15), dt.date(2026, 9, 30)):
        run = run_programme(programme, folder / "out", as_of=day)
    return run.folder / "handover"


def main() -> None:
    cores = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as name:
        pack = Path(sys.argv[2]) if len(sys.argv) > 2 else _pack(Path(name), cores)
        before = peak_mb()
        stages = _Stages()
        verified = verify(pack, progress=stages)
        stages.stage("end", 0, 0)
        seconds = time.process_time() - stages.start
    print(
        f"{verified.identity['cores']:,} cores: {seconds:.1f} s of processor time, peak {peak_mb():,.0f} MB ({before:,.0f} before)"
    )
    print("\n".join(f"  {file.name:<18} {file.size / 1e6:8.2f} MB  {file.checked}" for file in verified.files))


if __name__ == "__main__":
    main()
