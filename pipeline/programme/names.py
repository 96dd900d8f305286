"""Names written in two places: compared without regard to case and white space, with the nearest as a hint."""

import difflib
import re
import unicodedata
from collections.abc import Iterable
from typing import Final, TypeVar

__all__ = ["LONGEST_NAME", "as_known", "did_you_mean", "folded", "listed", "named_after", "refuse_repeated"]

# characters in the name of a programme
LONGEST_NAME: Final = 200
_LISTED: Final = 10
# control characters, ends of lines, and halves of characters, which no file in UTF-8 holds
_IN_NO_NAME: Final = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
_Value = TypeVar("_Value")


def folded(name: str) -> str:
    """Return a name without capitals, and with single blanks between its words only."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def as_known(name: str, known: Iterable[str]) -> str | None:
    """Return the known name that a written one means; None where there is none. The first of equal ones is used."""
    wanted = folded(name)
    return next((one for one in known if folded(one) == wanted), None)


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Return the question that names the nearest known name, after a blank; nothing where none is near."""
    by_form = {folded(one): one for one in known}
    near = difflib.get_close_matches(folded(name), by_form, n=1)
    return f' Did you mean "{by_form[near[0]]}"?' if near else ""


def named_after(folder: str) -> str:
    """Return the name that a programme is given after its folder: on one line, and no longer than a name may be."""
    return _IN_NO_NAME.sub("", folder)[:LONGEST_NAME] or "programme"


def listed(names: Iterable[str], most: int = _LISTED) -> str:
    """Return names in quotation marks, at most so many, with the number of the others; "none" where there are none."""
    shown = list(names)
    more = f" and {len(shown) - most:,} more" if len(shown) > most else ""
    return ", ".join(f'"{name}"' for name in shown[:most]) + more if shown else "none"


def refuse_repeated(named: dict[str, _Value]) -> dict[str, _Value]:
    """Return a table of the settings as it is, where each key is another name.

    Raises
    ------
    ValueError
        Two keys are the same name, written in two ways.
    """
    first: dict[str, str] = {}
    for key in named:
        earlier = first.setdefault(folded(key), key)
        if earlier != key:
            raise ValueError(f"found both {earlier!r} and {key!r}, which are the same name, expected one of them")
    return named
