"""A column of the register is one entry: from it follows that it is mapped, read, handed over and described."""

import pandas as pd
import pytest

from pipeline.audit.disclosure import AS_WRITTEN, revealed_by
from pipeline.contracts import AUDIT_FRAME, INTAKE_COLUMNS, PUBLISHED, REGISTER_COLUMNS, STREET_RECORDED
from pipeline.intake.cells.measures import read_measures
from pipeline.programme.handed_columns import refuse_unknown_columns
from pipeline.programme.settings import Cores
from pipeline.publish.geopackage.columns import describe_columns
from pipeline.publish.handover.how_to_read import _described
from pipeline.publish.words import words_of

every_column = pytest.mark.parametrize("column", REGISTER_COLUMNS, ids=lambda column: column.name)


@every_column
def test_a_programme_file_maps_it_under_its_short_name(column):
    cores = Cores.model_validate({"path": "cores.csv", "columns": {column.short: "Their own name"}})
    assert cores.columns == {column.name: "Their own name"}


@every_column
def test_intake_hands_it_on_with_its_cells_where_they_had_to_be_read(column):
    names = {one.name for one in INTAKE_COLUMNS}
    assert column.name in names
    assert ({column.text_name, column.problem_name} <= names) == (column.kind != "text")


@every_column
def test_it_is_handed_over_when_a_programme_names_it(column):
    refuse_unknown_columns([column.published], [], "town.toml")


@every_column
def test_a_pack_describes_it_on_its_page_and_in_its_geopackage(column):
    described = describe_columns("cores", [column.published], is_pack=True)[column.published]
    on_page = _described(column.published, words_of("en"))
    assert on_page["label"] == described.title == PUBLISHED[column.published].title
    assert on_page["meaning"].casefold() == described.meaning.casefold()


@every_column
def test_it_reveals_itself_and_its_cells_may_reveal_anything(column):
    assert revealed_by(column.name) == {column.published}
    if column.text_name in AUDIT_FRAME:
        assert revealed_by(column.text_name) == {AS_WRITTEN}
        assert revealed_by(column.text_name, is_number=True) == {column.published}
        assert revealed_by(column.problem_name) == frozenset()


@pytest.mark.parametrize("column", [one for one in REGISTER_COLUMNS if one.unit], ids=lambda column: column.name)
def test_its_unit_is_one_that_measures_are_read_in(column):
    read = read_measures(pd.Series(["12"], dtype="str"), column.unit, column.unit, None)
    assert read.values.tolist() == [12.0]
    assert read.problem.isna().all()


def test_a_register_must_have_ids_and_sizes_and_nothing_else():
    assert [column.name for column in REGISTER_COLUMNS if column.required] == ["core_id", "diameter_mm", "depth_mm"]


def test_only_the_street_is_published_under_another_name():
    renamed = {column.name: column.published for column in REGISTER_COLUMNS if column.published != column.name}
    assert renamed == {"street": STREET_RECORDED}
