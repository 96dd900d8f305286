"""The report as a PDF, for mail and paper, made from the finished page; needs the extra ``pdf``."""

from pathlib import Path
from typing import Any, Final, Literal

from pipeline.errors import SettingsError

__all__ = ["REPORT_PDF", "Paper", "require_pdf", "write_pdf"]

Paper = Literal["A4", "Letter"]
REPORT_PDF: Final = "report.pdf"
_NUMBER: Final = '"Page " counter(page) " of " counter(pages)'
_NUMBERS: Final = f"@page {{ @bottom-right {{ content: {_NUMBER}; font: 8pt sans-serif; color: #444 }} }}"


def require_pdf() -> None:
    """Check that a PDF can be made here, before any work is done.

    Raises
    ------
    SettingsError
        WeasyPrint is not installed, or the library Pango is not.
    """
    _library()


def write_pdf(page: str, path: Path, paper: Paper = "A4") -> None:
    """Write a page as a tagged PDF (PDF/UA-1). The same page and fonts give the same bytes.

    Parameters
    ----------
    page
        Finished HTML. No script in it runs, and nothing it refers to is fetched, from the network or from disk.
    path
        The file.
    paper
        Paper size.

    Raises
    ------
    SettingsError
        WeasyPrint is not installed, or the library Pango is not.
    """
    library = _library()
    # no protocol is allowed, so nothing is fetched
    nothing = library.urls.URLFetcher(allowed_protocols=())
    sheet = library.CSS(string=f"@page {{ size: {paper} }} {_NUMBERS}", url_fetcher=nothing)
    made = library.HTML(string=page, base_url="about:blank", url_fetcher=nothing)
    path.write_bytes(made.write_pdf(stylesheets=[sheet], pdf_variant="pdf/ua-1"))


def _library() -> Any:  # noqa: ANN401 - an extra, which type checks do without
    try:
        import weasyprint  # noqa: PLC0415 - only where the extra is asked for
    except ImportError as error:
        raise SettingsError(
            "report.pdf: needs the library WeasyPrint, which is not installed. Run .venv/bin/pip install '.[pdf]' in "
            "the checkout, or leave --pdf out and print report.html from a browser."
        ) from error
    except OSError as error:
        raise SettingsError(
            f"report.pdf: WeasyPrint is installed, but the library Pango, which it needs, is not ({error}). "
            "Install Pango (Debian: apt-get install libpangoft2-1.0-0 libharfbuzz-subset0), or leave --pdf out."
        ) from error
    return weasyprint
