"""The rule book: what registering a rule demands, and what a rule is given."""

import json
import subprocess
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.audit import bind_rules, limits_of
from pipeline.audit.findings import Findings, find
from pipeline.audit.limits import Days, Millimetres
from pipeline.audit.registry import RULES, AuditContext, _source, rule
from pipeline.audit.rules.dates import OpenLimits
from pipeline.audit.rules.sizes import PavementLimits
from pipeline.errors import ContractError, SettingsError
from pipeline.programme.catalogue import load_catalogue
from tests.audit.frames import AS_OF, REINSTATED, SOUND, frame
from tests.audit.rules.cases import bound_rule

_CONTEXT = AuditContext(pd.Timestamp(AS_OF), 15.0, "CA-ON")


@dataclass(frozen=True)
class _Limits:
    max_open_days: Days
    min_depth_mm: Millimetres


@pytest.fixture(autouse=True)
def _as_it_was():
    """Take rules that a test registers out of the rule book again."""
    before = dict(RULES)
    yield
    RULES.clear()
    RULES.update(before)


def _nothing(cores: pd.DataFrame) -> Findings:
    """Nothing is wrong."""
    return find(cores.iloc[:0], "Bad.", "Look.")


def test_the_title_is_the_first_line_of_the_docstring_and_the_family_is_the_module():
    rule("new-rule", needs=["depth_mm"])(_nothing)
    assert RULES["new-rule"].title == "Nothing is wrong."
    assert RULES["new-rule"].family == "test_registry"
    assert RULES["depth-missing"].family == "sizes"


def test_a_rule_can_be_called_as_the_function_that_it_is():
    assert rule("new-rule")(_nothing) is _nothing


def test_a_rule_without_limits_takes_the_cores_alone():
    rule("new-rule")(_nothing)
    assert RULES["new-rule"].limits is None
    assert RULES["new-rule"].limit_fields == {}
    assert RULES["new-rule"].find(frame(SOUND), None, _CONTEXT).templates.empty


def test_a_rule_is_given_what_its_arguments_ask_for():
    asked = {}

    def check(cores: pd.DataFrame, limits: _Limits, context: AuditContext) -> Findings:
        """All is asked for."""
        asked.update(cores=cores, limits=limits, context=context)
        return _nothing(cores)

    rule("new-rule", needs=["depth_mm"])(check)
    limits = _Limits(30.0, 25.0)
    RULES["new-rule"].find(frame(SOUND)[["core_id", "depth_mm"]], limits, _CONTEXT)
    assert asked["limits"] is limits
    assert asked["context"] is _CONTEXT
    assert list(RULES["new-rule"].limit_fields) == ["max_open", "min_depth"]


def test_a_rule_that_asks_for_the_run_needs_no_limits():
    def check(cores: pd.DataFrame, context: AuditContext) -> Findings:
        """The run is asked for."""
        return find(cores, "Reach {reach_m:g} m.", "Look.", reach_m=context.reach_m)

    rule("new-rule")(check)
    assert RULES["new-rule"].find(frame(SOUND), None, _CONTEXT).values["reach_m"].tolist() == [15.0]


def test_a_check_reads_the_columns_that_it_names_and_no_others():
    rule("new-rule", needs=["depth_mm"], needs_any=["plated_on"], shows=["crew"])(_nothing)
    assert RULES["new-rule"].columns == ["core_id", "depth_mm", "plated_on", "crew"]
    assert RULES["new-rule"].reveals == {"core_id", "depth_mm", "plated_on", "crew"}


def _untitled(cores: pd.DataFrame) -> Findings:
    return _nothing(cores)


def _greedy(cores: pd.DataFrame, weather: str) -> Findings:  # noqa: ARG001 - it is the argument that is refused
    """The weather is asked for."""
    return _nothing(cores)


def _unitless(cores: pd.DataFrame, limits: PavementLimits) -> Findings:  # noqa: ARG001 - as above
    """A limit has no unit."""
    return _nothing(cores)


