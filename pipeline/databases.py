"""PostgreSQL databases: their addresses, connections to them, and their errors in words without a credential.

Credentials come from where libpq looks for them, and from nowhere else: a service, ``~/.pgpass``, the ``PG*``
environment. An address has none, so that whatever shows one shows no secret.
"""

import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from types import ModuleType
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import parse_qsl, quote, unquote

from pipeline.errors import InputError, KerfbookError, OutputError, SettingsError

if TYPE_CHECKING:
    from psycopg import Connection
    from psycopg import Error as DatabaseError

__all__ = [
    "Address", "address_of", "connected", "errors_told", "is_database", "library", "reason_of", "shown",
    "without_credentials",
]  # fmt: skip

_SCHEME: Final = re.compile(r"postgres(?:ql)?://", re.IGNORECASE)
# of libpq's parameters those that hold no secret and say where the database is, or how safely it is reached
_PARAMETERS: Final = ("service", "host", "port", "dbname", "sslmode", "connect_timeout", "target_session_attrs")
_WHERE: Final = (
    "Take them out: name a service (postgresql:///?service=NAME, from ~/.pg_service.conf), or keep the user in PGUSER "
    "and the password in ~/.pgpass or PGPASSWORD."
)
_EXPECTED: Final = "expected postgresql://HOST:PORT/DATABASE or postgresql:///?service=NAME"
# what every session writes its values by, whatever the server or the user has set
_SESSION: Final = (
    "SET DateStyle = 'ISO, YMD'; SET IntervalStyle = 'postgres'; SET TimeZone = 'UTC'; SET bytea_output = 'hex'; "
    "SET extra_float_digits = 1"
)
_SECONDS_TO_CONNECT: Final = "10"
# user and password of an address in a longer text; a password may hold a slash or an at sign
_CREDENTIALS: Final = re.compile(r"(?<=://)\S*@")
_SECRET_WORDS: Final = re.compile(r"(?i)\b(password|passwd|user|passfile|sslpassword)(\s*=\s*)('[^']*'|\S+)")
# as a server quotes a user that is not the one of the connection, such as a role that a service sets
_QUOTED_ROLE: Final = re.compile(r'(?i)\b(role|user) "(?:[^"]|"")*"')
_LONGEST: Final = 300

# what to do about an error of the server, by the start of its SQLSTATE, the most telling first
_ADVICE: Final = {
    "57014": "Allow more time (statement_timeout in PGOPTIONS, the service or the role), or ask for less.",
    "25006": "What is run there may only read; take out what writes.",
    "42501": "Ask the database's administrator for the right, or connect as another user (PGUSER, or the service).",
    "42601": "Correct the SQL.",
    "42883": "Name another column in key, or correct the SQL where its columns are not of the type that it needs.",
    "42": "Correct the name or the SQL; a table outside the search path needs its schema, such as gis.roads.",
    "22021": "The database holds text that is not in its own encoding; have it corrected or converted there.",
    "22P05": "The database holds text that cannot be written as UTF-8; have it corrected there.",
    "22012": "Correct the view or the SQL where it divides by zero, such as with NULLIF(divisor, 0).",
    "22": "Correct the view or the SQL where it cannot take the values of a row, or leave such rows out.",
    "57P": "The server ended the connection; run again when it is up.",
    "53": "The server has no room for it just now; run again later, or ask its administrator.",
    "40": "Others changed the same rows meanwhile; run again.",
    "28": "Check the user and the password: the service, PGUSER, ~/.pgpass or PGPASSWORD.",
    "3D": "Correct the name of the database.",
}
_LOST: Final = "The connection was lost. Run again; if it happens again, ask the server's administrator."
_CHECK_SQL: Final = "Run it in another client of the database to see more, and correct it or ask its administrator."


@dataclass(frozen=True)
class Address:
    """Where a database is. ``parameters``: those of libpq, by name; ``shown``: the address as people may see it."""

    parameters: dict[str, str]
    shown: str


def is_database(path: str) -> bool:
    """Return whether a path of a programme is the address of a database."""
    return _SCHEME.match(path) is not None


