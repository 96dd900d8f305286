"""The command start, as it is called."""

import tomllib
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from pipeline.cli.group import commands
from pipeline.errors import InputError, OutputError

_ROADS = Path(__file__).parents[2] / "sample_data" / "roads.gpkg"


def _call(*arguments, typed=None):
    return CliRunner().invoke(commands, [str(argument) for argument in arguments], input=typed)


@pytest.fixture
def register(tmp_path):
    """Ten cores in Harbour Road, with a gallon of an open kind and a clear diameter."""
    file = tmp_path / "cores.csv"
    rows = [f"A-{n},{-82.2029 + n * 1e-4:.4f},44.7977,450,200,1.{n},[b]x" for n in range(10)]
    file.write_text("id,lon,lat,hole dia (mm),depth (mm),water (gal),code\n" + "\n".join(rows) + "\n", "utf-8")
    return file


def test_start_names_every_file_and_the_next_command(tmp_path):
    result = _call("start", tmp_path / "mine")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    written = {line.removeprefix("Wrote ") for line in lines[:-1]}
    assert written == {str(file) for file in (tmp_path / "mine").iterdir()}
    assert lines[-1] == f"Next: kerfbook audit {tmp_path / 'mine' / 'programme.toml'}"


def test_start_from_files_prints_what_was_proposed_and_the_next_command(tmp_path, register):
    target = tmp_path / "mine" / "programme.toml"
    result = _call("start", tmp_path / "mine", "--from", register, "--roads", _ROADS)
    assert result.exit_code == 0
    # without a terminal nothing is asked
    assert "1 open question, marked QUESTION in the programme file:" in result.stdout
    assert 'Which unit is "water (gal)" in?' in result.stdout
    assert 'Columns not used, kept as written: "code"' in result.stdout
    assert result.stdout.splitlines()[-2:] == [f"Wrote {target}", f"Next: kerfbook check {target}"]
    assert tomllib.loads(target.read_text("utf-8"))["cores"][0]["path"] == "../cores.csv"


def test_an_answer_is_written_into_the_programme(tmp_path, register):
    result = _call("start", tmp_path / "mine", "--from", register, "--roads", _ROADS, "--ask", typed="2\n")
    assert result.exit_code == 0
    assert '2  "imp gal": ' in result.stdout
    assert "question left" not in result.stdout
    cores = tomllib.loads((tmp_path / "mine" / "programme.toml").read_text("utf-8"))["cores"][0]
    assert (cores["columns"]["water"], cores["units"]["water"]) == ("water (gal)", "imp gal")


def test_enter_leaves_a_question_open(tmp_path, register):
    result = _call("start", tmp_path / "mine", "--from", register, "--roads", _ROADS, "--ask", typed="\n")
    assert result.exit_code == 0
    cores = tomllib.loads((tmp_path / "mine" / "programme.toml").read_text("utf-8"))["cores"][0]
    assert "water" not in {**cores["columns"], **cores["units"]}


def test_at_the_end_of_input_the_rest_is_written_as_questions(tmp_path, register):
    result = _call("start", tmp_path / "mine", "--from", register, "--roads", _ROADS, "--ask", typed="")
    assert result.exit_code == 0
    assert "End of input: the rest is written into the programme as questions." in result.stdout
    assert "QUESTION 1: Which unit" in (tmp_path / "mine" / "programme.toml").read_text("utf-8")


def test_an_interrupted_question_writes_nothing(tmp_path, register, monkeypatch):
    def interrupt(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("click.termui.visible_prompt_func", interrupt)
    arguments = ["start", str(tmp_path / "mine"), "--from", str(register), "--roads", str(_ROADS), "--ask"]
    with pytest.raises(click.Abort):
        commands.main(arguments, standalone_mode=False)
    assert not (tmp_path / "mine").exists()


def test_a_layer_without_a_register_is_refused_with_two(tmp_path):
    result = _call("start", tmp_path / "mine", "--planned-works", _ROADS)
    assert result.exit_code == 2
    assert "--planned-works: found without --from" in result.stderr


def test_a_folder_with_a_programme_is_refused_before_anything_is_read(tmp_path, register):
    (tmp_path / "programme.toml").write_text("", "utf-8")
    result = _call("start", tmp_path, "--from", register)
    assert isinstance(result.exception, OutputError)


@pytest.mark.parametrize("option", ["--from", "--roads"])
def test_a_database_is_no_file_to_look_into_and_its_password_is_not_printed(tmp_path, option):
    words = [option, "postgresql://reader:geheim@db/gis"]
    words += ["--from", "cores.csv"] if option == "--roads" else []
    done = _call("start", tmp_path / "mine", *words)
    assert isinstance(done.exception, InputError)
    assert str(done.exception) == (
        f"{option} postgresql://...: a database, expected a file, as start does not look into databases. Export the "
        f"table to a file and give that with {option}, or write path and table into the programme by hand (README, "
        '"Databases").'
    )
    assert not (tmp_path / "mine").exists()


@pytest.mark.parametrize("option", ["--roads", "--districts", "--planned-works", "--stock"])
@pytest.mark.parametrize("value", ["", "."])
def test_a_layer_without_the_name_of_a_file_is_refused(tmp_path, register, option, value):
    done = _call("start", tmp_path / "mine", "--from", register, option, value)
    assert done.exit_code == 2
    assert f"'{option}': found '{value}', expected the path of a file." in done.stderr


def test_a_layer_whose_name_is_not_text_is_refused(tmp_path, register):
    done = _call("start", tmp_path / "mine", "--from", register, "--roads", "caf\udce9.gpkg")
    assert isinstance(done.exception, InputError)
    assert "not UTF-8 text" in str(done.exception)


@pytest.mark.parametrize("is_starter", [True, False])
def test_a_folder_with_a_name_longer_than_any_can_be_is_refused(tmp_path, register, is_starter):
    done = _call("start", tmp_path / ("a" * 300), *([] if is_starter else ["--from", register]))
    assert isinstance(done.exception, OutputError)
    assert str(done.exception).endswith("cannot be written (File name too long). Choose another folder.")
