"""The rule book of a pack: what each rule checks, against which limits, and who set them."""

from collections.abc import Hashable
from typing import Any, Final

import pandas as pd

from pipeline.contracts import HANDED_RULE_TABLE, names_of
from pipeline.programme.sources import outside_source

__all__ = ["handed_rules"]

_EVERYWHERE: Final = "everywhere"
_SET_BY: Final = "set by "


def handed_rules(rules: pd.DataFrame, thresholds: pd.DataFrame, programme: str) -> pd.DataFrame:
    """Return the rule book with ``set_by``, one row per rule.

    Parameters
    ----------
    rules, thresholds
        As the audit gives them.
    programme
        Name of the programme, in whose name the utility sets limits.
    """
    lines = [(one["rule"], _line(one, programme)) for one in thresholds.to_dict("records")]
    set_by = (
        pd.DataFrame(lines, columns=["rule", "line"], dtype="str").groupby("rule", sort=False)["line"].agg("; ".join)
    )
    handed = rules.assign(source=rules["source"].map(outside_source), set_by=rules["rule"].map(set_by))
    return handed[[*names_of(HANDED_RULE_TABLE)]]


def _line(threshold: dict[Hashable, Any], programme: str) -> str:
    where = "" if threshold["where"] == _EVERYWHERE else f" where {threshold['where']}"
    name = str(threshold["threshold"]).replace("_", " ")
    return f"{name} {threshold['value']}{where}: {_who(threshold, programme)}"


def _who(threshold: dict[Hashable, Any], programme: str) -> str:
    source = str(threshold["source"])
    if threshold["kind"] == "code":
        return f"law or code of practice, {source}"
    if threshold["kind"] != "programme":
        return outside_source(source)
    of_its_own = source.removeprefix(f"{_SET_BY}{programme}").removeprefix(": ")
    return f"the utility, after {of_its_own}" if of_its_own else "the utility"
