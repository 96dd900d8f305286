"""Take the README's picture of the demo's map: ``python -m tests.browser.take_pictures``."""

from pathlib import Path

from tests.browser.browser import open_page, stop

_TOWN = Path(__file__).parents[2] / "outputs" / "harbour-vale-2026"


def main() -> None:
    with open_page(_TOWN / "2026-09-30" / "map.html", 1280, 800) as opened:
        opened.wait_for("performance.getEntriesByName('all-usable').length > 0")
        opened.page.wait_for_timeout(1500)
        (_TOWN / "map.png").write_bytes(opened.picture())
    stop()


if __name__ == "__main__":
    main()
