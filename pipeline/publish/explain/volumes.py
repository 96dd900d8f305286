"""The volumes of one row's core: each formula with its numbers put in, and each number with its source."""

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

from pipeline.programme.sources import outside_source
from pipeline.publish.explain.parts import Cell, Grid, Listing, Paragraph, Section, Shown, is_given
from pipeline.quantify import annulus_l, bed_l, disc_l, pilot_hole_l

__all__ = ["grout_used_section", "volumes_section"]

# decimal places of a volume or mass: the parts add up to within one of the last
_DIGITS: Final = 4
# the values that the formulas have
_USED: Final = (
    "geometry.kerf", "geometry.pilot_hole", "geometry.gap", "geometry.bed_fill", "grout.bag", "grout.water_per_bag",
    "grout.wet_density", "grout.overfill",
)  # fmt: skip
_DENSITY_OF_CORE: Final = "core_density."
_USED_OF_BED: Final = ("thickness", "bulk_density", "voids")


def volumes_section(core: Mapping[str, Any], materials: pd.DataFrame, diameter_is: str, show: Shown) -> Section:
    """Return what the core needs, step by step; why nothing was worked out, where that is so."""
    say = show.words.say
    if not is_given(core["grout_net_l"]):
        return Section(say("explain.volumes"), (Paragraph(_why_none(core, show), is_strong=True),))
    values = _values(materials)
    parts = (
        Paragraph(
            say(
                "explain.sizes",
                hole=_hole(core, values, diameter_is, show),
                depth=_mm(core["depth_believed_mm"], show),
            )
        ),
        Listing(_void_lines(core, values, show), is_sum=True),
        Listing(_need_lines(core, values, show), is_sum=True),
        Paragraph(say("explain.rounded")),
        _sources(core, materials, show),
    )
    return Section(say("explain.volumes"), parts)


def _values(materials: pd.DataFrame) -> dict[str, float]:
    return dict(zip(materials["name"], materials["value"].astype(float), strict=True))


def _why_none(core: Mapping[str, Any], show: Shown) -> Cell:
    say = show.words.say
    if core["is_copy"]:
        return say("explain.none_copy", row=int(core["copy_of"]))
    if core["surface"] == "unknown":
        return say("explain.none_surface")
    if not is_given(core["shade"]):
        return say("explain.none_suitable")
    if core["is_thin"]:
        return say("explain.none_thin")
    return say("explain.none_size")


def _hole(core: Mapping[str, Any], values: Mapping[str, float], diameter_is: str, show: Shown) -> Cell:
    if diameter_is == "hole":
        return _mm(core["hole_mm"], show)
    core_mm, kerf = _mm(core["diameter_mm"], show), _mm(values["geometry.kerf"], show)
    return show.words.say("explain.hole_of_core", core=core_mm, kerf=kerf, hole=_mm(core["hole_mm"], show))


def _mm(value: float, show: Shown) -> str:
    return show.measure(float(value), "mm")


def _void_lines(core: Mapping[str, Any], values: Mapping[str, float], show: Shown) -> tuple[Cell, ...]:
    """The three parts of the void, and their sum."""
    say, number = show.words.say, show.words.number
    bed = f"bedding.{core['bedding']}"
    hole, depth = pd.Series([float(core["hole_mm"])]), pd.Series([float(core["depth_believed_mm"])])
    voids, thickness = (pd.Series([values[f"{bed}.{name}"]]) for name in ("voids", "thickness"))
    kerf, pilot, gap, fill = (values[f"geometry.{name}"] for name in ("kerf", "pilot_hole", "gap", "bed_fill"))
    put_in = {
        "hole": _mm(hole[0], show), "depth": _mm(depth[0], show), "kerf": _mm(kerf, show), "pilot": _mm(pilot, show),
        "gap": _mm(gap, show), "fill": show.words.percent(fill, 1), "voids": show.words.percent(voids[0], 1),
        "thickness": _mm(thickness[0], show),
    }  # fmt: skip
    litres = {
        "kerf": annulus_l(hole, depth, kerf)[0],
        "pilot": pilot_hole_l(depth, pilot)[0],
        "bed": bed_l(hole, gap, fill, voids, thickness)[0],
    }
    lines = [say(f"explain.{name}_l", **put_in, litres=number(value, _DIGITS)) for name, value in litres.items()]
    added = {f"{name}_litres": number(value, _DIGITS) for name, value in litres.items()}
    return (*lines, say("explain.void_l", **added, litres=number(core["grout_net_l"], _DIGITS)))


