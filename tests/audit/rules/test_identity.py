"""Rules on rows and ids."""

from pipeline.audit import audit
from tests.audit.frames import AS_OF, REINSTATED, SOUND, frame
from tests.audit.rules.cases import Case, bound_rule, sentence, sentence_of

# a core of a second register
_SOUTH = {"register": "south", "register_no": 1, "register_file": "south.csv", "file_no": 1, "register_row": 7}
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
        says="The same row appears 2 times in its file; it is counted once. Delete the copies, or record what sets the cores apart.",
        passes={"same_row": 0},
    ),
    "core-in-two-registers": Case(
        breach={**_SOUTH, "same_core": 1, "depth_mm": 250.0},
        says='Also in register "north", row 1, with different values for: Depth; counted once, in this row. '
        "Find out which register is right, and keep the core in that one only.",
        passes=_SOUTH,
        missing={"core_id": None},
    ),
    "core-handed-over": Case(
        breach={**_SOUTH, "same_core": 1, "backfilled_on": "2026-09-10"},
        says='Continued from register "north", row 1, which has earlier dates; counted once, in this row. '
        "Close the core where it is still open, or leave out the earlier file.",
        passes={**_SOUTH, "same_core": 1},
        missing={"core_id": None},
    ),
    "id-in-two-registers": Case(
        breach={**_SOUTH, "core_id": "a-2"},
        says='Id "a-2" is also used in register "north", row 1, for a core 100 m away. '
        "Find out whether these are two cores, and give each an id that no other register uses.",
        passes=_SOUTH,
        missing={"core_id": None},
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


def test_an_id_used_in_two_registers_is_no_duplicated_id():
    assert _found("id-duplicated", SOUND, {**SOUND, **_SOUTH}) == []


def _messages(slug, *cores):
    """What a rule says of rows that are one core: by row."""
    return {row: sentence_of(slug, frame(*cores), row) for row in _found(slug, *cores)}


def test_both_rows_of_a_core_in_two_registers_name_each_other_and_the_one_that_is_counted():
    rows = {**SOUND, "same_core": 4, "register_row": 3}, {**SOUND, **_SOUTH, "same_core": 4, "is_copy": True}
    said = _messages("core-in-two-registers", *rows)
    assert said[1].startswith(
        'Also in register "south", row 7, with the same sizes and dates; counted once, in this row.'
    )
    assert said[2].startswith(
        'Also in register "north", row 3, with the same sizes and dates; counted once, in that row.'
    )
    assert _messages("core-handed-over", *rows) == {}


def test_what_both_registers_have_and_differs_is_listed():
    first = {**SOUND, "same_core": 4, "diameter_mm": None}
    second = {**SOUND, **_SOUTH, "same_core": 4, "is_copy": True, "depth_mm": 201.0, "opened_on": "2026-09-08"}
    said = _messages("core-in-two-registers", first, second)
    assert "with different values for: Depth" in said[1]
    assert "Opened; counted once" in said[1]
    assert "Diameter" not in said[1]


def test_a_core_reinstated_in_one_register_and_open_in_the_other_was_handed_over():
    left = {**SOUND, "same_core": 4, "is_copy": True}
    taken = {**SOUND, **REINSTATED, **_SOUTH, "same_core": 4}
    said = _messages("core-handed-over", left, taken)
    assert said[1].startswith(
        'Continued in register "south", row 7, where it is reinstated; counted once, in that row.'
    )
    assert said[2].startswith(
        'Continued from register "north", row 1, where it is still open; counted once, in this row.'
    )
    assert _found("core-in-two-registers", left, taken) == []


def test_a_core_handed_over_with_another_size_is_reported_for_both():
    left = {**SOUND, "same_core": 4, "is_copy": True, "depth_mm": 150.0}
    taken = {**SOUND, **REINSTATED, **_SOUTH, "same_core": 4}
    assert _found("core-handed-over", left, taken) == _found("core-in-two-registers", left, taken) == [1, 2]


def test_a_core_reinstated_in_both_registers_was_not_handed_over():
    one = {**SOUND, **REINSTATED, "same_core": 4}
    other = {**one, **_SOUTH, "reinstated_at": "2026-09-20", "is_copy": True}
    assert _found("core-handed-over", one, other) == []
    assert "different values for: Reinstated" in _messages("core-in-two-registers", one, other)[1]


def test_of_three_registers_each_row_names_the_one_that_is_counted():
    east = {
        **SOUND,
        "register": "east",
        "register_no": 2,
        "file_no": 2,
        "register_row": 9,
        "same_core": 4,
        "is_copy": True,
    }
    said = _messages(
        "core-in-two-registers", {**SOUND, "same_core": 4, "is_copy": True}, {**SOUND, **_SOUTH, "same_core": 4}, east
    )
    assert ['"south"' in said[1], '"north"' in said[2], '"south"' in said[3]] == [True] * 3


def test_rows_that_are_one_core_share_no_clashing_id():
    assert _found("id-in-two-registers", {**SOUND, "same_core": 4}, {**SOUND, **_SOUTH, "same_core": 4}) == []


def test_an_id_that_clashes_without_a_position_is_reported_without_a_distance():
    said = _messages("id-in-two-registers", SOUND, {**SOUND, **_SOUTH, "x_m": None, "y_m": None})
    assert "one of the two has no usable position" in said[1]
    assert "one of the two has no usable position" in said[2]


def test_a_later_sheet_of_the_same_register_may_carry_a_core_on():
    august = {"register_file": "08.csv", "file_no": 1, "register_row": 5, "same_core": 4}
    earlier = {**SOUND, "same_core": 4, "is_copy": True}
    assert _messages("core-handed-over", earlier, {**SOUND, **REINSTATED, **august}) == {}
    assert _messages("core-in-two-registers", earlier, {**SOUND, **august}) == {}
    said = _messages("core-in-two-registers", earlier, {**SOUND, **august, "depth_mm": 300.0})
    assert said[1].startswith('Also in file "08.csv", row 5, with ')
    assert said[2].startswith('Also in file "north.csv", row 1, with ')


def test_a_row_that_a_later_sheet_repeats_is_no_repeated_row_of_one_file():
    august = {"register_file": "08.csv", "file_no": 1, "register_row": 5, "is_copy": True}
    rows = {**SOUND, "same_row": 4}, {**SOUND, **august, "same_row": 4}
    assert _found("row-duplicated", *rows) == []
    assert _found("row-duplicated", *rows, rows[0]) == [1, 3]


def test_a_row_of_a_register_with_several_files_is_named_by_its_file_too():
    """South has two files, north has one."""
    second = {**_SOUTH, "register_file": "south-2.csv", "file_no": 2, "register_row": 8}
    clash = _messages("id-in-two-registers", SOUND, {**SOUND, **_SOUTH, "core_id": "B-1"}, {**SOUND, **second})
    assert 'in register "south", file "south-2.csv", row 8, for a core 0 m away' in clash[1]
    assert 'in register "north", row 1, for' in clash[3]
    one, other = {**SOUND, "same_core": 4}, {**SOUND, **second, "same_core": 4, "is_copy": True}
    said = _messages("core-in-two-registers", one, {**SOUND, **_SOUTH, "core_id": "B-1"}, other)
    assert said[1].startswith('Also in register "south", file "south-2.csv", row 8, with')
    assert said[3].startswith('Also in register "north", row 1, with')


def test_a_clashing_id_leads_to_the_row_that_is_counted():
    """South carries its core on in a second file, which is counted."""
    earlier = {**SOUND, **_SOUTH, "same_core": 4, "is_copy": True}
    later = {**SOUND, **_SOUTH, "register_file": "south-2.csv", "file_no": 2, "register_row": 8, "same_core": 4}
    assert 'file "south-2.csv", row 8, for' in _messages("id-in-two-registers", SOUND, earlier, later)[1]
