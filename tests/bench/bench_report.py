"""Size of the report and seconds to draw it: ``python -m tests.bench.bench_report 100000``."""

import sys
import tempfile
import time
from pathlib import Path

from pipeline.publish.report.report import draw_report
from pipeline.run import run_programme
from tests.bench.whole_town import make_town


def main(cores: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_town(folder, cores, cores // 4, cores // 12)
        result = run_programme(folder / "programme.toml", None)
        for _ in range(3):
            start = time.perf_counter()
            page = draw_report(result)
            seconds = time.perf_counter() - start
            print(
                f"{cores:,} cores, {len(result.audit.findings):,} findings: {len(page.encode()) / 1000:,.0f} kB in {seconds:.2f} s"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