def _need_lines(core: Mapping[str, Any], values: Mapping[str, float], show: Shown) -> tuple[Cell, ...]:
    """What is mixed and laid for that void."""
    number = show.words.number
    bed = f"bedding.{core['bedding']}"
    bed_litres = disc_l(pd.Series([float(core["hole_mm"])]), pd.Series([values[f"{bed}.thickness"]]))[0]
    put_in = {
        "net": number(core["grout_net_l"], _DIGITS),
        "wet": number(core["grout_l"], _DIGITS),
        "bags": number(core["bags"], _DIGITS),
        "kg": number(core["grout_kg"], _DIGITS),
        "water": number(core["water_l_needed"], _DIGITS),
        "gravel": number(core["gravel_kg"], _DIGITS),
        "overfill": show.words.percent(values["grout.overfill"], 1),
        "density": show.measure(values["grout.wet_density"]),
        "bag": show.measure(values["grout.bag"]),
        "water_per_bag": show.measure(values["grout.water_per_bag"]),
        "hole": _mm(core["hole_mm"], show),
        "thickness": _mm(values[f"{bed}.thickness"], show),
        "bulk": show.measure(values[f"{bed}.bulk_density"]),
        "bed": number(bed_litres, _DIGITS),
    }
    keys = ("wet_grout", "bags", "dry_grout", "water", "gravel")
    return (*(show.words.say(f"explain.need_{key}", **put_in) for key in keys), *_weight_line(core, values, show))


def _weight_line(core: Mapping[str, Any], values: Mapping[str, float], show: Shown) -> tuple[Cell, ...]:
    """About what the core weighs; nothing where the density of its surface is not known."""
    density = values.get(f"{_DENSITY_OF_CORE}{core['surface']}")
    if density is None or not is_given(core["core_kg"]):
        return ()
    kerf = values["geometry.kerf"]
    width, depth = (pd.Series([size]) for size in (core["hole_mm"] - 2 * kerf, float(core["depth_believed_mm"])))
    put_in = {
        "hole": _mm(core["hole_mm"], show),
        "kerf": _mm(kerf, show),
        "depth": _mm(depth[0], show),
        "litres": show.words.number(disc_l(width, depth)[0], _DIGITS),
        "density": show.measure(density, "kg/L"),
        "kg": show.words.number(core["core_kg"], _DIGITS),
    }
    return (show.words.say("explain.core_weight", **put_in),)


def _sources(core: Mapping[str, Any], materials: pd.DataFrame, show: Shown) -> Grid:
    """Each value that was put in, with its source and who set it."""
    say = show.words.say
    bed = f"bedding.{core['bedding']}."
    names = [*_USED, *(f"{bed}{name}" for name in _USED_OF_BED), f"{_DENSITY_OF_CORE}{core['surface']}"]
    used = materials[materials["name"].isin(names)]
    rows = []
    for one in used.to_dict("records"):
        name = str(one["name"])
        key = "core_density" if name.startswith(_DENSITY_OF_CORE) else name.rpartition(".")[-1]
        is_share = one["unit"] == "%"
        value = show.words.percent(one["value"], 1) if is_share else show.measure(one["value"], str(one["unit"]))
        source, by = show.words.own(outside_source(str(one["source"]))), say(f"explain.set_{one['origin']}")
        rows.append((say(f"explain.value_{key}"), value, source, by))
    heads = tuple(say(f"explain.head_{name}") for name in ("value", "used", "source", "set_by"))
    return Grid(say("explain.values"), heads, tuple(rows))


def grout_used_section(core: Mapping[str, Any], materials: pd.DataFrame, show: Shown) -> Section | None:
    """Return the grout that was used beside the void it had to fill; None without a record of bags."""
    if not is_given(core["grout_used_l"]):
        return None
    say, number, values = show.words.say, show.words.number, _values(materials)
    bags, used = float(core["bags_used"]), float(core["grout_used_l"])
    per_bag = (values["grout.bag"] + values["grout.water_per_bag"]) / values["grout.wet_density"]
    stated = bags * values["grout.water_per_bag"]
    # the water that the run counted: as recorded, or as stated where the record is no plausible amount
    counted = used - bags * per_bag + stated
    put_in = {
        "bags": show.measure(bags),
        "bag": show.measure(values["grout.bag"]),
        "water_per_bag": show.measure(values["grout.water_per_bag"]),
        "density": show.measure(values["grout.wet_density"]),
        "counted": show.measure(round(counted, 6)),
        "stated": show.measure(round(stated, 6)),
        "used": number(used, _DIGITS),
    }
    key = "explain.used_l" if is_given(core["water_l"]) else "explain.used_l_as_stated"
    parts: list[Paragraph | Listing] = [Listing((say(key, **put_in),), is_sum=True)]
    if is_given(core["grout_least_l"]):
        parts.append(
            Paragraph(
                say(
                    "explain.void_range",
                    least=number(core["grout_least_l"], _DIGITS),
                    most=number(core["grout_most_l"], _DIGITS),
                    by=show.words.translated(core["grout_judged_by"]),
                    share=show.words.percent(used / core["grout_least_l"], 1),
                )
            )
        )
    return Section(say("explain.grout_used"), tuple(parts))
