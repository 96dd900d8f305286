"""Sentences that say the same of several files, put together in one."""

from collections.abc import Sequence

from pipeline.errors import KerfbookError

__all__ = ["alike_errors", "alike_sentences"]


def alike_sentences(sentences: Sequence[str]) -> list[str]:
    """Return the sentences, those that differ only in the file that they begin with as one, with all its files."""
    files: dict[str, dict[str, None]] = {}
    for sentence in sentences:
        file, rest = _parts(sentence)
        files.setdefault(rest, {})[file] = None
    return [_joined(list(names), rest) for rest, names in files.items()]


def alike_errors(errors: Sequence[KerfbookError]) -> list[KerfbookError]:
    """Return the errors, each once, those that differ only in the file that they begin with as one."""
    files: dict[tuple[type[KerfbookError], str], dict[str, KerfbookError]] = {}
    for error in errors:
        file, rest = _parts(str(error))
        files.setdefault((type(error), rest), {})[file] = error
    return [
        next(iter(found.values())) if len(found) == 1 else kind(_joined(list(found), rest))
        for (kind, rest), found in files.items()
    ]


# no text of a file has it: control characters are refused or shown as marks
_FILE = "\0"


def _parts(sentence: str) -> tuple[str, str]:
    """Return the file that a sentence begins with, and the sentence with a mark wherever it is named."""
    file, colon, _ = sentence.partition(": ")
    return (file, sentence.replace(f"{file}: ", f"{_FILE}: ")) if colon else ("", sentence)


def _joined(files: list[str], rest: str) -> str:
    return rest.replace(_FILE, ", ".join(files))
