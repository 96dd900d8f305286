"""What each family's tests give for a rule, and how one rule is applied to a few cores."""

from dataclasses import dataclass
from functools import cache

import pandas as pd

from pipeline.audit import bind_rules
from pipeline.audit.findings import Wording, state_of
from pipeline.audit.registry import AuditContext, BoundRule
from pipeline.programme.catalogue import load_catalogue
from pipeline.publish.sentences import finding_table
from pipeline.publish.words import words_of
from tests.audit.frames import AS_OF, OTHER, SOUND, frame


@dataclass(frozen=True)
class Case:
    """Cells in which a core differs from a sound one.

    ``breach`` is found, and ``says`` is the whole sentence; ``passes`` is not found; ``on_limit`` lies exactly on the
    limit and is not found; ``missing`` cannot be assessed. The last two are None where a rule has no limit, or needs
    nothing. ``cannot_tell``: written so coarsely that it may breach or not; None where a rule compares no written value
    with a limit. A second core lies 100 m away; the cell ``third`` adds one at that number of metres.
    """

    breach: dict
    says: str
    passes: dict
    on_limit: dict | None = None
    missing: dict | None = None
    cannot_tell: dict | None = None


@cache
def shipped_rules() -> list[BoundRule]:
    """Return the rule book as it is shipped."""
    return bind_rules(load_catalogue({}, "test"), "test")


def bound_rule(slug: str) -> BoundRule:
    """Return one rule as it is shipped."""
    return next(bound for bound in shipped_rules() if bound.rule.slug == slug)


def cores_like(change: dict):
    """Return a frame of a core that differs from a sound one, and of sound ones farther off."""
    cells = dict(change)
    third = cells.pop("third", None)
    further = [] if third is None else [{**OTHER, "core_id": "A-3", "x_m": third}]
    return frame({**SOUND, **cells}, OTHER, *further)


_english = cache(words_of)


def apply_rule(slug: str, cores) -> tuple[Wording | None, bool]:
    """Return the wording of one rule's findings, None if the first core has none, and whether that core was assessed."""
    bound = bound_rule(slug)
    able, applies = bound.assessed(cores), bound.applies(cores)
    assert not (able & ~applies).any()
    wording = bound.find(cores, able, AuditContext(pd.Timestamp(AS_OF), 15.0)).worded(state_of(cores), cores["row"])
    return (wording if 1 in wording.templates.index else None), bool(able.iloc[0])


def is_at_limit(slug: str, cores: pd.DataFrame) -> bool:
    """Return whether one rule cannot tell for the first core of a frame, and finds nothing about it."""
    bound = bound_rule(slug)
    found = bound.find(cores, bound.assessed(cores), AuditContext(pd.Timestamp(AS_OF), 15.0))
    return 0 in found.at_limit and 0 not in found.templates.index


def sentence(slug: str, change: dict | pd.DataFrame) -> str | None:
    """Return what one rule says about a core that differs from a sound one, or about the first core of a frame."""
    wording, _ = apply_rule(slug, cores_like(change) if isinstance(change, dict) else change)
    return None if wording is None else _message(slug, wording, 1)


def sentence_of(slug: str, cores: pd.DataFrame, row: int) -> str:
    """Return what one rule says about a core of a frame that it found."""
    bound = bound_rule(slug)
    found = bound.find(cores, bound.assessed(cores), AuditContext(pd.Timestamp(AS_OF), 15.0))
    return _message(slug, found.worded(state_of(cores), cores["row"]), row)


def _message(slug: str, wording: Wording, row: int) -> str:
    found = pd.DataFrame({"row": [row], "core_id": "", "rule": slug, "severity": ""})
    return finding_table(found, {slug: wording}, _english("en"))["message"].item()
