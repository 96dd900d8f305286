"""A folder as a pack: the checksums of its files, and a zip that is byte for byte the same in every run."""

import hashlib
import zipfile
from pathlib import Path
from typing import Final

from pipeline.clock import Counted, uncounted
from pipeline.publish.handover.sign import sign
from pipeline.readback.pack_files import MANIFEST
from pipeline.readback.packs import sha256_of

__all__ = ["zip_folder"]

# the earliest date of a zip entry, so that the bytes do not depend on the time of writing
_DAY: Final = (1980, 1, 1, 0, 0, 0)
_FOR_ALL_TO_READ: Final = 0o100644 << 16
_UNIX: Final = 3
_CHUNK: Final = 1 << 20
_MB: Final = 1_000_000
# beyond so many bytes a file is packed in the quickest way: a pack of 178 MB becomes one of 53 MB in 1.4 s of processor
# time, by the usual level one of 46 MB in 5.0 s
_LARGE: Final = 8 << 20
_QUICKEST: Final = 1
# what the library calls the level of one file, since Python 3.13 and before
_LEVEL_OF_FILE: Final = "compress_level" if hasattr(zipfile.ZipInfo, "compress_level") else "_compresslevel"


def zip_folder(folder: Path, target: Path, inner: str, key: Path | None = None, tell: Counted = uncounted) -> str:
    """Write ``SHA256SUMS`` into a folder, and the folder into a zip.

    Parameters
    ----------
    folder
        Holds files only.
    target
        The zip to write.
    inner
        Name of the folder inside the zip.
    key
        With which the checksums are signed; None for no signature.
    tell
        Is told the megabytes packed.

    Returns
    -------
    str
        The pack's fingerprint: the SHA-256 of ``SHA256SUMS``, and so of all files.
    """
    files = sorted(folder.iterdir())
    lines = "".join(f"{sha256_of(file)}  {file.name}\n" for file in files)
    manifest = folder / MANIFEST
    # as sha256sum reads it: two spaces, and a line feed alone
    manifest.write_text(lines, encoding="utf-8", newline="\n")
    signed = [manifest] if key is None else [manifest, sign(manifest, key)]
    done, size = 0, sum(file.stat().st_size for file in [*files, *signed])
    with zipfile.ZipFile(target, "w") as pack:
        for file in [*files, *signed]:
            entry = zipfile.ZipInfo(f"{inner}/{file.name}", _DAY)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = _UNIX
            entry.external_attr = _FOR_ALL_TO_READ
            entry.file_size = file.stat().st_size
            if entry.file_size > _LARGE:
                setattr(entry, _LEVEL_OF_FILE, _QUICKEST)
            with file.open("rb") as source, pack.open(entry, "w") as packed:
                while part := source.read(_CHUNK):
                    packed.write(part)
                    done += len(part)
                    tell(done // _MB, size // _MB, "MB")
    return hashlib.sha256(lines.encode()).hexdigest()
