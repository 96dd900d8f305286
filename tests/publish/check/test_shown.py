"""What a check shows, in words: counts, positions, rows set aside, layers, and the rules that lack an input."""

import dataclasses
from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.publish.check.shown import bands, check_shown, sheets_together
from pipeline.publish.check.voice import for_text
from pipeline.publish.words import words_of
from pipeline.results import RuleInputs
from tests.publish.check.inputs_checked import checked, refused

_VOICE = for_text(words_of("en"))


@pytest.fixture(scope="module")
def shown():
    return check_shown(checked(), _VOICE)


def test_a_register_has_its_counts_and_what_nothing_is_read_from(shown):
    (register,) = shown["registers"]
    assert register["counts"] == "3 rows; 1 row set aside: it holds no core"
    assert register["unused"] == "cost"
    assert register["not_kept"].startswith("Position accuracy, Position method, Street recorded")
    assert register["aside"] == "total: 1"
    assert register["aside_rows"] == [{"file": "north.csv", "place": "9", "reason": "total", "text": "Total 3"}]


def test_positions_have_their_columns_crs_and_distances(shown):
    (register,) = shown["registers"]
    assert register["positions"][0] == "On the map: all 3, from e, n, in EPSG:32617."
    assert register["positions"][-1] == "Distance to the nearest road: median 3.0 m, greatest 3.0 m (“N1”, line 4)."
    assert register["distances"] == {
        "0 – 2": 0, "2 – 5": 3, "5 – 10": 0, "10 – 15": 0, "15 – 50": 0, "50 – 500": 0, "over 500": 0,
    }  # fmt: skip


def test_positions_that_were_converted_or_repaired_are_named_in_words():
    inputs = checked()
    (facts,) = inputs.registers
    positions = dataclasses.replace(facts.positions, repaired={"dms": 2, "swapped": 1})
    facts = dataclasses.replace(facts, positions=positions)
    (register,) = check_shown(dataclasses.replace(inputs, registers=[facts]), _VOICE)["registers"]
    assert "Repaired: degrees, minutes and seconds: 2, swapped: 1." in register["positions"]


def test_the_last_band_has_no_upper_end():
    assert bands((0, 0.1, 1), _VOICE) == ["0 – 0.1", "0.1 – 1", "over 1"]


def test_a_layer_says_what_is_filled_and_what_it_lacks(shown):
    (layer,) = shown["layers"]
    assert layer["rows"] == "110 of 120"
    assert layer["columns"] == ["street: name, 90 filled", "surface: paved, 100 filled"]
    assert layer["notes"] == ["12 features without a known surface", "no column for slope"]
    assert layer["extent"] == "-82.2000, 44.8000 to -82.1000, 44.9000"


def test_rules_are_grouped_by_what_they_lack(shown):
    assert shown["rules"] == "1 of 3 rules can be assessed for every register."
    assert shown["lacking"] == [
        {"lacks": "Permit expiry", "registers": "every register", "rules": "Permit expired"},
        {
            "lacks": "layer [joints]; layer [surfaces] or roads.columns.surface",
            "registers": "every register",
            "rules": "Joint near",
        },
    ]


def test_a_rule_that_one_of_two_registers_lacks_names_that_register():
    found = checked()
    south = dataclasses.replace(found.registers[0], name="South")
    both = check_shown(dataclasses.replace(found, registers=[*found.registers, south]), _VOICE)
    assert both["lacking"][0]["registers"] == "North"


def test_valid_inputs_end_with_the_crs_and_refused_ones_with_the_number_of_errors(shown):
    assert shown["measured"] == (
        "Inputs are valid. Distances are measured in WGS 84 / UTM zone 17N (EPSG:32617), to within 0.04% of lengths on "
        "the ground."
    )
    assert shown["stock"] == "Stock, stock.csv: 2 rows. Yards: North. Items: gravel."
    wrong = check_shown(refused(), _VOICE)
    assert wrong["measured"] == "The inputs cannot be used: 1 error."
    assert wrong["errors"] == ["south.csv: no such file."]


def test_the_verdict_is_what_to_do_next(shown):
    assert shown["verdict"] == "1 point to check before an audit."
    assert check_shown(checked(suspicions=[]), _VOICE)["verdict"] == "Nothing looks misread."
    assert check_shown(refused(), _VOICE)["verdict"] == "The inputs cannot be used: 1 error."


