"""Nothing that is printed can control the terminal, whoever prints it."""

import io
import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest
from rich.table import Table

from pipeline.cli import progress, terminal

_ROOT = Path(__file__).parents[2]
_HOSTILE = "[/x] [bold]b[/bold] :bomb: \x1b]8;;http://example.org\x07link \x1b[2J\x9b31m \u202eabc\u200b"
_SHOWN = (
    "[/x] [bold]b[/bold] :bomb: <U+001B>]8;;http://example.org<U+0007>link <U+001B>[2J<U+009B>31m <U+202E>abc<U+200B>"
)


def test_no_other_module_of_the_command_line_writes_to_the_terminal():
    writes = re.compile(r"click\.s?echo|(?<![.\w])print\(|(?<!\")Console\(|sys\.std(out|err)\.write")
    for file in (_ROOT / "pipeline" / "cli").glob("*.py"):
        assert file.name == "terminal.py" or not writes.search(file.read_text("utf-8")), file.name


def test_texts_titles_and_cells_are_shown_as_they_are(monkeypatch, capsys):
    monkeypatch.setattr("pipeline.cli.terminal.line_width", lambda: 400)
    console = terminal.printer()
    console.print(_HOSTILE)
    table = Table(_HOSTILE, title=_HOSTILE)
    table.add_row(_HOSTILE)
    console.print(table)
    assert capsys.readouterr().out.count(_SHOWN) == 4


_SEVERAL = "Moor End\nVerified: all is well\r\nError: none\r\x0b\u2028Outputs: elsewhere"
_ONE = "Moor End Verified: all is well Error: none<U+000D><U+000B><U+2028>Outputs: elsewhere"


def test_a_text_of_several_lines_is_printed_on_one_unless_several_are_asked_for(monkeypatch, capsys):
    """A name could otherwise begin a line of its own, and pass for what we say."""
    monkeypatch.setattr("pipeline.cli.terminal.line_width", lambda: 400)
    console = terminal.printer()
    console.print(_SEVERAL, soft_wrap=True)
    table = Table(_SEVERAL, title=_SEVERAL, title_justify="left", box=None, pad_edge=False)
    table.add_row(_SEVERAL)
    console.print(table)
    terminal.say(_SEVERAL)
    console.print(terminal.lines("ours", _SEVERAL))
    terminal.say_lines(terminal.indented(f"Error: {_SEVERAL}"))
    seen = capsys.readouterr().out.splitlines()
    assert [line.rstrip() for line in seen[:7]] == [*[_ONE] * 5, "ours", _ONE]
    assert [line[:4] for line in seen[7:]] == ["Erro", "  Ve", "  Er"]


def test_what_is_printed_past_the_printer_is_shown_too(monkeypatch):
    out, err = io.StringIO(), io.StringIO()
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", err)
    terminal.guard_streams()
    # a second command in one process guards them once
    terminal.guard_streams()
    print(_HOSTILE)
    sys.stderr.writelines([_HOSTILE])
    terminal.say(_HOSTILE)
    assert out.getvalue() == f"{_SHOWN}\n{_SHOWN}\n"
    assert err.getvalue() == _SHOWN


@pytest.mark.parametrize("kind", ["_Bar", "_Lines"])
def test_progress_shows_a_name_as_it_is(kind, monkeypatch):
    err = io.StringIO()
    monkeypatch.setattr(sys, "stderr", err)
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "150")
    with getattr(progress, kind)(**({} if kind == "_Bar" else {"quiet": False})) as told:
        told.stage("intake", 1, 9)
        told.detail("[/x]\x1b[2J\u202e")
    assert "\x1b[2J" not in err.getvalue()
    assert "\u202e" not in err.getvalue()
    assert "[/x]<U+001B>[2J" in err.getvalue()


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminal")
def test_in_a_terminal_a_path_keeps_to_itself(tmp_path):
    """As a user would see it: the error about a path, and the progress before it, hold no control of the path's own."""
    folder = tmp_path / "a\x1b]0;owned\x07\u202e[x]"
    folder.mkdir()
    (folder / "p.toml").write_text("[programme]\nname = 'x'\n[/x]", "utf-8")
    main, side = pty.openpty()
    done = subprocess.Popen(
        [sys.executable, "-m", "pipeline", "audit", str(folder / "p.toml")], cwd=_ROOT, stdout=side, stderr=side,
        env=os.environ | {"COLUMNS": "120", "TERM": "xterm"},
    )  # fmt: skip
    os.close(side)
    seen = b""
    try:
        while part := os.read(main, 65536):
            seen += part
    except OSError:
        # the other end is closed
        pass
    assert done.wait(60) == 2
    assert b"owned" in seen
    assert b"\x1b]0;" not in seen
    assert "\u202e" not in seen.decode()
