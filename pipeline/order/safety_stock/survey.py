"""The bags that the survey round may add: open cores whose size or surface is unknown, which no plan can have yet."""

from typing import Final, Literal
from zlib import crc32

import numpy as np
import pandas as pd

from pipeline.contracts import ORDER_TABLES, names_of
from pipeline.order.safety_stock.bags import lost_bags
from pipeline.order.safety_stock.draws import drawn_hits, edges_of, in_pieces, needs_of, whole_mixes
from pipeline.order.safety_stock.levels import quantile
from pipeline.order.safety_stock.shades_and_sizes import Sizes, chances_of, sizes_of
from pipeline.order.safety_stock.volume_model import Floats
from pipeline.programme.catalogue import Materials

__all__ = ["survey_bags"]

_COLUMNS: Final = names_of(ORDER_TABLES["survey_round"])
_TEXTS: Final = ("district", "shade", "drawn_from")


def survey_bags(
    cores: pd.DataFrame,
    history: pd.DataFrame,
    materials: Materials,
    diameter_is: Literal["hole", "core"],
    drawn: Floats,
    *,
    smallest: float,
    waste: float,
    service_level: float,
    seed: int,
) -> pd.DataFrame:
    """Simulate the bags of the cores to be surveyed, each with a mix of its own.

    A missing diameter or depth is that of a known core of the same district, or of the whole programme where the
    district has too few. A core without any chance of a shade takes one by the shares among ``history``.

    Parameters
    ----------
    cores, history, materials, diameter_is
        As in :func:`pipeline.order.safety_stock.simulate.simulate_safety_stock`, the sizes of ``cores`` incomplete.
    drawn
        Bags per unit of each term: S draws by T.
    smallest, waste, service_level, seed
        As there.

    Returns
    -------
    pandas.DataFrame
        ORDER_TABLES' ``survey_round``: a row per district and shade, and a last one for all of them.
    """
    cores = cores.sort_index()
    chances, sizes = _chances(cores, history), sizes_of(cores, history, materials, diameter_is)
    rows: list[dict[str, object]] = []
    total, counted = np.zeros(len(drawn)), 0.0
    pools = {str(row["district"]): row for row in sizes.account.to_dict("records")}
    for district, members in pd.Series(np.arange(len(cores))).groupby(cores["district"].to_numpy(), sort=True):
        at = members.to_numpy()[sizes.is_able[members]]
        rng = np.random.default_rng([seed, 2, crc32(str(district).encode())])
        bags = _bags(chances.to_numpy()[at], sizes, at, str(district), drawn, smallest, rng)
        bags += lost_bags(bags, waste, rng)
        total += bags.sum(axis=1)
        # missing where all sizes are known
        pool = pools.get(str(district), {})
        source = {"known": pool.get("known"), "drawn_from": pool.get("drawn_from")}
        for number, shade in enumerate(chances):
            count = float(chances.to_numpy()[at, number].sum())
            if count > 0:
                counted += count
                rows.append(_row(district, shade, count, bags[:, number], service_level) | source)
    if rows:
        rows.append(_row(None, None, counted, total, service_level))
    table = pd.DataFrame(rows, columns=list(_COLUMNS))
    return table.astype({name: "str" if name in _TEXTS else "float" for name in _COLUMNS} | {"known": "Int64"})


def _chances(cores: pd.DataFrame, history: pd.DataFrame) -> pd.DataFrame:
    """Return the chances of each core's shades; those of a core without any are the shares among the known cores."""
    shares = chances_of(history).mean()
    own = chances_of(cores)
    shades = sorted({*own, *shares.index})
    own, shares = own.reindex(columns=shades, fill_value=0.0), shares.reindex(shades, fill_value=0.0)
    none = own.sum(axis=1).le(0) & cores["surface"].eq("unknown")
    filled = np.where(none.to_numpy()[:, None], shares.to_numpy(float), own.to_numpy(float))
    return pd.DataFrame(filled, own.index, own.columns)


def _bags(
    chance: Floats,
    sizes: Sizes,
    at: np.ndarray,
    district: str,
    drawn: Floats,
    smallest: float,
    rng: np.random.Generator,
) -> Floats:
    """Return the bags of one district by shade, S by K, without waste."""
    bags = np.zeros((len(drawn), chance.shape[1]))
    pool, edges = sizes.pools[district], edges_of(chance)
    for piece in in_pieces(np.arange(len(at)), len(drawn)):
        core = at[piece]
        # a known diameter is kept beside a drawn depth, and the other way round
        which = rng.integers(0, max(len(pool[0]), 1), (len(drawn), len(core)))
        width, depth = (
            np.where(np.isnan(own[core]), of[which] if len(of) else np.nan, own[core])
            for own, of in zip((sizes.wide_mm, sizes.deep_mm), pool, strict=True)
        )
        whole = whole_mixes(needs_of(width, depth, sizes.bed_mm[core], drawn), smallest)
        for number, hit in enumerate(drawn_hits(edges[piece], len(drawn), rng)):
            bags[:, number] += np.where(hit, whole, 0.0).sum(axis=1)
    return bags


def _row(district: object, shade: object, cores: float, bags: Floats, level: float) -> dict[str, object]:
    return {
        "district": district,
        "shade": shade,
        "cores": cores,
        "expected": float(bags.mean()),
        "enough": quantile(np.sort(bags), level),
    }
