"""Which header means which column."""

import pandas as pd
import pytest

from pipeline.programme.catalogue import load_catalogue
from pipeline.propose.cell_kinds import Known
from pipeline.propose.columns import ask_for_dates, ask_for_missing, propose_columns
from pipeline.propose.header_words import header_words


@pytest.fixture(scope="module")
def known():
    return Known(load_catalogue({}, "programme.toml"), frozenset({"quay road"}))


def _proposed(known, **columns):
    frame = pd.DataFrame({name.replace("_", " "): pd.Series(cells, dtype="str") for name, cells in columns.items()})
    return propose_columns(frame, header_words()["register"], known)


def test_the_header_decides_where_the_cells_agree(known):
    found = _proposed(known, Core=["A-1", "A-2"], Cut=["2026-03-01", "2026-03-02"], Deep=["200 mm", "8 in"])
    assert found.found == {"core_id": "Core", "opened_on": "Cut", "depth": "Deep"}


def test_a_word_for_two_columns_is_the_one_that_the_cells_are(known):
    where = _proposed(known, Where=["44.8, -82.2", "44.9, -82.3"])
    assert where.places["position"] == ["Where"]
    street = _proposed(known, Where=["Quay Road", "Quay Road 5"])
    assert (street.places["position"], street.found) == ([], {"street": "Where"})


def test_an_address_that_names_no_street_of_the_roads_is_no_street(known):
    assert _proposed(known, Address=["Depot", "Unit 5"]).unmapped == ["Address"]


def test_two_headers_for_one_measure_are_a_question_with_the_cells_of_both(known):
    found = _proposed(known, Core_dia=["450", "300"], Hole_dia=["457", "310"])
    assert "diameter" not in found.found
    question = found.questions["diameter"]
    assert [(choice.label, choice.reading) for choice in question.choices] == [
        ('"Core dia"', "450, 300"), ('"Hole dia"', "457, 310"),
    ]  # fmt: skip


def test_a_longer_header_is_no_proof_that_a_shorter_one_is_not_the_measure(known):
    found = _proposed(known, Size=["450", "300"], Core_diameter=["457", "310"])
    assert [choice.label for choice in found.questions["diameter"].choices] == ['"Size"', '"Core diameter"']


def test_two_headers_for_one_date_are_a_question_but_a_general_one_is_no_rival(known):
    days = ["2026-03-01", "2026-03-02"]
    assert "reinstated_at" in _proposed(known, Closed=days, Completed_on=days).questions
    found = _proposed(known, Date=days, Date_cut=days)
    assert (found.found, found.questions) == ({"opened_on": "Date cut"}, {})


def test_an_equal_header_comes_before_one_that_contains_the_word(known):
    found = _proposed(known, Depth=["200", "210"], Depth_as_drawn=["1", "2"])
    assert found.found == {"depth": "Depth"}
    assert found.unmapped == ["Depth as drawn"]


def test_what_every_register_needs_is_asked_for_with_the_columns_that_could_be_it(known):
    found = _proposed(known, Kern=["A-1", "A-2"], Durchmesser=["450", "300"], Ort=["hier", "dort"])
    ask_for_missing(found, known, [])
    assert [choice.label for choice in found.questions["core_id"].choices] == ['"Kern"', '"Durchmesser"']
    assert [choice.label for choice in found.questions["diameter"].choices] == ['"Durchmesser"']


def test_an_id_by_its_name_may_repeat_since_monthly_lists_name_a_core_again(known):
    months = ["A-1", "A-2", "A-1", "A-2", "A-1", "A-3"]
    for header in ("Core ID", "Core no.", "ID"):
        frame = pd.DataFrame({header: pd.Series(months, dtype="str")})
        assert propose_columns(frame, header_words()["register"], known).found == {"core_id": header}


def test_of_two_names_as_good_the_one_that_does_not_repeat_is_the_id(known):
    found = _proposed(known, No=["1", "2", "1", "2"], Ref=["A-1", "A-2", "A-3", "A-4"])
    assert found.found == {"core_id": "Ref"}


def test_a_job_or_a_size_that_repeats_is_no_id(known):
    assert _proposed(known, Job_no=["J1", "J1", "J2", "J2"]).found == {}
    assert _proposed(known, Core=["450", "300", "450", "300"]).found == {}


def test_days_are_not_offered_as_a_size(known):
    found = _proposed(known, Bohrung=["450", "300"], Age_d=["20", "30"])
    ask_for_missing(found, known, [])
    assert [choice.label for choice in found.questions["diameter"].choices] == ['"Bohrung"']


def test_made_good_is_the_reinstatement(known):
    found = _proposed(known, Excavated_on=["2026-03-01", "2026-03-02"], Made_good_on=["2026-03-03", "2026-03-04"])
    assert found.found == {"opened_on": "Excavated on", "reinstated_at": "Made good on"}


def test_a_column_of_the_position_is_not_offered_for_anything_else(known):
    found = _proposed(known, Kern=["A-1", "A-2"], Rechtswert=["405093.25", "405094.25"])
    ask_for_missing(found, known, ["Rechtswert"])
    assert [choice.label for choice in found.questions["depth"].choices] == ['"..."']


def test_a_column_of_dates_that_nothing_names_is_asked_about(known):
    found = _proposed(known, Cut=["2026-03-01", "2026-03-02"], Fertig=["2026-03-03", "2026-03-04"], Rest=["a", "b"])
    ask_for_dates(found, [])
    (question,) = found.dates
    assert question.text.startswith('Which date is "Fertig"?')
    gives = [key for choice in question.choices for key in choice.gives]
    assert ("columns", "reinstated_at") in gives
    assert ("columns", "opened_on") not in gives
