"""Where a value comes from: the kinds of source there are, and what a source is called outside the house."""

from typing import Final

__all__ = ["KINDS", "kind_of", "outside_source", "set_by"]

_OURS: Final = "our default"
_PRACTICE: Final = "common practice, no source"
_SET_BY: Final = "set by "
# outside the house, "our" would be read as that of the utility that hands the pack over
_OURS_OUTSIDE: Final = "tool default"
KINDS: Final = ("code", _OURS, _PRACTICE, "programme")


def kind_of(source: str) -> str:
    """Return the kind of a source, one of ``KINDS``; what is neither ours, practice nor a programme's is a code."""
    if source.startswith(_SET_BY):
        return "programme"
    return next((kind for kind in (_OURS, _PRACTICE) if source.startswith(kind)), "code")


def set_by(programme: str, source: object = None) -> str:
    """Return the source of a value that a programme sets, with the source that the programme itself gives."""
    return f"{_SET_BY}{programme}" if source is None else f"{_SET_BY}{programme}: {source}"


def outside_source(source: str) -> str:
    """Return a source as it is called in what leaves the house."""
    return source.replace(_OURS, _OURS_OUTSIDE)
