"""The columns of the chances of each shade, which depend on the catalogue."""

from collections.abc import Iterable

from pipeline.contracts.column import Column

__all__ = ["shade_chances"]


def shade_chances(shades: Iterable[str]) -> tuple[Column, ...]:
    """Return the columns that say how likely each core takes each shade; only weighed positions have them."""
    return tuple(
        Column(
            f"shade_{shade}_chance",
            "number",
            "",
            f"Chance of shade {shade} (0 to 1)",
            f"probability that the core takes shade {shade}",
            optional=True,
            reveals=(),
        )
        for shade in sorted(set(shades))
    )
