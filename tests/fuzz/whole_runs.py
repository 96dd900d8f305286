"""Whole commands run in this process on changed inputs, and what has to hold whatever they were given."""

import contextlib
import io
import json
import re
import resource
import shutil
import signal
import sys
import traceback
from dataclasses import dataclass

import pandas as pd

from pipeline import cli
from pipeline.errors import InputError, SettingsError
from pipeline.run import read_programme
from tests.fuzz.fuzzed_town import Fuzzed

# processor seconds, and memory that a run of a few rows may take on top of what the libraries do
MOST_SECONDS = 40
MOST_GIGABYTES = 2.5
_FINE = {0, 2, 3}
_NEVER = ("Traceback", "site-packages", 'File "', "Warning:", "Interrupted")


class HangError(BaseException):
    """A command took more processor seconds than it may."""


@dataclass
class Outcome:
    """How a command ended: its exit code, what it printed, and the call that failed if it was an error of ours."""

    code: int
    printed: str
    where: str = ""


def run_command(*arguments):
    """Run a command in this process."""
    out, err, before = io.StringIO(), io.StringIO(), sys.argv

    def stop(*_):
        raise HangError

    signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
    sys.argv = ["kerfbook", *map(str, arguments)]
    code, where = 0, ""
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            cli.main()
    except SystemExit as done:
        code = int(done.code or 0)
    except BaseException as error:  # noqa: BLE001 - any is what is looked for
        code, where = -1, _failed_in(error)
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        sys.argv = before
    return Outcome(code, out.getvalue() + err.getvalue(), where)


def _failed_in(error):
    """Return the error with the last call of ours that it went through."""
    calls = [call for call in traceback.extract_tb(error.__traceback__) if "/pipeline/" in call.filename]
    place = f"{calls[-1].filename.rpartition('/pipeline/')[2]}:{calls[-1].lineno}" if calls else "no call of ours"
    return f"{type(error).__name__} in {place}: {str(error)[:200]}"


def wrong_with(outcome):
    """Return what a command may not have done, in words; nothing where all is well."""
    if outcome.where:
        return outcome.where
    if outcome.code not in _FINE:
        return f"exit code {outcome.code}: {outcome.printed[-300:]}"
    if found := [word for word in _NEVER if word in outcome.printed]:
        return f"{found[0]} on the screen: {outcome.printed[-300:]}"
    if outcome.code and not re.search(r"^(Error: |Usage: )", outcome.printed, re.MULTILINE):
        return f"exit code {outcome.code} without an error: {outcome.printed[-300:]}"
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    return f"{peak:.1f} GB of memory" if peak > MOST_GIGABYTES else ""


def wrong_with_account(run, rows):
    """Return what does not add up in a finished run; ``rows``: of the register, where they are known."""
    record = json.loads((run / "run.json").read_text("utf-8"))
    account = record["account"]
    cores = pd.read_parquet(run / "cores.parquet")
    if len(cores) != account["rows_read"] or cores["row"].tolist() != list(range(1, len(cores) + 1)):
        return f"{len(cores)} rows out, {account['rows_read']} read"
    if account["rows_read"] + account["set_aside"] + account["left_out_by_where"] != account["rows_in_file"]:
        return f"the rows of the file do not add up: {account}"
    if rows is not None and account["rows_in_file"] != rows:
        return f"{rows} rows in, {account['rows_in_file']} counted"
    if account["flagged"] + account["pending"] + account["reinstated"] != account["cores"]:
        return f"the statuses do not add up: {account}"
    if (
        account["cores"] + account["copies"] != account["rows_read"]
        or account["placed"] + account["unplaced"] != account["cores"]
    ):
        return f"the cores do not add up: {account}"
    return ""


def try_case(town, folder, seed):
    """Audit the town changed by a seed; return how it ended, what is wrong with that, and what was changed."""
    shutil.rmtree(folder, ignore_errors=True)
    fuzzed = Fuzzed(town, folder / "town", seed)
    command = ["check", fuzzed.folder / "programme.toml", "--no-page"] if seed % 4 == 3 else None
    outcome = run_command(*(command or ["audit", fuzzed.folder / "programme.toml", "--out", folder / "out", "--quiet"]))
    wrong = wrong_with(outcome)
    runs = sorted((folder / "out").glob("*/*/run.json"))
    if not wrong and outcome.code == 0 and command is None:
        wrong = wrong_with_account(runs[0].parent, fuzzed.rows) if runs else "no run was written"
    elif not wrong and runs:
        wrong = "a run was written although the command failed"
    return outcome, wrong, fuzzed.done


def try_intake(town, folder, seed):
    """Read the town changed by a seed, and nothing more; return what is wrong with how that ended, and what was changed."""
    shutil.rmtree(folder, ignore_errors=True)
    fuzzed = Fuzzed(town, folder / "town", seed)
    try:
        *_, inputs = read_programme(fuzzed.folder / "programme.toml")
    except (SettingsError, InputError) as error:
        text = str(error)
        return f"a poor error: {text[:300]}" if "site-packages" in text or not 20 < len(
            text
        ) < 3000 else "", fuzzed.done
    except BaseException as error:  # noqa: BLE001 - any is what is looked for
        return _failed_in(error), fuzzed.done
    register = inputs.register
    if len(inputs.cores) != len(register.frame) or inputs.cores["row"].duplicated().any():
        return "rows lost or doubled", fuzzed.done
    if fuzzed.rows is not None and register.rows_in_file != fuzzed.rows:
        return f"{fuzzed.rows} rows in, {register.rows_in_file} counted", fuzzed.done
    return "", fuzzed.done
