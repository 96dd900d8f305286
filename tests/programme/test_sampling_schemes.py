"""Sampling schemes: the tables of the standard, and the options of the command line."""

import pytest
from pydantic import TypeAdapter, ValidationError

from pipeline.errors import SettingsError
from pipeline.programme.sampling_schemes import Isolated, Of, Series, load_sampling, scheme_of

_TABLES = load_sampling()


def test_the_options_of_the_command_line_become_a_scheme():
    assert scheme_of() == Series(level="II", aql="2.5")
    assert scheme_of("series", level="III", aql="4.0") == Series(level="III", aql="4.0")
    assert scheme_of("isolated") == Isolated(limit=0.05, risk=0.05, accept=0)
    assert scheme_of("isolated", limit="2 %", risk="10%", accept=1) == Isolated(limit=0.02, risk=0.1, accept=1)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: scheme_of("isolated", level="II"), ["--level", "--plan series"]),
        (lambda: scheme_of("series", limit="5 %"), ["--limit", "--plan isolated"]),
        (lambda: scheme_of(accept=0), ["--accept", "--plan isolated"]),
        (lambda: scheme_of("isolated", limit="five"), ["--limit", "'five'"]),
        (lambda: scheme_of("isolated", limit="100 %"), ["--limit", "below 100 %"]),
        (lambda: scheme_of("isolated", risk="0 %"), ["--risk", "greater than 0"]),
        (lambda: scheme_of("isolated", risk="5 kg"), ["--risk", "'5 kg'"]),
    ],
)
def test_an_option_that_does_not_fit_is_refused_in_words(call, words):
    with pytest.raises(SettingsError) as error:
        call()
    for word in words:
        assert word in str(error.value)


def test_every_level_has_a_letter_for_each_band_and_one_beyond():
    plans = _TABLES.plans
    assert plans.bands == sorted(plans.bands)
    for level, letters in plans.letters.items():
        assert len(letters) == len(plans.bands) + 1, level
        assert letters == sorted(letters), level
        assert set(letters) <= set(plans.sizes), level


def test_larger_letters_inspect_more_cores():
    sizes = list(_TABLES.plans.sizes.values())
    assert sizes == sorted(set(sizes))


def test_every_letter_has_a_number_or_another_letter_for_every_aql():
    plans = _TABLES.plans
    assert list(plans.accept) == ["1.0", "2.5", "4.0"]
    for column in plans.accept.values():
        assert set(column) == set(plans.sizes)
        assert all(isinstance(entry, int) or entry in plans.sizes for entry in column.values())


def test_a_laxer_limit_accepts_no_fewer_failures_at_the_same_size():
    accept = _TABLES.plans.accept
    for letter in _TABLES.plans.sizes:
        numbers = [accept[aql][letter] for aql in accept if isinstance(accept[aql][letter], int)]
        assert numbers == sorted(numbers), letter


def test_no_entry_means_both_pass_and_fail():
    words = _TABLES.inspection
    kinds = [set(words.passed), set(words.failed), set(words.not_inspected)]
    assert sum(len(kind) for kind in kinds) == len(set.union(*kinds))
    assert all(entry == entry.casefold() for kind in kinds for entry in kind)


def test_every_caution_is_a_sentence():
    words = _TABLES.inspection
    for caution in [*words.cautions, words.series_caution, words.results_caution]:
        assert caution[0].isupper()
        assert caution.endswith(".")


@pytest.mark.parametrize(
    ("written", "of"), [("reinstated", "reinstated"), ("back", "reinstated"), ("open", "open"), ("all", "all")]
)
def test_records_of_an_earlier_version_are_understood(written, of):
    assert TypeAdapter(Of).validate_python(written) == of


def test_any_other_choice_of_cores_is_refused():
    with pytest.raises(ValidationError):
        TypeAdapter(Of).validate_python("lost")


@pytest.mark.parametrize("accept", [0, 1, 12])
def test_an_isolated_plan_keeps_the_failures_accepted(accept):
    assert scheme_of("isolated", accept=accept) == Isolated(limit=0.05, risk=0.05, accept=accept)