@dataclass(frozen=True)
class _Bare:
    most: float


@pytest.mark.parametrize(
    ("slug", "needs", "check", "said"),
    [
        ("depth-missing", [], _nothing, "rule depth-missing: taken"),
        ("new-rule", ["wage"], _nothing, "unknown columns \\['wage'\\]"),
        ("new-rule", [], _untitled, "without a title"),
        ("new-rule", [], _greedy, "asks for \\['weather'\\]; a rule takes cores, limits, context"),
    ],
)
def test_a_rule_that_cannot_work_is_refused_when_it_is_registered(slug, needs, check, said):
    with pytest.raises(ContractError, match=said):
        rule(slug, needs=needs)(check)


def test_a_limit_without_a_unit_is_refused_when_its_rule_is_registered(monkeypatch):
    monkeypatch.setitem(_unitless.__annotations__, "limits", _Bare)
    with pytest.raises(ContractError, match=r"_Bare\.most: expected a kind such as Millimetres"):
        rule("new-rule")(_unitless)


def test_every_rule_is_in_the_configuration_and_the_other_way_round():
    assert set(load_catalogue({}, "test").rules) == set(RULES)


def test_a_rule_without_a_table_in_the_configuration_is_named():
    rule("new-rule")(_nothing)
    with pytest.raises(
        SettingsError, match=r"catalogue\.rules\.new-rule: missing\. Add a table with severity, urgency and source"
    ):
        bind_rules(load_catalogue({}, "p"), "p")


def test_a_limit_that_no_file_sets_is_named():
    catalogue = load_catalogue({}, "p")
    left = [one for one in catalogue.threshold_settings if (one.rule, one.name) != ("open-too-long", "max_open")]
    with pytest.raises(SettingsError, match=r"catalogue\.rules\.open-too-long\.max_open: missing"):
        bind_rules(replace(catalogue, threshold_settings=left), "p")


@pytest.mark.parametrize("old", ["limit", "max_days"])
def test_an_unknown_limit_is_refused_with_the_right_name_and_its_value(old):
    with pytest.raises(SettingsError) as error:
        load_catalogue({"rules": {"open-too-long": {old: "20 day"}}}, "p.toml")
    assert str(error.value) == (
        f"p.toml: catalogue.rules.open-too-long.{old}: unknown threshold. Use max_open (now '30 day')."
    )


def test_a_limit_of_a_rule_without_limits_is_refused():
    with pytest.raises(SettingsError, match=r"unknown threshold, the rule has none\. Remove the line\."):
        load_catalogue({"rules": {"id-missing": {"limit": "20 day"}}}, "p.toml")


def test_the_limits_of_a_rule_are_one_value_or_a_column():
    everywhere = limits_of([bound_rule("open-too-long")], "open-too-long", OpenLimits, frame(SOUND))
    assert everywhere == OpenLimits(max_open_days=30.0)
    with pytest.raises(ContractError, match="its limits are OpenLimits, not PavementLimits"):
        limits_of([bound_rule("open-too-long")], "open-too-long", PavementLimits, frame(SOUND))


@pytest.mark.parametrize(
    ("slug", "applies", "assessed"),
    [
        # one open core, one reinstated, one of unknown state; the second rule needs a step that only the first two have
        ("plated-too-long", [True, False, True], [True, False, False]),
        ("flush-out-of-tolerance", [False, True, True], [False, True, False]),
        ("depth-missing", [True, True, True], [True, True, True]),
        ("dates-out-of-order", [True, True, True], [False, True, False]),
    ],
)
def test_a_core_of_unknown_state_is_counted_and_not_assessed(slug, applies, assessed):
    unknown = {**SOUND, "is_open": False, "reinstated_at_problem": "unreadable"}
    cells = {"flush_mm": 1.0, "plate_known": "yes"}
    cores = frame({**SOUND, **cells}, {**SOUND, **REINSTATED, **cells}, {**unknown, "flush_mm": None})
    bound = bound_rule(slug)
    assert bound.applies(cores).tolist() == applies
    assert bound.assessed(cores).tolist() == assessed


