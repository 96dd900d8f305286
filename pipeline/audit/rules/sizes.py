"""Rules on sizes: missing, unreadable, not to be believed; and numbers that could not be read."""

from collections.abc import Callable
from typing import Final

import numpy as np
import pandas as pd

from pipeline.audit.findings import find
from pipeline.audit.registry import Limits, rule
from pipeline.contracts import REGISTER_COLUMNS, is_missing

_OTHER_NUMBERS: Final = tuple(
    column.name for column in REGISTER_COLUMNS if column.kind == "number" and not column.required
)
_WHY: Final = {
    "unreadable": "is no size",
    "no unit": "has no unit",
    "thousands or decimals": "has a comma that may mean thousands or decimals",
}


def _missing(name: str, word: str) -> Callable[[pd.DataFrame, Limits], pd.DataFrame]:
    def check(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
        absent = cores[name].isna() & cores[f"{name}_problem"].isna()
        return find(cores[absent], f"No {word} recorded: no need can be worked out. Measure the core.")

    check.__doc__ = f"The {word} is not recorded."
    return check


def _unreadable(name: str, word: str) -> Callable[[pd.DataFrame, Limits], pd.DataFrame]:
    def check(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
        unread = cores[cores[f"{name}_problem"].notna()]
        why = unread[f"{name}_problem"].map(_WHY)
        return find(
            unread.assign(why=why),
            f"The {word} reads {{{name}_text}}, which {{why}}: no need can be worked out. Correct it.",
        )

    check.__doc__ = f"The {word} cannot be read."
    return check


def _implausible(name: str, word: str) -> Callable[[pd.DataFrame, Limits], pd.DataFrame]:
    def check(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
        beyond = cores[~cores[name].between(limits.least, limits.most)]
        return find(
            beyond,
            f"The {word} of {{{name}:.0f}} mm (written {{{name}_text}}) lies outside {{least:.0f}} to {{most:.0f}} mm: "
            "check figure and unit. It is not used.",
            least=limits.least,
            most=limits.most,
        )

    check.__doc__ = f"The {word} is not to be believed."
    return check


for _name, _word in (("diameter_mm", "diameter"), ("depth_mm", "depth")):
    rule(f"{_word}-missing", family="sizes", shows=[_name, f"{_name}_problem"])(_missing(_name, _word))
    rule(f"{_word}-unreadable", family="sizes", needs=[f"{_name}_text"], shows=[f"{_name}_problem"])(
        _unreadable(_name, _word)
    )
    rule(
        f"{_word}-implausible",
        family="sizes",
        needs=[_name],
        limits={"least": "mm", "most": "mm"},
        shows=[f"{_name}_text"],
        quotes_numbers=True,
    )(_implausible(_name, _word))


@rule("pavement-thin", family="sizes", needs=["depth_believed_mm"], limits={"limit": "mm"}, shows=["depth_mm"])
def pavement_thin(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The bound pavement is too thin for its core to be used again."""
    thin = cores[cores["depth_believed_mm"].lt(limits.limit)]
    return find(
        thin,
        "The bound pavement is {depth_mm:.0f} mm thick, {limit:.0f} mm is the least for a core to go back: "
        "reinstate another way.",
        limit=limits.limit,
    )


@rule(
    "value-unreadable",
    family="sizes",
    needs_any=[*(f"{name}_text" for name in _OTHER_NUMBERS), "surface_recorded"],
    shows=["surface_recorded_name", "surface_says_nothing", *(f"{name}_problem" for name in _OTHER_NUMBERS)],
)
def value_unreadable(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """A number or a surface that the register writes cannot be read."""
    unread = pd.DataFrame(
        {name: cores[f"{name}_text"].where(cores[f"{name}_problem"].notna()) for name in _OTHER_NUMBERS}
    )
    strange = cores["surface_recorded_name"].isna() & ~is_missing(cores["surface_recorded"])
    unread["surface_recorded"] = cores["surface_recorded"].where(strange & ~cores["surface_says_nothing"])
    said = pd.Series("", cores.index, dtype="str")
    for name in unread:
        cell = (f"{name} " + unread[name]).fillna("")
        said = said + np.where((said != "") & (cell != ""), ", ", "") + cell
    return find(cores.assign(said=said)[said.ne("")], "Not understood and left out: {said}. Correct the register.")
