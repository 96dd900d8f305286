"""The page of a check: self-contained, in the language of the programme, and safe from what registers hold."""

import dataclasses
import re

from pipeline.publish.check.page import draw_check, write_check
from tests.intake.registers_understood import register_of, rows, understood
from tests.publish.check.inputs_checked import HOSTILE, checked, refused


def test_the_page_has_the_doubts_first_then_registers_rules_and_layers():
    page = draw_check(checked())
    order = [page.index(f'id="{name}"') for name in ("look", "register-1", "columns-1", "rules", "layers", "notes")]
    assert order == sorted(order)
    assert "North: look here." in page
    assert "Total 3" in page


def test_the_page_fetches_nothing_and_runs_no_script():
    page = draw_check(checked())
    assert not re.search(r"<script|<link|<img|https?://(?!www\.w3\.org)", page)
    assert "default-src 'none'" in page


def test_errors_come_before_everything_else():
    page = draw_check(refused())
    assert (
        page.index("The inputs cannot be used: 1 error.")
        < page.index("south.csv: no such file.")
        < page.index('id="look"')
    )


def test_what_a_register_holds_is_escaped_wherever_it_is_shown():
    cells = rows(2, id=HOSTILE, dia=["450", HOSTILE], road=HOSTILE) | {HOSTILE: [HOSTILE, "1"]}
    part = register_of(cells, name=HOSTILE, columns={"street": "road"})
    page = draw_check(checked(registers=[understood(part)], suspicions=[HOSTILE], notices=[HOSTILE]))
    assert "<script>" not in page
    assert "{{ 7*7 }}" in page
    assert "49" not in re.sub(r"<style>.*?</style>|4961\d+|sha256-[^']*", "", page, flags=re.DOTALL)


def test_without_roads_the_page_says_so_and_has_no_chart():
    facts = understood(register_of(rows(2)), is_on_roads=False)
    page = draw_check(checked(registers=[facts], crs=None, errors=refused().errors))
    assert "The roads cannot be used" in page
    assert 'class="chart"' not in page
    assert 'class="chart"' in draw_check(checked())


def test_the_page_is_written_to_the_folder_of_the_programme_and_nothing_else(tmp_path):
    path = write_check(checked(), tmp_path)
    assert path == tmp_path / "harbour-vale" / "check.html"
    assert [file.name for file in path.parent.iterdir()] == ["check.html"]
    assert path.read_text("utf-8") == draw_check(checked())


def test_the_same_inputs_give_the_same_page():
    assert draw_check(checked()) == draw_check(dataclasses.replace(checked()))
