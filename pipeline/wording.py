"""Wording that notices, messages, sheets and charts share."""

__all__ = ["counted"]


def counted(count: int, noun: str) -> str:
    """Return a count with its noun: "1 core", "1,200 cores"; the plural adds an s."""
    return f"{count:,} {noun}" if count == 1 else f"{count:,} {noun}s"
