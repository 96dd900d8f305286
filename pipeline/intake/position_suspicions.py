"""What looks misread in the positions of a register."""

from collections.abc import Iterator
from typing import Final

from pipeline.intake.position_facts import PositionFacts
from pipeline.wording import counted

__all__ = ["of_positions"]

# fewer positions than this show nothing
_FEW: Final = 10
# more than this share of a register is no slip of single rows
_SHARE: Final = 0.05
_MOST: Final = 0.5
_FAR_M: Final = 50.0
_FAR_SHARE: Final = 0.2
# from the middle of a road to its edge, with what a satellite position is off
_BESIDE_M: Final = 8.0
_OFF_SHARE: Final = 0.3


def of_positions(positions: PositionFacts) -> Iterator[tuple[float, str]]:
    """Return what looks misread in positions, each with its weight."""
    if positions.distances is not None and positions.placed >= _FEW:
        far = positions.beyond(_FAR_M)
        if far > _FAR_SHARE * positions.placed:
            yield (
                1.0,
                (
                    f"{far:,} of {counted(positions.placed, 'position')} are over {_FAR_M:g} m from any road. "
                    f"Check the CRS ({positions.crs}), the columns of the position, and the extent of the roads."
                ),
            )
        elif positions.median_m is not None:
            yield from _beside_roads(positions)
    unplaced = positions.rows - positions.placed
    if positions.rows >= _FEW and unplaced > _SHARE * positions.rows:
        why = ", ".join(f"{reason} {count:,}" for reason, count in positions.unplaced.items())
        yield unplaced / positions.rows, f"{unplaced:,} of {counted(positions.rows, 'row')} have no position ({why})."
    for repair, count in positions.repaired.items():
        if repair == "swapped" and count > _MOST * positions.rows:
            yield 0.8, f"{count:,} of {counted(positions.rows, 'position')} were swapped. Swap cores.x and cores.y."


def _beside_roads(positions: PositionFacts) -> Iterator[tuple[float, str]]:
    """Return whether most positions lie a little beside the roads, as they do in a CRS that is nearly the right one."""
    check = f"Check the CRS ({positions.crs}): a datum mistaken for another moves every position alike."
    if positions.median_m is not None and positions.median_m > _BESIDE_M:
        yield (
            1.0,
            (
                f"half of the positions lie over {positions.median_m:.1f} m from the middle of the nearest road, more "
                f"than a road is wide. {check}"
            ),
        )
    elif positions.off_road is not None and positions.off_road > _OFF_SHARE * positions.placed:
        yield (
            0.9,
            (
                f"{positions.off_road:,} of {counted(positions.placed, 'position')} lie beside the nearest road, "
                f"beyond its edge and their accuracy. {check}"
            ),
        )
