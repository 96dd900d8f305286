"""What a worker of a cluster does: it reads a piece, works on it, and writes what it made beside it."""

import os
import pickle
import platform
from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, Final

from pipeline.engines.engine import Work
from pipeline.errors import SettingsError
from pipeline.version import __version__

__all__ = ["Build", "build_of", "make", "other_build", "probe"]

# versions by name
Build = dict[str, str]
# what digits and ties depend on
_LIBRARIES: Final = ("geopandas", "numpy", "pandas", "pyarrow", "pyproj", "pyvrp", "rapidfuzz", "scipy", "shapely")


def make(work: Work[Any, Any], piece: str, expected: Build) -> None:
    """Write what some work makes of a piece. It may be done twice, also at the same time: the result is the same.

    Raises
    ------
    SettingsError
        This worker would not give the answers of the build that is expected.
    """
    if build_of() != expected:
        raise SettingsError(other_build(platform.node(), build_of(), expected))
    path = Path(piece)
    made = path.with_suffix(".made")
    if made.exists():
        return
    with path.open("rb") as file:
        thing = pickle.load(file)  # noqa: S301 - written by the engine in a folder of its own
    result = work(thing, _nobody)
    half = path.with_suffix(f".{platform.node()}-{os.getpid()}")
    try:
        with half.open("wb") as file:
            pickle.dump(result, file, protocol=pickle.HIGHEST_PROTOCOL)
        half.replace(made)
    finally:
        half.unlink(missing_ok=True)


def _nobody(done: int) -> None:
    """Tell nobody: the engine counts pieces."""


def probe(path: str) -> Build | None:
    """Return with what a worker works; None if it cannot read a file of the folder for pieces."""
    return build_of() if os.access(path, os.R_OK) and os.access(Path(path).parent, os.W_OK) else None


@cache
def build_of() -> Build:
    """Return the versions of this program and of the libraries that answers depend on."""
    build = {"kerfbook": f"{__version__} {_digest()}", "python": platform.python_version()}
    for name in _LIBRARIES:
        try:
            build[name] = version(name)
        except PackageNotFoundError:
            build[name] = "missing"
    return build


def other_build(worker: str, theirs: Build, ours: Build) -> str:
    """Return what is said of a worker with other versions than ours."""
    differing = ", ".join(
        f"{name} {theirs.get(name, 'missing')} (here {known})"
        for name, known in sorted(ours.items())
        if theirs.get(name) != known
    )
    return (
        f"The worker {worker} would not give the same answers as this machine: it has {differing}. Install the same "
        "versions on both."
    )


def _digest() -> str:
    """Return a digest of this program: two states of it have the same version while it is worked on."""
    root = Path(__file__).parents[1]
    digest = sha256()
    for path in sorted(root.rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:12]
