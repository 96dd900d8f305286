"""A bound on the steps that a statement of SQLite may take, which does not swallow a stop of the command."""

import sqlite3
from typing import Final

__all__ = ["Steps"]

_AT_ONCE: Final = 1000


class Steps:
    """Lets statements of a connection take a number of thousands of steps of SQLite's machine.

    SQLite ends a statement wherever its callback fails, and lets go of what it raised: a stop of the command, which
    Python raises in the callback, would else be taken for a fault of the file.
    """

    def __init__(self, database: sqlite3.Connection, thousands: int) -> None:
        self._left = thousands
        # a callback that returns anything but zero ends the statement
        database.set_progress_handler(self._is_over, _AT_ONCE)

    def _is_over(self) -> bool:
        self._left -= 1
        return self._left < 0

    def were_too_many(self, error: BaseException) -> bool:
        """Return whether a statement failed because it took too many steps.

        Raises
        ------
        KeyboardInterrupt
            A stop of the command ended it.
        """
        if getattr(error, "sqlite_errorcode", None) != sqlite3.SQLITE_INTERRUPT:
            return False
        if self._left >= 0:
            raise KeyboardInterrupt from error
        return True
