"""Bytes of a pack changed at random, its checksums made good again: ``python -m tests.bench.bench_forged 200``.

Prints how many of the edits are found by file, and each that is not.
"""

import shutil
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from pipeline.commands.verify import verify
from pipeline.errors import InputError
from pipeline.run import run_programme
from tests.commands.packs import resum
from tests.small_town import write_town


def main(edits: int) -> None:
    """Try that many edits, each of one byte, on a pack of the small town."""
    rng = np.random.default_rng(1)
    with tempfile.TemporaryDirectory() as folder:
        pack = run_programme(write_town(Path(folder)), Path(folder) / "out").folder / "handover"
        names = sorted(file.name for file in pack.iterdir() if file.name != "SHA256SUMS")
        found = dict.fromkeys(names, 0)
        tried = dict.fromkeys(names, 0)
        started = time.perf_counter()
        for number in range(edits):
            name = names[number % len(names)]
            spoiled = Path(folder) / "spoiled"
            shutil.rmtree(spoiled, ignore_errors=True)
            shutil.copytree(pack, spoiled)
            raw = bytearray((spoiled / name).read_bytes())
            at = int(rng.integers(len(raw)))
            raw[at] ^= int(rng.integers(1, 256))
            (spoiled / name).write_bytes(raw)
            resum(spoiled)
            tried[name] += 1
            try:
                verify(spoiled)
            except InputError:
                found[name] += 1
            else:
                print(f"{name}: byte {at:,} changed unseen")
        seconds = (time.perf_counter() - started) / edits
    print("\n".join(f"{name}: {found[name]} of {tried[name]} edits found" for name in names))
    print(f"{seconds:.2f} s per check")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
