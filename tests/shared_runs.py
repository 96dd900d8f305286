"""What takes long to make, made once per test session: the worker that asks first makes it, all others read it."""

import fcntl
import os
import pickle
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any


def shared_folder(base: Path) -> Path:
    """Return the folder that all workers of a session share, from the one that pytest keeps for this worker."""
    return base.parent if "PYTEST_XDIST_WORKER" in os.environ else base


def made_once(shared: Path, name: str, make: Callable[[Path], Any]) -> Any:
    """Return what ``make`` returned in the worker that asked first.

    Parameters
    ----------
    shared
        The folder that all workers share.
    name
        Of what is made: no two things have the same.
    make
        Gets an empty folder of its own; what it returns is pickled. Nobody may change the result or the folder: a test
        that writes gets a copy of both.
    """
    kept = shared / f"{name}.pickle"
    with (shared / f"{name}.lock").open("w") as lock:
        # whoever comes second waits until the first has finished, or has died
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not kept.exists():
            shutil.rmtree(shared / name, ignore_errors=True)
            (shared / name).mkdir()
            result = make(shared / name)
            (shared / f"{name}.part").write_bytes(pickle.dumps((result, _dates(shared / name))))
            (shared / f"{name}.part").rename(kept)
        return pickle.loads(kept.read_bytes())[0]


def changed_since(shared: Path) -> list[str]:
    """Return the files of shared folders that a test has changed, added or removed since they were made."""
    changed = []
    for kept in sorted(shared.glob("*.pickle")):
        _, before = pickle.loads(kept.read_bytes())
        now = _dates(kept.with_suffix(""))
        changed += [name for name in sorted(before.keys() | now.keys()) if before.get(name) != now.get(name)]
    return changed


def _dates(folder: Path) -> dict[str, int]:
    return {str(file): file.stat().st_mtime_ns for file in folder.rglob("*") if file.is_file()}
