"""What the report says of learnt errors: which cores rest on them, what they changed, and how reliable they are."""

import dataclasses

import pytest

from pipeline.locate.learning.fit import START
from pipeline.publish.learnt_errors import position_counts
from pipeline.publish.report.learnt import learnt_errors, positions_line
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import words_of
from tests.browser.town import HOSTILE
from tests.publish.report.outcomes import outcome, reading, reliability, with_learnt
from tests.publish.report.pages import first_page_of, table_of, text_of

_WORDS = words_of("en")
_TABLE = reliability(
    ("", "before", 8, 40, 0.85, 0.8), ("", "after", 9, 40, 0.95, 0.9), ("Quay", "before", 7, 30, 0.75, 0.95),
    ("Quay", "after", 9, 30, 0.93, 0.95), ("Quay", "after", 3, 9, 0.33, 0.0),
)  # fmt: skip
_BY_CREW = outcome(
    key="crew",
    batches={"Quay": START._replace(name_right=0.96)},
    mixture=START._replace(name_right=0.83),
    reliability=_TABLE,
)


def _changed(result, **columns):
    return dataclasses.replace(result, cores=result.cores.assign(**columns))


@pytest.fixture(scope="module")
def learnt(demo):
    """Every core has a learnt error; the crews take turns, so that the first core is Quay's."""
    return _changed(with_learnt(demo, [_BY_CREW]), segment_confidence=0.9, surface_confidence=0.8)


@pytest.fixture(scope="module")
def page(learnt):
    return draw_report(learnt)


def test_the_first_page_says_what_the_positions_rest_on(demo, page):
    n = demo.account["placed"]
    assert f"Position errors: learnt from the register for {n} cores." in text_of(first_page_of(page))
    assert "shifted" not in first_page_of(page)


def test_kinds_of_accuracy_are_listed_in_order(demo):
    counts = position_counts(demo)
    assert [text_of(said) for said in positions_line(demo, _WORDS)["positions"]] == [
        f"stated for {counts['stated']} cores", f"default of 5 m for {counts['default']} cores",
    ]  # fmt: skip


def test_the_first_page_points_to_a_shift_and_the_method_says_it(learnt):
    shifted = learnt.reasons._replace(learning=[outcome(reading=reading("shift"))])
    page = draw_report(dataclasses.replace(learnt, reasons=shifted))
    assert "One register may be shifted; see Method ." in text_of(first_page_of(page))
    method = page.split('id="learnt-errors"')[1]
    assert "The register lies 2.4 m (1.9 to 2.9) east of the streets" in method


def test_each_batch_has_what_learning_changed(learnt):
    """Half the cores are Quay's. The fifth on the map changed street, surface and shade: it has to be Quay's or not."""
    rows = {text_of(row["name"]): row for row in learnt_errors(learnt, _WORDS)["learnt_rows"]}
    assert sorted(rows) == ["Quay", "all others without a stated accuracy"]
    counted = learnt.counted_cores
    assert {name: row["cores"] for name, row in rows.items()} == {
        "Quay": str(counted["crew"].eq("Quay").sum()),
        "all others without a stated accuracy": str(counted["crew"].eq("Mast").sum()),
    }
    fifth = learnt.cores.loc[learnt.reasons.changed.index[4], "crew"]
    changed = {name: [row[what] for what in ("street", "surface", "shade")] for name, row in rows.items()}
    other = "all others without a stated accuracy" if fifth == "Quay" else "Quay"
    assert changed.pop(other) == ["0", "0", "0"]
    assert [*changed.values()] == [["1", "1", "1"]]
    assert [rows[name]["right"] for name in sorted(rows)] == ["96%", "83%"]
    for row in rows.values():
        assert row["segment_confidence"] == "50.0% → 90.0%"
        assert row["surface_confidence"] == "75.0% → 80.0%"


@pytest.mark.parametrize("name", ["Crew South", "South", "42", "Team 3"])
@pytest.mark.parametrize(
    ("key", "kind"), [("crew", "crew"), ("contractor", "contractor"), ("position_method", "position method")]
)
def test_a_batch_has_its_own_name_and_beside_it_what_it_is(demo, name, key, kind):
    """Never "crew Crew South": the kind is a line of its own below the name."""
    one = _BY_CREW._replace(key=key, batches={name: START}, reliability=_TABLE.assign(batch=name))
    shown = learnt_errors(_changed(with_learnt(demo, [one]), **{key: name}), _WORDS)
    named = [(text_of(row["name"]), row["kind"]) for row in (*shown["learnt_rows"], *shown["reliability"])]
    assert named == [(name, kind)] * 2


