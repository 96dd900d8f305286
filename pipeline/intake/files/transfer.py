"""What is fetched, whatever it comes from: a stream of bytes, and why it ended early."""

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.errors import InputError

__all__ = ["LostError", "NotThereError", "Stream"]


@dataclass(frozen=True)
class Stream:
    """Bytes that arrive: ``read`` returns some of them, and none at the end. ``size``: how many, None if not known."""

    read: Callable[[], bytes]
    size: int | None


class NotThereError(InputError):
    """There is no such file, or none that may be seen: a store that hides its names says the same of both."""


class LostError(Exception):
    """A connection failed in a way that another try may mend: ``why`` says how, ``remedy`` what else to do."""

    def __init__(self, why: str, remedy: str) -> None:
        super().__init__(why)
        self.why = why
        self.remedy = remedy
