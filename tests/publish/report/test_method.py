"""Confidence, inputs, method, and every threshold and material value with its source."""

from dataclasses import replace

import pandas as pd
import pytest
from markupsafe import escape

from pipeline.programme.settings import Matching
from pipeline.publish.report.method import method_and_inputs
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import words_of
from tests.publish.report.pages import table_of, text_of

_WORDS = words_of("en")


@pytest.fixture(scope="module")
def page(demo):
    return draw_report(demo)


def test_every_threshold_is_shown_with_its_rule_and_source(demo, page):
    table = table_of(page, "thresholds-in-force")
    for row in demo.audit.thresholds.to_dict("records"):
        assert f"<code>{row['rule']}</code>" in table
        assert f"<code>{row['threshold']}</code> <bdi>{escape(row['value'])}</bdi>" in table
        assert str(escape(row["source"].replace("our default", "tool default"))) in table
        assert "our default" not in table


def test_every_setting_is_shown_with_its_value_and_who_set_it(demo, page):
    table = table_of(page, "settings-in-force")
    assert "<code><bdi>matching.district_gap</bdi></code>" in table
    assert "matching.learn yes set by Harbour Vale 2026" in text_of(table)
    assert "<bdi>set by Harbour Vale 2026</bdi>" in table
    assert "tool default" in table_of(draw_report(replace(demo, settings=_without_matching(demo))), "settings-in-force")


def _without_matching(demo):
    return demo.settings.model_copy(update={"matching": Matching()})


def test_thresholds_of_one_rule_from_one_source_share_a_row(demo):
    thresholds = pd.DataFrame(
        {
            "rule": ["a-b", "a-b", "a-b"], "threshold": ["least", "most", "most"], "value": ["1 m", "2 m", "3 m"],
            "where": ["everywhere", "everywhere", "road class footway"], "source": ["S", "S", "T"],
        }
    )  # fmt: skip
    shown = method_and_inputs(replace(demo, audit=replace(demo.audit, thresholds=thresholds)), _WORDS)
    rows = [
        (row["rule"], [(name, text_of(value)) for name, value in row["values"]], text_of(row["source"]))
        for row in shown["thresholds_in_force"]
    ]
    assert rows == [
        ("a-b", [("least", "1 m"), ("most", "2 m")], "S"),
        ("a-b", [("most", "3 m for road class footway")], "T"),
    ]


def test_every_material_value_is_shown_with_its_unit_and_source(demo):
    rows = {text_of(row["name"]): row for row in method_and_inputs(demo, _WORDS)["materials"]}
    expected = {
        "kerf": "9 mm", "pilot hole": "38.1 mm", "bag": "20 kg", "water per bag": "2 L", "overfill": "20%",
        "density of the wet mix": "2.15 kg/L", "pea gravel : voids": "40%", "pea gravel : bag": "25 kg",
    }  # fmt: skip
    assert {name: text_of(rows[name]["value"]) for name in expected} == expected
    assert all(text_of(row["source"]) for row in rows.values())
    assert any("common practice, no source" in row["source"] for row in rows.values())
    # the report leaves the house: "our" would be read as the utility's
    assert not [row for row in rows.values() if "our default" in row["source"]]


def test_confidence_counts_the_cores_below_each_threshold(demo):
    """Four cores are 0.55, 0.8, 0.81 and 1 sure of their segment; nothing is known of surface and district."""
    mine = demo.cores.iloc[:4].assign(
        segment_confidence=[0.55, 0.8, 0.81, 1.0], surface_confidence=float("nan"), district_confidence=float("nan")
    )
    shown = method_and_inputs(replace(demo, cores=mine), _WORDS)
    assert [(row["threshold"], row["counts"][0]) for row in shown["confidence_rows"]] == [
        ("50%", "0"), ("60%", "1"), ("70%", "1"), ("80%", "1"), ("90%", "3"), ("95%", "3"), ("99%", "3"),
    ]  # fmt: skip
    assert "Road segment: 0 (50%), 1 (60%)" in shown["curve"]


