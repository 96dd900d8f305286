"""The check of a handover pack: every file, every cell, every page, and who signed it."""

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, NamedTuple

from pipeline.contracts import STATUSES
from pipeline.errors import InputError
from pipeline.publish.handover.compared import compare_layers, compare_map, compare_points
from pipeline.publish.handover.drawn import PackContent, read_content
from pipeline.publish.handover.facts import FACTS, layer_facts, table_facts
from pipeline.publish.handover.redrawn import MISSING, REBUILT, draw_again, other_versions, write_again
from pipeline.publish.handover.sign import check_signature
from pipeline.readback.pack_files import IDENTITY, MANIFEST, MAP, PACK_FILES, PACKAGE, SIGNATURE
from pipeline.readback.pack_map import read_map_columns
from pipeline.readback.pack_package import open_package
from pipeline.readback.pack_schema import file_problems, schema_problems
from pipeline.readback.packs import copy_of, open_pack, read_identity, read_sums, sha256_of

__all__ = ["CheckedFile", "Verified", "verify"]

_REMEDY: Final = "Do not use this pack: ask the sender for it again."
_CELLS: Final = "every cell the same in GeoPackage and map"
_SUM: Final = "SHA-256 as stated in handover.json"
_COUNTS: Final = "counts, columns and checksums are right"
_MOST_PROBLEMS: Final = 40


class CheckedFile(NamedTuple):
    """A file of a pack: its name, bytes, SHA-256, and what it was compared with."""

    name: str
    size: int
    sha256: str
    checked: str


@dataclass(frozen=True)
class Verified:
    """A pack in which nothing contradicts anything else.

    ``identity``: what its ``handover.json`` holds. ``files``: each file, and how it was checked. ``fingerprint``: the
    SHA-256 of its ``SHA256SUMS``, to compare with the sender's. ``not_checked``: why some files could not be drawn
    again; empty if all were. ``signer``: who signed it; None if that was not checked. ``is_signed``: has a signature.
    ``is_vouched_for``: has a valid signature, or the fingerprint that the sender gave, and so is what was sent,
    whatever could not be drawn again.
    """

    identity: dict[str, Any]
    files: list[CheckedFile]
    fingerprint: str
    not_checked: str = ""
    signer: str | None = None
    is_signed: bool = False
    is_vouched_for: bool = False


def verify(
    pack: Path, fingerprint: str | None = None, signers: Path | None = None, identity: str | None = None
) -> Verified:
    """Check a pack.

    Parameters
    ----------
    pack
        The folder, or its zip.
    fingerprint
        The fingerprint that the sender gives: at least its first 16 hexadecimal digits, in any grouping.
    signers
        File of the keys that may sign, in OpenSSH's format ``allowed_signers``; None: the signature is not checked.
    identity
        Identity in that file that must have signed; None: any of them.

    Raises
    ------
    InputError
        A file is missing, was added or was altered, or the files do not agree with each other; all are named.
    """
    with open_pack(pack) as source, tempfile.TemporaryDirectory(prefix="kerfbook-") as copied:
        problems: list[str] = []
        # what is checked is a copy, which nobody can change meanwhile
        folder = Path(copied)
        found = _copies(source, folder, problems)
        sums = _sums(pack, folder, found, problems)
        problems += [
            f"{name}: altered: its SHA-256 is {found[name][1]}, expected {sums[name]}"
            for name in sorted(set(found) & set(sums))
            if found[name][1] != sums[name]
        ]
        digits = sha256_of(folder / MANIFEST) if MANIFEST in found else ""
        problems += _other_fingerprint(digits, fingerprint)
        signer = None
        if signers is not None and not problems:
            signer = check_signature(folder, signers, identity, problems)
        facts: dict[str, Any] = {}
        checked: dict[str, str] = {}
        why = ""
        if not problems:
            try:
                facts, checked, why = _contents(folder, problems)
            except InputError as error:
                # the reader knows the copy, not the pack that it was copied from
                problems.append(str(error).replace(f"{folder}", str(pack)))
            except Exception as error:  # noqa: BLE001 - whatever an altered file makes a comparison fail with
                problems.append(f"its files cannot be compared ({type(error).__name__}: {error})")
    if not problems:
        # a page that nothing in the pack accounts for could say anything
        unexpected = sorted(set(found) - {MANIFEST, SIGNATURE} - set(checked))
        problems += [f"{name}: not expected: nothing else in the pack accounts for it" for name in unexpected]
    if problems:
        raise InputError(f"{pack}: not the pack that was sent.\n{_listed(problems)}\n{_REMEDY}")
    files = [CheckedFile(name, *found[name], checked[name]) for name in sorted(set(found) - {MANIFEST, SIGNATURE})]
    is_vouched_for = signer is not None or fingerprint is not None
    return Verified(facts, files, digits, why, signer, SIGNATURE in found, is_vouched_for)


