"""The report shows what changed since the last run kept, and works without one."""

import datetime as dt
import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from pipeline.history import KINDS
from pipeline.intake.files.checksums import fingerprint
from pipeline.publish.pages import page
from pipeline.publish.report.changes import changes_shown
from pipeline.publish.report.pdf import REPORT_PDF
from pipeline.publish.report.report import draw_report
from pipeline.publish.since import changes_between
from pipeline.publish.words import words_of
from pipeline.readback.kept_runs import NO_EARLIER, find_kept_runs, read_earlier
from pipeline.readback.runs import read_run
from pipeline.run import run_programme

_DATA = Path(__file__).parents[3] / "sample_data"
_NAME = "Harbour Vale 2026"


@pytest.fixture(scope="module")
def months(demo_months):
    """Two runs of the demo, 30 days apart, the register the same."""
    return demo_months


def _words(page):
    return " ".join(page.split())


def _record(result):
    return json.loads((result.folder / "run.json").read_text("utf-8"))


def test_a_first_run_says_in_one_line_that_there_is_none_before_it(months):
    first, _ = months
    page = draw_report(first)
    section = page.split('<h2 id="changes">Since the last run</h2>')[1].split("<h2")[0]
    assert section.strip() == "<p>No earlier run of this programme to compare with.</p>"
    assert _record(first)["compared_with"] is None


def test_the_section_comes_first_and_counts_what_the_tables_show(months):
    _, second = months
    page = draw_report(second)
    first = _words(page.split("<dl")[1].split("</dl>")[0])
    assert 'Since <time datetime="2026-08-31">31 Aug 2026</time>' in first
    old, new = (pd.read_csv(one.folder / "cores.csv", dtype=str, keep_default_na=False) for one in months)
    # the same register in the same order: row by row is core by core
    assert old["id"].tolist() == new["id"].tolist()
    flagged = new[old["status"].ne("flagged") & new["status"].eq("flagged")]
    cleared = new[old["status"].eq("flagged") & new["status"].ne("flagged")]
    for kind, count in (("Newly flagged", len(flagged)), ("No longer flagged", len(cleared))):
        assert count > 0
        assert f"{kind} {count}" in first
        assert f'<th scope="row">{kind}</th><td class="n">{count}</td>' in re.sub(r"</?a\b[^>]*>", "", page)
    table = page.split('<caption id="newly-flagged">')[1].split("</table>")[0]
    assert [int(row) for row in re.findall(r">row (\d+)<", table)] == flagged["row"].astype(int).tolist()[:10]
    for one in flagged.head(10).to_dict("records"):
        assert one["core_id"] in table
    assert "Reinstate it now." in table or "allowed" in table
    assert "Both runs read the same register" in _words(page)
    # by status, by district, two of age, of the orders, of the costs, how sure; and the trends of nine measures
    assert len(re.findall(r'<svg class="chart"', page)) == 7 + 9


def _since(result, **before):
    """What the first page says of the changes since a run that was the same but for these cells."""
    run = read_run(result.folder)
    cores = run.cores.copy()
    for name, values in before.items():
        cores[name] = cores[name].mask(cores["core_id"].isin(values.keys()), cores["core_id"].map(values))
    page = draw_report(replace(result, earlier=replace(result.earlier, run=replace(run, cores=cores))))
    said = page.split("<dt>Since ")[1].split("</dd>")[0]
    return re.sub(r"<[^>]+>", "", said.split("<dd>")[1].split(' <a class="more"')[0]).strip()


def test_the_first_page_says_that_nothing_has_changed_only_if_nothing_has(months):
    """One core was of another size and in another surface, one in another surface: three changes of two cores."""
    _, second = months
    two = second.table.loc[second.table["status"].eq("pending") & second.table["lon"].notna(), "core_id"].iloc[:2]
    one, other = two
    surface = {one: "gravel", other: "gravel"}
    assert _since(second) == "No changes."
    assert _since(second, depth_mm={one: 150.0}) == "1 change"
    assert _since(second, surface=surface, depth_mm={one: 150.0}) == "3 changes"
    assert _since(second, status={one: "reinstated"}) == "Reopened 1"
    assert _since(second, status={one: "reinstated"}, surface=surface) == "Reopened 1 2 other changes"


@pytest.mark.parametrize("kind", KINDS)
def test_no_kind_of_change_is_no_change(months, kind):
    _, second = months
    run = read_run(second.folder)
    nothing = changes_between(run, run)
    kinds = nothing.kinds.assign(cores=nothing.kinds["change"].eq(kind).astype(int))
    shown = changes_shown(run, run, replace(nothing, kinds=kinds), [], words_of("en"))
    assert len(shown["first"]) + shown["others"] == 1


def test_the_templates_ask_for_everything_that_changes_shown_gives(months):
    first, second = months
    before, after = read_run(first.folder), read_run(second.folder)
    shown = changes_shown(before, after, changes_between(before, after), [], words_of("en"))
    assets = Path(page.__file__).parent / "templates"
    asked = {name for path in assets.glob("*.html") for name in re.findall(r"\bsince\.(\w+)", path.read_text("utf-8"))}
    # the names of sentences are among them too
    assert shown.keys() - asked == set()


