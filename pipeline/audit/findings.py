"""Findings: which cores a rule found, with the template of each sentence and the values that fill it.

A rule gives templates and typed values; ``publish`` makes the sentences, in any language. A template is plain English
with fields in braces, ``{column}`` or ``{column:format}``, for whole columns of values:

=================  =============================================  ==========================
format             for                                            shown as
=================  =============================================  ==========================
none               a text, a whole number or a date               as it is
``.1f``, ``.0%``   a number, a share of one                       "12.3", "80%"
``g``              a setting's number, with the digits it has     "5.5", "300"
``.0f vs limit``   as ``.0f``, with more digits where it would    "5.04" against a limit of 5
                   otherwise look the same as value ``limit``
``day``            a number of days; also ``month``, ``minute``   "1 day", "45 days"
``term``           one of our own words, such as a surface        in the reader's language
=================  =============================================  ==========================
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from string import Formatter
from typing import Final, NamedTuple

import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import compute as pc

from pipeline.audit.for_authority import authority_text, check_remedy, listed_for_authority
from pipeline.contracts import REGISTER_COLUMNS
from pipeline.contracts.arrow_texts import as_column, joined, taken, texts_of
from pipeline.errors import ContractError

__all__ = [
    "LABELS",
    "STATES",
    "Findings",
    "Item",
    "ItemKind",
    "Remedies",
    "Template",
    "Wording",
    "choose",
    "choose_by",
    "fields_of",
    "find",
    "found_items",
    "nothing_found",
    "state_of",
    "values_in",
]

# what people call the columns of a register
LABELS: Final = {column.name: column.label for column in REGISTER_COLUMNS}
# of a core, for the remedy: unknown where its reinstatement date cannot be read
STATES: Final = ("open", "reinstated", "unknown")
# one template for all cores found, or a column of them
Template = str | pd.Series


@dataclass(frozen=True)
class Remedies:
    """What to do, by the state of the core; each a template."""

    if_open: Template
    if_reinstated: Template
    if_unknown: Template


@dataclass(frozen=True)
class Item:
    """One kind of thing that a finding may list: its template, and the values for the cores that list it.

    ``columns``: by name of a value, the column of the register that it comes from.
    """

    template: str
    values: pd.DataFrame
    columns: Mapping[str, str]


class ItemKind(NamedTuple):
    """One kind of thing that N cores may list: which of them do, its template, its values, and their columns."""

    has: pd.Series
    template: str
    values: Mapping[str, object]
    columns: Mapping[str, str]


@dataclass(frozen=True)
class Findings:
    """What a rule found about N cores.

    ``templates``: on the cores' index, ``fault`` and a remedy for each of ``STATES``. ``values``: on the same index,
    the typed values that any of them names. ``lists``: by name in a template, the things that are listed there.
    ``at_limit``: further cores, for which the rule cannot tell: of the values that would have been written as the
    core's is, some breach the limit and some do not.
    ``kept``: names of the values that belong to the evidence whether or not a template names them.
    """

    templates: pd.DataFrame
    values: pd.DataFrame
    lists: Mapping[str, tuple[Item, ...]] = field(default_factory=dict)
    at_limit: pd.Index = field(default_factory=lambda: pd.Index([]))
    kept: tuple[str, ...] = ()

    def with_at_limit(self, at_limit: pd.Series) -> "Findings":
        """Return the findings with the cores for which the rule cannot tell, those of N for which it is true."""
        return replace(self, at_limit=at_limit.index[at_limit])

    def worded(self, states: pd.Series, rows: pd.Series) -> "Wording":
        """Return the findings by row number, each with the remedy for the state of its core."""
        remedies = [self.templates[state] for state in STATES]
        remedy = remedies[0]
        if any(not one.equals(remedy) for one in remedies[1:]):
            which = pd.Index(STATES).get_indexer(pd.Index(states.loc[self.templates.index]))
            chosen = pc.choose(pa.array(which, pa.int64()), *map(texts_of, remedies))
            remedy = _each_once(as_column(chosen, remedy.index))
        by_row = pd.Index(rows.loc[self.templates.index], name="row")
        return Wording(
            pd.DataFrame(
                {"fault": self.templates["fault"].set_axis(by_row), "remedy": remedy.set_axis(by_row)}, index=by_row
            ),
            self.values.set_axis(by_row, axis="index"),
            {
                name: tuple(
                    replace(item, values=item.values.set_axis(pd.Index(rows.loc[item.values.index]), axis="index"))
                    for item in items
                )
                for name, items in self.lists.items()
            },
            self.kept,
        )


@dataclass(frozen=True)
class Wording:
    """The findings of one rule, ready to be put into words; all frames are by the row of the core.

    ``templates``: ``fault`` and ``remedy``. ``values``, ``lists`` and ``kept``: as for ``Findings``.
    """

    templates: pd.DataFrame
    values: pd.DataFrame
    lists: Mapping[str, tuple[Item, ...]]
    kept: tuple[str, ...] = ()

    def for_authority(self) -> "Wording":
        """Return the same findings as the road authority reads them: remedies are the utility's task, not its own."""
        remedy = self.templates["remedy"]
        turned = _each_once(remedy.map({one: authority_text(one) for one in remedy.unique()}))
        lists = {
            name: tuple(replace(item, template=listed_for_authority(item.template)) for item in items)
            for name, items in self.lists.items()
        }
        return replace(self, templates=self.templates.assign(remedy=turned), lists=lists)


