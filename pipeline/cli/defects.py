"""Ends that nobody foresaw: a fault of this program, too little memory, and a screen that takes no more lines."""

import datetime as dt
import errno
import os
import platform
import sys
import tempfile
import traceback
from pathlib import Path

from pipeline.version import __version__

__all__ = [
    "CLOSED",
    "DEFECT",
    "MORE_MEMORY",
    "NO_MEMORY",
    "UnprintableError",
    "open_missing_streams",
    "report_defect",
    "stream_error",
]

# of sysexits.h: an internal software error, and an error of the operating system
DEFECT = 70
NO_MEMORY = 71
# as a shell reports a command that a closed pipe ended
CLOSED = 141
MORE_MEMORY = "there is not enough memory. Close other programs or use a machine with more: see the README on how much."
_OF_STREAMS = (errno.EPIPE, errno.ENOSPC, errno.EIO, errno.EBADF)


class UnprintableError(Exception):
    """Nothing more can be printed. ``is_closed``: whoever read it has enough; ``reason``: why else."""

    def __init__(self, error: OSError) -> None:
        super().__init__(str(error))
        self.is_closed = error.errno == errno.EPIPE
        self.reason = error.strerror or str(error)


def stream_error(error: OSError) -> UnprintableError | None:
    """Return what an error says about printing; None if it is about something else, such as a file."""
    return UnprintableError(error) if error.errno in _OF_STREAMS and error.filename is None else None


def open_missing_streams() -> None:
    """Give the standard streams that are closed somewhere to go.

    Otherwise the next file that is opened would take their place, and what libraries print would go into it.
    """
    while (handle := os.open(os.devnull, os.O_RDWR)) <= 2:
        os.set_inheritable(handle, True)
    os.close(handle)
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - until the end


def report_defect(error: BaseException) -> str:
    """Write what a report of a fault needs to a file, and return the sentence that tells so.

    The file goes into the current folder, or into the system's folder for temporary files.
    """
    from pipeline.databases import without_credentials

    what = without_credentials(f"{type(error).__name__}: {error}"[:300])
    versions = f"kerfbook {__version__}, Python {platform.python_version()}, {platform.platform()}"
    lines = [
        versions,
        "Command: " + " ".join(sys.argv),
        "Look through this file before you send it: the error's text may quote your data.",
        "",
        *traceback.format_exception(error),
    ]
    name = f"kerfbook-fault-{dt.datetime.now().astimezone():%Y%m%d-%H%M%S}-{os.getpid()}.txt"
    for folder in (Path.cwd, tempfile.gettempdir):
        try:
            file = Path(folder()) / name
            file.write_text(without_credentials("\n".join(lines)), encoding="utf-8", errors="replace")
        except OSError:
            continue
        return f"was ended by a fault of Kerfbook ({what}). Report it, and send the file {file}."
    return f"was ended by a fault of Kerfbook ({what}). Report it."
