"""The report as a PDF: what is in it, what it never does, and what is said where it cannot be made."""

import importlib.abc
import re
import shutil
import subprocess
import sys
import threading
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from pipeline import cli
from pipeline.errors import SettingsError
from pipeline.publish import publish
from pipeline.publish.folder import new_folder, same_but_for
from pipeline.publish.report.pdf import require_pdf, write_pdf

PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Town: audit as of 2026-09-30</title></head>
<body><h1>Town &amp; Country</h1><p>What to do: Größe 18 in</p>
<svg width="20" height="20" viewBox="0 0 14 14" role="img"><title>flagged</title><path d="M1 1L9 9H1Z"/></svg>
<table><thead><tr><th scope="col">District</th></tr></thead><tbody><tr><td>North Fields</td></tr></tbody></table>%s</body></html>"""


@pytest.fixture
def library():
    """The real library, where it can draw."""
    try:
        import weasyprint  # noqa: PLC0415 - raises where Pango is not
    except OSError as error:
        pytest.skip(f"needs the library Pango: {error}")
    if shutil.which("pdftotext") is None:
        pytest.skip("needs Debian's poppler-utils, to read what was written")
    return weasyprint


@pytest.fixture
def no_library(monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)


def _told(path, *command):
    return subprocess.run([*command, str(path)], capture_output=True, text=True, check=True).stdout


@pytest.mark.usefixtures("library")
def test_it_holds_the_pages_text_its_title_and_its_structure(tmp_path):
    write_pdf(PAGE % "", tmp_path / "r.pdf")
    text = subprocess.run(["pdftotext", tmp_path / "r.pdf", "-"], capture_output=True, text=True, check=True).stdout
    assert "Town & Country" in text
    assert "What to do: Größe 18 in" in text
    assert "Page 1 of 1" in text
    told = _told(tmp_path / "r.pdf", "pdfinfo")
    assert re.search(r"Title: +Town: audit as of 2026-09-30", told)
    assert re.search(r"Tagged: +yes", told)
    assert re.search(r"JavaScript: +no", told)
    assert "CreationDate" not in told
    tags = _told(tmp_path / "r.pdf", "pdfinfo", "-struct")
    assert [tag for tag in ("H1", "Figure", "Table", "THead", "TH", "TD") if tag not in tags] == []


def test_a_picture_keeps_the_words_that_stand_for_it(library):
    page = library.HTML(string=PAGE % "").write_pdf(pdf_variant="pdf/ua-1", uncompressed_pdf=True)
    assert b"/Alt (flagged)" in page


@pytest.mark.usefixtures("library")
@pytest.mark.parametrize(
    # ISO 216, and ANSI/ASME Y14.1 size A: 210 x 297 mm, 8.5 x 11 in, in points of 1/72 in
    ("paper", "width", "height"),
    [("A4", 210 / 25.4 * 72, 297 / 25.4 * 72), ("Letter", 612, 792)],
)
def test_its_paper_is_as_asked(tmp_path, paper, width, height):
    write_pdf(PAGE % "", tmp_path / "r.pdf", paper)
    size = re.search(r"Page size: +([\d.]+) x ([\d.]+) pts", _told(tmp_path / "r.pdf", "pdfinfo")).groups()
    assert [float(one) for one in size] == pytest.approx([width, height], abs=0.01)


@pytest.mark.usefixtures("library")
def test_nothing_that_the_page_names_is_fetched_and_no_script_runs(tmp_path):
    asked = []

    class Listener(BaseHTTPRequestHandler):
        def do_GET(self):
            asked.append(self.path)
            self.send_response(404)
            self.end_headers()

        def log_message(self, *_):
            pass

    secret = tmp_path / "secret.svg"
    secret.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200" height="20"><text y="15">kept back</text></svg>'
    )
    with ThreadingHTTPServer(("127.0.0.1", 0), Listener) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        there = f"http://127.0.0.1:{server.server_port}"
        write_pdf(
            PAGE
            % f"""<img src="{there}/a.png" alt="a"><img src="{secret.as_uri()}" alt="b"><img src="secret.svg" alt="c">
            <link rel="stylesheet" href="{there}/b.css"><style>@import url({there}/c.css); @font-face {{ font-family: x;
            src: url({there}/d.woff) }} p {{ font-family: x; background: url({there}/e.png) }}</style>
            <object data="{there}/f.svg"></object><link rel="attachment" href="{secret.as_uri()}">
            <svg><image href="{there}/g.png"/><use href="{there}/h.svg#x"/></svg><script>document.title = "ran"</script>""",
            tmp_path / "r.pdf",
        )
        server.shutdown()
    assert asked == []
    text = subprocess.run(["pdftotext", tmp_path / "r.pdf", "-"], capture_output=True, text=True, check=True).stdout
    assert "kept back" not in text
    assert "Title:           Town: audit" in _told(tmp_path / "r.pdf", "pdfinfo")
    assert "0 embedded files" in _told(tmp_path / "r.pdf", "pdfdetach", "-list")


@pytest.mark.usefixtures("library")
def test_the_same_page_gives_the_same_bytes_in_another_process(tmp_path):
    write_pdf(PAGE % "", tmp_path / "here.pdf")
    (tmp_path / "page.html").write_text(PAGE % "", encoding="utf-8")
    code = (
        "import sys; from pathlib import Path; from pipeline.publish.report.pdf import write_pdf; "
        "write_pdf(Path(sys.argv[1]).read_text('utf-8'), Path(sys.argv[2]))"
    )
    environment = {"PYTHONHASHSEED": "7", "PYTHONPATH": str(Path(__file__).parents[3]), "TZ": "UTC+7"}
    there = tmp_path / "there.pdf"
    subprocess.run([sys.executable, "-c", code, tmp_path / "page.html", there], check=True, env=environment)
    assert there.read_bytes() == (tmp_path / "here.pdf").read_bytes()


@pytest.mark.usefixtures("no_library")
def test_without_the_extra_the_command_says_so_before_it_reads_anything(tmp_path, monkeypatch, capsys):
    programme = tmp_path / "programme.toml"
    programme.write_text("this is no programme at all", encoding="utf-8")
    monkeypatch.setattr(
        sys, "argv", ["kerfbook", "audit", str(programme), "--pdf", "--quiet", "--out", str(tmp_path / "out")]
    )
    with pytest.raises(SystemExit) as done:
        cli.main()
    assert done.value.code == 2
    said = capsys.readouterr().err
    assert "pip install '.[pdf]'" in said
    assert "Traceback" not in said
    assert not (tmp_path / "out").exists()


def test_without_pango_it_says_what_to_install(monkeypatch):
    class NoPango(importlib.abc.MetaPathFinder):
        def find_spec(self, name, *_):
            if name == "weasyprint":
                raise OSError("cannot load library 'libpango-1.0-0'")

    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    monkeypatch.setattr(sys, "meta_path", [NoPango(), *sys.meta_path])
    with pytest.raises(SettingsError, match=r"libpango-1\.0-0.*apt-get install"):
        require_pdf()


@pytest.mark.usefixtures("library")
def test_the_command_leaves_it_beside_the_report_and_a_later_run_without_it_leaves_no_old_one(
    small_town, tmp_path, monkeypatch
):
    """That it stays where nothing has changed is among the tests of the report's changes."""
    programme, run = small_town
    command = ["kerfbook", "audit", str(programme), "--out", str(tmp_path), "--quiet", "--pdf", "--paper", "Letter"]
    monkeypatch.setattr(sys, "argv", command)
    cli.main()
    folder = tmp_path / run.folder.relative_to(run.folder.parents[1])
    assert "612 x 792 pts (letter)" in _told(folder / "report.pdf", "pdfinfo")
    text = subprocess.run(["pdftotext", folder / "report.pdf", "-"], capture_output=True, text=True, check=True).stdout
    assert "Quay 2026" in text
    renamed = replace(run, table=run.table.replace({"core_id": {"HV-3": "HV-33"}}))
    assert publish(renamed, programme, tmp_path, lambda *_: None) == folder
    assert not (folder / "report.pdf").exists()
    assert (folder / "report.html").exists()


def test_a_folder_keeps_what_others_laid_there_and_no_file_of_ours_that_is_out_of_date(tmp_path):
    place = tmp_path / "run"
    with new_folder(place, lambda *_: False) as draft:
        (draft / "report.html").write_text("old")
        (draft / "report.pdf").write_text("old")
    (place / "notes.txt").write_text("mine")
    with new_folder(place, lambda new, old: same_but_for("run.json", new, old), ["report.pdf"]) as draft:
        (draft / "report.html").write_text("new")
    assert sorted(file.name for file in place.iterdir()) == ["notes.txt", "report.html"]
