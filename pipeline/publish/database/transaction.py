"""A run's rows in one transaction of a database, which is committed when the run's folder is in its place."""

import re
import time
import zlib
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any, Final

import psycopg
from psycopg import Connection
from psycopg.sql import SQL, Composed, Identifier, Literal

from pipeline.clock import Counted
from pipeline.databases import connected, reason_of
from pipeline.errors import KerfbookError, OutputError
from pipeline.programme.outputs import DATABASE, Database
from pipeline.publish.database.content import Rows, run_row, tables_of
from pipeline.publish.database.found import look_at
from pipeline.publish.database.rows import copied
from pipeline.publish.database.schema import changes_to, refuse_missing_rights
from pipeline.publish.database.tables import RUNS, TABLES
from pipeline.results import RunResult

__all__ = ["RunTransaction", "refuse_unusable_place"]

# the first half of the key of our advisory lock, so that it is not somebody else's; the second is the schema
_OUR_LOCK: Final = 0x6B657266
# how long is waited for a run that another process is writing, unless the server or the user has a limit
_LONGEST_WAIT: Final = "10min"
# how often, and after how many seconds, the server is asked again what became of a transaction
_TRIES: Final = 5
_PAUSE: Final = 2.0
_NOTHING: Final = (
    "Nothing of this run was written, neither there nor in its folder; what was there before is unchanged."
)
# what to do about an error of the server, by the start of its SQLSTATE, the most telling first
_ADVICE: Final = {
    "57014": "Allow more time: statement_timeout of the role, the database, the service or PGOPTIONS.",
    "55P03": "Another run is being written there, or somebody keeps its tables locked; run again when they are done.",
    "57P": "The server ended the connection; run again when it is up.",
    "25P03": "Raise idle_in_transaction_session_timeout of the role or the database.",
    "53100": "The disk of the server is full; have its administrator free some space.",
    "53": "The server has no room for it just now; run again later, or ask its administrator.",
    "40": "Others changed the same rows meanwhile; run again.",
    "42501": "Have the database's administrator grant that right, or audit as another user (PGUSER, or the service).",
    "42P16": "A view has to be made anew: drop the views of the schema, which the next run makes again.",
    "2": "A table has a rule of its own that these rows break: remove it, or set another schema in publish.database.",
}
_LOST: Final = "Run again; if it happens again, ask the server's administrator."


def refuse_unusable_place(target: Database) -> None:
    """Raise an OutputError if a run could not be written to a database, as far as that can be told beforehand."""
    with connected(target.address, DATABASE, writes=True) as connection, connection.transaction():
        refuse_missing_rights(look_at(connection, target.shown, target.schema_name))


