"""What orders say about the safety stock."""

from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.programme.catalogue import load_catalogue
from pipeline.publish.safety_notes import level_shown, safety_notes
from pipeline.publish.words import words_of

_WORDS = words_of("en")


def _result(*, enough, level=0.95, joint=0.77, lines=((23.0, 4.0), (11.0, 7.0)), survey=True):
    """Two lines of 34 bags of safety stock in all, 11 of them with a known model."""
    stock = pd.DataFrame(lines, columns=["safety_stock", "without_model"])
    total = {"shade": None, "level": level, "expected": 115.0, "mean": 121.6, "joint_level": joint}
    levels = pd.DataFrame([total | {"enough_jointly": 158.0, "enough": 140.0, "planned_suffices": 0.44}])
    round_ = pd.DataFrame({"cores": [12.4, 12.4], "expected": [12.0, 12.0], "enough": [20.0, 20.0]})
    return SimpleNamespace(
        orders=SimpleNamespace(
            safety_stock=stock, service_levels=levels, survey_round=round_ if survey else round_.iloc[:0]
        ),
        settings=SimpleNamespace(orders=SimpleNamespace(service_level=level)),
        calibration=SimpleNamespace(enough=enough),
        catalogue=load_catalogue({}, "test"),
    )


@pytest.mark.parametrize(
    "sentence",
    [
        "Kerf and bed are not calibrated (kerfbook calibrate): the uncertainty of kerf, bed and the rest of the volume",
        "accounts for 23 of the 34 bags of safety stock.",
        "the plan mixes 115 bags; the mean of the simulations, lost bags included, is 122.",
        "no district runs out of any shade in 77% of the simulations. For 95%, hold 158 bags in all instead of 149",
        "in one common store, 140 suffice",
        "Lower bound: it holds if every void is exactly as stated (kerf 9 mm)",
        "the bags to mix suffice without any safety stock in 44% of the simulations",
        "Survey round: 12 open cores of unknown size or surface may need 12 bags more, up to 20.",
    ],
)
def test_the_figures_are_said_with_what_they_assume(sentence):
    assert sentence in " ".join(safety_notes(_result(enough=False), _WORDS))


def test_less_than_all_is_never_said_to_be_all():
    text = " ".join(safety_notes(_result(enough=False, level=0.995, joint=0.9965), _WORDS))
    assert "in 99.65% of the simulations. For 99.5%, hold" in text
    assert "100%" not in text
    assert "in 99.5% of" in " ".join(safety_notes(_result(enough=False, joint=0.995), _WORDS))
    assert "in 100% of the simulations" in " ".join(safety_notes(_result(enough=False, joint=1.0), _WORDS))


@pytest.mark.parametrize(
    ("level", "shown"), [(0.95, "95%"), (0.07, "7%"), (99.9 * 0.01, "99.9%"), (0.999999, "99.9999%")]
)
def test_a_service_level_is_shown_with_the_digits_it_has(level, shown):
    assert level_shown(level, _WORDS) == shown


def test_a_calibrated_programme_is_not_asked_to_calibrate():
    text = " ".join(safety_notes(_result(enough=True), _WORDS))
    assert "Kerf and bed are calibrated from records of use, so the safety stock covers what crews throw away" in text
    assert "kerfbook calibrate" not in text


def test_without_cores_to_survey_or_bags_to_mix_there_is_nothing_to_say():
    assert "Survey round" not in " ".join(safety_notes(_result(enough=True, survey=False), _WORDS))
    assert safety_notes(_result(enough=True, lines=()), _WORDS) == []
