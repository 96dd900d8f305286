"""The check of a handover pack: every file, every cell, every page, and who signed it."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, NamedTuple

from pipeline.clock import Progress
from pipeline.commands.pack_contents import NOT_CHECKED, STAGES, Contents, check_contents
from pipeline.errors import InputError
from pipeline.publish.handover.redrawn import other_build
from pipeline.publish.handover.sign import check_signature
from pipeline.readback.pack_files import (
    IDENTITY,
    MANIFEST,
    PACK_FILES,
    SIGNATURE,
    is_district_package,
    pack_file,
    too_large_together,
)
from pipeline.readback.packs import copy_of, open_pack, read_identity, read_sums, sha256_of
from pipeline.scratch import scratch_folder
from pipeline.visible_text import in_line
from pipeline.wording import plain_reason

__all__ = ["CheckedFile", "Verified", "verify"]

_REMEDY: Final = "Do not use this pack: ask the sender for it again."
_REMEDY_ELSEWHERE: Final = (
    "Check it with that build of Kerfbook, or give the sender's keys with --signer. Until then do not use this pack."
)
_UNKNOWN: Final = "does not belong to a pack"
_MOST_PROBLEMS: Final = 40
# characters of one: it may quote what an altered file holds
_MOST_SAID: Final = 1000
# files of a complete pack that earlier versions did not write
_LATER: Final = frozenset({"datapackage.json", "rules.csv"})


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
    SHA-256 of its ``SHA256SUMS``, to compare with the sender's. ``not_checked``: the build that the pack states it was
    made with, if that left some files not checked; empty if all were. ``lacks``: what a pack of this build would have
    besides. ``signer``: who signed it; None if that was not checked. ``is_signed``: has a signature.
    ``is_vouched_for``: has a valid signature, or the fingerprint that the sender gave, and so is what was sent,
    whatever could not be drawn again.
    """

    identity: dict[str, Any]
    files: list[CheckedFile]
    fingerprint: str
    not_checked: str = ""
    lacks: tuple[str, ...] = ()
    signer: str | None = None
    is_signed: bool = False
    is_vouched_for: bool = False


def verify(
    pack: Path,
    fingerprint: str | None = None,
    signers: Path | None = None,
    identity: str | None = None,
    progress: Progress | None = None,
) -> Verified:
    """Check a pack.

    Parameters
    ----------
    pack
        The folder, or its zip.
    fingerprint
        The fingerprint that the sender gives: at least its first 16 hexadecimal digits. Blanks, colons and hyphens
        between them do not count.
    signers
        File of the keys that may sign, in OpenSSH's format ``allowed_signers``; None: the signature is not checked.
    identity
        Identity in that file that must have signed; None: any of them.
    progress
        Receives progress updates.

    Raises
    ------
    InputError
        A file is missing, was added or was altered, or the files do not agree with each other; all are named.
    """

    def begin(stage: str) -> None:
        if progress is not None:
            progress.stage(stage, STAGES.index(stage) + 1, len(STAGES))

    begin("files")
    # what is checked is a copy, which nobody can change meanwhile
    with open_pack(pack) as source, scratch_folder(str(pack)) as folder:
        altered: list[str] = []
        found = _copies(source, folder, altered)
        altered += _altered(pack, folder, found, {problem.partition(":")[0] for problem in altered})
        digits = sha256_of(folder / MANIFEST) if MANIFEST in found else ""
        altered += _other_fingerprint(digits, fingerprint)
        signer = None
        if signers is not None and not altered:
            signer = check_signature(folder, signers, identity, altered)
        contents, problems = Contents({}, {}, "", []), list(altered)
        if not altered:
            contents = _contents(pack, folder, problems, begin)
        if not problems:
            # a page that nothing in the pack accounts for could say anything
            unexpected = sorted(set(found) - {MANIFEST, SIGNATURE} - set(contents.checked))
            problems += [f"{name}: not expected: nothing else in the pack accounts for it" for name in unexpected]
        # a later version may have files that this one does not know
        is_known = any(not problem.endswith(_UNKNOWN) for problem in altered)
        build = contents.build if not altered else "" if is_known else _build_of(folder)
    if problems:
        raise InputError(_refusal(pack, problems, build))
    is_vouched_for = signer is not None or fingerprint is not None
    return _verified(contents, found, digits, signer, is_vouched_for=is_vouched_for)


def _verified(
    contents: Contents, found: dict[str, tuple[int, str]], digits: str, signer: str | None, *, is_vouched_for: bool
) -> Verified:
    checked = contents.checked
    files = [CheckedFile(name, *found[name], checked[name]) for name in sorted(set(found) - {MANIFEST, SIGNATURE})]
    is_partial = bool(contents.lacks) or any(NOT_CHECKED in file.checked for file in files)
    return Verified(
        contents.facts,
        files,
        digits,
        contents.build if is_partial else "",
        tuple(contents.lacks),
        signer,
        SIGNATURE in found,
        is_vouched_for,
    )


