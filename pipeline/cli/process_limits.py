"""What this process may use, looked at before anything large is loaded: a library that lacks memory waits or aborts."""

import os
import sys
import warnings
from typing import Final

from pipeline.errors import SettingsError

__all__ = ["hide_warnings_of_libraries", "refuse_unfit_process"]

# libraries and their threads reserve about two, of which the demo uses half a gigabyte
_LEAST_BYTES: Final = 3 << 30


def refuse_unfit_process() -> None:
    """Stop under a limit with which no command can end well.

    Raises
    ------
    SettingsError
        The process may address too little memory.
    """
    allowed = _address_space()
    if allowed is None:
        return
    # its threads end the process with an interruption where they find no memory
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if allowed < _LEAST_BYTES:
        raise SettingsError(
            f"memory: a limit lets this process address {allowed / 2**30:.1f} GB, expected at least "
            f"{_LEAST_BYTES >> 30} GB, or as much as the README's table says for your data. Raise or remove the limit "
            "(ulimit -v)."
        )


def hide_warnings_of_libraries() -> None:
    """Keep the warnings of libraries, which name their own files, off the screen, unless Python was asked for them."""
    if not sys.warnoptions:
        # a filter would also keep them from the tests, which turn each into an error
        warnings.showwarning = lambda *_, **__: None


def _address_space() -> int | None:
    """Return how many bytes this process may address; None without a limit, or on a system without such limits."""
    try:
        import resource
    except ImportError:
        return None
    limit = resource.getrlimit(resource.RLIMIT_AS)[0]
    return None if limit == resource.RLIM_INFINITY else limit
