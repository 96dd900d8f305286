"""What a worker of a cluster does: it reads a piece, works on it, and writes what it made beside it."""

import os
import pickle
import platform
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, Final

from pipeline.engines.engine import Work
from pipeline.version import __version__

__all__ = ["Build", "build_of", "make", "probe"]

# versions by name
Build = dict[str, str]
# what digits and ties depend on
_LIBRARIES: Final = ("geopandas", "numpy", "pandas", "pyarrow", "pyproj", "pyvrp", "rapidfuzz", "scipy", "shapely")


def make(work: Work[Any, Any], piece: str) -> None:
    """Write what some work makes of a piece. It may be done twice, also at the same time: the result is the same."""
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


def build_of() -> Build:
    """Return the versions of this program and of the libraries that answers depend on."""
    build = {"kerfbook": f"{__version__} {_digest()}", "python": platform.python_version()}
    for name in _LIBRARIES:
        try:
            build[name] = version(name)
        except PackageNotFoundError:
            build[name] = "missing"
    return build


def _digest() -> str:
    """Return a digest of this program: two states of it have the same version while it is worked on."""
    root = Path(__file__).parents[1]
    digest = sha256()
    for path in sorted(root.rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:12]
