"""The columns that a pack's map holds, changed at random and packed again: what reads them takes them or says no."""

import json
import re
import time
import zlib
from pathlib import Path

import numpy as np

from pipeline.errors import InputError
from pipeline.publish.map.squeezing import as_letters
from pipeline.readback.pack_map import read_map_columns
from tests.fuzz.odd_entries import change_entry

# processor seconds for a map of some hundred cores, and bytes of what is read from it
MOST_SECONDS = 5
_BUNDLES = ("core-data", "card-data", "detail-data")
_GZIP = 31
_EXAMPLE = Path(__file__).parents[2] / "outputs/harbour-vale-2026/2026-09-30/handover/map.html"


def example_map():
    """Return the page of the example's pack."""
    return _EXAMPLE.read_text("utf-8")


def opened(text, name):
    """Return the description and the planes of one of a page's bundles."""
    count, _, packed = re.search(rf'id="{name}">(.*?)</script>', text, re.DOTALL)[1].partition(" ")
    sevens = np.frombuffer(packed.encode("latin-1"), dtype=np.uint8)
    octets = np.packbits(np.unpackbits(sevens[:, None] & 127, axis=1)[:, 1:].ravel())[: int(count)]
    content = zlib.decompress(octets.tobytes(), _GZIP)
    length = int.from_bytes(content[:4], "little")
    return json.loads(content[4 : 4 + length]), content[4 + length :]


def closed(text, name, head, planes):
    """Return the page with another bundle."""
    written = json.dumps(head).encode()
    packing = zlib.compressobj(1, zlib.DEFLATED, _GZIP)
    content = packing.compress(len(written).to_bytes(4, "little") + written + planes) + packing.flush()
    letters = as_letters(content)
    return re.sub(rf'(id="{name}">).*?(</script>)', lambda found: found[1] + letters + found[2], text, flags=re.DOTALL)


def changed_map(text, rng):
    """Return a page with some entries of one bundle's description, or some of its bytes, lost or of another kind."""
    name = _BUNDLES[int(rng.integers(len(_BUNDLES)))]
    head, planes = opened(text, name)
    if rng.random() < 0.2:
        octets = bytearray(planes)
        for _ in range(int(rng.integers(1, 4))):
            octets[int(rng.integers(len(octets)))] = int(rng.integers(256))
        return closed(text, name, head, bytes(octets)), f"bytes of {name}"
    done = change_entry(head, rng, 0.1)
    if head and rng.random() < 0.5:
        done += f", {change_entry(head, rng, 0.1)}"
    return closed(text, name, head, planes), f"{name}: {done}"


def try_map(text, file, rng):
    """Read a page whose columns were changed; return what is wrong with how that ended, and what was changed."""
    page, done = changed_map(text, rng)
    file.write_text(page, encoding="utf-8")
    began = time.process_time()
    try:
        read_map_columns(file)
    except InputError:
        pass
    except Exception as error:  # noqa: BLE001 - any is what is looked for
        return f"{type(error).__name__}: {str(error)[:200]}", done
    taken = time.process_time() - began
    return f"{taken:.0f} s" if taken > MOST_SECONDS else "", done
