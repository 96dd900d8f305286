"""Starts with which no command can end well are refused at once; warnings of libraries stay off the screen."""

import resource
import subprocess
import sys
import warnings
from pathlib import Path

import pytest

from pipeline.cli.process_limits import hide_warnings_of_libraries

_ROOT = Path(__file__).parents[2]


def _run(*python, megabytes=None):
    def limit():
        resource.setrlimit(resource.RLIMIT_AS, (megabytes << 20, megabytes << 20))

    return subprocess.run(
        [sys.executable, *python, "-m", "pipeline", "rules"], cwd=_ROOT, capture_output=True, text=True, check=False,
        preexec_fn=limit if megabytes else None,
    )  # fmt: skip


def test_python_that_leaves_out_docstrings_prints_the_same():
    plain, bare = _run(), _run("-OO")
    assert plain.returncode == 0
    assert (bare.returncode, bare.stdout, bare.stderr) == (0, plain.stdout, plain.stderr)


@pytest.mark.skipif(sys.platform != "linux", reason="limits of this kind are those of Linux")
@pytest.mark.parametrize("megabytes", [400, 1500])
def test_a_limit_that_no_command_fits_in_is_said_to_be_one_of_memory(megabytes):
    done = _run(megabytes=megabytes)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"Error: memory: a limit lets this process address {megabytes / 1024:.1f} GB")


def test_a_warning_of_a_library_is_not_printed(capsys, monkeypatch):
    monkeypatch.setattr(warnings, "showwarning", warnings.showwarning)
    hide_warnings_of_libraries()
    with warnings.catch_warnings():
        warnings.simplefilter("always")
        warnings.warn("overflow encountered in length", RuntimeWarning, stacklevel=1)
    assert capsys.readouterr().err == ""