def find(
    cores: pd.DataFrame,
    fault: Template,
    remedy: Template | Remedies,
    lists: Mapping[str, Iterable[Item]] | None = None,
    keeps: Iterable[str] = (),
    **values: object,
) -> Findings:
    """Return one finding for each of N cores.

    Parameters
    ----------
    cores
        The cores found.
    fault
        What is wrong, by how much and against which limit.
    remedy
        What to do: one for every core, or by the core's state.
    lists
        By name in a template: things listed there, such as every date that cannot be read.
    keeps
        Values that belong to the evidence of every finding, although not every sentence names them.
    values
        Further values for the templates, such as a limit: one for all cores, or a column that has theirs.

    Raises
    ------
    ContractError
        A template names a value that neither ``cores`` nor ``values`` nor ``lists`` has, or a remedy does not read
        well for the road authority.
    """
    by_state = remedy if isinstance(remedy, Remedies) else Remedies(remedy, remedy, remedy)
    columns = {"fault": fault} | {state: getattr(by_state, f"if_{state}") for state in STATES}
    # most texts are for several states, and for all cores
    held = {one: _each_once(_of_all(one, cores.index)) for one in columns.values() if isinstance(one, str)}
    templates = pd.DataFrame(
        {
            name: held[one] if isinstance(one, str) else _each_once(_of_all(one, cores.index))
            for name, one in columns.items()
        }
    )
    listed = {name: tuple(items) for name, items in (lists or {}).items()}
    shown = {}
    kept = tuple(keeps)
    for name in dict.fromkeys([*values_in(_different([*columns.values()], cores.index)), *kept]):
        if name in listed:
            continue
        if name not in values and name not in cores:
            raise ContractError(f"a finding's template names {name!r}, which is no value of it")
        shown[name] = _of_all(values[name], cores.index) if name in values else cores[name]
    for one in _different([columns[state] for state in STATES], cores.index):
        check_remedy(one)
    return Findings(templates, pd.DataFrame(shown, index=cores.index), listed, kept=kept)


def nothing_found(index: pd.Index) -> Findings:
    """Return no findings; ``index`` has no rows."""
    return Findings(pd.DataFrame("", index, ["fault", *STATES], dtype="str"), pd.DataFrame(index=index))


def _different(columns: Iterable[Template], index: pd.Index) -> list[str]:
    """Return the different templates of N rows, in the order in which one meets them row by row."""
    if not len(index):
        return []
    met: list[tuple[int, int, str]] = []
    for place, one in enumerate(columns):
        if isinstance(one, str):
            met.append((0, place, one))
        else:
            codes, texts = pd.factorize(_of_all(one, index))
            first = np.unique(codes, return_index=True)[1].tolist()
            met += [(row, place, str(texts[codes[row]])) for row in first]
    return list(dict.fromkeys(text for *_, text in sorted(met)))


def values_in(templates: Iterable[str]) -> list[str]:
    """Return the values that templates name, those of a comparison included, each once."""
    named: dict[str, None] = {}
    for template in templates:
        for name, form in fields_of(template):
            named |= dict.fromkeys([name, *form.split(" vs ")[1:]])
    return list(named)


def fields_of(template: str) -> list[tuple[str, str]]:
    """Return the fields of a template, each with its format, in their order."""
    return [(name, form or "") for _, name, form, _ in Formatter().parse(template) if name is not None]


def _each_once(texts: pd.Series) -> pd.Series:
    """Return a column of a few different texts, each of which is held once."""
    codes, different = pd.factorize(texts.astype("str"))
    return pd.Series(pd.Categorical.from_codes(codes, different), texts.index)


def _of_all(value: object, index: pd.Index) -> pd.Series:
    if isinstance(value, pd.Series):
        return value if value.index.equals(index) else value.loc[index]
    if isinstance(value, str) and len(index):
        return as_column(joined([value], len(index)), index)
    # one cell that is repeated has the kind that a list of them would have
    return pd.Series([value]).repeat(len(index)).set_axis(index) if len(index) else pd.Series([], index)


def choose(condition: pd.Series, template: Template, otherwise: Template) -> pd.Series:
    """Return a column of templates: ``template`` where the condition is true for a core, elsewhere ``otherwise``."""
    return (
        _of_all(otherwise, condition.index)
        .astype("str")
        .mask(condition.astype(bool), _of_all(template, condition.index).astype("str"))
    )


def choose_by(templates: Mapping[tuple[bool, ...], str], *conditions: pd.Series) -> pd.Series:
    """Return a column of templates: for each of N cores the one whose key says which of the conditions are true."""
    which = np.full(len(conditions[0]), -1)
    truths = [condition.to_numpy() for condition in conditions]
    for place, key in enumerate(templates):
        which[np.logical_and.reduce([truth == wanted for truth, wanted in zip(truths, key, strict=True)])] = place
    return as_column(
        taken(pa.array([*templates.values(), ""], pa.large_string()), which % (len(templates) + 1)), conditions[0].index
    )


def found_items(kinds: Iterable[ItemKind]) -> list[Item]:
    """Return the items of a list, one for each kind that any core has."""
    items = []
    for kind in kinds:
        here = kind.has.index[kind.has]
        if len(here):
            shown = {name: _of_all(kind.values[name], here) for name in values_in([kind.template])}
            items.append(Item(kind.template, pd.DataFrame(shown, index=here), kind.columns))
    return items


def state_of(cores: pd.DataFrame) -> pd.Series:
    """Return the state of each of N cores: open, reinstated, or unknown."""
    state = np.select([cores["is_open"], cores["reinstated_at"].notna()], STATES[:2], STATES[2])
    return pd.Series(state, cores.index, dtype="str")
