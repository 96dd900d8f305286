"""Wording that the notices of intake share."""

__all__ = ["counted"]


def counted(number: int, noun: str) -> str:
    """Return a count with its noun, such as "1 polygon" or "1,200 polygons"; the plural adds an s."""
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"
