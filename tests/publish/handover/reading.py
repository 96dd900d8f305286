"""Everything that a file of a pack says, in whatever way it is packed."""

import gzip
import io
import re
import zipfile
from pathlib import Path


def everything_in(file: Path) -> str:
    """Return a file's text, a map's packed columns and a zip's entries included."""
    raw = file.read_bytes()
    texts = [raw.decode("utf-8", "replace")]
    if file.suffix == ".html":
        packed = re.findall(r'<script type="text/plain" id="[a-z-]+">(.*?)</script>', texts[0], re.DOTALL)
        texts += [_unpacked(text) for text in packed]
    if file.suffix == ".zip":
        with zipfile.ZipFile(io.BytesIO(raw)) as pack:
            texts += [pack.read(name).decode("utf-8", "replace") for name in pack.namelist()]
    return "\n".join(texts)


def _unpacked(text: str) -> str:
    """Read the page's seven-bit letters: written from their description, not from the code that packs them."""
    count, _, letters = text.partition(" ")
    bits = "".join(f"{ord(letter) & 127:07b}" for letter in letters)
    content = bytes(int(bits[at : at + 8], 2) for at in range(0, int(count) * 8, 8))
    return gzip.decompress(content).decode("utf-8", "replace")
