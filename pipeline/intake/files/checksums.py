"""The checksum of what was read: an input counts only if it stayed the same while it was read."""

import hashlib
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from pipeline.errors import InputError
from pipeline.intake.files.parquet_parts import is_parts_folder, parquet_parts, part_name

__all__ = ["fingerprint", "parts_of", "sums_of_parts", "unchanged"]

# the files beside an input that are read with it, by the input's own ending
_MAPINFO: Final = (".tab", ".dat", ".map", ".id", ".ind", ".dbf", ".mif", ".mid")
_PARTS: Final = {
    ".shp": (".shp", ".shx", ".dbf", ".prj", ".cpg", ".qix", ".sbn", ".sbx", ".idm", ".ind", ".qpj"),
    ".dbf": (".dbf", ".cpg", ".shp", ".shx", ".prj"),
    ".tab": _MAPINFO,
    ".mif": _MAPINFO,
    ".gml": (".gml", ".xsd"),
    ".csv": (".csv", ".csvt", ".prj"),
}
# what a database has not yet written into its own file
_LOGS: Final = ("-wal", "-journal")


def parts_of(path: Path) -> list[Path]:
    """Return the files that an input consists of, in the order of their names.

    Raises
    ------
    InputError
        One of them is not a file.
    """
    if is_parts_folder(path):
        return parquet_parts(path, path.name)
    if path.is_dir():
        return sorted(file for file in path.rglob("*") if file.is_file())
    endings = _PARTS.get(path.suffix.lower(), ())
    stem = path.stem.casefold()
    logs = {f"{path.name}{log}" for log in _LOGS}
    beside = [
        file
        for file in path.parent.iterdir()
        if file.name != path.name
        and ((file.suffix.lower() in endings and file.stem.casefold() == stem) or file.name in logs)
    ] if endings or _may_have_log(path) else []  # fmt: skip
    for file in beside:
        if not stat.S_ISREG(file.stat().st_mode):
            raise InputError(
                f"{path.name}: {file.name} beside it belongs to it, but is not a file. Remove it, or copy "
                "the file itself."
            )
    return sorted([path, *beside])


def _may_have_log(path: Path) -> bool:
    return any(path.with_name(f"{path.name}{log}").exists() for log in _LOGS)


def fingerprint(path: Path) -> str:
    """Return the SHA-256 of an input: of the file, or of all files of a format that has several."""
    digests = []
    for file in parts_of(path):
        with file.open("rb") as stream:
            digests.append(hashlib.file_digest(stream, "sha256"))
    if len(digests) == 1:
        return digests[0].hexdigest()
    return hashlib.sha256(b"".join(digest.digest() for digest in digests)).hexdigest()


def sums_of_parts(path: Path, label: str) -> dict[str, str]:
    """Return the SHA-256 of each file of a folder of parts, by its name in the record; none of other inputs."""
    if not is_parts_folder(path):
        return {}
    return {part_name(label, path, part): fingerprint(part) for part in parquet_parts(path, label)}


@contextmanager
def unchanged(path: Path, label: str) -> Iterator[str]:
    """Give the SHA-256 of an input for as long as it is read, and make sure that it did not change meanwhile.

    Raises
    ------
    InputError
        The input changed while it was read.
    """
    marks = _marks(path)
    sha256 = fingerprint(path)
    yield sha256
    # a file that was only touched is still the same
    if _marks(path) != marks and fingerprint(path) != sha256:
        raise InputError(
            f"{label}: the file changed while it was being read; expected it to stay unchanged. "
            "Run again when no program is writing to it."
        )


def _marks(path: Path) -> list[tuple[str, int, int, int, int]]:
    """Return what the file system changes with every change of a file."""
    states = [(str(part), part.stat()) for part in parts_of(path)]
    return [(name, state.st_ino, state.st_size, state.st_mtime_ns, state.st_ctime_ns) for name, state in states]
