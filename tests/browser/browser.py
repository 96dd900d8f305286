"""Opening a page from disk in Chromium, with the network off; complaints and requests are recorded."""

import base64
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, CDPSession, Page, Playwright, sync_playwright

CHROMIUM = "/usr/bin/chromium"
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


@dataclass
class OpenPage:
    """A page being looked at; ``complaints`` and ``requests`` grow while it runs."""

    page: Page
    devtools: CDPSession
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def ask(self, expression: str) -> Any:
        """Evaluate an expression through the devtools: the page's own policy forbids playwright's way."""
        answer = self.devtools.send(
            "Runtime.evaluate", {"expression": expression, "returnByValue": True, "awaitPromise": True}
        )
        if "exceptionDetails" in answer:
            raise AssertionError(answer["exceptionDetails"])
        return answer["result"].get("value")

    def text(self, selector: str) -> str:
        """Return the text content of the first element that matches."""
        return str(self.ask(f"document.querySelector({selector!r}).textContent"))

    def wait_for(self, expression: str, seconds: float = 30.0) -> None:
        """Return once an expression is true; fail when it does not become so."""
        script = (
            "new Promise((done) => { const end = performance.now() + "
            f"{seconds * 1000}; const look = () => {{ if ({expression}) done(true); "
            "else if (performance.now() > end) done(false); else setTimeout(look, 20); }; look(); })"
        )
        assert self.ask(script), f"never true: {expression}"

    def picture(self) -> bytes:
        """Return what is on the screen, as WebP: text stays sharp at a third of a PNG's size."""
        answer = self.devtools.send("Page.captureScreenshot", {"format": "webp", "quality": 85})
        return base64.b64decode(answer["data"])

    def as_pdf(self, **options: Any) -> bytes:
        """Return the page as the printer would get it."""
        answer = self.devtools.send("Page.printToPDF", {"printBackground": True, **options})
        return base64.b64decode(answer["data"])


class _Started:
    """One Chromium for all pages of a test run; starting it costs more than most tests do."""

    playwright: Playwright | None = None
    chromium: Browser | None = None


def _chromium() -> Browser:
    if _Started.chromium is None:
        _Started.playwright = sync_playwright().start()
        _Started.chromium = _Started.playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
    return _Started.chromium


def stop() -> None:
    """End the Chromium that was started, if any was."""
    if _Started.chromium is not None and _Started.playwright is not None:
        _Started.chromium.close()
        _Started.playwright.stop()
        _Started.chromium = _Started.playwright = None


@contextmanager
def open_page(
    path: Path, width: int = 1280, height: int = 800, fragment: str = "", **context_options: Any
) -> Iterator[OpenPage]:
    """Open a file in Chromium, nothing kept from other pages; every request but the file itself is refused."""
    viewport = {"width": width, "height": height}
    context = _chromium().new_context(**{"viewport": viewport, "offline": True, **context_options})
    try:
        page = context.new_page()
        opened = OpenPage(page, context.new_cdp_session(page))
        page.on("console", lambda m: opened.complaints.append(m.text) if m.type in {"error", "warning"} else None)
        page.on("pageerror", lambda error: opened.complaints.append(str(error)))
        page.on("request", lambda request: opened.requests.append(request.url))
        page.goto(path.resolve().as_uri() + fragment, wait_until="load")
        yield opened
    finally:
        context.close()
