"""What a remedy means for the road authority, which reads the same findings but does not do the utility's work.

A rule says what the utility must do: "Correct the register." In a pack that becomes "The utility must correct the
register." A remedy that cannot be turned round so, because it names the road authority, leaves a decision to it or has
several sentences, declares its own text beside itself, with ``for_authority``.
"""

from typing import Final

from pipeline.errors import ContractError

__all__ = ["authority_text", "check_remedy", "for_authority", "listed_for_authority"]

_OWN: Final[dict[str, str]] = {}
_TURNED: Final = "The utility must {}"
# a part after any of these has a verb of its own, which "must" does not reach, or "it" would be the utility
_NEEDS_OWN: Final = ("road authority", "; ", ". ", "Do not ", "If ", "No ", "Ask ", " its position")


def for_authority(remedy: str, text: str) -> str:
    """Declare what a remedy, or a thing listed in a finding, is called for the road authority.

    Parameters
    ----------
    remedy
        A template, for the utility.
    text
        The same for the reader of a pack: the road authority is "you". It has no field that ``remedy`` lacks.

    Returns
    -------
    str
        ``remedy``, to be given to ``find`` or ``choose``.

    Raises
    ------
    ContractError
        The same remedy is declared with another text.
    """
    if _OWN.setdefault(remedy, text) != text:
        raise ContractError(f"remedy {remedy!r}: declared with two texts for the road authority, expected one")
    return remedy


def authority_text(remedy: str) -> str:
    """Return the template of a remedy for the road authority: its own, or "The utility must ..."."""
    return _OWN.get(remedy) or _TURNED.format(remedy[:1].lower() + remedy[1:])


def listed_for_authority(template: str) -> str:
    """Return the template of a thing listed in a finding, for the road authority."""
    return _OWN.get(template, template)


def check_remedy(remedy: str) -> None:
    """Refuse a remedy that would not read well for the road authority.

    Raises
    ------
    ContractError
        It cannot follow "The utility must", and declares no text of its own.
    """
    if remedy not in _OWN and (found := [part for part in _NEEDS_OWN if part in remedy]):
        raise ContractError(
            f"remedy {remedy!r}: has {found[0]!r}, expected words that can follow 'The utility must'. Declare with "
            "for_authority what the road authority reads."
        )
