"""The check that a stage hands on what its contract declares."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import pandas as pd

from pipeline.contracts.column import Column, Kind
from pipeline.errors import ContractError

__all__ = ["check_frame", "check_tables"]

_REMEDY: Final = "Correct the stage, or declare the change in pipeline/contracts."


def _is_day(kind: Any) -> bool:  # noqa: ANN401 - numpy's and pandas' dtypes have no common type
    return pd.api.types.is_datetime64_dtype(kind)


_KIND_CHECKS: Final[dict[Kind, Callable[[Any], bool]]] = {
    "text": pd.api.types.is_string_dtype,
    "number": pd.api.types.is_float_dtype,
    "instant": lambda kind: isinstance(kind, pd.DatetimeTZDtype),
    "day": _is_day,
    "whole": pd.api.types.is_integer_dtype,
    "truth": pd.api.types.is_bool_dtype,
    "geometry": lambda kind: str(kind) == "geometry",
}


def check_frame(frame: pd.DataFrame, columns: Sequence[Column], index: pd.Index | None, stage: str) -> None:
    """Hold a stage to its contract: the same rows, the declared columns and no others, each of its kind.

    Parameters
    ----------
    frame
        What the stage hands on.
    columns
        What it must hold, by the names in the frame.
    index
        The rows it must have, in their order; None for a table with rows of its own.
    stage
        Named in the error, with the table if it hands on several.

    Raises
    ------
    ContractError
        A row was lost, added or moved, a column is missing, undeclared or there twice, or one is of another kind.
    """
    if index is not None and not frame.index.equals(index):
        raise ContractError(f"{stage}: {len(frame)} rows, expected the {len(index)} it was given, in order. {_REMEDY}")
    names = [str(name) for name in frame.columns]
    missing = [column.name for column in columns if not column.optional and column.name not in names]
    if missing:
        raise ContractError(f"{stage}: no column {missing[0]}, which its contract declares. {_REMEDY}")
    undeclared = sorted(set(names) - {column.name for column in columns})
    if undeclared:
        raise ContractError(f"{stage}: column {undeclared[0]} is not in its contract. {_REMEDY}")
    if len(names) > len(set(names)):
        twice = next(name for name in names if names.count(name) > 1)
        raise ContractError(f"{stage}: column {twice} is there {names.count(twice)} times, expected once. {_REMEDY}")
    # a table without rows was never given kinds
    for column in () if frame.empty else columns:
        if column.name in frame and not _KIND_CHECKS[column.kind](frame[column.name].dtype):
            found = frame[column.name].dtype
            raise ContractError(f"{stage}: column {column.name} is {found}, expected {column.kind}. {_REMEDY}")


def check_tables(
    tables: Mapping[str, pd.DataFrame | None], contract: Mapping[str, Sequence[Column]], stage: str
) -> None:
    """Hold each table that a stage hands on to the contract of its name; one that is None was not asked for.

    Raises
    ------
    ContractError
        As ``check_frame`` raises it, or a table has no contract or a contract no table.
    """
    if set(tables) != set(contract):
        strange = min(set(tables) ^ set(contract))
        raise ContractError(f"{stage}: table {strange} is handed on or declared, but not both. {_REMEDY}")
    for name, table in tables.items():
        if table is not None:
            check_frame(table, contract[name], None, f"{stage}: {name}")