def test_the_limits_that_apply_everywhere_are_shown_as_written():
    assert bound_rule("guarantee-ending").written() == {
        "guarantee": "2 year", "deep_guarantee": "3 year", "deep_from": "1.5 m", "inspection_window": "3 month",
    }  # fmt: skip
    assert bound_rule("id-missing").written() == {}


@pytest.mark.parametrize(
    ("overrides", "said"),
    [
        (
            {"rules": {"depth-implausible": {"min_depth": "2 m"}}},
            "depth-implausible: found min_depth = '2 m' with max_depth = '1000 mm', expected min_depth at most max_depth",
        ),
        (
            {"materials": {"geometry": {"pilot_hole": "90 mm"}}},
            "diameter-implausible: found min_diameter = '100 mm', which leaves a core of 82 mm within a kerf of 9 mm, expected one wider than the pilot hole of 90 mm",
        ),
    ],
)
def test_limits_that_contradict_each_other_are_refused(overrides, said):
    with pytest.raises(SettingsError) as error:
        bind_rules(load_catalogue(overrides, "p"), "p")
    assert str(error.value) == f"p: catalogue.rules.{said}. Correct one of them."


def _near(cores: pd.DataFrame) -> Findings:
    """Another core is near."""
    return find(cores.assign(other_id="B"), "Near {other_id}.", "Look.")


def test_a_rule_about_two_cores_must_declare_what_tells_the_other_one_apart():
    rule("near-one", needs=["core_id"])(_near)
    with pytest.raises(ContractError, match="rule near-one: found values of another core \\['other_id'\\]"):
        RULES["near-one"].find(frame(SOUND), None, _CONTEXT)
    rule("near-two", partner="other_id")(_near)
    assert RULES["near-two"].find(frame(SOUND), None, _CONTEXT).values["other_id"].tolist() == ["B"]


def test_a_partner_that_no_finding_has_is_refused():
    rule("near-no-one", partner="other_register")(_near)
    with pytest.raises(ContractError, match="expected its partner 'other_register' among them"):
        RULES["near-no-one"].find(frame(SOUND), None, _CONTEXT)


def _settings(*rows):
    """Rows of name, source and whether it applies to main roads only."""
    return [
        SimpleNamespace(name=name, source=source, scope={"road_class": "main"} if is_some else {})
        for name, source, is_some in rows
    ]


def test_the_source_of_a_rule_is_that_of_its_limits_where_all_have_the_same():
    both = _settings(("max_open", "the town", False), ("min_depth", "the town", False))
    assert _source("our default", both) == "the town"
    assert _source("our default", _settings(("max_open", "our default", False))) == "our default"


def test_a_limit_with_another_source_is_named_unless_it_applies_to_some_roads_only():
    some = _settings(
        ("max_open", "the town", False), ("min_depth", "our default", False), ("min_depth", "a road", True)
    )
    assert _source("our default", some) == "our default; max open: the town"
    two = _settings(("max_open", "the town", False), ("min_depth", "the county", False))
    assert _source("our default", two) == "our default; max open: the town; min depth: the county"


def test_titles_are_the_same_where_python_drops_docstrings():
    shown = "import json; from pipeline.audit.registry import RULES; import pipeline.audit; "
    shown += "print(json.dumps({slug: rule.title for slug, rule in RULES.items()}))"
    root = Path(__file__).parents[2]
    bare = subprocess.run(
        [sys.executable, "-B", "-OO", "-c", shown], check=True, capture_output=True, text=True, cwd=root
    )
    titles = json.loads(bare.stdout)
    assert len(titles) > 50
    assert titles == {slug: RULES[slug].title for slug in titles}
