"""A run in a PostgreSQL database with PostGIS: cores, findings, orders, plan and record, in one transaction."""

from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING

from pipeline.databases import library
from pipeline.programme.outputs import DATABASE, Database

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pipeline.publish.database.transaction import RunTransaction

__all__ = ["refuse_unusable_database", "run_transaction"]


def refuse_unusable_database(target: Database) -> None:
    """Find out before the long work whether a run can be written to a database.

    Raises
    ------
    SettingsError
        The library for databases is not installed.
    OutputError
        The database cannot be reached, or a run cannot be written there.
    """
    library(DATABASE)
    # an extra, only where a database is used
    from pipeline.publish.database.transaction import refuse_unusable_place  # noqa: PLC0415

    refuse_unusable_place(target)


@contextmanager
def run_transaction(target: Database | None) -> "Iterator[RunTransaction | None]":
    """Give what writes a run to a database, None for none; what it has not committed at the end is undone."""
    if target is None:
        yield None
        return
    library(DATABASE)
    # an extra, only where a database is used
    from pipeline.publish.database.transaction import RunTransaction  # noqa: PLC0415

    with ExitStack() as until:
        yield RunTransaction(target, until)
