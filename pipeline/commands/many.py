"""Several programmes in one call: which they are, and what is wrong with any of them before the first begins."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import KerfbookError, SettingsError
from pipeline.ledger import refuse_unknown_rules
from pipeline.order import Spending, refuse_unusable_budget
from pipeline.programme.outputs import refuse_pdf_of_nothing
from pipeline.programme.settings import load_programme
from pipeline.programme.toml_files import read_toml
from pipeline.publish.folder import folder_name
from pipeline.publish.words import load_words
from pipeline.run import day_of, rules_of
from pipeline.visible_text import bytes_not_utf8

__all__ = ["Asked", "FoundFiles", "find_programmes", "look_over"]

# tables that no programme is without: a TOML file with neither is something else
_OF_A_PROGRAMME = ("programme", "cores")


@dataclass(frozen=True)
class FoundFiles:
    """The programme files among files and folders, each once, and the TOML files that are something else."""

    programmes: list[Path]
    skipped: list[Path]


@dataclass(frozen=True)
class Asked:
    """A programme that is to be audited, and the day of it; ``error``: why it cannot be, without name and day then."""

    path: Path
    name: str = ""
    day: dt.date | None = None
    error: KerfbookError | None = None


def find_programmes(given: Iterable[Path], out: Path) -> FoundFiles:
    """Return the programme files that are given, and those in the folders that are given and one folder down.

    Hidden files and folders, ``out`` and any other folder of runs are passed over.

    Raises
    ------
    SettingsError
        A folder cannot be read, has no programme, or has one whose name is not UTF-8.
    """
    programmes: dict[Path, Path] = {}
    skipped: dict[Path, Path] = {}
    for path in given:
        files = _toml_files(path, out.resolve()) if path.is_dir() else [path]
        others = [file for file in files if path.is_dir() and _is_something_else(file)]
        if len(others) == len(files):
            listed = f" (without [programme]: {', '.join(map(str, others))})" if others else ""
            raise SettingsError(
                f"{path}: found no programme file in this folder, nor one folder down{listed}; expected at least one. "
                "Give the folder of the programmes, or each programme file."
            )
        programmes |= {
            file.resolve(): file for file in files if file not in others and file.resolve() not in programmes
        }
        skipped |= {file.resolve(): file for file in others}
    return FoundFiles([*programmes.values()], [*skipped.values()])


def _toml_files(folder: Path, out: Path) -> list[Path]:
    """Return the TOML files in a folder, then those one folder down, by name."""
    try:
        inside = [file for file in sorted(folder.iterdir()) if not file.name.startswith(".")]
        below = [inner for inner in inside if inner.is_dir() and inner.resolve() != out and not _holds_runs(inner)]
        files = inside + [file for inner in below for file in sorted(inner.iterdir()) if not file.name.startswith(".")]
    except OSError as error:
        raise SettingsError(
            f"{error.filename}: cannot be read ({error.strerror}). Check the permissions of the folder, or give each "
            "programme file."
        ) from error
    found = [file for file in files if file.suffix.lower() == ".toml" and file.is_file()]
    if odd := next(filter(None, (bytes_not_utf8(str(file)) for file in found)), ""):
        raise SettingsError(f"'{odd}': expected a name in UTF-8. Rename the file or folder.")
    return found


def _holds_runs(folder: Path) -> bool:
    """Return whether a folder is a run, the runs of a programme, or a folder of those."""
    return any(next(folder.glob(f"{depth}run.json"), None) for depth in ("", "*/", "*/*/"))


def _is_something_else(file: Path) -> bool:
    try:
        return not any(table in read_toml(file) for table in _OF_A_PROGRAMME)
    except SettingsError:
        # a slip of the pen must not hide a programme
        return False


def look_over(paths: Iterable[Path], out: Path, as_of: dt.date | None = None, *, pdf: bool = False) -> list[Asked]:
    """Return each programme with its day, or with what is wrong in its settings; no input is read.

    Those of one name come after each other by their days: a run is compared with the one before.

    Parameters
    ----------
    paths
        The programme files.
    out
        Folder that takes the runs.
    as_of
        Day of all audits, in place of the programmes' own.
    pdf
        A PDF is asked for.

    Raises
    ------
    SettingsError
        Two programmes would be written to the same folder.
    """
    asked = [_looked_over(path, as_of, pdf=pdf) for path in paths]
    first: dict[Path, Asked] = {}
    for one in asked:
        if one.day is None:
            continue
        folder = out / folder_name(one.name) / one.day.isoformat()
        other = first.setdefault(folder, one)
        if other is not one:
            raise SettingsError(
                f"{other.path} and {one.path}: both would be written to {folder}; expected programmes of different "
                "names or days. Give each its own programme.name or as_of, or audit one of them with another --out."
            )
    turn: dict[str, int] = {}
    for number, one in enumerate(asked):
        turn.setdefault(one.name or str(one.path), number)
    return sorted(asked, key=lambda one: (turn[one.name or str(one.path)], one.day or dt.date.min))


def _looked_over(path: Path, as_of: dt.date | None, *, pdf: bool) -> Asked:
    try:
        settings = load_programme(path)
        _, rules = rules_of(settings, path)
        refuse_unknown_rules(settings.owners, rules, str(path))
        load_words(settings.programme.language)
        if pdf:
            refuse_pdf_of_nothing(settings.publish, str(path))
        day = day_of(settings, as_of)
        try:
            refuse_unusable_budget(settings.orders, Spending.of(settings), day)
        except SettingsError as error:
            raise SettingsError(f"{path}: {error}") from error
    except KerfbookError as error:
        return Asked(path, error=error)
    return Asked(path, settings.programme.name, day)
