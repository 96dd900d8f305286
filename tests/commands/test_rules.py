"""The rules as they are shipped, and as a programme sets them."""

import pytest

from pipeline.audit.registry import RULES
from pipeline.commands.rules import read_rules
from pipeline.errors import SettingsError

_PROGRAMME = '[programme]\nname = "T"\n[cores]\npath = "c.csv"\n[roads]\npath = "r.gpkg"\n'


def _limits(rules, slug):
    return next(one.written() for one in rules if one.rule.slug == slug)


def test_without_a_programme_the_rules_are_those_that_are_shipped():
    rules = read_rules(None)
    assert [one.rule.slug for one in rules] == list(RULES)
    assert _limits(rules, "open-too-long") == {"max_open": "30 day"}
    assert {setting.origin for one in rules for setting, _ in one.settings} == {"shipped"}


def test_a_programme_needs_no_input_files_to_show_its_rules(tmp_path):
    path = tmp_path / "programme.toml"
    path.write_text(_PROGRAMME + '[catalogue.rules.open-too-long]\nmax_open = "5 day"\nseverity = "note"\n')
    rules = read_rules(path)
    assert _limits(rules, "open-too-long") == {"max_open": "5 day"}
    assert next(one.severity for one in rules if one.rule.slug == "open-too-long") == "note"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            '[catalogue.rules.open-too-long]\nlimit = "5 day"\n',
            "open-too-long.limit: unknown threshold. Use max_open (now '30 day').",
        ),
        (
            '[catalogue.rules.open-too-long]\nmax_open = "5 kg"\n',
            "open-too-long.max_open: found '5 kg', expected a time",
        ),
        ('[thresholds]\ncode = "atlantis"\n', "thresholds.code: found 'atlantis', expected one of"),
    ],
)
def test_a_wrong_limit_is_refused_with_the_file_and_the_key(tmp_path, text, said):
    path = tmp_path / "programme.toml"
    path.write_text(_PROGRAMME + text)
    with pytest.raises(SettingsError) as error:
        read_rules(path)
    assert str(error.value).startswith(f"{path}: ")
    assert said in str(error.value)
