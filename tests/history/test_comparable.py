"""What else than the road may have changed a result."""

import copy

import pytest

from pipeline.history import caveats, compare
from tests.history.sides import FLAG, run_of

RECORD = {
    "programme": "Town",
    "as_of": "2026-09-30",
    "crs": "EPSG:32617",
    "inputs": [{"section": "cores", "sha256": "c1"}, {"section": "roads", "sha256": "r1"}],
    "settings": {
        "programme": {"name": "Town", "as_of": "2026-09-30"},
        "cores": {"path": "september.csv", "diameter_is": "hole"},
        "matching": {"max_distance": 15.0},
    },
    "catalogue_overridden": {},
    "rules": [
        {"rule": "open-too-long", "severity": "fail", "limits": "limit 30 day", "assessed": 400, "not_assessed": 0},
        {"rule": "shade-wrong", "severity": "check", "limits": "", "assessed": 0, "not_assessed": 400},
    ],
    "versions": {"kerfbook": "0.1.0", "python": "3.11.7"},
}


def _later(**changed):
    later = copy.deepcopy(RECORD) | {"as_of": "2026-10-31"}
    later["settings"]["programme"]["as_of"] = "2026-10-31"
    later["settings"]["cores"]["path"] = "october.csv"
    later["inputs"][0]["sha256"] = "c2"
    return later | changed


def test_runs_that_differ_in_day_and_register_alone_give_no_caveat():
    assert caveats(RECORD, _later()) == []
    # another patch of Python changes no result
    assert caveats(RECORD, _later(versions={"kerfbook": "0.1.0", "python": "3.12.1"})) == []


def test_in_which_parts_outputs_are_written_is_no_caveat():
    settings = _later()["settings"]
    publish = {"outputs": ["map.html"], "map": "by district", "parquet_rows": 100}
    assert caveats(RECORD, _later(settings=settings | {"publish": publish})) == []
    assert caveats(RECORD, _later(settings=settings | {"published": 1})) != []


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"programme": "Port"}, 'The runs are of different programmes, "Town" and "Port"'),
        ({"as_of": "2026-09-30"}, "Both runs have the audit date 2026-09-30"),
        ({"versions": {"kerfbook": "0.2.0"}}, "made by Kerfbook 0.1.0 and 0.2.0"),
        ({"crs": "EPSG:32618"}, "measured in EPSG:32617 and in EPSG:32618"),
        ({"catalogue_overridden": {"rules.open-too-long.limit": "20 day"}}, "rules.open-too-long.limit was not set, is 20 day"),
        ({"inputs": [{"section": "cores", "sha256": "c2"}, {"section": "roads", "sha256": "r2"}]}, "read different files for: roads."),
        ({"inputs": RECORD["inputs"]}, "the same register"),
        ({"account": {"cores": 398}}, "One run counts every row, the other each core once"),
        ({"rules": RECORD["rules"][:1]}, "Rules in the earlier run only: shade-wrong."),
        ({"rules": [*RECORD["rules"], {"rule": "new-rule"}]}, "Rules in the later run only: new-rule."),
        ({"rules": [RECORD["rules"][0] | {"limits": "limit 20 day"}, RECORD["rules"][1]]}, "open-too-long (was limit 30 day, is limit 20 day)"),
        ({"rules": [RECORD["rules"][0] | {"severity": "check"}, RECORD["rules"][1]]}, "open-too-long (was fail, is check)"),
        ({"rules": [RECORD["rules"][0], RECORD["rules"][1] | {"assessed": 7}]}, "not run in the earlier run, no data supplied: shade-wrong."),
        ({"rules": [RECORD["rules"][0] | {"assessed": 0, "not_assessed": 400}, RECORD["rules"][1]]}, "not run in the later run, no data supplied: open-too-long."),
    ],
)  # fmt: skip
def test_each_difference_that_changes_results_is_reported(changed, words):
    said = caveats(RECORD, _later(**changed))
    assert len(said) == 1
    assert words in said[0]


def test_other_decisions_are_a_caveat_only_where_they_correct_cells():
    inputs = [*_later()["inputs"], {"section": "decisions", "sha256": "d1"}]
    assert caveats(RECORD, _later(inputs=inputs, corrected_cells=0)) == []
    (line,) = caveats(RECORD, _later(inputs=inputs, corrected_cells=2))
    assert line.startswith("The runs read different decisions, some of which correct cells")
    # the same corrections in both runs explain no difference
    same = RECORD | {"inputs": [*RECORD["inputs"], inputs[-1]], "corrected_cells": 2}
    assert caveats(same, _later(inputs=inputs, corrected_cells=2)) == []


def test_a_run_and_its_own_pack_are_the_same_run():
    record = RECORD | {"run": "a1"}
    same = "Both are of the same run, as folder, zip or pack. To see what changed, give an earlier one."
    assert caveats(record, record)[0] == same
    assert caveats(record, record | {"run": "b2"})[0].startswith("Both runs have the audit date 2026-09-30")


def test_a_rule_that_now_applies_to_no_core_lacks_no_data():
    rules = [RECORD["rules"][0] | {"assessed": 0, "not_assessed": 0}, RECORD["rules"][1]]
    assert caveats(RECORD, _later(rules=rules)) == []


def test_a_setting_that_differs_is_named_with_both_values():
    later = _later()
    later["settings"]["matching"]["max_distance"] = 12.0
    assert "matching.max_distance was 15.0, is 12.0" in caveats(RECORD, later)[0]
    later["settings"]["matching"] = {f"key_{place}": "x" * 200 for place in range(40)}
    (said,) = caveats(RECORD, later)
    assert "and 33 more" in said
    assert len(said) < 1200