def test_without_confidence_that_is_what_the_report_says(demo):
    matching = demo.settings.matching.model_copy(update={"choose": "nearest"})
    nearest = replace(
        demo,
        settings=demo.settings.model_copy(update={"matching": matching}),
        cores=demo.cores.assign(
            segment_confidence=float("nan"), surface_confidence=float("nan"), district_confidence=float("nan")
        ),
    )
    page = draw_report(nearest)
    assert "The programme takes the nearest segment, so no confidence is reported." in page
    assert "Segment: the nearest within 15 m; ties go to the first id." in page


def test_inputs_are_shown_with_rows_crs_and_checksum(demo, page):
    table = table_of(page, "inputs-table")
    for file in demo.inputs.files:
        assert f"<code>{file.section}</code>" in table
        header = '<br><span class="small">header in line 1</span>' if file.section == "cores" else ""
        assert f'<bdi>{file.path}</bdi>{header}</td><td class="n">{file.rows:,}</td>' in table
        assert f"<code>{file.sha256[:12]}</code>" in table


def test_an_accuracy_of_a_crs_conversion_may_be_unknown(demo):
    files = [replace(demo.inputs.files[0], accuracy_m=None), replace(demo.inputs.files[1], accuracy_m=0.5)]
    shown = method_and_inputs(replace(demo, inputs=replace(demo.inputs, files=files)), _WORDS)["files"]
    assert [text_of(file["accuracy"]) for file in shown] == ["unknown", "0.5 m"]


@pytest.mark.parametrize(
    ("diameter_is", "sentence"),
    [
        ("hole", "Diameters in the register are those of the hole as cut."),
        ("core", "Diameters in the register are those of the core; the hole is wider by the kerf on each side."),
    ],
)
def test_the_report_states_what_a_diameter_means(demo, diameter_is, sentence):
    section = demo.settings.cores[0].model_copy(update={"diameter_is": diameter_is})
    page = draw_report(replace(demo, settings=demo.settings.model_copy(update={"cores": [section]})))
    assert sentence in page


def test_units_are_written_as_people_write_them(demo):
    units = {"North": {"air_temperature_c": "degC", "water_l": "L"}, "South": {"depth_mm": "<b>", "water_l": "us gal"}}
    register = replace(demo.inputs.register, units=units)
    shown = method_and_inputs(replace(demo, inputs=replace(demo.inputs, register=register)), _WORDS)["units"]
    assert [(text_of(name), text_of(unit)) for name, unit in shown] == [
        ("Air temperature", "°C"), ("Depth", "&lt;b&gt;"), ("Water used", "L / us gal"),
    ]  # fmt: skip


def test_values_that_the_programme_sets_are_named(demo, page):
    assert demo.catalogue.overridden
    for key, value in demo.catalogue.overridden.items():
        assert f"<code>{key}</code> = <bdi>{escape(value)}</bdi>" in page


def test_every_register_is_listed_with_its_rows_cores_and_columns(demo):
    """South has the rows from 201 on; the demo's copies are both among them or both not, counted by hand here."""
    south = demo.cores["row"].gt(200)
    names = pd.Series("north", demo.cores.index, dtype="str").mask(south, "south")
    kept = {"core_id": frozenset({"north", "south"}), "crew": frozenset({"south"})}
    aside = pd.DataFrame({"register": ["south"] * 3, "text": ["Total", "", "Checked by"]})
    inputs = replace(demo.inputs, register=replace(demo.inputs.register, kept=kept, set_aside=aside))
    shown = method_and_inputs(replace(demo, cores=demo.cores.assign(register=names), inputs=inputs), _WORDS)
    copies = [int(demo.cores.loc[of, "is_copy"].sum()) for of in (~south, south)]
    assert sum(copies) == 2
    rows = [{name: text_of(cell) for name, cell in row.items()} for row in shown["registers"]]
    assert rows == [
        {"register": "north", "rows": "200", "cores": str(200 - copies[0]), "set_aside": "0", "kept": "Core id"},
        {"register": "south", "rows": "200", "cores": str(200 - copies[1]), "set_aside": "3", "kept": "Core id , Crew"},
    ]
