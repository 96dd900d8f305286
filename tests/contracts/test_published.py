"""The table of cores, and the columns of it that a road authority is handed."""

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contracts import (
    CORE_COLUMNS,
    CORE_TABLE,
    HANDED_ALWAYS,
    HANDED_COLUMNS,
    PUBLISHED,
    STREET_RECORDED,
    as_published,
    check_frame,
    own_names,
    register_texts,
)


def test_the_columns_of_cores_csv_are_stable():
    """Other programs read them: the list is that of the design, letter for letter."""
    assert CORE_COLUMNS == (
        "row", "core_id", "diameter_mm", "depth_mm", "status", "findings", "segment_id", "street", "chainage_m",
        "offset_m", "side", "segment_confidence", "runner_up_id", "surface", "surface_from", "surface_confidence",
        "district", "shade", "bedding", "grout_l", "grout_kg", "bags", "water_l_needed", "gravel_kg", "lon", "lat",
        "opened_on", "reinstated_at", "register", "register_row", "register_file", "copy_of",
        "state", "urgency", "core_kg", "road_class", "road_authority",
    )  # fmt: skip


def test_the_street_of_the_table_is_the_segments_and_the_registers_has_another_name():
    assert PUBLISHED["street"].name == "street_matched"
    assert PUBLISHED[STREET_RECORDED].name == "street"
    assert [column.name for column in as_published(CORE_TABLE)] == list(CORE_COLUMNS)


def test_a_map_can_be_read_with_what_is_always_handed_over():
    assert HANDED_ALWAYS == (
        "core_id",
        "status",
        "findings",
        "segment_id",
        "street",
        "district",
        "lon",
        "lat",
        "copy_of",
    )
    assert set(HANDED_ALWAYS) <= set(HANDED_COLUMNS)


def test_nothing_of_crews_remarks_materials_and_methods_is_handed_over_by_default():
    """What a utility keeps to itself unless a programme names it, by hand."""
    internal = {
        "crew", "remarks", "bags", "bags_used", "grout_l", "grout_kg", "gravel_kg", "water_l", "water_l_needed",
        "air_temperature_c", "bedding_mm", "position_method", "register", "register_row", "register_file",
    }  # fmt: skip
    assert not internal & set(HANDED_COLUMNS)
    assert internal <= set(PUBLISHED)


def test_a_register_column_whose_name_is_taken_comes_with_a_prefix_whatever_its_case():
    own = own_names(["Status", "register_status", "FID", "note", "geom", "Note"])
    assert own == [
        "register_Status",
        "register_register_status",
        "register_FID",
        "note",
        "register_geom",
        "register_Note",
    ]


@settings(deadline=None)
@given(st.lists(st.text(min_size=1, max_size=12) | st.sampled_from(["row", "ROW", "fid", "register_row"]), max_size=8))
def test_no_two_columns_of_the_table_have_the_same_name_whatever_a_register_calls_its_own(names):
    own = own_names(names)
    every = [name.casefold() for name in (*CORE_COLUMNS, *own)]
    assert len(set(every)) == len(every)
    # each still ends with what the register calls it
    assert all(free.endswith(name) for free, name in zip(own, names, strict=True))


def test_the_registers_own_columns_are_text_as_it_was_read():
    own = pd.DataFrame({"Dia. (in)": pd.Series(["18"], dtype="str"), "row": pd.Series(["x"], dtype="str")})
    columns = register_texts(own)
    assert [column.name for column in columns] == ["Dia. (in)", "register_register_row"]
    check_frame(own.set_axis(own_names(own), axis="columns"), columns, None, "publish")
