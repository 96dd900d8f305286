"""Slips of the pen and the keyboard, each against texts written by hand."""

import numpy as np
import pandas as pd
import pytest

from pipeline.rehearse import slips

_NOTHING = None


def _texts(*cells):
    return pd.Series(list(cells), dtype="str")


def _as_list(texts):
    return [None if pd.isna(text) else text for text in texts]


@pytest.mark.parametrize(
    ("slip", "cells"),
    [
        (slips.flip_sign, {"-82.19": "82.19", "44.8": "-44.8", "+3": "-3", "600 mm": "600 mm", "": "", _NOTHING: None}),
        (slips.drop_point, {"-82.19": "-8219", "44,8": "448", "1.2.3": "1.2.3", "480512": "480512"}),
        (slips.points_to_commas, {"-82.19": "-82,19", "44,8": "44,8"}),
        (slips.letter_for_digit, {"HV-0142": "HV-O142", "HV-0100": "HV-010O", "HV-1": "HV-1"}),
        # 82.1934148 degrees are 82 degrees, 11 minutes and 36.29 seconds; the last second must not become sixty
        (slips.written_dms, {"-82.1934148": "-82°11'36.29\"", "44.9999999": "45°00'00.00\"", "north": "north"}),
        (lambda texts: slips.cut_decimals(texts, 3), {"-82.1934148": "-82.193", "44.80": "44.80", "x": "x"}),
        (lambda texts: slips.cut_decimals(texts, -2), {"480587.3": "480500", "99": "0", "x": "x"}),
        (
            slips.exchange_day_and_month,
            {
                "2026-07-05 13:07": "2026-05-07 13:07", "05/07/2026": "07/05/2026", "5.7.26": "7.5.26",
                "2026-07-25": "2026-07-25", "25/07/2026": "25/07/2026", "2026-07-07": "2026-07-07", "tbc": "tbc",
            },
        ),
        (
            lambda texts: slips.shift_year(texts, -1),
            {"2026-07-05": "2025-07-05", "5/7/2026 08:00": "5/7/2025 08:00", "5/7/26": "5/7/25", "46210": "46210"},
        ),
        (lambda texts: slips.scale(texts, 1 / 25.4), {"457.2": "18", "0,254": "0,01", "450 mm": "450 mm", "x": "x"}),
        (lambda texts: slips.scale(texts, 1.8, 32), {"0": "32", "-40": "-40", "23": "73.4"}),
        (lambda texts: slips.scale(texts, 10), {"0.6": "6", "1.8": "18", "0": "0"}),
    ],
)  # fmt: skip
def test_a_slip_changes_what_it_can_and_leaves_the_rest(slip, cells):
    given = _texts(*cells)
    assert _as_list(slip(given)) == list(cells.values())
    assert slip(given).index.equals(given.index)


def test_two_digits_are_exchanged_and_nothing_else():
    given = _texts(*["-82.1934148"] * 400, "111", "1.2", None, "abc")
    changed = _as_list(slips.exchange_digits(given, np.random.default_rng(1)))
    assert changed[400:] == ["111", "1.2", None, "abc"]
    # each pair of neighbours that differ, and no other text
    plain = "-82.1934148"
    swapped = {plain[:at] + plain[at + 1] + plain[at] + plain[at + 2 :] for at in (1, 4, 5, 6, 7, 8, 9)}
    assert set(changed[:400]) == swapped


def test_one_digit_is_wrong_and_nothing_else():
    changed = slips.wrong_digit(_texts(*["480.5"] * 500, "north", None), np.random.default_rng(1))
    assert _as_list(changed[500:]) == ["north", None]
    wrong = [[at for at in range(5) if text[at] != "480.5"[at]] for text in changed[:500]]
    assert {len(places) for places in wrong} == {1}
    assert {places[0] for places in wrong} == {0, 1, 2, 4}
    assert {text[0] for text in changed[:500]} == set("0123456789")


def test_the_text_of_another_row_is_another_text():
    column = _texts("Quay Road", "quay road ", "Oat Street", None, "Clay Lane")
    changed = slips.other_of(column, column, np.random.default_rng(3))
    assert pd.isna(changed[3])
    assert set(changed[:2]) <= {"Oat Street", "Clay Lane"}
    assert changed[2] in {"Quay Road", "Clay Lane"}
    alone = _texts("Quay Road", "QUAY ROAD")
    assert slips.other_of(alone, alone, np.random.default_rng(3)).tolist() == alone.tolist()
