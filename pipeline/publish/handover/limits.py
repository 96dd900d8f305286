"""Whether a pack that was written is larger than its check takes."""

from pathlib import Path

from pipeline.readback.pack_files import MOST_FILES, is_district_package, pack_file, too_large_together

__all__ = ["limits_exceeded"]


def limits_exceeded(pack: Path) -> list[str]:
    """Return the notice that a pack cannot be checked; none if it can, or if there is no pack.

    Parameters
    ----------
    pack
        The folder of the pack.
    """
    sizes = {file.name: file.stat().st_size for file in sorted(pack.iterdir())} if pack.is_dir() else {}
    most = {name: known.most_bytes for name in sizes if (known := pack_file(name)) is not None}
    found = [f"{name} has {sizes[name]:,} bytes, at most {most[name]:,}" for name in most if sizes[name] > most[name]]
    together = too_large_together(sum(size for name, size in sizes.items() if is_district_package(name)))
    found += [f"it has {together}"] if together else []
    found += [f"it has {len(sizes):,} files, at most {MOST_FILES:,}"] if len(sizes) > MOST_FILES else []
    larger = (
        f"The handover pack is larger than `kerfbook verify` takes, so that nobody can check it: {'; '.join(found)}."
    )
    advice = "Hand over fewer columns in [handover], or audit fewer districts per programme."
    return [f"{larger} {advice}"] if found else []
