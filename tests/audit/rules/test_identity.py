"""Rules on rows and ids."""

from pipeline.audit import audit
from tests.audit.frames import AS_OF, SOUND, frame
from tests.audit.rules.cases import Case, bound_rule, sentence

CASES = {
    "id-missing": Case(
        breach={"core_id": None},
        says="The row has no core id. Give the core an id, so that people can refer to it.",
        passes={},
    ),
    "id-duplicated": Case(
        breach={"core_id": "a - 2"},
        says='Id "a - 2" is used on 2 different rows. Find out which core is which, and give each an id of its own.',
        passes={"core_id": "A-3"},
        missing={"core_id": None},
    ),
    "row-duplicated": Case(
        breach={"same_row": 1},
        says="The same row appears 2 times; its materials are counted once. Delete the copies, or record what sets the cores apart.",
        passes={"same_row": 0},
    ),
    "row-ragged": Case(
        breach={"ragged": "9 fields where the header has 8"},
        says="The row has 9 fields where the header has 8, so cells may be in the wrong columns. Correct the row in the register.",
        passes={},
    ),
}


def _found(slug, *cores):
    return audit(frame(*cores), [bound_rule(slug)], AS_OF, 15.0).findings["row"].tolist()


def test_ids_are_compared_regardless_of_case_and_spaces():
    cores = [{**SOUND, "core_id": core_id} for core_id in ("HV 1", "hv1", "HV-1")]
    assert _found("id-duplicated", *cores) == [1, 2]


def test_a_row_written_twice_is_no_duplicated_id():
    twice = {**SOUND, "same_row": 4}
    assert _found("id-duplicated", twice, twice) == []
    assert _found("row-duplicated", twice, twice) == [1, 2]


def test_an_id_is_quoted_as_it_is_written():
    assert sentence("id-duplicated", {"core_id": "a-2"}).startswith('Id "a-2" is used on 2 different rows.')