def test_the_kind_of_a_batch_is_a_line_below_its_name(page):
    assert "Quay crew" in text_of(table_of(page, "learnt-errors-table"))
    assert 'Quay</bdi><span class="small">crew, ' in page.split("<figure>")[1] + page.split("<figure>")[2]


def test_without_a_recorded_name_no_share_of_right_names_is_given(learnt):
    nameless = _changed(learnt, street=learnt.cores["street"].where(learnt.cores["street"].isna()))
    assert {row["right"] for row in learnt_errors(nameless, _WORDS)["learnt_rows"]} == {"none recorded"}


def test_changes_counted_on_some_of_the_cores_are_said_to_be(learnt):
    some = learnt.reasons._replace(changed=learnt.reasons.changed.iloc[:40])
    rows = learnt_errors(dataclasses.replace(learnt, reasons=some), _WORDS)["learnt_rows"]
    assert sum(row["looked_at"] for row in rows) == len(
        learnt.counted_cores.index.intersection(learnt.reasons.changed.index[:40])
    )


def test_the_figure_has_a_chart_per_batch_and_its_numbers_as_a_table(page):
    assert page.count("<figure><figcaption>") == 2
    table = text_of(table_of(page, "reliability-table"))
    assert "Quay Before 75.0% 95.0% 30" in table
    assert "Quay After 93.0% 95.0% 30" in table
    # nine cores are too few for a share
    assert "33.0%" not in page.split('id="learnt-errors"')[1].split('id="thresholds"')[0]


def test_a_declined_error_is_said_with_the_reason_and_what_to_do(demo):
    one = outcome(cores=1, is_accepted=False, reason="few")
    declined = demo.reasons._replace(learning=[one, outcome("North", is_accepted=False, reason="snapped", share=0.98)])
    result = dataclasses.replace(demo, reasons=declined)
    shown = learnt_errors(result, _WORDS)
    few, snapped = (text_of(sentence) for sentence in shown["learnt_declined"])
    assert few == (
        "cores : the default accuracy of 5 m is used for 1 core without a stated accuracy. To learn an error, 80 are needed."
    )
    assert "98% of the positions lie exactly on a centreline" in snapped
    assert shown["learnt_rows"] == []
    assert shown["reliability"] == []
    page = draw_report(result)
    assert "If the accuracy of these positions is known, state it: by core" in page
    assert "Positions of one register seem not to be measured; see Method ." in text_of(first_page_of(page))
    assert "state it: by core" not in draw_report(dataclasses.replace(demo, reasons=declined._replace(learning=[])))


def test_where_nothing_is_learnt_the_report_says_why(demo):
    nothing = dataclasses.replace(demo, reasons=demo.reasons._replace(learning=[]))
    assert "No error was learnt: every position has a stated accuracy." in draw_report(nothing)
    matching = demo.settings.matching.model_copy(update={"learn": False})
    off = dataclasses.replace(nothing, settings=demo.settings.model_copy(update={"matching": matching}))
    assert "No error was learnt: the programme switches that off (matching.learn)." in draw_report(off)


def test_a_hostile_name_of_a_register_or_crew_stays_text(demo):
    hostile = with_learnt(demo, [_BY_CREW._replace(
        register=HOSTILE, batches={HOSTILE: START}, reliability=_TABLE.assign(batch=HOSTILE), reading=reading("either"),
    )], names=(HOSTILE, "Mast"))  # fmt: skip
    page = draw_report(_changed(hostile, register=HOSTILE))
    method = page.split('id="learnt-errors"')[1].split('id="thresholds"')[0]
    assert "<img" not in method
    assert "<script" not in method
    assert "&lt;" in method


def test_no_radius_and_no_standard_deviation_of_a_learnt_error_is_shown(learnt):
    odd = learnt.reasons._replace(errors=learnt.reasons.errors.assign(sigma_m=7654.321, accuracy_used_m=float("nan")))
    page = draw_report(dataclasses.replace(learnt, reasons=odd))
    assert "7,654" not in page
    method = page.split('id="learnt-errors"')[1].split('id="thresholds"')[0]
    assert "95%" not in method.replace("95.0%", "")
