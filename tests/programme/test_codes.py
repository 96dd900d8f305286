"""The shipped codes of practice: no failure rests on the law of another country, and every source is ours or has a clause."""

import re
import tomllib

import pytest

from pipeline.audit import bind_rules
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.resources import shipped
from pipeline.programme.settings import Thresholds
from pipeline.programme.sources import kind_of
from pipeline.programme.thresholds import codes

_CODES = [None, *codes()]
# a section, regulation or numbered clause; guides of the American Concrete Institute are cited by their number
_CLAUSE = re.compile(r"\bS\d+\.\d+|\bs\.\d+|\breg\. \d+|\b\d+\.\d+\.\d+|\bACI \d+R\b")
# what only the law of one country says
_LAW_OF = {
    "england": "SROH",
    "scotland": "SROR|S\\.S\\.I\\.|s\\.129",
    "wales": "\\(W\\.\\)|for Wales",
    "north-america": "ACI|New York",
}
_FILES = ("rules", "materials", "surfaces", "shades", "conditions", "roads")


def _rules(code):
    return bind_rules(load_catalogue({}, "test", Thresholds(code=code)), "test")


@pytest.mark.parametrize("code", _CODES)
def test_no_failure_rests_on_the_law_of_another_country(code):
    for bound in _rules(code):
        if bound.severity != "fail":
            continue
        in_force = {setting.name: setting for setting, _ in bound.settings if not setting.scope}
        for setting in (*in_force.values(), *(setting for setting, _ in bound.settings if setting.scope)):
            assert setting.kind != "code" or setting.origin == f"code {code}", (bound.rule.slug, setting)
        for country, said in _LAW_OF.items():
            assert country == code or not re.search(said, bound.source), (bound.rule.slug, bound.source)


@pytest.mark.parametrize("code", _CODES)
def test_a_sunken_surface_fails_only_under_the_code_that_was_read_to_limit_it(code):
    severity = {bound.rule.slug: bound.severity for bound in _rules(code)}["surface-depression"]
    assert severity == ("fail" if code == "england" else "check")


@pytest.mark.parametrize("code", codes())
def test_a_code_cites_no_law_of_another_country(code):
    written = (shipped("config") / "codes" / f"{code}.toml").read_text("utf-8")
    sources = "\n".join(_sources(tomllib.loads(written)))
    for country, said in _LAW_OF.items():
        assert country == code or not re.search(said, sources), country


@pytest.mark.parametrize("code", _CODES)
def test_each_limit_in_force_is_that_of_the_code_or_ours(code):
    for bound in _rules(code):
        for setting, _ in bound.settings:
            assert setting.origin in {"shipped", f"code {code}"}
            if setting.origin == "shipped":
                assert setting.kind in {"our default", "common practice, no source"}, (bound.rule.slug, setting)


def _sources(table):
    """Every source written in a file, those of single values included."""
    found = []
    for key, value in table.items():
        if isinstance(value, dict):
            found += _sources(value)
        elif key == "source":
            found.append(value)
        elif isinstance(value, list):
            found += [source for one in value if isinstance(one, dict) for source in _sources(one)]
    return found


@pytest.mark.parametrize("file", [*(f"{name}.toml" for name in _FILES), *(f"codes/{code}.toml" for code in codes())])
def test_every_source_is_one_of_our_two_phrases_or_has_a_clause_and_none_is_from_memory(file):
    sources = _sources(tomllib.loads((shipped("config") / file).read_text("utf-8")))
    assert sources
    for source in sources:
        assert "memory" not in source
        assert kind_of(source) in {"our default", "common practice, no source"} or _CLAUSE.search(source), source


@pytest.mark.parametrize("code", codes())
def test_a_code_has_a_title_and_says_what_it_does_not_cover(code):
    written = (shipped("config") / "codes" / f"{code}.toml").read_text("utf-8")
    assert tomllib.loads(written)["title"]
    assert "not covered" in written.lower().replace("\n# ", " ") or code == "north-america"
