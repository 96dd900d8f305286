"""Leaflet's own files, from the package that carries them: script, style sheet with its pictures inside, licence."""

import base64
import hashlib
import re
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Final

from pipeline.errors import OutputError

__all__ = ["LEAFLET_SHA256", "read_script", "read_style_sheet"]

# the files of Leaflet 1.9.4: what runs in a reader's browser is known to the byte
LEAFLET_SHA256: Final = {
    "leaflet.js": "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a",
    "leaflet.css": "a7837102824184820dfa198d1ebcd109ff6d0ff9a2672a074b9a1b4d147d04c6",
}


def read_script() -> str:
    """Return Leaflet's script, without the address of its source map.

    Raises
    ------
    OutputError
        Another version of Leaflet is installed.
    """
    return _read("leaflet.js").partition("//# sourceMappingURL")[0]


def read_style_sheet() -> str:
    """Return Leaflet's style sheet with its pictures inside it, for a page that may fetch nothing.

    Raises
    ------
    OutputError
        Another version of Leaflet is installed.
    """

    def inline(found: re.Match[str]) -> str:
        picture = base64.b64encode((_folder() / "images" / found[1]).read_bytes()).decode()
        return f"url(data:image/png;base64,{picture})"

    return re.sub(r"url\(images/([\w-]+\.png)\)", inline, _read("leaflet.css"))


def _folder() -> Traversable:
    return resources.files("js_lib_leaflet") / "static" / "js_lib_leaflet"


def _read(name: str) -> str:
    content = (_folder() / name).read_bytes()
    found = hashlib.sha256(content).hexdigest()
    if found != LEAFLET_SHA256[name]:
        raise OutputError(
            f"map: {name} of the package django-js-lib-leaflet has SHA-256 {found}, but that of Leaflet 1.9.4 is "
            f"{LEAFLET_SHA256[name]}. Install django-js-lib-leaflet==1.9.4.1."
        )
    # a browser reads the text of a style element with plain line ends, and hashes that
    return content.decode("utf-8").replace("\r\n", "\n")
