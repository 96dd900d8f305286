"""The columns that a programme hands to the road authority, held against those that there are."""

import difflib
from collections.abc import Iterable

from pipeline.contracts import CORE_COLUMNS, REGISTER_COLUMNS, STREET_RECORDED, own_names
from pipeline.errors import SettingsError

__all__ = ["refuse_unknown_columns"]


def refuse_unknown_columns(columns: Iterable[str], register: Iterable[object], where: str) -> None:
    """Refuse a column to be handed over that does not exist, before anything takes time.

    Parameters
    ----------
    columns
        The names under ``[handover] columns``.
    register
        The names of the register's own columns.
    where
        The programme file, for the error.

    Raises
    ------
    SettingsError
        There is no such column.
    """
    of_register = [column.name for column in REGISTER_COLUMNS if column.name != "street"] + [STREET_RECORDED]
    known = [*CORE_COLUMNS, *of_register, *own_names(register)]
    for name in columns:
        if name not in known:
            # a register column whose name is taken goes by another
            own = f"register_{name}"
            near = [own] if own in known else difflib.get_close_matches(name, known, n=1)
            hint = f' Did you mean "{near[0]}"?' if near else ""
            raise SettingsError(
                f"{where}: handover.columns: no column {name!r}.{hint} Available are the columns of cores.csv, the "
                f"register's own among them, and: {', '.join(of_register)}."
            )