def test_a_record_that_lacks_its_parts_is_compared_as_far_as_it_goes():
    assert caveats({"programme": "Town", "as_of": "2026-01-01"}, _later())
    assert caveats(RECORD, {"rules": ["odd"], "inputs": [3], "settings": 4, "versions": []})


def test_cores_flagged_only_by_a_changed_rule_are_counted():
    before = run_of({"core_id": "A"}, {"core_id": "B"}, {"core_id": "C"})
    long = {"status": "flagged", "findings": "open-too-long", "fails": "open-too-long"}
    both = {"status": "flagged", "findings": "off-network;open-too-long", "fails": "off-network;open-too-long"}
    after = run_of({"core_id": "A"} | long, {"core_id": "B"} | both, {"core_id": "C"} | FLAG)
    later = _later(rules=[RECORD["rules"][0] | {"limits": "limit 20 day"}, RECORD["rules"][1]])
    said = caveats(RECORD, later, compare(before, after))
    assert said[-1].startswith("1 of 3 newly flagged cores is flagged only by rules that differ")
    assert len(caveats(RECORD, _later(), compare(before, after))) == 0


def test_two_registers_without_a_common_id_are_reported():
    changes = compare(run_of({"core_id": "A"}), run_of({"core_id": "X"}))
    assert "No core of one run was found in the other" in caveats(RECORD, _later(), changes)[-1]


@pytest.mark.parametrize(("count", "verb"), [(1, "is"), (2, "are")])
def test_the_count_of_cores_flagged_by_a_changed_rule_agrees_with_its_verb(count, verb):
    flagged = {"status": "flagged", "findings": "open-too-long", "fails": "open-too-long"}
    ids = [{"core_id": str(core)} for core in range(count)]
    changes = compare(run_of(*ids), run_of(*(core | flagged for core in ids)))
    later = _later(rules=[RECORD["rules"][0] | {"limits": "limit 20 day"}, RECORD["rules"][1]])
    cores = "1 newly flagged core" if count == 1 else f"{count} newly flagged cores"
    assert f"{count} of {cores} {verb} flagged only by rules" in caveats(RECORD, later, changes)[-1]


def test_a_setting_that_was_not_set_is_said_to_be_so():
    later = _later()
    later["settings"]["matching"]["use_level"] = True
    assert "matching.use_level was not set, is True" in caveats(RECORD, later)[0]
    assert "matching.use_level was True, is not set" in caveats(later, RECORD)[0]


@pytest.mark.parametrize("key", ["path", "attribution"])
def test_where_a_file_is_and_whom_it_credits_are_no_caveat(key):
    later = _later()
    later["settings"]["roads"] = {key: "elsewhere"}
    assert caveats(RECORD, later) == []


def test_a_key_that_only_ends_like_a_path_is_a_caveat():
    later = _later()
    later["settings"]["towpath"] = "yes"
    assert "towpath was not set, is yes" in caveats(RECORD, later)[0]


def test_a_long_value_is_shortened_to_sixty_characters():
    later = _later()
    later["settings"]["matching"]["max_distance"] = "9" * 500
    assert f"is {'9' * 59}…. Results" in caveats(RECORD, later)[0]


def test_more_than_eight_differences_are_counted_not_listed():
    rules = [{"rule": f"rule-{number:02}", "severity": "fail", "limits": "", "assessed": 1} for number in range(12)]
    (sentence,) = caveats(RECORD, _later(rules=[*RECORD["rules"], *rules]))
    assert sentence.startswith("Rules in the later run only: rule-00; rule-01;")
    assert "rule-07; and 4 more." in sentence
    assert "rule-08" not in sentence


@pytest.mark.parametrize("layer", ["roads", "surfaces", "districts"])
def test_each_layer_that_differs_is_named(layer):
    inputs = [{"section": "cores", "sha256": "c2"}, {"section": "roads", "sha256": "r1"}]
    inputs = [file for file in inputs if file["section"] != layer] + [{"section": layer, "sha256": "other"}]
    assert f"different files for: {layer}." in caveats(RECORD, _later(inputs=inputs))[0]


def test_no_changes_between_empty_runs_give_no_caveat_about_ids():
    assert caveats(RECORD, _later(), compare(run_of(), run_of())) == []
    assert caveats(RECORD, _later(), compare(run_of({"core_id": "A"}), run_of())) == []


def test_every_caveat_is_a_sentence():
    later = _later(programme="Port", versions={"kerfbook": "9"}, crs="EPSG:1", rules=[], catalogue_overridden={"a": 1})
    sentences = caveats(RECORD, later)
    assert len(sentences) == 5
    assert all(sentence[0].isupper() and sentence.endswith(".") for sentence in sentences)


def _with_registers(**of_south):
    """A run of two registers, north as it is in ``RECORD`` and south."""
    cores = [RECORD["settings"]["cores"] | {"name": "north"}, {"name": "south", "diameter_is": "hole"} | of_south]
    inputs = [{"section": "cores", "sha256": "n"}, {"section": "cores", "sha256": "s"}, RECORD["inputs"][1]]
    return RECORD | {"settings": RECORD["settings"] | {"cores": cores}, "inputs": inputs}


def test_settings_of_several_registers_are_compared_by_the_name_of_each():
    before, after = _with_registers(), _with_registers(diameter_is="core") | {"as_of": "2026-10-31"}
    assert any("cores.south.diameter_is was hole, is core" in sentence for sentence in caveats(before, after))


def test_one_register_of_two_that_was_replaced_is_another_register():
    before, after = _with_registers(), _with_registers() | {"as_of": "2026-10-31"}
    assert any("the same register" in sentence for sentence in caveats(before, after))
    after["inputs"] = [RECORD["inputs"][0] | {"sha256": "other"}, *after["inputs"][1:]]
    assert not any("the same register" in sentence for sentence in caveats(before, after))
