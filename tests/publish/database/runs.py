"""Runs that are kept in a database too, with the tables alone in the folder, and what is there afterwards."""

from dataclasses import replace

import pandas as pd
from psycopg import sql

from pipeline.clock import silent
from pipeline.programme.outputs import Database, Publish
from pipeline.publish import publish

# what a run in the database consists of
TABLES = ("cores", "findings", "orders", "plan", "runs")


def kept_in(database, result, schema="kerfbook", as_of=None, **changes):
    """Return a run that is to be kept in a database; ``changes``: of what its programme says, such as its name."""
    settings = result.settings
    target = Database.model_validate({"path": database.address, "schema": schema})
    settings = settings.model_copy(
        update={
            "programme": settings.programme.model_copy(update=changes),
            "publish": Publish(outputs=[]).model_copy(update={"database": target}),
        }
    )
    return replace(result, settings=settings, as_of=as_of or result.as_of)


def keep(database, town, out, told=silent, **changes):
    """Publish a run, given with its programme file, into a folder and a database; return the run's folder."""
    programme, result = town
    return publish(kept_in(database, result, **changes), programme, out, told)


def counts(database, schema="kerfbook"):
    """Return the number of rows of each table of a schema; empty if there is none."""
    with database.connect() as connection:
        names = connection.execute("SELECT tablename FROM pg_tables WHERE schemaname = %s", (schema,)).fetchall()
        count = sql.SQL("SELECT count(*) FROM {}")
        return {name: connection.execute(count.format(sql.Identifier(schema, name))).fetchone()[0] for (name,) in names}


def frame(database, name, order="id"):
    """Return a table or view as it is read by psycopg: a frame of Python's own objects."""
    with database.connect() as connection:
        found = connection.execute(f"SELECT * FROM kerfbook.{name} ORDER BY {order}")
        rows = found.fetchall()
        return pd.DataFrame(rows, columns=[column.name for column in found.description], dtype="object")


class Updates:
    """Does something once, when the writing into the database has come to its ``at``-th part of a table."""

    def __init__(self, what, at=1):
        self.what, self.left, self.is_there = what, at, False

    def __call__(self, text, *counted):
        self.is_there = self.is_there or text == "database"
        if self.is_there and counted[-1:] == ("rows",):
            self.left -= 1
            if self.left == 0:
                self.what()


def is_ours(connection):
    """Return whether a connection is that of a run, and not of a test."""
    return connection.info.parameter_status("application_name") == "kerfbook"
