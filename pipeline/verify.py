"""A handover pack checked: every file against its checksum, every count against what the pack says of itself."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pipeline.errors import InputError
from pipeline.intake.packs import (
    Told,
    layer_told,
    map_told,
    open_pack,
    read_identity,
    read_sums,
    sha256_of,
    table_told,
)

__all__ = ["Verified", "verify"]

_SUMS: Final = "SHA256SUMS"
_IDENTITY: Final = "handover.json"
_NEEDED: Final = ("map.html", "cores.csv", "findings.csv", "cores.gpkg", "how-to-read.html", _IDENTITY)
_STATUSES: Final = ("flagged", "pending", "reinstated")
_DO: Final = "Do not work with this pack: ask for it again."


@dataclass(frozen=True)
class Verified:
    """A pack in which everything fits.

    ``identity``: what its ``handover.json`` says. ``files``: name, bytes and SHA-256 of each. ``fingerprint``: the
    SHA-256 of its ``SHA256SUMS``, to be compared with the sender's.
    """

    identity: Told
    files: list[tuple[str, int, str]]
    fingerprint: str


def verify(pack: Path, fingerprint: str | None = None) -> Verified:
    """Check a pack.

    Parameters
    ----------
    pack
        The folder, or its zip.
    fingerprint
        What the sender says it is; at least its first 16 hexadecimal digits, in any grouping.

    Raises
    ------
    InputError
        A file is missing, was added or has changed, or the files do not agree with each other; every one is named.
    """
    with open_pack(pack) as folder:
        problems: list[str] = []
        sums = _told(problems, pack, folder, lambda: read_sums(folder / _SUMS))
        files = [] if sums is None else _files(folder, sums, problems)
        found = sha256_of(folder / _SUMS) if sums is not None else ""
        if fingerprint is not None and sums is not None:
            wanted = "".join(fingerprint.split()).casefold()
            if len(wanted) < 16 or not found.startswith(wanted):
                problems.append(f"its fingerprint is {found}, not {fingerprint}: not the pack that was meant")
        identity = None
        if not problems:
            identity = _told(problems, pack, folder, lambda: read_identity(folder / _IDENTITY))
        if identity is not None:
            _agree(folder, pack, identity, problems)
    if problems or identity is None:
        lines = "\n".join(f"- {problem}" for problem in problems)
        raise InputError(f"{pack}: not as it was sent.\n{lines}\n{_DO}")
    return Verified(identity, files, found)


def _told(problems: list[str], pack: Path, folder: Path, read: Callable[[], dict[str, Any]]) -> dict[str, Any] | None:
    """What a file says, or a problem more."""
    try:
        return read()
    except InputError as error:
        # a zip was unpacked to a place that says nothing to anyone
        problems.append(str(error).replace(f"{folder}", str(pack)))
        return None


def _files(folder: Path, sums: dict[str, str], problems: list[str]) -> list[tuple[str, int, str]]:
    there = {file.name: file for file in sorted(folder.iterdir()) if file.name != _SUMS}
    problems += [f"{name}: missing" for name in sorted({*sums, *_NEEDED} - set(there))]
    problems += [f"{name}: not of the pack: SHA256SUMS does not name it" for name in sorted(set(there) - set(sums))]
    files = []
    for name in sorted(set(there) & set(sums)):
        if not there[name].is_file() or there[name].is_symlink():
            problems.append(f"{name}: no plain file")
            continue
        found = sha256_of(there[name])
        if found != sums[name]:
            problems.append(f"{name}: changed: its SHA-256 is {found}, not {sums[name]}")
        files.append((name, there[name].stat().st_size, found))
    return files


def _agree(folder: Path, pack: Path, identity: Told, problems: list[str]) -> None:
    """Whether every file holds the cores and findings that the pack says it holds, and no column besides."""
    counts = {status: identity[status] for status in _STATUSES if identity[status]}
    if sum(identity[status] for status in _STATUSES) != identity["cores"]:
        problems.append(f"{_IDENTITY}: the states do not add up to {identity['cores']} cores")
    for name, read in (
        ("cores.csv", lambda: table_told(folder / "cores.csv", "status")),
        ("cores.gpkg, layer cores", lambda: layer_told(folder / "cores.gpkg", "cores", "status")),
    ):
        told = _told(problems, pack, folder, read)
        if told is not None:
            _same(problems, name, "cores", told["rows"], identity["cores"])
            _same(problems, name, "cores by status", told["by"], counts)
            _same(problems, name, "columns", told["columns"], identity["columns"])
    for name, read in (
        ("findings.csv", lambda: table_told(folder / "findings.csv", None)),
        ("cores.gpkg, layer findings", lambda: layer_told(folder / "cores.gpkg", "findings", None)),
    ):
        told = _told(problems, pack, folder, read)
        if told is not None:
            _same(problems, name, "findings", told["rows"], identity["findings"])
    told = _told(problems, pack, folder, lambda: map_told(folder / "map.html"))
    if told is not None:
        _same(problems, "map.html", "cores", told["cores"], identity["cores"])
        _same(problems, "map.html", "day", told["as_of"], identity["as_of"])


def _same(problems: list[str], name: str, what: str, found: object, wanted: object) -> None:
    if found != wanted:
        problems.append(f"{name}: {what}: found {found}, {_IDENTITY} says {wanted}")