def _listed(problems: list[str]) -> str:
    """Return the first problems, a line each, and how many more there are."""
    more = len(problems) - _MOST_PROBLEMS
    shown = problems[:_MOST_PROBLEMS] + [f"and {more} more"] * (more > 0)
    return "\n".join(f"- {problem}" for problem in shown)


def _copies(source: Path, folder: Path, problems: list[str]) -> dict[str, tuple[int, str]]:
    """Copy the files of a pack and return the bytes and SHA-256 of each; add what is wrong to the problems."""
    known = {*PACK_FILES, MANIFEST, SIGNATURE}
    found = {}
    try:
        names = sorted(entry.name for entry in source.iterdir())
    except OSError as error:
        problems.append(f"cannot be read ({error.strerror})")
        return {}
    for name in names:
        if name not in known:
            problems.append(f"{name}: does not belong to a pack")
            continue
        try:
            found[name] = copy_of(source / name, folder / name)
        except InputError as error:
            problems.append(str(error))
    needed = {name for name, file in PACK_FILES.items() if file.is_needed} | {MANIFEST}
    problems += [f"{name}: missing" for name in sorted(needed - set(names))]
    return found


def _sums(pack: Path, folder: Path, found: dict[str, Any], problems: list[str]) -> dict[str, str]:
    """Return the checksums of a pack; add the files that they leave out or add to the problems."""
    if MANIFEST not in found:
        return {}
    try:
        sums = read_sums(folder / MANIFEST)
    except InputError as error:
        problems.append(str(error).replace(f"{folder}", str(pack)))
        return {}
    listed = set(found) - {MANIFEST, SIGNATURE}
    problems += [f"{name}: not listed in {MANIFEST}" for name in sorted(listed - set(sums))]
    unknown = [name for name in sums if name not in PACK_FILES]
    problems += [f"{name}: listed in {MANIFEST}, but does not belong to a pack" for name in sorted(unknown)]
    return sums


def _other_fingerprint(found: str, wanted: str | None) -> list[str]:
    if wanted is None or not found:
        return []
    digits = "".join(wanted.split()).casefold()
    if len(digits) >= 16 and found.startswith(digits):
        return []
    return [
        f"{MANIFEST}: the fingerprint is {found}, expected {wanted}: another pack, or fewer than 16 digits were given"
    ]


