"""The page: self-contained, without scripts, the same for the same run, and never written into a run."""

import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from pipeline.commands.explain import explain_core
from pipeline.errors import OutputError
from pipeline.publish.explain.page import draw_explanation, write_explanation


@pytest.fixture(scope="module")
def explained(run_folder):
    return explain_core(run_folder, "HV-0")


class _Outside(HTMLParser):
    """The tags of a page, and every attribute that could load something."""

    def __init__(self):
        super().__init__()
        self.tags, self.loads = set(), []

    def handle_starttag(self, tag, attributes):
        self.tags.add(tag)
        self.loads += [value for name, value in attributes if name in {"src", "href", "action", "data"}]


def test_the_page_loads_nothing_and_runs_nothing(explained):
    outside = _Outside()
    outside.feed(draw_explanation(explained))
    assert outside.loads == []
    assert not outside.tags & {"script", "link", "img", "iframe", "object"}


def test_the_same_run_gives_the_same_page(explained, run_folder):
    assert draw_explanation(explained) == draw_explanation(explain_core(run_folder, "hv - 0"))


def test_headings_do_not_skip_a_level_and_ids_are_unique(explained):
    page = draw_explanation(explained)
    levels = [int(level) for level in re.findall(r"<h([1-6])", page)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    ids = re.findall(r'id="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_it_is_written_where_asked(explained, tmp_path):
    write_explanation(explained, tmp_path / "core.html")
    assert (tmp_path / "core.html").read_bytes() == draw_explanation(explained).encode()


def test_a_runs_folder_is_never_written_to(explained, run_folder):
    with pytest.raises(OutputError, match="is in a run's folder, which must stay unchanged"):
        write_explanation(explained, run_folder / "core.html")
    with pytest.raises(OutputError, match="is in a run's folder"):
        write_explanation(explained, run_folder / "handover" / "core.html")


def test_a_folder_that_does_not_exist_is_an_error(explained, tmp_path):
    with pytest.raises(OutputError, match="cannot be written"):
        write_explanation(explained, tmp_path / "missing" / "core.html")
