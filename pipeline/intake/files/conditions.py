"""Conditions on rows: an expression over the columns of one file, never a statement."""

import re
import sqlite3
from itertools import pairwise
from typing import Final

from pipeline.errors import SettingsError
from pipeline.programme.ranges import shortened

__all__ = ["confine", "refuse_statement"]

_QUOTED: Final = r"""'(?:[^']|'')*'|"(?:[^"]|"")*"|`(?:[^`]|``)*`|\[[^\]]*\]"""
_STATEMENT: Final = re.compile(
    r";|--|/\*|\b(?:SELECT|VALUES|ATTACH|DETACH|VACUUM|PRAGMA|INSERT|DROP|ALTER|CREATE)\b", re.IGNORECASE
)
# what may stand before a bracket: words of SQL, types, and functions of the values of a row
_BEFORE_BRACKETS: Final = {
    "and", "between", "case", "else", "glob", "ilike", "in", "is", "like", "not", "or", "then", "when",
    "character", "decimal", "float", "integer", "numeric", "real", "text", "varchar",
    "abs", "cast", "ceil", "ceiling", "char", "coalesce", "concat", "concat_ws", "date", "datetime", "floor", "format",
    "hex", "hstore_get_value", "ifnull", "iif", "instr", "julianday", "length", "lower", "ltrim", "max", "min", "mod",
    "nullif", "printf", "quote", "replace", "round", "rtrim", "sign", "strftime", "substr", "substring", "time", "trim",
    "trunc", "typeof", "unicode", "unixepoch", "upper",
}  # fmt: skip
_READING: Final = {sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ, sqlite3.SQLITE_FUNCTION}


def refuse_statement(condition: str, key: str) -> None:
    """Stop where a condition holds a statement, a subquery, or a function that is not one of the values of a row.

    Raises
    ------
    SettingsError
        The condition is more than a condition.
    """
    bare = re.sub(_QUOTED, " ", condition)
    statement = _STATEMENT.search(bare)
    parts = re.findall(rf"{_QUOTED}|[^\W\d][\w$]*|\S", condition)
    # a quoted name may be that of a function
    before = [part.strip('"`[]').lower() for part, bracket in pairwise(parts) if bracket == "("]
    called = [name for name in before if re.match(r"[^\W\d]", name)]
    unknown = [name for name in called if name not in _BEFORE_BRACKETS and not name.startswith("st_")]
    if statement or unknown:
        what = f"{statement[0]!r}" if statement else f"the function {shortened(unknown[0])}"
        raise SettingsError(
            f"{key}: found {shortened(condition)}, expected a condition on the columns of the file, such as "
            f"\"class <> 'trail'\"; {what} is not allowed in one. Correct it."
        )


def confine(database: sqlite3.Connection) -> None:
    """Let a database do nothing more than read its own tables."""
    database.set_authorizer(lambda action, *_: sqlite3.SQLITE_OK if action in _READING else sqlite3.SQLITE_DENY)
