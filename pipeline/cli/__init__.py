"""The command line: arguments in, exit code out. Nothing else in the program knows there is a terminal."""

import io
import logging
import signal
import sys

import click

from pipeline.cli import (  # noqa: F401 - each of these registers its commands
    audit,
    calibrate,
    compare,
    rules,
    sample,
    verify,
)
from pipeline.cli.group import commands, for_terminal
from pipeline.errors import KerfbookError

__all__ = ["main"]

_INTERRUPTED = 130


def main() -> None:
    """Run the command line, and end with its exit code."""
    # a letter that the terminal cannot show is no reason to fail
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    # a scheduler's stop ends a run as cleanly as a person's
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    # what the map libraries log, our errors say better
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
    except (KeyboardInterrupt, click.Abort):
        click.echo("Interrupted; nothing was written.", err=True)
        sys.exit(_INTERRUPTED)
