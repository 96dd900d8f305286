"""Rules on rows and ids."""

from tests.audit.rules.cases import Case

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
