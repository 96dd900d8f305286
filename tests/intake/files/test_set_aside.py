"""Rows that hold no core are set aside, and no core is."""

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.files.header_rows import Wanted
from pipeline.intake.files.set_aside import joined_cells, reasons_to_set_aside

COLUMNS = ["id", "lat", "lon", "dia", "depth", "street", "bags", "remarks"]
WANTED = Wanted(core_id=("id",), position=("lat", "lon"), sizes=("dia", "depth"))
# the upper row of a header of two rows
HEAD = frozenset({"core", "size", *COLUMNS})
CORES = [[f"HV-{1000 + n}", "44.8", "-82.2", "450", "300", "Mill Street", "5", None] for n in range(40)]


def _reason(*cells, cores=CORES):
    """Reason for one row at the end of a register of cores, None for a core."""
    row = [cell or None for cell in cells] + [None] * (len(COLUMNS) - len(cells))
    body = pd.DataFrame([*cores, row], columns=COLUMNS, dtype="str")
    reasons = reasons_to_set_aside(body, WANTED, HEAD)
    assert reasons[: len(cores)].isna().all()
    return None if pd.isna(reasons.iloc[-1]) else reasons.iloc[-1]


@pytest.mark.parametrize(
    "cells",
    [
        ("HV-9999",),
        ("hv-2",),
        ("HV-1", "", "", "", "", "", "", "Total of 3 bags"),
        # an odd id or none, with a position or sizes of its own
        ("HV1046b", "44.8", "-82.2"),
        ("", "44.8", "-82.2"),
        ("", "", "", "450", "300"),
        ("", "", "", "450", "12000"),
        ("", "", "", "600", "400", "Mill Street"),
        ("HV-1", "", "", "18000", "12000"),
        ("lost tag", "", "", "450", "300", "Mill Street"),
        ("", "", "", "450", "300", "Mill Street", "5", "total reinstatement needed"),
        ("Total", "44.8", "-82.2"),
        # nothing reveals what it is
        ("HV1046b",),
        ("", "", "", "", "", "Mill Street", "5"),
        ("HVX 12", "", "", "", "", "Mill Street"),
    ],
)
def test_a_row_that_may_be_a_core_stays(cells):
    assert _reason(*cells) is None


@pytest.mark.parametrize(
    ("cells", "reason"),
    [
        ((), "blank"),
        ((" ", "\xa0"), "blank"),
        (("Total March", "", "", "", "", "", "201"), "total"),
        (("31 cores", "", "", "", "", "", "155"), "total"),
        (("", "", "Subtotal", "", "", "", "45"), "total"),
        (("Grand total:", "", "", "", "", "", "45"), "total"),
        (("Average", "", "", "441", "287"), "total"),
        (("", "", "", "", "", "", "1,204"), "total"),
        # sums without a word, of columns of which every core has 450 and 300
        (("", "", "", "18000", "12000", "", "201"), "total"),
        (("", "", "", "451"), "total"),
        (("Checked by J. Field",), "footer or note"),
        (("Checked by", "", "", "", "", "J. Field", "", "31/03/2026"), "footer or note"),
        (("", "", "", "", "", "Page 3 of 9"), "footer or note"),
        (("April 2026",), "footer or note"),
        (("id", "lat", "lon", "dia", "depth", "street", "bags", "remarks"), "repeated header"),
        (("ID", "LAT ", "Lon"), "repeated header"),
        (("Core", "", "Size"), "repeated header"),
        (("----", "---", "--"), "ruled line"),
        (("_____", "", "", "", "", "signature and date"), "footer or note"),
    ],
)
def test_a_row_that_is_no_core_is_set_aside_with_its_reason(cells, reason):
    assert _reason(*cells) == reason


def test_totals_of_every_month_do_not_make_their_shape_usual():
    rows = []
    for month in ("January", "February", "March", "April", "May", "June"):
        rows += [*CORES[:5], [f"Total {month}", None, None, None, None, None, "25", None]]
    reasons = reasons_to_set_aside(pd.DataFrame(rows, columns=COLUMNS, dtype="str"), WANTED)
    assert reasons.fillna("core").tolist() == [*["core"] * 5, "total"] * 6


def test_ids_that_are_words_keep_rows_that_look_like_notes():
    cores = [[f"Mill {'ABCDEFGHIJ'[n % 10]}", *CORES[0][1:]] for n in range(40)]
    assert _reason("Checked A", cores=cores) is None


def test_plain_numbers_as_ids_keep_every_numbered_row():
    cores = [[str(n), *CORES[0][1:]] for n in range(40)]
    assert _reason("77", cores=cores) is None
    assert _reason("", "", "", "", "", "", "77", cores=cores) == "total"


def test_a_register_of_three_rows_is_told_from_its_total():
    assert _reason("Total", "", "", "", "", "", "15", cores=CORES[:3]) == "total"
    assert _reason("HV-7", cores=CORES[:3]) is None


def test_without_an_id_column_only_blank_rows_are_set_aside():
    body = pd.DataFrame({"a": ["Total", None]}, dtype="str")
    assert reasons_to_set_aside(body, WANTED).fillna("").tolist() == ["", "blank"]


@given(st.lists(st.sampled_from(["", "Total", "7", "note", "Mill Street", "Checked by X"]), min_size=7, max_size=7))
def test_whatever_else_it_holds_a_row_with_a_usual_id_is_a_core(cells):
    assert _reason("HV-4321", *cells) is None


def test_the_text_of_a_row_is_its_filled_cells_and_is_cut():
    rows = pd.DataFrame({"a": [" Total ", None], "b": [None, "x" * 300], "c": ["5", ""]}, dtype="str")
    assert joined_cells(rows) == ["Total | 5", "x" * 200]


def test_headers_repeated_on_every_page_teach_no_shape_of_ids():
    header, total = list(COLUMNS), ["Subtotal", None, None, None, None, "24 cores", "120", None]
    pages = [*CORES[:10], total, header] * 4
    body = pd.DataFrame(pages, columns=COLUMNS, dtype="str")
    reasons = reasons_to_set_aside(body, WANTED, HEAD)
    assert reasons.value_counts().to_dict() == {"total": 4, "repeated header": 4}
