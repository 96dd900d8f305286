"""The starter programme."""

import re
import tomllib

import pytest

from pipeline.commands.start import start
from pipeline.errors import OutputError
from pipeline.programme.orders import Item, Ordering, Stock
from pipeline.programme.outputs import Publish
from pipeline.programme.plan import Budget, Costs, Crew, LatenessWeights, NoWork, Planning, StepMinutes, Weather
from pipeline.programme.resources import shipped
from pipeline.programme.returns import Returns
from pipeline.programme.settings import Handover, Matching
from pipeline.run import read_programme


@pytest.mark.parametrize(
    ("folder", "name"),
    [("my-programme", "my-programme"), ('Old "Town" 7', "Old Town 7"), ("a\x7fb", "ab"), ("y" * 201, "y" * 200)],
)
def test_a_starter_is_named_after_its_folder_and_can_be_read(tmp_path, folder, name):
    files = start(tmp_path / folder)
    assert tomllib.loads(files[0].read_text("utf-8"))["programme"]["name"] == name
    settings, _, _, inputs = read_programme(files[0])
    assert settings.programme.name == name
    assert len(inputs.cores) == 400


def test_nothing_is_overwritten(tmp_path):
    start(tmp_path)
    with pytest.raises(OutputError, match="exists already, and nothing is overwritten"):
        start(tmp_path)


@pytest.mark.parametrize(
    ("section", "kind"),
    [
        ("plan", Planning), ("plan.minutes", StepMinutes), ("plan.weights", LatenessWeights), ("plan.no_work", NoWork),
        ("crews", Crew), ("weather", Weather), ("returns", Returns), ("costs", Costs), ("budget", Budget),
        ("orders", Ordering), ("orders.stock", Stock), ('orders.items."grout dark"', Item),
        ("handover", Handover), ("matching", Matching), ("publish", Publish),
    ],
)  # fmt: skip
def test_every_key_of_a_section_is_explained_in_the_starter(section, kind):
    text = (shipped("sample_data") / "programme.toml").read_text("utf-8")
    # a section begins with its head, which may be switched off, and ends with the next
    parts = re.split(r"^(?:# )?\[+([^\]]+)\]+", text, flags=re.MULTILINE)
    heads, bodies = parts[1::2], parts[2::2]
    written = " ".join(body for head, body in zip(heads, bodies, strict=True) if head == section)
    keys = {field.alias or name for name, field in kind.model_fields.items()}
    sections = {head.removeprefix(f"{section}.").split(".")[0] for head in heads if head.startswith(f"{section}.")}
    assert {key for key in keys - sections if re.search(rf"\b{key}\b", written) is None} == set()
