"""A page is one file without scripts that fetches nothing; values in it are escaped."""

import base64
import hashlib
import re

import jinja2
import pytest

from pipeline.publish.pages import page as module
from pipeline.publish.pages.page import render_page
from pipeline.publish.words import words_of


@pytest.fixture
def template(tmp_path, monkeypatch):
    """A page made from a template written in the test, with the style sheet of the package."""

    def render(text, words=None, **values):
        (tmp_path / "templates").mkdir(exist_ok=True)
        (tmp_path / "templates" / "one.html").write_text(text, "utf-8")
        sheet = tmp_path / "templates" / "report.css"
        if not sheet.exists():
            sheet.write_text("body { margin: 0 }\r\np { margin: 0 }\n", "utf-8", newline="")
        return render_page("one.html", words or words_of("en"), **values)

    monkeypatch.setattr(module.resources, "files", lambda _: tmp_path)
    return render


def test_a_value_is_escaped_and_never_run_as_a_template(template):
    shown = template("<p>{{ own(name) }}|{{ name }}</p>", name="<b>{{ 7 * 191 }}</b>")
    assert shown == "<p><bdi>&lt;b&gt;{{ 7 * 191 }}&lt;/b&gt;</bdi>|&lt;b&gt;{{ 7 * 191 }}&lt;/b&gt;</p>"


def test_a_value_that_nobody_gave_is_an_error(template):
    with pytest.raises(jinja2.UndefinedError, match="'missing' is undefined"):
        template("{{ missing }}")


def test_the_digest_is_that_of_the_sheet_as_a_browser_reads_it(template):
    """The browser hashes the text with plain line ends, whatever the file on disk has."""
    style, digest = re.fullmatch("(?s)(.*)@(.*)", template("{{ style }}@{{ digest }}")).groups()
    assert style.endswith("body { margin: 0 }\np { margin: 0 }\n")
    assert digest == base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()


def test_a_template_writes_sentences_numbers_dates_and_rules_in_the_pages_language(template):
    german = words_of("de", {"locale": "de", "a.cores": "{n} Kerne", "data.Permit expired": "Genehmigung abgelaufen"})
    text = (
        '{{ language }} {{ direction }} {{ say("a.cores", n=1234) }} {{ percent(0.5) }} {{ day("2026-09-30") }} '
        '{{ rule_label("permit-expired") }} {{ code("a<b") }} {{ signed(-3) }} {{ listed(["a", "b"]) }}'
    )
    assert template(text, german) == (
        "de ltr 1.234 Kerne 50\N{NO-BREAK SPACE}% 30.09.2026 <bdi>Genehmigung abgelaufen</bdi> <code>a&lt;b</code> "
        "\N{MINUS SIGN}3 a und b"
    )


def test_a_title_is_one_line_and_a_symbol_is_markup(template):
    assert template("{{ title(name) }}", name="a\nb\u202ec") == "a b&lt;U+202E&gt;c"
    assert template('{{ mark("flagged") }}').startswith('<svg class="mark"')
