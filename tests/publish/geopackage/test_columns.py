"""Titles, meanings and lists of values of the layers' columns."""

import pytest

from pipeline.contracts import CORE_TABLE, ORDER_COLUMNS, PUBLISHED, REGISTER_COLUMNS
from pipeline.publish.geopackage.columns import LAYERS, describe_columns


def test_the_layers_are_those_of_the_design_with_those_on_top_first():
    assert list(LAYERS) == [
        "cores",
        "segments",
        "works",
        "works_lines",
        "districts",
        "findings",
        "changes",
        "rules",
        "orders",
    ]


@pytest.mark.parametrize("layer", LAYERS)
def test_the_columns_of_a_layer_have_titles_that_differ_and_meanings_that_are_sentences(layer):
    described = describe_columns(layer, [column.published for column in LAYERS[layer].columns], is_pack=True)
    titles = [description.title for description in described.values()]
    assert sorted(set(titles)) == sorted(titles)
    for title, meaning, _ in described.values():
        assert title[0].isupper()
        assert meaning[0].isupper()
        assert "_" not in title
        # an area is in m², as people write it
        assert "m2" not in title + meaning


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("position_accuracy_m", "Position accuracy (m)"),
        ("air_temperature_c", "Air temperature (°C)"),
        ("permit_expires_on", "Permit expiry"),
        ("lon", "Longitude (°)"),
        ("water_l", "Water used (L)"),
        ("street", "Street"),
        ("street_recorded", "Street recorded"),
    ],
)
def test_titles_are_what_people_call_a_column_with_its_unit(name, title):
    assert describe_columns("cores", [name], is_pack=True)[name].title == title


def test_a_column_of_an_order_is_called_what_it_is():
    described = describe_columns("orders", ORDER_COLUMNS)
    assert list(described) == list(ORDER_COLUMNS)
    assert described["reserve"].title == "Rounding surplus"
    assert described["needed"].title == "Net need"


def test_a_registers_own_column_of_a_contract_name_is_described_in_a_pack_alone():
    """In a run's own layer it is what the register wrote; in a pack it is what was understood of it."""
    of_register = {column.published for column in REGISTER_COLUMNS} - {column.published for column in CORE_TABLE}
    assert describe_columns("cores", sorted(of_register)) == {}
    assert set(describe_columns("cores", sorted(of_register), is_pack=True)) == of_register


def test_columns_come_in_the_order_asked_for_and_unknown_ones_not_at_all():
    assert list(describe_columns("cores", ["status", "cost", "row", 7])) == ["status", "row"]
    assert describe_columns("segments", ["geometry", "street", "start"]).keys() == {"street"}


def test_fixed_values_come_with_their_meanings_and_other_columns_have_none():
    described = describe_columns("cores", PUBLISHED, is_pack=True)
    assert {name for name, column in described.items() if column.values} == {
        "status", "side", "surface_from", "state", "urgency",
    }  # fmt: skip
    assert list(described["side"].values) == ["left", "right"]
    assert list(describe_columns("findings", ["severity"])["severity"].values) == ["fail", "check", "note"]
