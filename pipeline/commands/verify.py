"""A handover pack checked: every file against its checksum, every count against what the pack says of itself."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pipeline.contracts import FINDING_COLUMNS, STATUSES
from pipeline.errors import InputError
from pipeline.readback.packs import (
    MANIFEST,
    Told,
    layer_names,
    map_told,
    open_pack,
    read_identity,
    read_layer,
    read_sums,
    read_table,
    sha256_of,
)

__all__ = ["Verified", "verify"]

_IDENTITY: Final = "handover.json"
_NEEDED: Final = ("map.html", "cores.csv", "findings.csv", "rules.csv", "cores.gpkg", "how-to-read.html", _IDENTITY)
# what two files must say alike of every core and of every finding
_CORE: Final = ("row", "core_id", "status", "findings")
_FINDING: Final = ("row", "core_id", "rule", "severity", "message")
_LAYERS: Final = {"cores", "segments", "districts", "findings", "layer_styles"}
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
        sums = _told(problems, pack, folder, lambda: read_sums(folder / MANIFEST))
        files = [] if sums is None else _files(folder, sums, problems)
        found = sha256_of(folder / MANIFEST) if sums is not None else ""
        if fingerprint is not None and sums is not None:
            wanted = "".join(fingerprint.split()).casefold()
            if len(wanted) < 16 or not found.startswith(wanted):
                problems.append(f"its fingerprint is {found}, not {fingerprint}: not the pack that was meant")
        identity = None
        if not problems:
            identity = _told(problems, pack, folder, lambda: read_identity(folder / _IDENTITY))
        if identity is not None:
            _told(problems, pack, folder, lambda: _agree(folder, identity, problems))
    if problems or identity is None:
        lines = "\n".join(f"- {problem}" for problem in problems)
        raise InputError(f"{pack}: not as it was sent.\n{lines}\n{_DO}")
    return Verified(identity, files, found)


def _told(problems: list[str], pack: Path, folder: Path, read: Callable[[], Any]) -> Any:  # noqa: ANN401
    """What a file says, or a problem more."""
    try:
        return read()
    except InputError as error:
        # a zip was unpacked to a place that says nothing to anyone
        problems.append(str(error).replace(f"{folder}", str(pack)))
        return None


def _files(folder: Path, sums: dict[str, str], problems: list[str]) -> list[tuple[str, int, str]]:
    there = {file.name: file for file in sorted(folder.iterdir()) if file.name != MANIFEST}
    problems += [f"{name}: missing" for name in sorted({*sums, *_NEEDED} - set(there))]
    problems += [f"{name}: not of the pack" for name in sorted({*there, *sums} - set(_NEEDED))]
    problems += [f"{name}: {MANIFEST} does not name it" for name in sorted(set(_NEEDED) & set(there) - set(sums))]
    files = []
    for name in sorted(set(there) & set(sums)):
        if not there[name].is_file() or there[name].is_symlink():
            problems.append(f"{name}: no plain file")
            continue
        try:
            found = sha256_of(there[name])
        except OSError as error:
            problems.append(f"{name}: cannot be read ({error.strerror})")
            continue
        if found != sums[name]:
            problems.append(f"{name}: changed: its SHA-256 is {found}, not {sums[name]}")
        files.append((name, there[name].stat().st_size, found))
    return files


def _agree(folder: Path, identity: Told, problems: list[str]) -> None:
    """Whether every file tells of the cores and findings that the pack says it holds, and of no column besides."""
    if sum(identity[status] for status in STATUSES) != identity["cores"]:
        problems.append(f"{_IDENTITY}: the states do not add up to {identity['cores']} cores")
    package = folder / "cores.gpkg"
    for layer, told, keys in (("cores", "cores", _CORE), ("findings", "findings", _FINDING)):
        name = f"{layer}.csv"
        columns = identity["columns"] if layer == "cores" else [*FINDING_COLUMNS]
        table = read_table(folder / name)
        of_layer, rows = read_layer(package, layer, keys)
        _same(problems, name, told, len(table), identity[told])
        _same(problems, name, "columns", list(table), columns)
        _same(problems, f"{package.name}, layer {layer}", told, len(rows), identity[told])
        _same(problems, f"{package.name}, layer {layer}", "columns", of_layer, columns)
        if list(table) == columns and not table[list(keys)].equals(rows):
            problems.append(f"{package.name}, layer {layer}: not the same {told} as {name}")
        if layer == "cores" and "status" in table:
            found = table["status"].value_counts().to_dict()
            _same(problems, name, "cores by status", found, {one: identity[one] for one in STATUSES if identity[one]})
    strange = set(layer_names(package)) - _LAYERS
    if strange:
        problems.append(f"{package.name}: holds more than it should: {', '.join(sorted(strange))}")
    page = map_told(folder / "map.html")
    _same(problems, "map.html", "cores", page["cores"], identity["cores"])
    _same(problems, "map.html", "day", page["as_of"], identity["as_of"])


def _same(problems: list[str], name: str, what: str, found: object, wanted: object) -> None:
    if found != wanted:
        problems.append(f"{name}: {what}: found {found}, {_IDENTITY} says {wanted}")
