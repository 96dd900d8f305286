"""Changed inputs, read and audited whole: an answer that adds up or one error in words, and nothing else."""

import pytest

from tests.fuzz.fuzzed_town import Fuzzed, write_town
from tests.fuzz.whole_runs import run_command, try_case, try_intake, wrong_with, wrong_with_account
from tests.fuzz.wider_town import try_wide


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    return write_town(tmp_path_factory.mktemp("town"))


def test_the_sound_town_is_audited_and_adds_up(sound, tmp_path):
    outcome = run_command("audit", sound / "programme.toml", "--out", tmp_path, "--quiet")
    assert (outcome.code, wrong_with(outcome)) == (0, "")
    (record,) = tmp_path.glob("*/*/run.json")
    assert wrong_with_account(record.parent, 14) == ""


def test_a_run_that_lost_a_row_or_a_count_is_seen(sound, tmp_path):
    run_command("audit", sound / "programme.toml", "--out", tmp_path, "--quiet")
    (record,) = tmp_path.glob("*/*/run.json")
    assert wrong_with_account(record.parent, 15) == "15 rows in, 14 counted"
    record.write_text(record.read_text().replace('"pending": ', '"pending": 1'))
    assert wrong_with_account(record.parent, 14).startswith("the statuses do not add up")


def test_a_seed_makes_the_same_town_again(sound, tmp_path):
    done = [Fuzzed(sound, tmp_path / name, 5) for name in ("a", "b")]
    assert done[0].done == done[1].done
    assert len({(one.folder / "cores.csv").read_bytes() for one in done}) == 1


@pytest.mark.parametrize("seed", range(0, 16, 2))
def test_inputs_changed_at_random_are_read_or_refused_in_words(sound, tmp_path, seed):
    wrong, done = try_intake(sound, tmp_path / "case", seed)
    assert not wrong, done


@pytest.mark.parametrize("seed", [2, 5])
def test_audits_of_inputs_changed_at_random_add_up_or_end_in_words(sound, tmp_path, seed):
    _, wrong, done = try_case(sound, tmp_path / "case", seed)
    assert not wrong, done


@pytest.mark.parametrize("seed", range(4))
def test_settings_and_tables_that_few_have_together_are_audited_and_every_command_takes_the_run(sound, tmp_path, seed):
    wrong, done, _ = try_wide(sound, tmp_path / "case", seed)
    assert not wrong, done
