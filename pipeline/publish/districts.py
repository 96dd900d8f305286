"""A run cut by district: which cores, segments and shapes belong to each, and what its files are called."""

import hashlib
import re
import unicodedata
from collections.abc import Collection, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.contracts import no_text

__all__ = ["DistrictPart", "cut_by_district", "districts_with_cores", "file_stems", "places_by"]

Ints = npt.NDArray[np.intp]

# of cores in no district
_NO_DISTRICT: Final = "no-district"
_NAMELESS: Final = "district"
# characters: with a folder and an ending it stays within what every file system takes
_LONGEST: Final = 60
_DIGITS: Final = 6
# Windows keeps these for devices, whatever the ending
_DEVICE: Final = re.compile("con|prn|aux|nul|(?:com|lpt)[0-9]")


class DistrictPart(NamedTuple):
    """What belongs to one district; ``name`` is None for the cores in no district.

    ``stem``: of the names of its files. ``cores``, ``segments``, ``shapes``: positions in the tables that were cut. A
    segment on a border is in the part of each district that it touches, and in that of each core that lies on it.
    """

    name: str | None
    stem: str
    cores: Ints
    segments: Ints
    shapes: Ints


def file_stems(names: Collection[str | None]) -> dict[str | None, str]:
    """Return for each district a stem for file names: lower-case letters of ASCII, digits and hyphens, each once.

    Where two names give the same, or one gives none, it ends in a digest of the name: which of them it is does not
    depend on the others. None is the cores in no district.
    """
    plain = {name: _plain(name) for name in names if name is not None}
    taken = [_NO_DISTRICT, *plain.values()]
    stems: dict[str | None, str] = {None: _NO_DISTRICT} if None in names else {}
    for name in sorted(plain):
        stem = plain[name]
        is_clear = bool(stem) and taken.count(stem) == 1 and not _DEVICE.fullmatch(stem)
        digest = hashlib.sha256(name.encode("utf-8", "replace")).hexdigest()[:_DIGITS]
        stems[name] = stem if is_clear else f"{stem or _NAMELESS}-{digest}"
    return stems


def _plain(name: str) -> str:
    letters = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().casefold()
    return re.sub("[^a-z0-9]+", "-", letters).strip("-")[:_LONGEST].strip("-")


def districts_with_cores(district: pd.Series) -> list[str | None]:
    """Return the names of the districts of N cores in their order; None last, where a core is in none."""
    names: list[str | None] = sorted(district.dropna().astype("str").unique())
    return [*names, None] if district.isna().any() else names


def cut_by_district(cores: pd.DataFrame, segments: gpd.GeoDataFrame, districts: gpd.GeoDataFrame) -> list[DistrictPart]:
    """Return a part for each district that has cores, in the order of their names, then one for cores in none.

    Parameters
    ----------
    cores
        ``district``, ``segment_id``; ``runner_up_id`` if it is known.
    segments, districts
        In the same CRS.
    """
    names = districts_with_cores(cores["district"])
    known = pd.Index([name for name in names if name is not None], dtype="str")
    codes = known.get_indexer(pd.Index(cores["district"], dtype="str"))
    codes = np.where(codes < 0, len(known), codes)
    stems = file_stems(names)
    shapes = places_by(known.get_indexer(pd.Index(districts["district"], dtype="str")), len(names))
    lines = segments.geometry.to_numpy()
    tree = shapely.STRtree(lines)
    meets = [np.unique(tree.query(districts.geometry.to_numpy()[here], predicate="intersects")[1]) for here in shapes]
    if None in names:
        every = np.unique(tree.query(districts.geometry.to_numpy(), predicate="intersects")[1])
        meets[-1] = np.setdiff1d(np.flatnonzero(~shapely.is_missing(lines)), every)
    named = _segments_named(cores, segments["segment_id"], codes, len(names))
    rows = places_by(codes, len(names))
    return [
        DistrictPart(name, stems[name], rows[at], np.union1d(meets[at], named[at]).astype(np.intp), shapes[at])
        for at, name in enumerate(names)
    ]


def places_by(codes: Sequence[int] | npt.NDArray[np.integer], count: int) -> list[Ints]:
    """Return for each of ``count`` codes its places among N codes, ascending; negative codes have none."""
    each = np.asarray(codes)
    order = np.argsort(each, kind="stable")
    ends = np.searchsorted(each[order], np.arange(count + 1))
    return [order[start:end] for start, end in pairwise(ends)]


def _segments_named(cores: pd.DataFrame, ids: pd.Series, codes: npt.NDArray[np.integer], count: int) -> list[Ints]:
    """Return for each code the segments on which its cores lie, or may lie instead."""
    second = cores["runner_up_id"] if "runner_up_id" in cores else no_text(cores.index)
    wanted = pd.DataFrame(
        {"code": np.concatenate([codes, codes]), "id": pd.concat([cores["segment_id"], second]).to_numpy()}
    )
    places = pd.DataFrame({"id": ids.to_numpy(), "at": np.arange(len(ids))})
    pairs = wanted.dropna().drop_duplicates().merge(places, on="id", validate="many_to_many")
    at = pairs["at"].to_numpy()
    return [at[here] for here in places_by(pairs["code"].to_numpy(), count)]
