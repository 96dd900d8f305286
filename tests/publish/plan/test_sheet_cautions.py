"""Tests of the cautions of a sheet."""

import re

import numpy as np

from pipeline.programme.catalogue import load_catalogue
from pipeline.publish.plan.sheet_cautions import day_cautions, stop_cautions
from pipeline.publish.words import words_of

_WORDS = words_of("en")
_CAUTIONS = load_catalogue({}, "p").core_cautions


def _stop(number, state="open", surface="asphalt", weight=80.0, task="reinstate"):
    return {
        "row": number * 10, "stop": number, "state": state, "surface": surface, "weight_kg": weight, "task": task,
    }  # fmt: skip


def test_a_caution_of_one_stop_is_at_that_stop_and_one_of_several_is_there_once():
    stops = [_stop(1), _stop(2, "plated"), _stop(3, "plated"), _stop(4, surface="composite")]
    shared, own = stop_cautions(stops, _CAUTIONS, _WORDS)
    texts = [re.sub("<[^>]*>", "", text) for text in shared]
    assert [text.split(":")[0] for text in texts] == ["Stops 1 and 4", "Stops 2 and 3"]
    assert texts[0].endswith(_CAUTIONS.sheet.state.open[0])
    assert own == {10: [], 20: [], 30: [], 40: _CAUTIONS.surface["composite"]}


def test_what_holds_at_each_stop_is_said_so():
    shared, own = stop_cautions([_stop(1), _stop(2)], _CAUTIONS, _WORDS)
    assert [text.split(":")[0] for text in shared] == ["<b>All stops"]
    assert own == {10: [], 20: []}


def test_a_single_stop_has_all_its_cautions_itself():
    shared, own = stop_cautions([_stop(1, "nowhere", None)], _CAUTIONS, _WORDS)
    assert shared == []
    assert own == {10: _CAUTIONS.sheet.state.unknown}


def test_the_heaviest_core_that_goes_back_is_named():
    stops = [_stop(1, weight=80.0), _stop(2, weight=np.nan), _stop(3, weight=300.0, task="make safe")]
    assert "heaviest is about 80 kg (176 lb)" in day_cautions(stops, _CAUTIONS, _WORDS)[-1]
    assert day_cautions([_stop(1, weight=np.nan)], _CAUTIONS, _WORDS)[-1] == _CAUTIONS.lifting.not_known
    assert day_cautions([_stop(1, task="survey")], _CAUTIONS, _WORDS) == _CAUTIONS.sheet.cautions


def test_traffic_dust_services_plates_and_burns_are_on_every_sheet():
    text = " ".join(_CAUTIONS.sheet.cautions)
    assert all(word in text for word in ("Traffic", "Services", "Dust of stone and cement", "Plates", "Wet grout"))
