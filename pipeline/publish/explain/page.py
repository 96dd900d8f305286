"""The document as a page that prints: one HTML file without scripts that fetches nothing."""

from pathlib import Path

from pipeline.errors import OutputError
from pipeline.publish.explain.document import explain_document
from pipeline.publish.pages.page import render_page
from pipeline.publish.words import Words, words_of
from pipeline.readback.cores_table import holds_run
from pipeline.results import ExplainedCore

__all__ = ["draw_explanation", "run_words", "write_explanation"]


def run_words(explained: ExplainedCore) -> Words:
    """Return the words of the run's language."""
    return words_of(str(explained.run.record["settings"]["programme"].get("language", "en")))


def draw_explanation(explained: ExplainedCore, words: Words | None = None) -> str:
    """Return the page; the same run gives the same text. ``words``: a language instead of the run's."""
    words = words or run_words(explained)
    return render_page("explain.html", words, document=explain_document(explained, words))


def write_explanation(explained: ExplainedCore, path: Path) -> None:
    """Write the page.

    Raises
    ------
    OutputError
        It cannot be written there, or would change a run's folder.
    """
    folder = path.resolve().parent
    for above in (folder, *folder.parents):
        if holds_run(above):
            raise OutputError(
                f"{path}: is in a run's folder, which must stay unchanged. Choose another file with --page."
            )
    try:
        path.write_text(draw_explanation(explained), encoding="utf-8", newline="\n")
    except OSError as error:
        raise OutputError(
            f"{path}: cannot be written ({error.strerror}). Choose another file with --page, in a folder that exists."
        ) from error
