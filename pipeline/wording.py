"""Wording that notices, messages, sheets and charts share."""

from json import JSONDecodeError

__all__ = ["counted", "plain_reason"]


def counted(count: int, noun: str) -> str:
    """Return a count with its noun: "1 core", "1,200 cores"; the plural adds an s."""
    return f"{count:,} {noun}" if count == 1 else f"{count:,} {noun}s"


def plain_reason(error: BaseException) -> str:
    """Return why something cannot be read, without the words of the language that this is written in."""
    said = str(error)
    for kind, words, reason in (
        (RecursionError, "", "its entries are nested too deeply"),
        (JSONDecodeError, "", f"no JSON: {said}"),
        (ValueError, "set_int_max_str_digits", "a number has thousands of digits"),
        (Exception, "straddles two block", "a row is too long"),
        (KeyError, "", f"no entry {said}"),
        ((TypeError, AttributeError, IndexError), "", "an entry is missing, or of another kind than expected"),
    ):
        if isinstance(error, kind) and words in said:
            return reason
    return said.split("\n", maxsplit=1)[0] or "damaged"
