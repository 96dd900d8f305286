"""What is checked of a workbook before it is opened: some would abort the process, others need their own answer."""

import lzma
import re
import subprocess
import sys
import zipfile
import zlib
from pathlib import Path
from typing import Final

from pipeline.errors import InputError
from pipeline.intake.files.links import kind_of
from pipeline.intake.files.sheet_xml import MOST_CELLS, SheetFacts

__all__ = ["DAMAGED", "damaged", "refuse_if_it_aborts", "refuse_too_large", "refuse_unusable"]

# what reading a damaged archive ends with, by how its parts are packed
DAMAGED: Final = (zipfile.BadZipFile, zlib.error, lzma.LZMAError, OSError, EOFError, NotImplementedError, ValueError)
_MOST_BYTES: Final = 4 << 30
_OLD_WORKBOOK: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED: Final = "EncryptedPackage".encode("utf-16-le")
_HEAD: Final = 4096
_PAGE: Final = re.compile(rb"<(?:!doctype\s+html|html|head|body|meta|table|div|style|!--)", re.IGNORECASE)
# control characters that no text has
_NO_TEXT: Final = re.compile(rb"[\x00-\x08\x0e-\x1f]")
_NEW_FORMATS: Final = (".xlsx", ".xlsm", ".xlsb", ".ods")
_ATTEMPT: Final = """
import sys
try:
    import resource
    resource.setrlimit(resource.RLIMIT_AS, (int(sys.argv[3]),) * 2)
except (ImportError, ValueError, OSError):
    pass
from python_calamine import CalamineWorkbook
CalamineWorkbook.from_path(sys.argv[1]).get_sheet_by_index(int(sys.argv[2]))
"""


def refuse_unusable(path: Path, label: str) -> None:
    """Stop at a workbook that is encrypted, damaged, of another format, or that unpacks to more than any register.

    Raises
    ------
    InputError
        The workbook cannot be used.
    """
    with path.open("rb") as file:
        head = file.read(_HEAD)
    _refuse_other_kinds(head, path.suffix, label)
    if path.suffix.lower() not in _NEW_FORMATS:
        return
    if head.startswith(_OLD_WORKBOOK):
        if _ENCRYPTED in path.read_bytes():
            raise _protected(label)
        raise InputError(
            f"{label}: this is an old workbook (.xls) with the extension {path.suffix}. Rename it, or save it as .xlsx."
        )
    try:
        with zipfile.ZipFile(path) as archive:
            size = sum(part.file_size for part in archive.infolist())
            is_encrypted = any(part.flag_bits & 1 for part in archive.infolist()) or (
                "META-INF/manifest.xml" in archive.NameToInfo
                and b"encryption-data" in archive.read("META-INF/manifest.xml")
            )
    except (RuntimeError, *DAMAGED) as error:
        raise damaged(label, error) from error
    if is_encrypted:
        raise _protected(label)
    if size > _MOST_BYTES:
        raise InputError(
            f"{label}: the workbook unpacks to {size / 2**30:,.0f} GiB, expected at most {_MOST_BYTES >> 30} GiB. Save "
            "the sheet alone in a new workbook, or export it as CSV."
        )


def _refuse_other_kinds(head: bytes, suffix: str, label: str) -> None:
    """Stop at a page, a text or a picture that has the name of a workbook."""
    kind = kind_of(head)
    if kind is not None and kind.endswith(("picture", "PDF")):
        raise InputError(
            f"{label}: this is {kind}, not a workbook: no cells can be read from it. Ask for the table itself, as a "
            "workbook or CSV."
        )
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if text.startswith(b"<"):
        what = "a web page (HTML)" if _PAGE.match(text) else "a text with tags (XML)"
    elif text and kind is None and not _NO_TEXT.search(head):
        what = "a text file such as a CSV"
    else:
        return
    raise InputError(
        f"{label}: this is {what} that was saved with the extension {suffix}, not a workbook. Open it in a spreadsheet "
        "program, and save it as .xlsx or CSV."
    )


def damaged(label: str, error: Exception) -> InputError:
    """Return the error for a workbook that is cut short or damaged, or larger than its reader takes."""
    if "limit exceeded" in str(error):
        return InputError(
            f"{label}: a sheet extends further than can be read ({error}). Delete what lies beyond the table and save "
            "the workbook, or export the sheet as CSV."
        )
    return InputError(
        f"{label}: cannot be read as a workbook ({error}); it is damaged or cut short. Copy it again, or save it "
        "again as .xlsx or CSV."
    )


def _protected(label: str) -> InputError:
    return InputError(
        f"{label}: the workbook is protected by a password. Save a copy without one, or export the sheet as CSV."
    )


def refuse_too_large(facts: SheetFacts, label: str, name: str) -> None:
    """Stop at a sheet whose furthest cells lie so far out that it does not fit in memory.

    Raises
    ------
    InputError
        The sheet extends too far.
    """
    if facts.last_row * facts.last_column > MOST_CELLS:
        raise InputError(
            f"{label}: sheet {name!r} extends to row {facts.last_row:,} and column {facts.last_column:,}, which is "
            f"more than {MOST_CELLS:,} cells. Delete what lies beyond the table and save the workbook, or export the "
            "sheet as CSV."
        )


def refuse_if_it_aborts(path: Path, label: str, name: str, number: int) -> None:
    """Stop at a sheet that aborts a process which tries to read it; the attempt is made in a child process.

    Raises
    ------
    InputError
        The attempt ended without an answer.
    """
    # each cell takes 32 bytes
    command = [sys.executable, "-P", "-c", _ATTEMPT, str(path), str(number), str(MOST_CELLS * 32 * 3)]
    done = subprocess.run(command, capture_output=True, check=False)  # noqa: S603 - our own program, no shell
    # 1 is an error that reading it here gives too, and then with its reason
    if done.returncode not in {0, 1}:
        raise InputError(
            f"{label}: sheet {name!r} does not fit in memory: a cell lies far beyond the table, or the workbook is "
            "damaged. Delete what lies beyond the table and save the workbook, or export the sheet as CSV."
        )