def _contents(pack: Path, folder: Path, problems: list[str], begin: Callable[[str], None]) -> Contents:
    """Return what the files hold; whatever they make a comparison fail with is a problem."""
    try:
        return check_contents(folder, problems, begin)
    except InputError as error:
        # the reader knows the copy, not the pack that it was copied from
        problems.append(str(error).replace(f"{folder}", str(pack)))
    except Exception as error:  # noqa: BLE001 - whatever an altered file makes a comparison fail with
        problems.append(f"its files cannot be compared ({plain_reason(error)})")
    return Contents({}, {}, _build_of(folder), [])


def _build_of(folder: Path) -> str:
    """Return the other build that a pack states it was made with; empty if it states this one, or nothing readable."""
    try:
        return other_build(read_identity(folder / IDENTITY))
    except InputError:
        return ""


def _refusal(pack: Path, problems: list[str], build: str) -> str:
    """Return the whole error: a pack that states another build may only be read wrongly here."""
    if build:
        return (
            f"{pack}: its files contradict each other as this version reads them, or it does not know them. The pack "
            f"states that it was made with {build}.\n{_listed(problems)}\n{_REMEDY_ELSEWHERE}"
        )
    return f"{pack}: not the pack that was sent.\n{_listed(problems)}\n{_REMEDY}"


def _listed(problems: list[str]) -> str:
    """Return the first problems, a line each, and how many more there are."""
    more = len(problems) - _MOST_PROBLEMS
    shown = problems[:_MOST_PROBLEMS] + [f"and {more} more"] * (more > 0)
    return "\n".join(f"- {_cut(in_line(problem))}" for problem in shown)


def _cut(problem: str) -> str:
    return problem if len(problem) <= _MOST_SAID else f"{problem[:_MOST_SAID]} and so on"


def _copies(source: Path, folder: Path, problems: list[str]) -> dict[str, tuple[int, str]]:
    """Copy the files of a pack and return the bytes and SHA-256 of each; add what is wrong to the problems."""
    found: dict[str, tuple[int, str]] = {}
    of_districts = 0
    try:
        names = sorted(entry.name for entry in source.iterdir())
    except OSError as error:
        problems.append(f"cannot be read ({error.strerror})")
        return {}
    for name in names:
        if pack_file(name) is None and name not in (MANIFEST, SIGNATURE):
            problems.append(f"{name}: {_UNKNOWN}")
            continue
        try:
            found[name] = copy_of(source / name, folder / name)
        except InputError as error:
            problems.append(str(error))
            continue
        of_districts += found[name][0] if is_district_package(name) else 0
        if too_large := too_large_together(of_districts):
            # nothing more is copied to a disk that it could fill
            problems.append(too_large)
            break
    needed = {name for name, file in PACK_FILES.items() if file.is_needed} | {MANIFEST}
    problems += [f"{name}: missing" for name in sorted(needed - set(names) - _LATER)]
    return found


def _altered(pack: Path, folder: Path, found: dict[str, tuple[int, str]], refused: set[str]) -> list[str]:
    """Return what differs from the checksums of a pack: files that they leave out or add, and other contents.

    ``refused``: files that were not read, which another problem names already.
    """
    if MANIFEST not in found:
        return []
    try:
        sums = read_sums(folder / MANIFEST)
    except InputError as error:
        return [str(error).replace(f"{folder}", str(pack))]
    listed = set(found) - {MANIFEST, SIGNATURE}
    problems = [f"{name}: not listed in {MANIFEST}" for name in sorted(listed - set(sums))]
    unknown = [name for name in sums if pack_file(name) is None]
    problems += [f"{name}: listed in {MANIFEST}, but {_UNKNOWN}" for name in sorted(unknown)]
    problems += [f"{name}: missing" for name in sorted(_LATER & set(sums) - set(found) - refused)]
    return problems + [
        f"{name}: altered: its SHA-256 is {found[name][1]}, expected {sums[name]}"
        for name in sorted(set(found) & set(sums))
        if found[name][1] != sums[name]
    ]


def _other_fingerprint(found: str, wanted: str | None) -> list[str]:
    if wanted is None or not found:
        return []
    digits = re.sub(r"[\s:-]", "", wanted).casefold()
    if len(digits) >= 16 and found.startswith(digits):
        return []
    return [
        f"{MANIFEST}: the fingerprint is {found}, expected {wanted}: another pack, or fewer than 16 digits were given"
    ]
