"""Cores found by id and register."""

import pandas as pd

from pipeline.intake.core_ids import pairs_by_id

_CORES = pd.DataFrame(
    {"core_id": ["HV-1", "hv - 1", "HV-2", "HV-2", None], "register": ["North", "North", "North", "South", "South"]}
)


def _pairs(*named):
    found = pairs_by_id(pd.DataFrame(list(named), columns=["core_id", "register"]), _CORES)
    return list(zip(found["named"], found["at"], strict=True))


def test_case_and_spaces_do_not_matter_unless_one_core_has_the_id_as_written():
    assert _pairs(("hv-2", "south"), ("HV-1", None), ("hv-1", None)) == [(0, 3), (1, 0), (2, 0), (2, 1)]


def test_a_register_narrows_the_search_and_without_one_every_register_counts():
    assert _pairs(("HV-2", "North"), ("HV-2", None), ("HV-2", "West")) == [(0, 2), (1, 2), (1, 3)]


def test_a_missing_id_names_nothing():
    assert _pairs((None, "South"), ("", "South")) == []
