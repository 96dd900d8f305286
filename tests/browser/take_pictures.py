"""Take the README's pictures of the demo's map and report: ``python -m tests.browser.take_pictures [FOLDER [OUT]]``.

Besides the demo's own, one picture shows 100,000 made-up cores on real streets. FOLDER is a finished run (the committed one if not given), OUT where the pictures go (beside the runs).
"""

import sys
import tempfile
from pathlib import Path

from pipeline.publish.map.page import draw_map
from tests.browser.browser import OpenPage, open_page, stop
from tests.browser.many_cores import many_cores

_RUN = Path(__file__).parents[2] / "outputs" / "harbour-vale-2026" / "2026-09-30"
# More would weigh on whoever clones the repository.
_MOST_BYTES = 200_000
# An A4 sheet in CSS pixels, and its margin in the page's own print style.
_SHEET, _MARGIN = (794, 1123), "11mm"


def _wait(opened: OpenPage) -> None:
    opened.wait_for("performance.getEntriesByName('all-read').length > 0")


def _keep(opened: OpenPage, path: Path) -> None:
    # after everything has faded or slid in
    opened.page.wait_for_timeout(2000)
    picture = opened.picture()
    assert len(picture) < _MOST_BYTES, f"{path.name}: {len(picture):,} bytes"
    path.write_bytes(picture)
    print(f"{path.name}: {len(picture) / 1000:.0f} kB")


def _open_a_card(opened: OpenPage) -> None:
    """Open the flagged core on the map with the most findings that still fit its card."""
    row = opened.ask(
        "(() => { const { cores, attributes } = kerfbook; let best = -1;"
        "const shown = (i) => { const found = attributes.findings(i); return found.length > 2 ? 0 : found.length; };"
        "for (let i = 0; i < cores.count; i += 1) if (cores.status[i] === 0 && (best < 0 || shown(i) > shown(best))) best = i;"
        "return attributes.row(best); })()"
    )
    opened.ask(f"location.hash = '#row={row}'")
    opened.wait_for("document.querySelector('.leaflet-popup .card')")
    opened.ask("void map_kerfbook.setZoom(16.5, { animate: false })")
    # opened once more, the card moves the map until all of it is in sight
    opened.ask(f"location.hash = '#row={row}&again'")


def _take_screens(page: Path, out: Path) -> None:
    """The first screen with its four answers, a card, the table, the street sheet."""
    with open_page(page, 1280, 800) as opened:
        _wait(opened)
        _keep(opened, out / "map.webp")
        _open_a_card(opened)
        _keep(opened, out / "card.webp")
        opened.page.keyboard.press("Escape")
        opened.ask("void (document.querySelector('[data-question=severity]').open = true)")
        opened.ask("kerfbook.filter.ask('severity', new Set(['fail']))")
        opened.page.click("#as-table")
        _keep(opened, out / "table.webp")
    with open_page(page, 1280, 800, "#view=streets") as opened:
        _wait(opened)
        _keep(opened, out / "streets.webp")
    with open_page(page, 1280, 800, color_scheme="dark") as opened:
        _wait(opened)
        _keep(opened, out / "dark.webp")
    with open_page(page, 390, 760, has_touch=True, device_scale_factor=1.5) as opened:
        _wait(opened)
        _open_a_card(opened)
        _keep(opened, out / "phone.webp")


def _keep_first_sheet(opened: OpenPage, path: Path) -> None:
    """What the browser would print, the first sheet of it, on A4."""
    opened.ask("void window.dispatchEvent(new Event('beforeprint'))")
    opened.page.set_viewport_size({"width": _SHEET[0], "height": _SHEET[1]})
    opened.page.emulate_media(media="print")
    opened.ask(f"void (document.body.style.padding = {_MARGIN!r})")
    # a screen has no page break before the other sheets
    opened.ask("document.querySelectorAll('#paper-page > * + *').forEach((sheet) => sheet.remove())")
    _keep(opened, path)


def _take_sheets(page: Path, out: Path) -> None:
    """The printed map, and the printed sheet of the street with the most hazards and its numbered list."""
    with open_page(page, 1280, 800) as opened:
        _wait(opened)
        _keep_first_sheet(opened, out / "print.webp")
    with open_page(page, 1280, 800, "#street==Granary+Street") as opened:
        _wait(opened)
        opened.ask("void (window.print = () => {})")
        opened.page.click("#print")
        opened.page.click("#print-dialog input[value=streets]")
        opened.page.click("#print-dialog .print-go")
        _keep_first_sheet(opened, out / "street-print.webp")


def _take_many(out: Path) -> None:
    """100,000 cores: the streets are coloured by the most urgent core on each."""
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "map.html"
        page.write_text(draw_map(many_cores()), encoding="utf-8")
        with open_page(page, 1280, 800) as opened:
            _wait(opened)
            _keep(opened, out / "many.webp")


def main() -> None:
    run = Path(sys.argv[1]) if len(sys.argv) > 1 else _RUN
    out = Path(sys.argv[2]) if len(sys.argv) > 2 else run.parent
    _take_screens(run / "map.html", out)
    _take_sheets(run / "map.html", out)
    _take_many(out)
    with open_page(run / "report.html", 1000, 1000) as opened:
        _keep(opened, out / "report.webp")
    stop()


if __name__ == "__main__":
    main()
