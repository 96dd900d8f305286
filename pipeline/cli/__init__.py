"""The command line: arguments in, exit code out. No other part of the program knows of a terminal."""

import gc
import io
import logging
import os
import signal
import sys
from contextlib import suppress
from pathlib import Path

import click

from pipeline.cli import (  # noqa: F401 - each of these registers its commands
    audit,
    calibrate,
    check,
    compare,
    decide,
    explain,
    plan,
    rehearse,
    return_sheet,
    rules,
    sample,
    start,
    verify,
)
from pipeline.cli.defects import (
    CLOSED,
    DEFECT,
    MORE_MEMORY,
    NO_MEMORY,
    UnprintableError,
    open_missing_streams,
    report_defect,
)
from pipeline.cli.group import commands
from pipeline.cli.terminal import guard_streams, indented, say_lines
from pipeline.completed import COMPLETED, STOPS, said_when_stopped
from pipeline.errors import KerfbookError, OutputError

__all__ = ["main"]

_INTERRUPTED = 130
# new objects before garbage is looked for: Python's own number has each library looked through many times as it loads
_OBJECTS_BEFORE_CLEARING = 50_000


def main() -> None:
    """Run the command line and end with its exit code."""
    gc.set_threshold(_OBJECTS_BEFORE_CLEARING)
    COMPLETED.clear()
    open_missing_streams()
    if "--allow-remote" not in sys.argv:
        # the datum of an input would have a grid fetched, where the system is set up so
        os.environ["PROJ_NETWORK"] = "OFF"
    # a character that the terminal cannot show must not stop a run
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    guard_streams()
    # a stop by the system, or a terminal that is closed, is handled like one from the keyboard: the outputs are left
    # complete or untouched
    for stop in STOPS:
        # a command that is to outlive its terminal was started with this ignored
        if stop != signal.SIGINT and signal.getsignal(stop) is not signal.SIG_IGN:
            signal.signal(stop, signal.default_int_handler)
    # the errors of this program replace what the map library logs
    logging.getLogger("pyogrio").addHandler(logging.NullHandler())
    logging.getLogger("pyogrio").propagate = False
    if code := _printed(_code_of_command()):
        sys.exit(code)


def _code_of_command() -> int:
    """Run the command, say why it ended where it is not done, and return its exit code."""
    try:
        commands(standalone_mode=False)
    except (click.exceptions.Exit, SystemExit) as done:
        # rich ends with 1 where whoever read what is printed has enough
        is_closed = isinstance(done.__context__, BrokenPipeError)
        code = CLOSED if is_closed else int(getattr(done, "exit_code", None) or getattr(done, "code", None) or 0)
    except click.ClickException as error:
        # click has no other way to print another text
        error.message = indented(error.message)  # type: ignore[misc]
        # where it cannot be printed the code still tells
        with suppress(OSError):
            error.show()
        code = error.exit_code
    except KerfbookError as error:
        code = _say(f"Error: {error}", error.exit_code)
    except (KeyboardInterrupt, click.Abort) as stop:
        # click passes an interruption on as the cause of its own
        said = getattr(stop.__cause__ or stop, "__notes__", [said_when_stopped()])
        code = _say(" ".join(["Interrupted.", *said]), _INTERRUPTED)
    except UnprintableError as error:
        code = _unprinted(error)
    except BaseException as error:  # noqa: BLE001 - it must not end as code 1, which says that a core is flagged
        code = _unforeseen(error)
    else:
        code = 0
    return code


def _unforeseen(error: BaseException) -> int:
    is_memory = isinstance(error, MemoryError)
    what = MORE_MEMORY if is_memory else f"the command {report_defect(error)}"
    return _say(f"Error: {what} {said_when_stopped()}", NO_MEMORY if is_memory else DEFECT)


def _say(text: str, code: int) -> int:
    # where it cannot be printed the code still tells
    with suppress(OSError):
        say_lines(indented(text), err=True)
    return code


def _unprinted(error: UnprintableError) -> int:
    """Return the exit code of a command that can print no more."""
    if error.is_closed:
        return CLOSED
    return _say(f"Error: nothing more can be printed ({error.reason}). {said_when_stopped()}", OutputError.exit_code)


def _printed(code: int) -> int:
    """Have what was printed go out, and return the exit code: another one where it cannot go out."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError as error:
            # Python would try again as it ends, and complain
            with Path(os.devnull).open("w") as nowhere:
                os.dup2(nowhere.fileno(), stream.fileno())
            code = code or _unprinted(UnprintableError(error))
    return code