def without_credentials(text: str) -> str:
    """Return a text without the users and passwords of the addresses in it."""
    return _SECRET_WORDS.sub(r"\1\2...", _CREDENTIALS.sub("...@", text))


def address_of(text: str, key: str) -> Address:
    """Return the address that a setting gives.

    Raises
    ------
    SettingsError
        It has a user or a password, or is not an address; what it holds is not repeated.
    """
    rest, _, query = text[_SCHEME.match(text).end() if is_database(text) else 0 :].partition("?")  # type: ignore[union-attr]
    hosts, _, name = rest.partition("/")
    parameters = dict(parse_qsl(query, keep_blank_values=True))
    if "@" in text or any("pass" in word.lower() or word.lower() == "user" for word in parameters):
        raise SettingsError(f"{key}: found a user or a password in the address of the database. {_WHERE}")
    if other := [word for word in parameters if word not in _PARAMETERS]:
        raise SettingsError(
            f"{key}: the address of the database has {len(other)} parameter(s) that are not used; possible are: "
            f"{', '.join(_PARAMETERS)}. Put others into a service (~/.pg_service.conf) or the environment (PGOPTIONS)."
        )
    named, ports = [], []
    for host in hosts.split(",") if hosts else []:
        found = re.fullmatch(r"(\[[0-9a-fA-F:.%]+\]|[^:\[\]]*)(?::(\d*))?", host)
        if found is None:
            raise SettingsError(f"{key}: the address of the database cannot be read; {_EXPECTED}. Correct it.")
        named.append(unquote(found[1]).strip("[]"))
        ports.append(found[2] or "")
    own = {"host": ",".join(named), "port": ",".join(ports) if any(ports) else "", "dbname": unquote(name)}
    parameters = {word: value for word, value in own.items() if value} | parameters
    if not (parameters.get("dbname") or parameters.get("service")):
        raise SettingsError(f"{key}: the address names no database; {_EXPECTED}. Correct it.")
    return Address(parameters, _shown(parameters))


def shown(text: str) -> str:
    """Return an address as people may see it: host, port and database, or the service; without the rest.

    Where the text is not an address that can be used, only that it is one of a database.
    """
    try:
        return address_of(text, "").shown
    except SettingsError:
        return "postgresql://..."


def _shown(parameters: dict[str, str]) -> str:
    hosts, ports = parameters.get("host", "").split(","), parameters.get("port", "").split(",")
    ports = ports * len(hosts) if len(ports) == 1 else ports
    # a folder of sockets is a path of this machine
    names = ["" if host.startswith(("/", "@")) else f"[{host}]" if ":" in host else host for host in hosts]
    places = [name and f"{name}:{port}" if port else name for name, port in zip(names, ports, strict=False)]
    service = f"?service={quote(parameters['service'])}" if "service" in parameters else ""
    return f"postgresql://{','.join(places)}/{quote(parameters.get('dbname', ''))}{service}"


def library(key: str) -> ModuleType:
    """Return psycopg, which is an extra.

    Raises
    ------
    SettingsError
        It is not installed.
    """
    try:
        import psycopg  # noqa: PLC0415 - only where a database is used
    except ImportError as error:
        raise SettingsError(
            f"{key}: a database needs the library psycopg, which is not installed. Run .venv/bin/pip install "
            "'.[database]' in the checkout (pip install 'kerfbook[database]'), or give a file."
        ) from error
    return psycopg


@contextmanager
def connected(text: str, key: str, *, writes: bool = False, label: str = "") -> "Iterator[Connection[Any]]":
    """Give a connection to the database at an address, in autocommit, and close it.

    Whoever reads or writes opens a transaction on it (``connection.transaction()``). Errors of the database inside the
    block are told as ``errors_told`` does.

    Parameters
    ----------
    text
        The address.
    key
        The setting that holds it, for errors.
    writes
        Whether the database is an output; else no statement of the session may write.
    label
        What is read or written there, for errors; empty for the database's address.

    Raises
    ------
    SettingsError
        The address has credentials or cannot be read, or psycopg is not installed.
    InputError, OutputError
        The database cannot be reached or used.
    """
    address = address_of(text, key)
    psycopg = library(key)
    given = dict(address.parameters)
    if "PGCONNECT_TIMEOUT" not in os.environ:
        given.setdefault("connect_timeout", _SECONDS_TO_CONNECT)
    with errors_told(text, key, writes=writes, label=label):
        connection = psycopg.connect(**given, autocommit=True, application_name="kerfbook", client_encoding="UTF8")
    # those of the service and of ~/.pgpass are known only here
    secrets = (connection.info.user, connection.info.password)
    with errors_told(text, key, writes=writes, label=label, secrets=secrets):
        try:
            connection.execute(_SESSION)
            if not writes:
                connection.execute("SET default_transaction_read_only = on")
            yield connection
        finally:
            connection.close()


