"""A real PostgreSQL with PostGIS for the tests: a cluster of its own in a temporary folder, and a fresh database per test."""

import contextlib
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import psycopg
from psycopg import sql

OWNER = "kerfbook_owner"
PASSWORD = "not-to-be-shown-9f2c"
# as fast as it gets, for data that nobody keeps
_SETTINGS = (
    "fsync=off", "full_page_writes=off", "synchronous_commit=off", "autovacuum=off", "shared_buffers=32MB",
    "max_connections=40", "logging_collector=off", "lc_messages=C",
)  # fmt: skip


@dataclass(frozen=True)
class Server:
    """A running server. ``folder``: of its socket; anyone may connect there, while TCP asks for the password."""

    folder: Path
    port: int

    def connect(self, name: str) -> psycopg.Connection:
        """Connect as the owner, in autocommit."""
        return psycopg.connect(host=str(self.folder), port=self.port, dbname=name, user=OWNER, autocommit=True)

    @contextlib.contextmanager
    def fresh(self, template: str = "with_postgis", more: str = "") -> Iterator["Database"]:
        """Give a new database, and drop it afterwards; ``more`` is added to the statement that makes it."""
        name = f"town_{uuid.uuid4().hex[:12]}"
        with self.connect("postgres") as admin:
            admin.execute(
                sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(*map(sql.Identifier, (name, template)))
                + sql.SQL(f" {more}")
            )
            yield Database(self, name)
            admin.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


@dataclass(frozen=True)
class Database:
    """A database of a running server, with PostGIS."""

    server: Server
    name: str

    @property
    def address(self) -> str:
        """Its address by TCP, as a programme file names it: without user or password."""
        return f"postgresql://127.0.0.1:{self.server.port}/{self.name}"

    @property
    def environment(self) -> dict[str, str]:
        """What lets libpq in as the owner."""
        return {"PGUSER": OWNER, "PGPASSWORD": PASSWORD}

    def connect(self) -> psycopg.Connection:
        """Connect as the owner, in autocommit, without a look at the environment."""
        return self.server.connect(self.name)

    def run(self, *statements: str) -> None:
        """Run statements as the owner."""
        with self.connect() as connection:
            for statement in statements:
                connection.execute(statement)

    def rows(self, query: str) -> list[tuple]:
        """Return the rows of a query as the owner."""
        with self.connect() as connection:
            return connection.execute(query).fetchall()


def binaries() -> Path | None:
    """Return the folder of the newest server's programs that has PostGIS, or None where there is none."""
    found = shutil.which("pg_ctl")
    folders = [Path(found).resolve().parent] if found else []
    # Debian keeps them out of the search path
    folders += sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda folder: -float(folder.parent.name))
    have = [folder for folder in folders if (folder / "initdb").exists() and _has_postgis(folder)]
    return have[0] if have and _user_for_server() is not None else None


def _has_postgis(folder: Path) -> bool:
    asked = subprocess.run([folder / "pg_config", "--sharedir"], capture_output=True, text=True, check=False)
    share = Path(asked.stdout.strip() or f"/usr/share/postgresql/{folder.parent.name}")
    return (share / "extension/postgis.control").exists()


def _user_for_server() -> str | None:
    """Return who runs the server; PostgreSQL refuses root."""
    names = [user.pw_name for user in pwd.getpwall()]
    if os.geteuid() != 0:
        return pwd.getpwuid(os.geteuid()).pw_name
    return next((name for name in ("postgres", "nobody") if name in names), None)


@contextlib.contextmanager
def running() -> Iterator[Server]:
    """Start a server, and stop it afterwards."""
    programs, user = binaries(), _user_for_server()
    # pytest's own folders are closed to other users; the name is short, as sockets' paths must be
    folder = Path(tempfile.mkdtemp(prefix="kerfbook-pg-"))
    shutil.chown(folder, user)
    with _stopped_with_this_process(user, programs, folder):
        password = folder / "password"
        password.write_text(PASSWORD, encoding="utf-8")
        shutil.chown(password, user)
        _as(
            user, programs / "initdb", "-D", folder / "data", "-U", OWNER, "-E", "UTF8", "--locale=C.UTF-8", "--no-sync",
            "--auth-local=trust", "--auth-host=scram-sha-256", f"--pwfile={password}",
        )  # fmt: skip
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        places = f"-k {folder} -p {port} -c listen_addresses=127.0.0.1 "
        options = places + " ".join(f"-c {setting}" for setting in _SETTINGS)
        _as(user, programs / "pg_ctl", "-D", folder / "data", "-l", folder / "log", "-w", "-o", options, "start")
        server = Server(folder, port)
        with server.connect("postgres") as admin:
            admin.execute("CREATE DATABASE with_postgis")
        with server.connect("with_postgis") as template:
            template.execute("CREATE EXTENSION postgis")
        yield server


@contextlib.contextmanager
def _stopped_with_this_process(user: str | None, programs: Path, folder: Path) -> Iterator[None]:
    """Stop the server and remove its folder at the end, also where this process is killed before.

    A shell waits for the end of a pipe that only this process holds.
    """
    script = 'cat; "$0" -D "$1/data" -m immediate -w stop; rm -rf "$1"'
    keeper = subprocess.Popen(
        [*_front(user), "sh", "-c", script, programs / "pg_ctl", folder],
        stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd="/", start_new_session=True,
    )  # fmt: skip
    try:
        yield
    finally:
        keeper.communicate()


def _front(user: str | None) -> list[str]:
    return ["runuser", "-u", str(user), "--"] if os.geteuid() == 0 else []


def _as(user: str | None, *command: str | Path) -> None:
    """Run a command as a user, and show what it printed where it fails."""
    # the server keeps the output open that it is started with
    with tempfile.TemporaryFile("w+") as printed:
        done = subprocess.run(
            [*_front(user), *map(str, command)], stdout=printed, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL,
            cwd="/", env={"PATH": os.environ["PATH"], "LC_ALL": "C"}, check=False,
        )  # fmt: skip
        printed.seek(0)
        assert done.returncode == 0, printed.read()
