"""A folder as a pack: checksums of its files, and a zip that is the same byte for byte between runs."""

import hashlib
import shutil
import zipfile
from pathlib import Path
from typing import Final

from pipeline.readback.packs import MANIFEST, sha256_of

__all__ = ["zip_folder"]

# the first day that a zip can name; a pack must not know when it was made
_DAY: Final = (1980, 1, 1, 0, 0, 0)
_FOR_ALL_TO_READ: Final = 0o100644 << 16
_UNIX: Final = 3
_CHUNK: Final = 1 << 20


def zip_folder(folder: Path, place: Path, inner: str) -> str:
    """Write ``SHA256SUMS`` into a folder, and the folder into a zip.

    Parameters
    ----------
    folder
        Holds files alone.
    place
        The zip.
    inner
        Name of the folder inside the zip.

    Returns
    -------
    str
        The pack's fingerprint: the SHA-256 of ``SHA256SUMS``, which stands for all files.
    """
    files = sorted(folder.iterdir())
    lines = "".join(f"{sha256_of(file)}  {file.name}\n" for file in files)
    manifest = folder / MANIFEST
    # the form that sha256sum reads: two spaces, one line end
    manifest.write_text(lines, encoding="utf-8", newline="\n")
    with zipfile.ZipFile(place, "w") as pack:
        for file in [*files, manifest]:
            entry = zipfile.ZipInfo(f"{inner}/{file.name}", _DAY)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = _UNIX
            entry.external_attr = _FOR_ALL_TO_READ
            entry.file_size = file.stat().st_size
            with file.open("rb") as source, pack.open(entry, "w") as target:
                shutil.copyfileobj(source, target, _CHUNK)
    return hashlib.sha256(lines.encode()).hexdigest()