def _contents(folder: Path, problems: list[str]) -> tuple[dict[str, Any], dict[str, str], str]:
    """Check what the files hold; return ``handover.json``, how each file was checked, and why some could not be."""
    facts = _stated(folder / IDENTITY)
    problems += [f"{PACKAGE}: {problem}" for problem in file_problems(folder / PACKAGE)]
    if problems:
        return facts, {}, ""
    with open_package(folder / PACKAGE) as database:
        problems += [f"{PACKAGE}: {problem}" for problem in schema_problems(database)]
        if problems:
            return facts, {}, ""
        damage = [str(row[0]) for row in database.execute("PRAGMA integrity_check(3)")]
        if damage != ["ok"]:
            problems.append(f"{PACKAGE}: damaged ({damage[0]})")
            return facts, {}, ""
    content = read_content(folder)
    problems += _facts_that_differ(folder, content)
    if problems:
        return facts, {}, ""
    with open_package(folder / PACKAGE) as database:
        problems += compare_layers(content, database)
    problems += compare_points(content)
    held = read_map_columns(folder / MAP)
    problems += compare_map(content, held)
    for key, name in (("title", "programme"), ("asOf", "as_of"), ("cores", "cores")):
        if held.page.get(key) != facts[name]:
            problems.append(f"{MAP}: {name}: found {held.page.get(key)}, expected {facts[name]} as in {IDENTITY}")
    checked = {name: _CELLS if file.layer else _SUM for name, file in PACK_FILES.items() if file.kind == "table"}
    checked[IDENTITY] = _COUNTS
    why = other_versions(facts)
    for name, difference in draw_again(folder, content).items():
        checked[name] = REBUILT if not difference else f"NOT CHECKED beyond the cells of the tables: made with {why}"
        if difference and (not why or difference == MISSING):
            problems.append(f"{name}: {difference}")
    if not why:
        problems += [f"{name}: {difference}" for name, difference in write_again(folder, content).items()]
        problems += [f"{IDENTITY}: has {key!r}, which no pack has" for key in sorted(set(facts) - FACTS)]
    is_partial = any(text.startswith("NOT CHECKED") for text in checked.values())
    return facts, checked, why if is_partial else ""


def _stated(file: Path) -> dict[str, Any]:
    facts = read_identity(file)
    lacks = sorted(FACTS - set(facts))
    if lacks:
        raise InputError(
            f"{file}: lacks {', '.join(lacks)}: either made by another version of Kerfbook than this one, or altered. "
            "The checksums are right; check the rest with the version that made the pack."
        )
    return facts


def _facts_that_differ(folder: Path, content: PackContent) -> list[str]:
    """Return a problem for each count, list of columns and checksum that is not as ``handover.json`` states."""
    facts, tables = content.facts, content.tables
    cores, findings = tables["cores.csv"], tables["findings.csv"]
    once = cores[cores["copy_of"].isna()] if "copy_of" in cores else cores
    counts = once["status"].value_counts()
    placed = once["lon"].notna() & once["lat"].notna() if {"lon", "lat"} <= {*once} else None
    stated: list[tuple[str, str, Any, Any]] = [
        ("cores.csv", "columns", list(cores), facts["columns"]),
        ("cores.csv", "rows", len(cores), facts["rows"]),
        ("cores.csv", "cores", len(once), facts["cores"]),
        ("findings.csv", "findings", len(findings), facts["findings"]),
        ("findings.csv", "columns", list(findings), facts["columns_of_findings"]),
        *(("cores.csv", f"{status} cores", int(counts.get(status, 0)), facts[status]) for status in STATUSES),
    ]
    if "changes.csv" not in tables:
        # no page shows it, so nothing else would show an edit
        stated.append((IDENTITY, "reasons beside the road", facts["changes_may_be_apart_from_the_road"], False))
    if placed is not None:
        stated.append(("cores.csv", "cores without a position", int((~placed).sum()), facts["unplaced"]))
    stated.append((PACKAGE, "checksums of its layers", layer_facts(folder / PACKAGE), facts["layers"]))
    sums, wanted_sums = table_facts(folder), facts["tables"] if isinstance(facts["tables"], dict) else {}
    stated += [
        (name, "SHA-256", sums.get(name, "no such file"), wanted_sums.get(name, "no such file"))
        for name in sorted({*sums, *wanted_sums})
    ]
    return [
        f"{name}: {what}: found {_short(found, wanted)}, expected {_short(wanted, found)} as in {IDENTITY}"
        for name, what, found, wanted in stated
        if found != wanted
    ]


def _short(value: Any, other: Any) -> Any:  # noqa: ANN401 - whatever a fact is
    """Return only the facts that differ from those of another table."""
    if not isinstance(value, dict) or not isinstance(other, dict):
        return value
    return {key: part for key, part in value.items() if other.get(key) != part}
