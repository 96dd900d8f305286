"""The check that the columns which a programme hands to the road authority exist."""

from collections.abc import Iterable

from pipeline.contracts import CORE_COLUMNS, REGISTER_COLUMNS, names_of, own_names
from pipeline.errors import SettingsError
from pipeline.programme.names import did_you_mean

__all__ = ["refuse_unknown_columns"]


def refuse_unknown_columns(columns: Iterable[str], register: Iterable[object], where: str) -> None:
    """Refuse a column to hand over that does not exist, before the long work begins.

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
    of_register = names_of(REGISTER_COLUMNS)
    known = [*CORE_COLUMNS, *of_register, *own_names(register)]
    for name in columns:
        if name not in known:
            # a register column whose name is taken goes by another name
            own = f"register_{name}"
            hint = f' Did you mean "{own}"?' if own in known else did_you_mean(name, known)
            raise SettingsError(
                f"{where}: handover.columns: no column {name!r}.{hint} Expected a column of cores.csv, the "
                f"register's own included, or one of: {', '.join(of_register)}. Correct or remove the name."
            )
