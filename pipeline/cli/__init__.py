"""The command line: arguments in, exit code out. No other part of the program knows of a terminal."""

import gc
import io
import logging
import os
import signal
import sys

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
from pipeline.cli.group import commands, for_terminal
from pipeline.errors import KerfbookError

__all__ = ["main"]

_INTERRUPTED = 130
# new objects before garbage is looked for: Python's own number has each library looked through many times as it loads
_OBJECTS_BEFORE_CLEARING = 50_000


def main() -> None:
    """Run the command line and end with its exit code."""
    gc.set_threshold(_OBJECTS_BEFORE_CLEARING)
    if "--allow-remote" not in sys.argv:
        # the datum of an input would have a grid fetched, where the system is set up so
        os.environ["PROJ_NETWORK"] = "OFF"
    # a character that the terminal cannot show must not stop a run
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    # a stop by the system is handled like one from the keyboard: the outputs are left complete or untouched
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    # the errors of this program replace what the map library logs
    logging.getLogger("pyogrio").addHandler(logging.NullHandler())
    logging.getLogger("pyogrio").propagate = False
    try:
        commands(standalone_mode=False)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except KerfbookError as error:
        click.echo(f"Error: {for_terminal(str(error))}", err=True)
        sys.exit(error.exit_code)
    except (KeyboardInterrupt, click.Abort) as stop:
        # a command whose outputs are there already says so; click passes an interruption on as the cause of its own
        said = getattr(stop.__cause__ or stop, "__notes__", ["No outputs were written."])
        click.echo(for_terminal(" ".join(["Interrupted.", *said])), err=True)
        sys.exit(_INTERRUPTED)
