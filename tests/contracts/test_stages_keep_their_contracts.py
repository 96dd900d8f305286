"""Each of the nine stages is held to its contract: a stage that hands on anything else ends the run by name.

The stages run once; then each returns again what it returned, but for one that is spoiled.
"""

import dataclasses

import pandas as pd
import pytest

from pipeline import planned, run
from pipeline.contracts import AUDIT_TABLES, ORDER_TABLES, PLAN_TABLES
from pipeline.errors import ContractError
from tests.small_town import write_town

# per stage: the function of run.py that hands on its frame, and a column of that frame
FRAMES = {
    "intake": ("read_programme", "flush_mm"),
    "locate": ("locate", "offset_m"),
    "specify": ("specify", "shade"),
    "calibrate": ("judged_grout", "is_thin"),
    "quantify": ("quantify", "grout_kg"),
    "audit": ("with_figures", "water_ratio"),
    "publish": ("core_table", "chainage_m"),
}
OTHERS = ("audit", "plan", "order", "believable_sizes", "grout_used_l", "records_of_use", "calibrate")


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    """What each stage returned, by the name of its function, and the programme file."""
    path = write_town(tmp_path_factory.mktemp("town"))
    found = {}
    with pytest.MonkeyPatch.context() as patch:
        for name in {*OTHERS, *(function for function, _ in FRAMES.values())}:
            module = _module_of(name)
            patch.setattr(module, name, _remembered(name, getattr(module, name), found))
        run.run_programme(path, out=None)
    return path, found


def _module_of(function):
    """The module that calls a stage's function: that of the run, or the one between it and plan and order."""
    return planned if function in {"plan", "order"} else run


def _remembered(name, stage, found):
    def call(*args, **kwargs):
        found[name] = stage(*args, **kwargs)
        return found[name]

    return call


@pytest.fixture
def run_again(answers, monkeypatch):
    """Run once more with every stage's answer as it was, but for those given."""
    path, found = answers

    def call(**spoiled):
        for name, answer in {**found, **spoiled}.items():
            monkeypatch.setattr(_module_of(name), name, lambda *_, answer=answer, **__: answer)
        return run.run_programme(path, out=None)

    return call, found


def _with_frame(stage, answer, spoil):
    if stage == "locate":
        return answer._replace(frame=spoil(answer.frame))
    if stage != "intake":
        return spoil(answer)
    *others, inputs = answer
    return (*others, dataclasses.replace(inputs, cores=spoil(inputs.cores)))


def test_stages_that_keep_their_contracts_pass(run_again):
    call, _ = run_again
    assert len(call().cores) == 7


@pytest.mark.parametrize("stage", FRAMES)
@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda frame, _: frame.iloc[1:], "6 rows, expected the 7 it was given"),
        (lambda frame, _: frame.iloc[::-1], "in order"),
        (lambda frame, name: frame.drop(columns=name), "no column {name}"),
        (lambda frame, name: frame.rename(columns={name: "wage"}), "no column {name}"),
        (lambda frame, _: frame.assign(wage=1.0), "column wage is not in its contract"),
        (lambda frame, name: frame.assign(**{name: pd.Timestamp("2026-09-30")}), "column {name} is datetime64"),
    ],
    ids=["loses a row", "moves rows", "drops a column", "renames a column", "adds a column", "retypes a column"],
)
def test_a_stage_that_breaks_its_contract_is_refused_by_name(run_again, stage, spoil, said):
    call, found = run_again
    function, name = FRAMES[stage]
    spoiled = _with_frame(stage, found[function], lambda frame: spoil(frame, name))
    with pytest.raises(ContractError) as error:
        call(**{function: spoiled})
    assert str(error.value).startswith(f"{stage}: ")
    assert said.format(name=name) in str(error.value)


def _of(stage, found):
    """The tables that a stage hands on beside the frame of cores, and how to replace one."""
    if stage == "intake":
        *others, inputs = found["read_programme"]
        return inputs, "read_programme", lambda changes: (*others, dataclasses.replace(inputs, **changes))
    if stage == "audit":
        return found["audit"], "audit", lambda changes: dataclasses.replace(found["audit"], **changes)
    return found[stage], stage, lambda changes: found[stage]._replace(**changes)


@pytest.mark.parametrize(
    ("stage", "table"),
    [
        # the layers that this town has
        ("intake", "segments"),
        ("intake", "districts"),
        *(("audit", name) for name in AUDIT_TABLES),
        *(("plan", name) for name in PLAN_TABLES),
        *(("order", name) for name in ORDER_TABLES),
    ],
)
def test_a_table_with_a_column_more_or_less_is_refused_by_name(run_again, stage, table):
    call, found = run_again
    tables, function, replaced = _of(stage, found)
    frame = getattr(tables, table)
    with pytest.raises(ContractError, match=f"{stage}: {table}: column wage is not in its contract"):
        call(**{function: replaced({table: frame.assign(wage=1.0)})})
    lost = frame.columns[0]
    with pytest.raises(ContractError, match=f"{stage}: {table}: no column {lost}"):
        call(**{function: replaced({table: pd.DataFrame(frame).drop(columns=lost)})})
