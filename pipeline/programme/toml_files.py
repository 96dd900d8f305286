"""A TOML file written by a user, read within limits; anything else is refused with a clear error."""

import re
import tomllib
from pathlib import Path
from typing import Any, Final

from pipeline.databases import address_of, is_database
from pipeline.errors import SettingsError
from pipeline.wording import plain_reason

__all__ = ["read_toml"]

# a programme of a few hundred districts and aliases is a hundredth of this
_LARGEST_BYTES: Final = 1_000_000
_DEEPEST: Final = 20
_ADDRESS_WITH_USER: Final = re.compile(r"(?i)postgres(ql)?://\S*@")
_START: Final = "`kerfbook start FOLDER` writes one that you can edit"


def read_toml(path: Path) -> dict[str, Any]:
    """Return the tables of a programme file.

    Raises
    ------
    SettingsError
        The file cannot be read, is not a file of this size, is not UTF-8, is not TOML, or nests tables too deeply.
    """
    try:
        # a pipe would wait for ever, and a device never end
        if path.exists() and not path.is_file():
            kind = "a folder" if path.is_dir() else "something that is not a regular file"
            raise SettingsError(
                f"{path}: found {kind}, expected a programme file. Give the path of a TOML file; {_START}."
            )
        size = path.stat().st_size
        if size > _LARGEST_BYTES:
            raise SettingsError(
                f"{path}: found {size:,} bytes, expected a programme file of at most {_LARGEST_BYTES:,}. "
                f"Give the path of a TOML file; {_START}."
            )
        written = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise SettingsError(
            f"{path}: the programme file cannot be read ({error.strerror}). Give the path of a TOML file; {_START}."
        ) from error
    except UnicodeDecodeError as error:
        raise SettingsError(
            f"{path}: not UTF-8 text (byte {error.start}). Save the programme file as UTF-8."
        ) from error
    except RecursionError as error:
        raise _too_deep(path) from error
    except ValueError as error:
        # TOMLDecodeError, or a number of thousands of digits
        raise SettingsError(
            f"{path}: not valid TOML: {plain_reason(error)}. Correct that line; `kerfbook start FOLDER` writes a "
            "file that shows how each key is written."
        ) from error
    if _is_deep(written):
        raise _too_deep(path)
    _refuse_credentials(written, f"{path}: ")
    return written


def _refuse_credentials(written: object, key: str) -> None:
    """Stop at an address of a database with a user or a password, anywhere in a file: settings are shown in outputs."""
    if isinstance(written, dict):
        for name, value in written.items():
            _refuse_credentials(value, f"{key}{'' if key.endswith(' ') else '.'}{name}")
    elif isinstance(written, list):
        for value in written:
            _refuse_credentials(value, key)
    elif isinstance(written, str) and (is_database(written.strip()) or _ADDRESS_WITH_USER.search(written)):
        address_of(written.strip(), key)


def _too_deep(path: Path) -> SettingsError:
    return SettingsError(
        f"{path}: found tables or lists nested more than {_DEEPEST} deep, expected at most {_DEEPEST}. "
        f"Remove the surplus brackets or dots; {_START}."
    )


def _is_deep(written: dict[str, Any]) -> bool:
    """Return whether tables or lists lie deeper in each other than any key of a programme."""
    level: list[Any] = [written]
    for _ in range(_DEEPEST):
        level = [
            inner
            for outer in level
            for inner in (outer.values() if isinstance(outer, dict) else outer)
            if isinstance(inner, dict | list)
        ]
    return bool(level)
