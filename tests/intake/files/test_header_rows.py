"""The header of a table: which row it is, what merged heads are called, and units beneath it."""

import pytest

from pipeline.intake.files.header_rows import ANY_TABLE, Wanted, find_head, units_in, wanted_of
from pipeline.programme.settings import Cores, Layer


def _wanted(*names):
    return Wanted(needed=tuple((name,) for name in names))


def test_the_header_is_the_first_row_that_holds_every_name_without_regard_to_case_and_blanks():
    rows = [["Cores", "", ""], ["Core ID", "", "note"], ["  core  id ", "DIA", "Depth"], ["Core ID", "Dia", "Depth"]]
    head = find_head(rows, (), _wanted("Core ID", "dia"))
    assert (head.top, head.bottom, head.names, head.holds_all) == (2, 2, ["core id", "DIA", "Depth"], True)


def test_without_every_name_it_is_the_row_with_most_of_them_and_the_first_of_equals():
    rows = [["Dia", ""], ["Core ID", "Dia"], ["Dia", "Core ID"]]
    head = find_head(rows, (), _wanted("Core ID", "Dia", "Depth"))
    assert (head.bottom, head.held, head.holds_all) == (1, 2, False)


def test_without_any_of_them_it_is_the_first_filled_row():
    rows = [["", ""], ["a", "b"], ["c", "d"]]
    assert find_head(rows, (), _wanted("Core ID")).bottom == 1
    assert find_head(rows, (), ANY_TABLE).bottom == 1
    assert find_head([["", " "]], (), ANY_TABLE) is None


def test_a_register_without_mapped_names_is_searched_for_those_of_the_contract():
    wanted = wanted_of(Cores(path="a.csv"), "cores")
    rows = [["Depth report", "", "", ""], ["core_id", "diameter", "depth_mm", "lat"]]
    assert find_head(rows, (), wanted).bottom == 1
    # three known names reveal a header that lacks a required one; two may be cells
    assert find_head([["x", "y", "a"], ["street", "crew", "remarks"]], (), wanted).bottom == 1
    assert find_head([["a", "b", "c"], ["1", "x", "y"]], (), wanted).bottom == 0


def test_a_register_is_searched_for_what_its_settings_map():
    wanted = wanted_of(Cores(path="a.csv", columns={"core_id": "No.", "crew": "Gang"}, position="GPS"), "cores")
    assert wanted.needed == (("No.",), ("Gang",), ("GPS",), ("diameter_mm", "diameter"), ("depth_mm", "depth"))
    assert (wanted.core_id, wanted.position) == (("No.",), ("GPS",))
    assert not wanted_of(Layer(path="a.csv"), "roads").sets_aside


#        A     B         C            D
# 0   Register of cores (merged over all)
# 1   ID    Core, merged over B:C    Street
# 2         Ø (in)    Depth (in)              A and D merged downward
# 3   HV-1  18        12             Mill
MERGED = [
    ["Register of cores", "", "", ""],
    ["ID", "Core", "", "Street"],
    ["", "Ø (in)", "Depth (in)", ""],
    ["HV-1", 18.0, 12.0, "Mill"],
]
MERGES = [((0, 0), (0, 3)), ((1, 0), (2, 0)), ((1, 1), (1, 2)), ((1, 3), (2, 3))]


@pytest.mark.parametrize("merges", [MERGES, [MERGES[0], MERGES[2]]], ids=["merged downward", "blank beneath"])
@pytest.mark.parametrize(
    ("mapped", "names"),
    [
        (["ID", "Ø (in)", "Depth (in)"], ["ID", "Ø (in)", "Depth (in)", "Street"]),
        (["ID", "Core Ø (in)", "Depth (in)"], ["ID", "Core Ø (in)", "Depth (in)", "Street"]),
        (["ID", "Street"], ["ID", "Ø (in)", "Depth (in)", "Street"]),
    ],
)
def test_merged_heads_are_found_by_the_lowest_name_and_by_the_joined_one(merges, mapped, names):
    head = find_head(MERGED, merges, _wanted(*mapped))
    assert (head.top, head.bottom, head.names, head.holds_all) == (1, 2, names, True)


def test_lowest_names_that_are_not_unique_are_joined_with_those_above():
    rows = [["ID", "Core", "", "Slab", ""], ["", "Width", "Depth", "Width", "Length"], ["1", "2", "3", "4", "5"]]
    merges = [((0, 1), (0, 2)), ((0, 3), (0, 4))]
    assert find_head(rows, merges, _wanted("ID", "Depth")).names == [
        "ID",
        "Core Width",
        "Depth",
        "Slab Width",
        "Length",
    ]


def test_a_row_of_the_table_under_a_merged_name_is_no_part_of_the_header():
    rows = [["ID", "Remarks", ""], ["HV-1", "wet", ""], ["", "dry", ""]]
    head = find_head(rows, [((0, 1), (0, 2))], _wanted("ID", "Remarks"))
    assert (head.bottom, head.names) == (0, ["ID", "Remarks", ""])


def test_units_are_found_where_a_row_holds_nothing_else():
    assert units_in(["", "(in)", "[mm]", "°F", "dd/mm/yyyy", "US gal"]) == [
        "",
        "in",
        "mm",
        "°F",
        "dd/mm/yyyy",
        "US gal",
    ]
    assert units_in(["HV-1", "in"]) is None
    assert units_in(["-", "n/a"]) is None
    assert units_in(["", 12.0]) is None
    assert units_in(["", ""]) is None
