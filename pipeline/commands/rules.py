"""The rules with their limits: as they are in force for a programme, or as they are shipped."""

from pathlib import Path

from pipeline.audit import BoundRule, bind_rules
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import load_programme
from pipeline.run import rules_of

__all__ = ["read_rules"]


def read_rules(path: Path | None) -> list[BoundRule]:
    """Return the rules as they are in force for a programme; without one, as they are shipped.

    Raises
    ------
    SettingsError
        The programme file cannot be read, or has a wrong key or value.
    """
    if path is None:
        return bind_rules(load_catalogue({}, "shipped"), "shipped")
    return rules_of(load_programme(path), path)[1]