def test_the_record_names_the_run_compared_with(months):
    first, second = months
    assert _record(second)["compared_with"] == {
        "as_of": "2026-08-31",
        "cores_csv_sha256": fingerprint(first.folder / "cores.csv"),
    }


def test_a_run_made_again_gives_the_same_bytes_and_leaves_everything_as_it_was(months, tmp_path):
    """A folder in which a byte differs is replaced, so that its files are younger; a PDF made before stays."""
    out = Path(shutil.copytree(months[1].folder.parents[1], tmp_path / "out"))
    (out / months[1].folder.relative_to(months[1].folder.parents[1]) / REPORT_PDF).write_bytes(b"%PDF-1.7")
    before = {file: (file.read_bytes(), file.stat().st_mtime_ns) for file in out.rglob("*") if file.is_file()}
    again = run_programme(_DATA / "programme.toml", out)
    assert again.earlier.run.as_of == dt.date(2026, 8, 31)
    after = {file: (file.read_bytes(), file.stat().st_mtime_ns) for file in out.rglob("*") if file.is_file()}
    assert after == before
    assert sorted(one.name for one in again.folder.parent.iterdir()) == ["2026-08-31", "2026-09-30"]


def test_a_later_run_is_no_part_of_an_earlier_runs_report(months):
    first, second = months
    assert read_earlier(first.folder.parent, _NAME, first.as_of) == NO_EARLIER
    assert read_earlier(first.folder.parent, _NAME, second.as_of).run.as_of == first.as_of


@pytest.mark.parametrize(
    "harm", ["record cut", "no record", "parquet cut", "no table", "other programme", "odd counts"]
)
def test_an_earlier_run_that_cannot_be_read_gives_a_notice_and_no_failure(months, tmp_path, harm):
    first, second = months
    folder = Path(shutil.copytree(first.folder.parent, tmp_path / "harbour-vale-2026")) / first.folder.name
    record, cores = folder / "run.json", folder / "cores.parquet"
    if harm == "record cut":
        record.write_text(record.read_text("utf-8")[:2000], "utf-8")
    elif harm == "no record":
        record.unlink()
    elif harm == "parquet cut":
        cores.write_bytes(cores.read_bytes()[:9000])
    elif harm == "no table":
        (folder / "cores.csv").unlink()
    elif harm == "other programme":
        record.write_text(record.read_text("utf-8").replace(_NAME, "Harbour-Vale 2026"), "utf-8")
    else:
        record.write_text(re.sub(r'"flagged": \d+', '"flagged": null', record.read_text("utf-8")), "utf-8")
    earlier = read_earlier(folder.parent, _NAME, dt.date(2026, 9, 30))
    assert (earlier.run, earlier.records) == (None, ())
    (notice,) = earlier.notices
    assert "2026-08-31" in notice
    assert str(tmp_path) not in notice
    page = draw_report(replace(second, earlier=earlier))
    assert "No earlier run of this programme to compare with." in page


def test_the_notice_reaches_the_record_and_the_run_goes_on(small_town, tmp_path):
    (tmp_path / "quay-2026/2026-01-31").mkdir(parents=True)
    result = run_programme(small_town[0], tmp_path)
    said = "Folder 2026-01-31 is not in the history: run.json cannot be read"
    assert said in [notice[: len(said)] for notice in _record(result)["notices"]]
    assert said in (result.folder / "report.html").read_text("utf-8")


def test_the_run_before_a_spoiled_one_is_taken(months, tmp_path):
    first, _ = months
    kept = Path(shutil.copytree(first.folder.parent, tmp_path / "kept"))
    (kept / "2026-09-30/cores.parquet").write_bytes(b"PAR1")
    earlier = read_earlier(kept, _NAME, dt.date(2026, 12, 31))
    assert earlier.run.as_of == dt.date(2026, 8, 31)
    assert [record["as_of"] for record in earlier.records] == ["2026-08-31"]
    assert len(earlier.notices) == 1


def test_only_folders_named_by_a_day_are_runs(months, tmp_path):
    first, _ = months
    for name in ("2026-08-31.old", ".2026-08-31.x", "2026-02-30", "compare-2026-08-31-to-2026-09-30"):
        shutil.copytree(first.folder, tmp_path / name)
    (tmp_path / "2026-07-31").write_text("a file", "utf-8")
    found = find_kept_runs(tmp_path, _NAME)
    assert (found.folders, found.notices) == ((), ())
    assert find_kept_runs(tmp_path / "nowhere", _NAME).records == ()


def test_register_text_stays_text(months):
    _, second = months
    trick = "</td><script>alert(1)</script>{{ 7 * 191 }}{% raw %}"
    audit = second.audit
    table = second.table.assign(street=trick, district=trick)
    page = draw_report(
        replace(second, table=table, audit=replace(audit, findings=audit.findings.assign(message=trick)))
    )
    section = page.split('<h2 id="changes">')[1].split('<h2 id="districts">')[0]
    assert "<script" not in section
    assert "1337" not in section
    assert "&lt;script&gt;" in section