def test_a_sheet_of_blank_rows_does_not_make_a_page_of_blank_rows():
    found = checked()
    aside = pd.DataFrame({"file": "north.csv", "place": range(2003), "reason": "blank", "text": ""})
    long = dataclasses.replace(found, registers=[dataclasses.replace(found.registers[0], set_aside=aside)])
    (register,) = check_shown(long, _VOICE)["registers"]
    assert register["aside_rows"] == [{"file": "north.csv", "place": "", "reason": "2,003 blank rows", "text": ""}]
    assert register["aside_more"] == 0
    assert register["aside"] == "blank: 2,003"


def test_rows_set_aside_beyond_the_most_are_counted():
    found = checked()
    aside = pd.DataFrame({"file": "north.csv", "place": range(2003), "reason": "total", "text": "Total"})
    long = dataclasses.replace(found, registers=[dataclasses.replace(found.registers[0], set_aside=aside)])
    (register,) = check_shown(long, _VOICE)["registers"]
    assert (len(register["aside_rows"]), register["aside_more"]) == (2000, 3)


def _where(files, headers):
    found = checked()
    facts = dataclasses.replace(found.registers[0], files=files, headers=headers)
    return check_shown(dataclasses.replace(found, registers=[facts]), _VOICE)["registers"][0]["headers"]


def test_the_sheet_and_the_row_of_the_header_are_said_once_where_all_files_are_alike():
    assert _where(("a.xlsx", "b.xlsx"), (("Cores", 4), ("Cores", 4))) == "sheet “Cores”, header in row 4"
    assert _where(("a.xlsx", "b.csv"), (("Cores", 4), ("", 1))) == (
        "a.xlsx: sheet “Cores”, header in row 4; b.csv: header in line 1"
    )
    assert _where(("cores.gpkg",), (("", 0),)) == ""


def test_what_positions_are_written_to_has_a_unit():
    found = checked()
    positions = dataclasses.replace(found.registers[0].positions, steps=(34, 0, 0, 5, 1))
    facts = dataclasses.replace(found.registers[0], positions=positions)
    lines = check_shown(dataclasses.replace(found, registers=[facts]), _VOICE)["registers"][0]["positions"]
    assert "Positions written to the nearest: 0.1 m or finer: 34, 10 – 100 m: 5, over 100 m: 1." in lines


def test_the_rows_of_several_registers_are_counted_as_cores():
    """Rows 2 and 3 repeat row 1, of the same register and of another."""
    cores = pd.DataFrame(
        {
            "row": [1, 2, 3, 4, 5],
            "register": ["North", "North", "South", "South", "South"],
            "is_copy": [False, True, True, False, False],
            "copy_of": pd.array([None, 1, 1, None, None], dtype="Int64"),
        }
    )
    assert check_shown(checked(inputs=SimpleNamespace(cores=cores)), _VOICE)["cores"] == (
        "5 rows are 3 cores: 1 repeat a core of the same register, 1 a core of another register."
    )
    alone = cores[~cores["is_copy"]]
    assert check_shown(checked(inputs=SimpleNamespace(cores=alone)), _VOICE)["cores"] == "3 cores."


def test_a_rule_that_two_registers_lack_for_different_reasons_is_shown_for_each():
    found = checked(
        rules=[RuleInputs("joint-near", "Title.", "check", {"North": (("joints",),), "South": (("plated_on",),)})]
    )
    south = dataclasses.replace(found.registers[0], name="South")
    both = check_shown(dataclasses.replace(found, registers=[*found.registers, south]), _VOICE)
    assert [(row["lacks"], row["registers"]) for row in both["lacking"]] == [
        ("layer [joints]", "North"), ("Plated", "South"),
    ]  # fmt: skip


def test_the_sheets_of_a_workbook_stand_after_its_name():
    files = ["a.xlsx, sheet Jan", "a.xlsx, sheet Feb", "b.csv", "c.xlsx, sheet Jan"]
    shown = sheets_together(files, [("Jan", 1), ("Feb", 1), ("", 1), ("Jan", 1)])
    assert shown == ["a.xlsx, sheet Jan", "Feb", "b.csv", "c.xlsx, sheet Jan"]


def test_files_that_are_only_called_sheets_keep_their_names():
    files = ["north, sheet 1.csv", "north, sheet 2.csv"]
    assert sheets_together(files, [("", 1), ("", 1)]) == files
    assert _where((*files, "b.csv"), (("", 1), ("", 1), ("", 4))) == (
        "north, sheet 1.csv, north, sheet 2.csv: header in line 1; b.csv: header in line 4"
    )
