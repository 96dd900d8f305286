"""What is uncertain at single cores: the shade of some, the size of others."""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import pandas as pd

from pipeline.order.safety_stock.volume_model import Floats
from pipeline.programme.catalogue import Materials

__all__ = ["Sizes", "chances_of", "sizes_of"]

# with fewer known sizes than this, a district draws from the whole programme
_FEWEST_KNOWN: Final = 20
_PREFIX: Final = "shade_"
_SUFFIX: Final = "_chance"


def chances_of(cores: pd.DataFrame) -> pd.DataFrame:
    """Return how likely each core takes each shade.

    Parameters
    ----------
    cores
        N rows with ``shade`` and optionally ``shade_<shade>_chance``.

    Returns
    -------
    pandas.DataFrame
        N rows, one column per shade, sorted. A row adds up to less than one where the surface may not take a core. A
        row without chances takes its ``shade`` for certain.
    """
    weighed = {name.removeprefix(_PREFIX).removesuffix(_SUFFIX): name for name in cores.columns if _is_chance(name)}
    shades = sorted({*weighed, *cores["shade"].dropna().astype(str)})
    chances = pd.DataFrame(
        {shade: cores[weighed[shade]] if shade in weighed else np.nan for shade in shades}, cores.index
    )
    certain = pd.DataFrame({shade: cores["shade"].eq(shade).astype(float) for shade in shades}, cores.index)
    is_weighed = chances.sum(axis=1).gt(0)
    chances = chances.astype(float).fillna(0.0).where(is_weighed, certain)
    # rounding may carry a sum beyond one
    return chances.div(chances.sum(axis=1).clip(lower=1), axis=0)


def _is_chance(name: object) -> bool:
    return (
        isinstance(name, str) and name.startswith(_PREFIX) and name.endswith(_SUFFIX) and name != _PREFIX + _SUFFIX[1:]
    )


@dataclass(frozen=True)
class Sizes:
    """Sizes of N cores in millimetres, missing where unknown, and the known sizes to draw those from.

    ``wide_mm``: diameter as recorded, of hole or core. ``bed_mm``: share of voids times thickness of the bed.
    ``is_able``: known, or there is a size to draw from. ``pools``: by district, diameters and depths of known cores.
    ``account``: ``district``, ``not_known`` (cores with a size to draw), ``known`` (cores it is drawn from) and
    ``drawn_from``: "district", "programme" or "none" (such cores are ignored).
    """

    wide_mm: Floats
    deep_mm: Floats
    bed_mm: Floats
    is_able: np.ndarray
    pools: dict[str | None, tuple[Floats, Floats]]
    account: pd.DataFrame


def sizes_of(
    cores: pd.DataFrame, history: pd.DataFrame, materials: Materials, diameter_is: Literal["hole", "core"]
) -> Sizes:
    """Return the known sizes, and what the unknown ones are drawn from.

    Parameters
    ----------
    cores, history, materials, diameter_is
        As in :func:`pipeline.order.safety_stock.simulate.simulate_safety_stock`.
    """
    less_mm = 0.0 if diameter_is == "hole" else 2 * materials.geometry.kerf.value
    hollow = {name: bed.voids.value * bed.thickness.value for name, bed in sorted(materials.bedding.items())}
    bedding = cores["bedding"].map(hollow).astype(float)
    # where no bed was specified, the most common one
    usual = bedding.mode().iloc[0] if bedding.notna().any() else next(iter(hollow.values()))
    sizes = cores[["hole_mm", "depth_mm"]].astype(float)
    not_known = sizes.isna().any(axis=1)
    past = history[["district", "hole_mm", "depth_mm"]].dropna(subset=["hole_mm", "depth_mm"])
    past = past.sort_values(["district", "hole_mm", "depth_mm"])
    pools, account = {}, []
    by_district = dict(list(past.groupby("district", dropna=True)))
    for name, missing in not_known.groupby(cores["district"], dropna=False, sort=True):
        district = str(name) if isinstance(name, str) else None
        own = past.iloc[:0] if district is None else by_district.get(district, past.iloc[:0])
        pool, source = (own, "district") if len(own) >= _FEWEST_KNOWN else (past, "programme" if len(past) else "none")
        pools[district] = (pool["hole_mm"].to_numpy(float) - less_mm, pool["depth_mm"].to_numpy(float))
        if missing.any():
            account.append((district, int(missing.sum()), len(pool), source))
    table = pd.DataFrame(account, columns=["district", "not_known", "known", "drawn_from"])
    return Sizes(
        sizes["hole_mm"].to_numpy(float) - less_mm,
        sizes["depth_mm"].to_numpy(float),
        np.asarray(bedding.fillna(usual), dtype=np.float64),
        (~not_known | bool(len(past))).to_numpy(),
        pools,
        table.astype({"district": "str", "drawn_from": "str"}),
    )
