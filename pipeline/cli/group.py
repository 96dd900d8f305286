"""The group that every command belongs to, and the types of arguments that commands share."""

import datetime as dt
import errno
import os
from pathlib import Path
from typing import Any, Final

import click

from pipeline.cli.defects import stream_error
from pipeline.cli.process_limits import hide_warnings_of_libraries, refuse_unfit_process
from pipeline.cli.terminal import WIDTH
from pipeline.version import __version__
from pipeline.visible_text import bytes_not_utf8

__all__ = ["ALLOW_REMOTE", "PROGRAMME", "Command", "Day", "commands"]

# of every command that reads the inputs of a programme
ALLOW_REMOTE = click.option("--allow-remote", is_flag=True, help="Also read inputs whose path is an https://, http://, "
                            "s3:// or gs:// address. Without it none is opened.")  # fmt: skip
PROGRAMME = click.Path(path_type=Path, dir_okay=False)
# file systems take names of 255 bytes
_LONGEST_NAME: Final = 255


class Day(click.ParamType[dt.date]):
    """A date in ISO form, such as 2026-09-30."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> dt.date:  # noqa: ANN401 - as click declares it
        """Return the date, or end the command with a message."""
        from pipeline.programme.ranges import FIRST_DAY, LAST_DAY

        if isinstance(value, dt.date):
            return value
        try:
            day = dt.date.fromisoformat(value)
        except ValueError:
            self.fail(
                f"found {value!r}, expected a date such as 2026-09-30. Write year, month and day in that order.",
                param,
                ctx,
            )
        if not FIRST_DAY <= day <= LAST_DAY:
            self.fail(f"found {value!r}, expected a date from {FIRST_DAY} to {LAST_DAY}. Correct it.", param, ctx)
        return day


class Command(click.Command):
    """A command that takes text and names of files in UTF-8 only: outputs and records could hold no others."""

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - as click declares it
        """Run the command; raise UsageError for text or a working folder not in UTF-8, and for too long a path."""
        for param in self.params:
            # a core of any id is looked for, and not found
            if param.name == "core":
                continue
            given = ctx.params.get(str(param.name))
            for value in given if isinstance(given, tuple) else (given,):
                if isinstance(value, str | Path) and (shown := bytes_not_utf8(str(value))):
                    raise click.BadParameter(
                        f"found '{shown}', expected text in UTF-8. Rename the file or folder, or set the terminal to "
                        "UTF-8.",
                        ctx,
                        param,
                    )
                # start says itself that its folder cannot be written
                if isinstance(value, Path) and param.name != "folder" and (wrong := _too_long(value)):
                    raise click.BadParameter(wrong, ctx, param)
        if shown := bytes_not_utf8(_working_folder()):
            raise click.UsageError(
                f"the working folder: found '{shown}', expected a name in UTF-8. Rename it, or start the command in "
                "another folder.",
                ctx,
            )
        return super().invoke(ctx)


def _too_long(path: Path) -> str:
    """Return what is wrong with a path that no file can have, as one of its names or all of it is too long."""
    longest = max((len(os.fsencode(name)) for name in path.parts), default=0)
    if longest > _LONGEST_NAME:
        return (
            f"found a name of {longest} bytes in the path, expected at most {_LONGEST_NAME}; a letter takes 1 to 4. "
            "Correct it."
        )
    try:
        path.stat()
    except OSError as error:
        if error.errno == errno.ENAMETOOLONG:
            return f"found a path of {len(os.fsencode(path))} bytes, expected one that the system takes. Correct it."
    except ValueError:
        # no path holds a zero byte: the command says so
        pass
    return ""


def _working_folder() -> str:
    try:
        return str(Path.cwd())
    except OSError:
        # it was removed
        return ""


class _Commands(click.Group):
    """The commands, of which none ends with code 1, which says that a core is flagged, because a pipe was closed."""

    command_class = Command

    def make_context(self, *given: Any, **extra: Any) -> click.Context:  # noqa: ANN401 - as click declares it
        """Read what was asked for, and print the help or version if it was; raise UnprintableError as ``invoke``."""
        try:
            return super().make_context(*given, **extra)
        except OSError as error:
            raise stream_error(error) or error from error

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - as click declares it
        """Run the command that is asked for; raise UnprintableError where nothing more can be printed."""
        try:
            return super().invoke(ctx)
        except OSError as error:
            raise stream_error(error) or error from error


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": WIDTH})
@click.version_option(__version__, prog_name="kerfbook")
def commands() -> None:
    """Audit a utility's pavement cores: where each one is, what it needs, and what is wrong with it."""
    refuse_unfit_process()
    hide_warnings_of_libraries()
