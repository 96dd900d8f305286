"""What a command has finished writing, for what is said when it is stopped after that.

A stop can come between the moment that a folder is in place and the moment that anybody is told so.
"""

import signal
from pathlib import Path
from typing import Final

__all__ = ["COMPLETED", "STOPS", "said_when_stopped"]

# what ends a command: the keyboard, the system, and a terminal that is closed, which Windows does not tell
STOPS: Final = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))

# places whose files are whole, in the order in which they became so; emptied as a command begins
COMPLETED: Final[list[Path]] = []


def said_when_stopped() -> str:
    """Return the sentence on what a command that was stopped has left."""
    if not COMPLETED:
        return "No outputs were written."
    return f"The outputs are complete: {', '.join(map(str, COMPLETED))}"
