"""The check of a handover pack: every file against its checksum, every count against ``handover.json``."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pipeline.contracts import STATUSES
from pipeline.errors import InputError
from pipeline.readback.pack_files import MANIFEST, PACK_FILES
from pipeline.readback.packs import (
    layer_names,
    open_pack,
    read_identity,
    read_layer,
    read_map,
    read_sums,
    read_table,
    sha256_of,
)

__all__ = ["Verified", "verify"]

_IDENTITY: Final = "handover.json"
_NEEDED: Final = ("map.html", "cores.csv", "findings.csv", "rules.csv", "cores.gpkg", "how-to-read.html", _IDENTITY)
# columns in which two files must agree, for every core and for every finding
_CORE: Final = ("row", "core_id", "status", "findings")
# the columns of findings in packs that do not state them
_FINDING_COLUMNS: Final = ("row", "core_id", "rule", "severity", "message", "evidence")
_FINDING: Final = ("row", "core_id", "rule", "severity", "message")
_LAYERS: Final = {"cores", "segments", "districts", "findings", "layer_styles"}
_REMEDY: Final = "Do not use this pack: ask the sender for it again."


@dataclass(frozen=True)
class Verified:
    """A pack that was not altered.

    ``identity``: what its ``handover.json`` holds. ``files``: name, bytes and SHA-256 of each. ``fingerprint``: the
    SHA-256 of its ``SHA256SUMS``, to compare with the sender's.
    """

    identity: dict[str, Any]
    files: list[tuple[str, int, str]]
    fingerprint: str


def verify(pack: Path, fingerprint: str | None = None) -> Verified:
    """Check a pack.

    Parameters
    ----------
    pack
        The folder, or its zip.
    fingerprint
        The fingerprint that the sender gives: at least its first 16 hexadecimal digits, in any grouping.

    Raises
    ------
    InputError
        A file is missing, was added or was altered, or the files do not agree with each other; all are named.
    """
    with open_pack(pack) as folder:
        problems: list[str] = []
        sums = _read(problems, pack, folder, lambda: read_sums(folder / MANIFEST))
        files = [] if sums is None else _files(folder, sums, problems)
        found = sha256_of(folder / MANIFEST) if sums is not None else ""
        if fingerprint is not None and sums is not None:
            wanted = "".join(fingerprint.split()).casefold()
            if len(wanted) < 16 or not found.startswith(wanted):
                problems.append(
                    f"{MANIFEST}: the fingerprint is {found}, expected {fingerprint}: another pack, or fewer than "
                    "16 digits were given"
                )
        identity = None
        if not problems:
            identity = _read(problems, pack, folder, lambda: read_identity(folder / _IDENTITY))
        if identity is not None:
            _read(problems, pack, folder, lambda: _agree(folder, identity, problems))
    if problems or identity is None:
        lines = "\n".join(f"- {problem}" for problem in problems)
        raise InputError(f"{pack}: not the pack that was sent.\n{lines}\n{_REMEDY}")
    return Verified(identity, files, found)


def _read(problems: list[str], pack: Path, folder: Path, read: Callable[[], Any]) -> Any:  # noqa: ANN401 - whatever `read` returns
    """Return what a file holds; if it cannot be read, add to the problems and return None."""
    try:
        return read()
    except InputError as error:
        # the reader knows the zip, not the folder it was unpacked to
        problems.append(str(error).replace(f"{folder}", str(pack)))
        return None


def _files(folder: Path, sums: dict[str, str], problems: list[str]) -> list[tuple[str, int, str]]:
    """Return name, bytes and SHA-256 of each file; add what is wrong with them to the problems."""
    found_files = {file.name: file for file in sorted(folder.iterdir()) if file.name != MANIFEST}
    problems += [f"{name}: missing" for name in sorted({*sums, *_NEEDED} - set(found_files))]
    problems += [f"{name}: does not belong to a pack" for name in sorted({*found_files, *sums} - set(PACK_FILES))]
    problems += [f"{name}: not listed in {MANIFEST}" for name in sorted(set(PACK_FILES) & set(found_files) - set(sums))]
    files = []
    for name in sorted(set(found_files) & set(sums)):
        if not found_files[name].is_file() or found_files[name].is_symlink():
            problems.append(f"{name}: a link or folder, expected a file")
            continue
        try:
            found = sha256_of(found_files[name])
        except OSError as error:
            problems.append(f"{name}: cannot be read ({error.strerror})")
            continue
        if found != sums[name]:
            problems.append(f"{name}: altered: its SHA-256 is {found}, expected {sums[name]}")
        files.append((name, found_files[name].stat().st_size, found))
    return files


def _agree(folder: Path, identity: dict[str, Any], problems: list[str]) -> None:
    """Add a problem for each file that does not hold the cores, findings and columns that the identity states."""
    if sum(identity[status] for status in STATUSES) != identity["cores"]:
        problems.append(f"{_IDENTITY}: the counts by status do not add up to {identity['cores']} cores")
    package = folder / "cores.gpkg"
    for layer, keys in (("cores", _CORE), ("findings", _FINDING)):
        name = f"{layer}.csv"
        columns = identity["columns"] if layer == "cores" else identity.get("columns_of_findings", [*_FINDING_COLUMNS])
        table = read_table(folder / name)
        of_layer, rows = read_layer(package, layer, keys)
        # a core may be in several rows; packs made before copies were told apart have a row per core
        lines = identity.get("rows", identity["cores"]) if layer == "cores" else identity[layer]
        _same(problems, name, "rows" if layer == "cores" else layer, len(table), lines)
        _same(problems, name, "columns", list(table), columns)
        _same(problems, f"{package.name}, layer {layer}", "rows" if layer == "cores" else layer, len(rows), lines)
        _same(problems, f"{package.name}, layer {layer}", "columns", of_layer, columns)
        if list(table) == columns and not table[list(keys)].equals(rows):
            problems.append(f"{package.name}, layer {layer}: not the same {layer} as in {name}")
        if layer == "cores" and "status" in table:
            once = table[table["copy_of"].fillna("").eq("")] if "copy_of" in table else table
            by_status = {status: identity[status] for status in STATUSES if identity[status]}
            _same(problems, name, "cores by status", once["status"].value_counts().to_dict(), by_status)
    further = set(layer_names(package)) - _LAYERS
    if further:
        problems.append(f"{package.name}: has tables that do not belong to a pack: {', '.join(sorted(further))}")
    page = read_map(folder / "map.html")
    _same(problems, "map.html", "cores", page["cores"], identity["cores"])
    _same(problems, "map.html", "date", page["as_of"], identity["as_of"])


def _same(problems: list[str], name: str, what: str, found: object, wanted: object) -> None:
    """Add a problem if a file does not hold what the identity states."""
    if found != wanted:
        problems.append(f"{name}: {what}: found {found}, expected {wanted} as in {_IDENTITY}")
