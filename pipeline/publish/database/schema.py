"""What is to be made in a database before a run can be written there, and the rights that it needs."""

from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

from psycopg.sql import SQL, Composable, Composed, Identifier, Literal

from pipeline.errors import OutputError
from pipeline.publish.database.found import Found
from pipeline.publish.database.tables import MARK, TABLES, VIEWS, StoredTable, View

__all__ = ["Change", "changes_to", "refuse_missing_rights"]

# the number changes with what a view is made of, if its columns stay the same
_VIEW: Final = "{comment}; of the latest run of each programme (layout 1)"

# a user's name is printed nowhere
_USER: Final = '"the user"'


class Change(NamedTuple):
    """A statement that makes or alters a table or view; ``of`` is its name, empty for the schema."""

    of: str
    statement: SQL | Composed


def changes_to(found: Found) -> list[Change]:
    """Return what makes the schema, its tables, columns, comments and views as this version has them."""
    schema = Identifier(found.schema)
    changes = [Change("", SQL("CREATE SCHEMA {}").format(schema))] if found.lacks is None else []
    for table in TABLES:
        changes += [Change(table.name, one) for one in _table(found, table, schema)]
    for name, view in VIEWS.items():
        changes += [Change(name, one) for one in _view(found, view, name)]
    return changes


def refuse_missing_rights(found: Found) -> None:
    """Raise an OutputError that says what to grant, if a right to write a run is missing."""
    grants = []
    changed = {change.of for change in changes_to(found)}
    if found.lacks is None and not found.may_create:
        grants.append(f"CREATE SCHEMA {Identifier(found.schema).as_string()} AUTHORIZATION {_USER};")
    makes = changed - {"", *found.relations}
    if needs := [right for right in found.lacks or () if right == "USAGE" or makes]:
        grants.append(f"GRANT {', '.join(needs)} ON SCHEMA {Identifier(found.schema).as_string()} TO {_USER};")
    for name, there in found.relations.items():
        called = Identifier(found.schema, name).as_string()
        if there.lacks and name not in VIEWS:
            grants.append(f"GRANT {', '.join(there.lacks)} ON {called} TO {_USER};")
        if name in changed and not there.is_owned:
            grants.append(f"ALTER {'VIEW' if name in VIEWS else 'TABLE'} {called} OWNER TO {_USER};")
    if grants:
        raise OutputError(
            f"{found.shown}: the user of this connection lacks rights that writing a run needs in database "
            f"{found.database}. Have its administrator run, with that user's name for {_USER}: {' '.join(grants)}"
        )


def _table(found: Found, table: StoredTable, schema: Identifier) -> Iterator[SQL | Composed]:
    there, name = found.relations.get(table.name), Identifier(found.schema, table.name)
    missing = [column for column in table.columns if there is None or column.name not in there.columns]
    new = [SQL("{} {} {}").format(Identifier(column.name), SQL(column.type), SQL(column.more)) for column in missing]
    if there is None:
        keys = [SQL(key).format(schema=schema) for key in table.keys]
        yield SQL("CREATE TABLE {} ({})").format(name, SQL(", ").join([*new, *keys]))
        yield from (SQL("CREATE INDEX ON {} {}").format(name, SQL(index)) for index in table.indexes)
    elif new:
        yield SQL("ALTER TABLE {} {}").format(name, SQL(", ").join(SQL("ADD COLUMN {}").format(one) for one in new))
    # who may write rows need not be the owner, who alone may describe them
    if there is None or there.is_owned:
        comment = MARK + table.comment
        if there is None or there.comment != comment:
            yield SQL("COMMENT ON TABLE {} IS {}").format(name, Literal(comment))
        written = {} if there is None else {column: comment for column, (_, comment) in there.columns.items()}
        yield from _comments(found, table.name, {one.name: one.comment for one in table.columns}, written)


def _comments(
    found: Found, name: str, comments: Mapping[str, str], written: Mapping[str, str]
) -> Iterator[SQL | Composed]:
    """Yield what describes those columns that are not described so yet."""
    for column, comment in comments.items():
        if written.get(column) != comment:
            called = Identifier(found.schema, name, column)
            yield SQL("COMMENT ON COLUMN {} IS {}").format(called, Literal(comment))


def _view(found: Found, view: View, name: str) -> Iterator[SQL | Composed]:
    """Yield what makes a view; nothing if it is there as it should be.

    It ends with the columns of its table in their order there, so that a new one comes last: a view that others use can
    only be replaced by one that begins with the same columns.
    """
    there, table = found.relations.get(name), view.table
    own = found.relations.get(table.name)
    first = [column.name for column in view.columns]
    added = [column.name for column in table.columns if own is None or column.name not in own.columns]
    rest = [column for column in [*(own.columns if own else ()), *added] if column not in first]
    comment = MARK + _VIEW.format(comment=table.comment)
    if there is not None and (there.comment, [*there.columns]) == (comment, [*first, *rest]):
        return
    columns: list[Composable] = [
        SQL("{} AS {}").format(SQL(column.made), Identifier(column.name)) for column in view.columns
    ]
    columns += [Identifier("t", column) for column in rest]
    yield SQL(
        "CREATE OR REPLACE VIEW {} AS SELECT {} FROM {} t JOIN ("
        "SELECT DISTINCT ON (programme) run, programme, as_of FROM {} ORDER BY programme, as_of DESC"
        ") l ON l.run = t.run{}"
    ).format(
        Identifier(found.schema, name),
        SQL(", ").join(columns),
        Identifier(found.schema, table.name),
        Identifier(found.schema, "runs"),
        SQL(view.joined).format(schema=Identifier(found.schema)),
    )
    yield SQL("COMMENT ON VIEW {} IS {}").format(Identifier(found.schema, name), Literal(comment))
    described = {one.name: one.comment for one in table.columns} | {one.name: one.comment for one in view.columns}
    yield from _comments(found, name, described, {})