@contextmanager
def errors_told(
    text: str, key: str, *, writes: bool = False, label: str = "", secrets: Sequence[str] = ()
) -> Iterator[None]:
    """Turn the errors of the database inside the block into ours, without a credential and with advice.

    ``label``: as for ``connected``. ``secrets``: user and password of a connection that was made.

    Raises
    ------
    InputError, OutputError
        The database said no, or nothing; an ``OutputError`` if it is an output.
    """
    psycopg = library(key)
    try:
        yield
    except psycopg.Error as error:
        ours: type[KerfbookError] = OutputError if writes else InputError
        # the library's own error holds the credentials: it is not kept as the cause
        raise ours(f"{label or shown(text)}: {_told(error, key, secrets)}") from None


def _told(error: "DatabaseError", key: str, secrets: Sequence[str]) -> str:
    """Return what is wrong and what to do, in sentences."""
    reason, state = reason_of(error, secrets), error.sqlstate or ""
    if state:
        advice = next((text for start, text in _ADVICE.items() if state.startswith(start)), _CHECK_SQL)
        return f"the database reports an error ({reason}). {advice}"
    connection = error.pgconn
    if not _is_new(error):
        return f"the connection to the database ended ({reason}). {_LOST}"
    if getattr(connection, "used_password", False) or getattr(connection, "needs_password", False):
        is_known = not getattr(connection, "needs_password", False)
        what = "refuses the user or the password" if is_known else "asks for a password, and none is known"
        return (
            f"the database {what} ({reason}). Check the service (~/.pg_service.conf), PGUSER, ~/.pgpass (which only "
            "you may be able to read) or PGPASSWORD."
        )
    return (
        f"no connection to the database ({reason}). Check the address in {key}, the service if it names one, and that "
        "the server is up and lets this computer and user in."
    )


def _is_new(error: "DatabaseError") -> bool:
    """Return whether a connection was never made: libpq's message on one that was does not begin so."""
    return str(error).startswith(
        ("connection failed", "connection is bad", "connection timeout", "failed to resolve host")
    )


def reason_of(error: "DatabaseError", secrets: Sequence[str] = ()) -> str:
    """Return the main message of an error of the database, without user, password or address with credentials.

    ``secrets``: user and password of a connection that was made.
    """
    message = error.diag.message_primary or str(error).partition("\nMultiple connection attempts")[0]
    message = message.removeprefix("connection failed: ").removeprefix("connection is bad: ")
    for secret in sorted(filter(None, [*secrets, *_secrets(error)]), key=len, reverse=True):
        message = re.sub(rf"(?<!\w){re.escape(secret)}(?!\w)", "...", message)
    message = _QUOTED_ROLE.sub(r'\1 "..."', message)
    lines = [" ".join(line.split()) for line in without_credentials(message).splitlines()]
    # what libpq writes on several lines are several sentences
    sentence = re.sub(r"(?<![.:;,?!])\n", ". ", "\n".join(filter(None, lines))).replace("\n", " ").rstrip(". ")
    return sentence if len(sentence) <= _LONGEST else f"{sentence[:_LONGEST]} ..."


def _secrets(error: "DatabaseError") -> list[str]:
    """Return the user and the password that a connection was tried with."""
    found = [os.environ.get("PGUSER", ""), os.environ.get("PGPASSWORD", "")]
    for name in ("user", "password"):
        # an error of a statement has no connection
        value = getattr(error.pgconn, name, b"") or b""
        found.append(value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value))
    return found
