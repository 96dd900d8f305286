"""The shipped data folders: inside an installed wheel, or at the root of a checkout."""

from importlib.resources import files
from pathlib import Path

__all__ = ["languages", "shipped"]


def shipped(folder: str) -> Path:
    """Return the path of a shipped folder, ``config`` or ``sample_data``."""
    package = Path(str(files("pipeline")))
    inside = package / "_data" / folder
    return inside if inside.is_dir() else package.parent / folder


def languages(config: Path) -> list[str]:
    """Return the languages that the folder ``config`` has words for, by their codes."""
    return sorted(file.stem for file in (config / "words").glob("*.toml"))
