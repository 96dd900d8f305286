"""Opening a page from disk in Firefox, with the network off; complaints and requests are recorded.

Playwright only drives a Firefox of its own, so Debian's is driven through the W3C standard WebDriver BiDi.
"""

import base64
import json
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection, connect

FIREFOX = "/usr/bin/firefox-esr"
# An address where nothing listens stands in for the network: names are left to the proxy, so none is looked up.
NOWHERE = 'user_pref("network.proxy.{kind}", "127.0.0.1"); user_pref("network.proxy.{kind}_port", 9);'
SETTINGS = [
    'user_pref("network.proxy.type", 1);',
    *(NOWHERE.format(kind=kind) for kind in ("http", "ssl", "socks")),
    'user_pref("browser.shell.checkDefaultBrowser", false);',
    'user_pref("datareporting.policy.dataSubmissionEnabled", false);',
]
SCHEMES = {"dark": 0, "light": 1, "no-preference": 2}
KEYS = {
    "Tab": "\ue004",
    "Enter": "\ue007",
    "Escape": "\ue00c",
    "ArrowLeft": "\ue012",
    "ArrowUp": "\ue013",
    "ArrowRight": "\ue014",
    "ArrowDown": "\ue015",
}
CM_PER_INCH = 2.54


class _Connection:
    """One Firefox and the channel to it; what happens in a tab is appended to that tab's lists."""

    def __init__(self) -> None:
        self.opened = ExitStack()
        self.profile = Path(self.opened.enter_context(tempfile.TemporaryDirectory(prefix="firefox-")))
        (self.profile / "user.js").write_text("\n".join(SETTINGS), encoding="utf-8")
        ways = ["--headless", "--remote-debugging-port=0", "--remote-allow-system-access", "--no-remote"]
        command = [FIREFOX, *ways, "--profile", str(self.profile)]
        self.process = subprocess.Popen(command, stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
        self.opened.callback(self.process.wait, timeout=20)
        self.socket: ClientConnection = self.opened.enter_context(connect(self._address(), max_size=None, proxy=None))
        self.last = 0
        self.tabs: dict[str, FirefoxPage] = {}
        self.send("session.new", capabilities={})
        self.send("session.subscribe", events=["log.entryAdded", "network.beforeRequestSent"])

    def _address(self) -> str:
        written = self.profile / "WebDriverBiDiServer.json"
        end = time.monotonic() + 60
        while time.monotonic() < end and self.process.poll() is None:
            if written.exists() and (text := written.read_text("utf-8")).endswith("}"):
                found = json.loads(text)
                return f"ws://{found['ws_host']}:{found['ws_port']}/session"
            time.sleep(0.05)
        raise AssertionError("Firefox ended before it listened, or did not listen within 60 s")

    def send(self, method: str, **params: Any) -> Any:
        """Send a command and return its result; what was reported in the meantime is kept."""
        self.last += 1
        self.socket.send(json.dumps({"id": self.last, "method": method, "params": params}))
        while True:
            message = json.loads(self.socket.recv(timeout=120))
            if message["type"] == "event":
                self._keep(message["method"], message["params"])
            elif message.get("id") == self.last:
                if message["type"] == "error":
                    raise AssertionError(f"{method}: {message['error']}: {message['message']}")
                return message["result"]

    def _keep(self, method: str, event: dict[str, Any]) -> None:
        tab = self.tabs.get(event.get("context") or event.get("source", {}).get("context", ""))
        if tab is None:
            return
        if method == "log.entryAdded" and event["level"] in {"error", "warn"}:
            tab.complaints_kept.append(event["text"])
        elif method == "network.beforeRequestSent" and not event["request"]["url"].startswith("data:"):
            tab.requests_kept.append(event["request"]["url"])

    def prefer(self, scheme: str) -> None:
        """Set the reader's colour scheme: BiDi has no command for it, Firefox's own window has the setting."""
        window = self.send("browsingContext.getTree", **{"moz:scope": "chrome"})["contexts"][0]["context"]
        name = "layout.css.prefers-color-scheme.content-override"
        script = f"void Services.prefs.setIntPref('{name}', {SCHEMES[scheme]})"
        self.send("script.evaluate", expression=script, target={"context": window}, awaitPromise=False)

    def close(self) -> None:
        self.send("browser.close")
        self.opened.close()


@dataclass
class FirefoxPage:
    """A page being looked at, with what ``OpenPage`` offers for Chromium."""

    connection: _Connection
    tab: str
    complaints_kept: list[str] = field(default_factory=list)
    requests_kept: list[str] = field(default_factory=list)

    def send(self, method: str, **params: Any) -> Any:
        return self.connection.send(method, context=self.tab, **params)

    @property
    def complaints(self) -> list[str]:
        """What the page's console and policy have reported up to now."""
        self.ask("0")
        return self.complaints_kept

    @property
    def requests(self) -> list[str]:
        """The addresses that the page has asked the network for up to now; files of this machine are not among them."""
        self.ask("0")
        return self.requests_kept

    def ask(self, expression: str) -> Any:
        """Evaluate an expression; its value travels as JSON."""
        script = f"Promise.resolve({expression}).then((value) => JSON.stringify(value))"
        answer = self.connection.send(
            "script.evaluate", expression=script, target={"context": self.tab}, awaitPromise=True, userActivation=True
        )
        if answer["type"] == "exception":
            raise AssertionError(answer["exceptionDetails"]["text"])
        value = answer["result"].get("value")
        return None if value is None else json.loads(value)

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

    def press(self, *keys: str) -> None:
        """Press keys one after the other: a character each, or a name such as ``Tab``."""
        presses = [{"type": what, "value": KEYS.get(key, key)} for key in keys for what in ("keyDown", "keyUp")]
        self.send("input.performActions", actions=[{"type": "key", "id": "keys", "actions": presses}])

    def click(self, x: float, y: float) -> None:
        """Click at a place of the screen."""
        move = {"type": "pointerMove", "x": round(x), "y": round(y)}
        steps = [move, {"type": "pointerDown", "button": 0}, {"type": "pointerUp", "button": 0}]
        self.send("input.performActions", actions=[{"type": "pointer", "id": "mouse", "actions": steps}])

    def picture(self) -> bytes:
        """Return what is on the screen, as PNG."""
        return base64.b64decode(self.send("browsingContext.captureScreenshot")["data"])

    def as_pdf(
        self,
        *,
        landscape: bool = False,
        paperWidth: float = 8.27,  # noqa: N803, the names that Chromium has for it, in inches
        paperHeight: float = 11.69,  # noqa: N803, the same
    ) -> bytes:
        """Return the page as the printer would get it; A4 unless another size is given."""
        size = {"width": paperWidth * CM_PER_INCH, "height": paperHeight * CM_PER_INCH}
        way = "landscape" if landscape else "portrait"
        return base64.b64decode(self.send("browsingContext.print", background=True, orientation=way, page=size)["data"])


class _Started:
    """One Firefox for all pages of a test run; starting it takes seconds."""

    connection: _Connection | None = None


def _firefox() -> _Connection:
    if _Started.connection is None:
        _Started.connection = _Connection()
    return _Started.connection


def stop() -> None:
    """End the Firefox that was started, if any was."""
    if _Started.connection is not None:
        _Started.connection.close()
        _Started.connection = None


@contextmanager
def open_in_firefox(
    path: Path, width: int = 1280, height: int = 800, fragment: str = "", color_scheme: str = "light"
) -> Iterator[FirefoxPage]:
    """Open a file in Firefox, nothing kept from other pages; no name is looked up and no host is reached."""
    firefox = _firefox()
    firefox.prefer(color_scheme)
    user = firefox.send("browser.createUserContext")["userContext"]
    try:
        tab = firefox.send("browsingContext.create", type="tab", userContext=user)["context"]
        page = firefox.tabs[tab] = FirefoxPage(firefox, tab)
        page.send("browsingContext.setViewport", viewport={"width": width, "height": height})
        page.send("browsingContext.navigate", url=path.resolve().as_uri() + fragment, wait="complete")
        yield page
    finally:
        firefox.send("browser.removeUserContext", userContext=user)