class RunTransaction:
    """The one transaction in which a run is written, kept open from ``write`` until ``settle`` commits it."""

    def __init__(self, target: Database, until: ExitStack) -> None:
        """Write to a target; the connection is closed with ``until``, and what is not committed then is undone."""
        self._target, self._until = target, until
        self._connection: Connection[Any] | None = None
        self._run, self._transaction = 0, 0
        # user and password, which no message may repeat
        self._secrets: tuple[str, ...] = ()

    def write(self, result: RunResult, identity: str, tell: Counted) -> None:
        """Write the rows of a run in place of those that it had; nobody else sees them yet.

        Raises
        ------
        OutputError
            The database cannot be reached, or refuses.
        """
        # opened no earlier: a connection that idles for the length of an audit is one that firewalls close
        connection = self._until.enter_context(connected(self._target.address, DATABASE, writes=True))
        self._secrets = (connection.info.user, connection.info.password)
        connection.autocommit = False
        with self._refusals():
            self._wait_for_others(connection)
            found = look_at(connection, self._target.shown, self._target.schema_name)
            refuse_missing_rights(found)
            for change in changes_to(found):
                connection.execute(change.statement)
            self._run = self._enter(connection, run_row(result, identity))
            for rows in tables_of(result, self._run):
                self._copy(connection, rows, tell)
            self._transaction = _number(connection, SQL("SELECT txid_current()"))
        self._connection = connection

    def settle(self, folder: Path) -> None:
        """Add the record of the run as its folder has it, and commit.

        Raises
        ------
        OutputError
            The database did not keep the run, or it cannot be found out whether it did.
        """
        connection = self._connection
        if connection is None:
            raise AssertionError("settled before it was written")
        with self._refusals():
            record = _storable_json((folder / "run.json").read_text("utf-8"))
            change = SQL("UPDATE {} SET record = {}::jsonb WHERE run = {}")
            connection.execute(change.format(self._table("runs"), Literal(record), Literal(self._run)))
        try:
            connection.commit()
        except psycopg.Error as error:
            kept = self._was_kept()
            if kept is None:
                raise OutputError(
                    f"{self._target.shown}: the connection ended while the run was being committed "
                    f"({reason_of(error, self._secrets)}), and it cannot be found out whether the database kept it. "
                    "Its folder is as it was before. Run again: that replaces the run in both."
                ) from None
            if not kept:
                raise self._refusal(error) from None

    def _table(self, name: str) -> Identifier:
        return Identifier(self._target.schema_name, name)

    def _wait_for_others(self, connection: Connection[Any]) -> None:
        """Let one run at a time change the tables of a schema; the lock goes with the transaction."""
        if connection.execute("SELECT current_setting('lock_timeout')").fetchone() == ("0",):
            connection.execute("SELECT set_config('lock_timeout', %s, true)", (_LONGEST_WAIT,))
        schema = zlib.crc32(self._target.schema_name.encode()) - 2**31
        connection.execute("SELECT pg_advisory_xact_lock(%s, %s)", (_OUR_LOCK, schema))

    def _enter(self, connection: Connection[Any], row: dict[str, Any]) -> int:
        """Enter a run among the runs, without its rows if it was there; return its number."""
        # values are part of the statement: a "%" in the name of the schema would be taken for the place of one
        columns = SQL(", ").join(map(Identifier, row))
        entered = SQL(
            "INSERT INTO {} ({}) VALUES ({}) ON CONFLICT (programme, as_of) DO UPDATE SET ({}) = ROW ({}) RETURNING run"
        ).format(
            self._table("runs"),
            SQL(", ").join([columns, Identifier("made_at")]),
            SQL(", ").join([*map(Literal, row.values()), SQL("now()")]),
            SQL(", ").join([columns, Identifier("made_at")]),
            SQL(", ").join([*(Identifier("excluded", name) for name in row), SQL("excluded.made_at")]),
        )
        run = _number(connection, entered)
        for table in reversed(TABLES):
            if table is not RUNS:
                connection.execute(SQL("DELETE FROM {} WHERE run = {}").format(self._table(table.name), Literal(run)))
        return run

    def _copy(self, connection: Connection[Any], rows: Rows, tell: Counted) -> None:
        names = SQL(", ").join(map(Identifier, rows.columns(slice(0, 0))))
        statement = SQL("COPY {} ({}) FROM STDIN (FORMAT text, ENCODING 'UTF8')").format(self._table(rows.table), names)
        with connection.cursor() as cursor, cursor.copy(statement) as copy:
            for part in copied(rows.columns, rows.number, tell):
                copy.write(part)

    @contextmanager
    def _refusals(self) -> Iterator[None]:
        try:
            yield
        except psycopg.Error as error:
            # the library's own error may hold the credentials: it is not kept as the cause
            raise self._refusal(error) from None

    def _refusal(self, error: psycopg.Error) -> OutputError:
        state = error.sqlstate or ""
        advice = next((text for start, text in _ADVICE.items() if state.startswith(start)), _LOST)
        # the server tells of its own end by a state
        is_lost = state.startswith("57P") or (not state and isinstance(error, psycopg.OperationalError))
        what = "the connection ended before the run was kept" if is_lost else "the database refused the run"
        return OutputError(f"{self._target.shown}: {what} ({reason_of(error, self._secrets)}). {_NOTHING} {advice}")

    def _was_kept(self) -> bool | None:
        """Return whether the database committed the transaction; None if that cannot be found out."""
        for attempt in range(_TRIES):
            try:
                with connected(self._target.address, DATABASE, writes=True) as connection:
                    status = connection.execute("SELECT txid_status(%s)", (self._transaction,)).fetchone()
            except KerfbookError:
                status = None
            if status in {("committed",), ("aborted",)}:
                return bool(status == ("committed",))
            # the server may be starting again, or not have noticed yet that the connection is gone
            if attempt < _TRIES - 1:
                time.sleep(_PAUSE)
        return None


def _number(connection: Connection[Any], query: SQL | Composed) -> int:
    row = connection.execute(query).fetchone()
    return int(row[0]) if row else 0


def _storable_json(text: str) -> str:
    """Return JSON as the database can hold it: a NUL, which is only there as an escape, becomes a replacement."""
    return re.sub(r"(?<!\\)((?:\\\\)*)\\u0000", "\\1\N{REPLACEMENT CHARACTER}", text)
