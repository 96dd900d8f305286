"""One cause in several files is one sentence with the files in a list."""

from pipeline.commands.alike import alike_errors, alike_sentences
from pipeline.errors import InputError, SettingsError


def _texts(*errors):
    return [str(error) for error in alike_errors(errors)]


def test_errors_that_differ_in_their_file_alone_are_one():
    found = _texts(
        InputError("jan.csv: no column for `core_id`. Set it."),
        InputError("roads.gpkg: no such file."),
        InputError("feb.csv: no column for `core_id`. Set it."),
    )
    assert found == ["jan.csv, feb.csv: no column for `core_id`. Set it.", "roads.gpkg: no such file."]


def test_an_error_that_is_met_twice_is_shown_once():
    assert _texts(InputError("jan.csv: no rows."), InputError("jan.csv: no rows.")) == ["jan.csv: no rows."]


def test_errors_of_several_lines_are_one_where_every_line_is_alike():
    found = _texts(
        InputError("jan.csv: no ids.\njan.csv: no sizes."), InputError("feb.csv: no ids.\nfeb.csv: no sizes.")
    )
    assert found == ["jan.csv, feb.csv: no ids.\njan.csv, feb.csv: no sizes."]
    assert len(_texts(InputError("jan.csv: no ids.\njan.csv: no sizes."), InputError("feb.csv: no ids."))) == 2


def test_errors_of_another_kind_stay_apart_and_keep_theirs():
    errors = alike_errors([InputError("jan.csv: no ids."), SettingsError("p.toml: no ids.")])
    assert [type(error) for error in errors] == [InputError, SettingsError]


def test_sentences_are_put_together_in_the_order_of_the_first_of_them():
    assert alike_sentences(["jan.csv: column 12 has no name.", "no colon", "feb.csv: column 12 has no name."]) == [
        "jan.csv, feb.csv: column 12 has no name.",
        "no colon",
    ]
