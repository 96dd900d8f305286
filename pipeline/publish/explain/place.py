"""Where one row's core is: the error of its position, each candidate segment, the surface's chances, the district."""

from collections.abc import Mapping
from typing import Any

from pipeline.publish.explain.parts import Cell, Grid, Paragraph, Section, Shown, is_given
from pipeline.readback.basis import CoreBasis

__all__ = ["position_section", "segment_section", "surface_section"]


def position_section(row: CoreBasis, crs: str, show: Shown) -> Section:
    """Return how accurate the position is taken to be, and where that is from."""
    say, core = show.words.say, row.core
    if not is_given(core["x_m"]):
        return Section(say("explain.accuracy"), (Paragraph(say("explain.unplaced")),))
    register = show.named(core.get("register"))
    source = say(
        f"explain.accuracy_{core['accuracy_from']}",
        method=show.named(core.get("position_method")),
        register=register,
        cores=_learnt_from(core, show),
    )
    rounding = float(core["rounding_sigma_m"]) if is_given(core["rounding_sigma_m"]) else 0.0
    error = source
    if core["accuracy_from"] != "learnt":
        error = say(
            "explain.error",
            radius=show.measure(core["accuracy_used_m"], "m"),
            source=source,
            rounding=show.measure(float(f"{rounding:.3g}"), "m"),
            sigma=show.measure(float(f"{core['sigma_m']:.4g}"), "m"),
        )
    parts = [
        Paragraph(error),
        Paragraph(
            say(
                "explain.metres",
                x=show.words.number(core["x_m"], 2),
                y=show.words.number(core["y_m"], 2),
                crs=show.named(crs),
                reach=show.measure(float(f"{core['reach_m']:.4g}"), "m"),
            )
        ),
    ]
    if is_given(core.get("not_learnt")):
        reason = str(core["not_learnt"]).replace(" ", "_")
        parts.insert(1, Paragraph(say(f"explain.not_learnt_{reason}", register=register)))
    return Section(say("explain.accuracy"), tuple(parts))


def _learnt_from(core: Mapping[str, Any], show: Shown) -> Cell:
    """Return which cores an error was learnt from; a run of an earlier version names the register alone."""
    by = core.get("learnt_by") if is_given(core.get("learnt_by")) else "register"
    return show.words.say(
        f"explain.learnt_by_{by}", name=show.named(core.get(str(by))), register=show.named(core.get("register"))
    )


def segment_section(row: CoreBasis, matching: Mapping[str, Any], show: Shown) -> Section:
    """Return each candidate segment with its likelihood and what that is made of."""
    say, core = show.words.say, row.core
    parts: list[Paragraph | Grid] = [Paragraph(_answer(core, show), is_strong=True)]
    weighed = matching.get("choose") == "likeliest"
    found = row.candidates.sort_values(["chance", "distance_m"], ascending=[False, True], kind="stable")
    if len(found):
        columns = ("segment", "street", "distance", *(("width", "near", "name", "level", "chance") if weighed else ()))
        heads = tuple(say(f"explain.head_{name}") for name in columns)
        rows = tuple(_candidate(one, show)[: len(heads)] for one in found.to_dict("records"))
        parts.append(Grid(say("explain.candidates"), heads, rows))
        parts.append(Paragraph(say("explain.weighed") if weighed else say("explain.nearest")))
    if weighed and found["is_beyond_error"].astype(bool).any():
        parts.append(Paragraph(say("explain.beyond_error")))
    if weighed and found["lines"].gt(1).any():
        parts.append(Paragraph(say("explain.lines")))
    if weighed and is_given(core.get("street")):
        parts.append(
            Paragraph(
                say(
                    "explain.names_learnt" if core["accuracy_from"] == "learnt" else "explain.names",
                    street=show.quoted(core["street"]),
                    right=show.words.percent(matching["name_right"]),
                    near=show.measure(matching["names_near"]),
                )
            )
        )
    return Section(say("explain.segment"), tuple(parts))


def _candidate(one: Mapping[Any, Any], show: Shown) -> tuple[Cell, ...]:
    if not is_given(one["chance"]):
        return show.named(one["segment_id"]), show.named(one["street"]), show.measure(round(one["distance_m"], 2), "m")
    match = show.share(one["name_match"]) if is_given(one["name_match"]) else show.words.say("explain.no_name")
    return (
        show.named(one["segment_id"]),
        show.named(one["street"]),
        show.measure(round(one["distance_m"], 2), "m"),
        show.measure(round(2 * one["half_width_m"], 2), "m"),
        show.likelihood(one["position_likelihood"]),
        show.words.say("explain.name_part", match=match, part=show.likelihood(one["name_likelihood"])),
        show.likelihood(one["level_likelihood"]),
        show.share(one["chance"]),
    )


def _answer(core: Mapping[str, Any], show: Shown) -> Cell:
    say = show.words.say
    if not is_given(core["x_m"]):
        return say("explain.no_segment_unplaced")
    if not is_given(core["segment_id"]):
        return say(
            "explain.no_segment", segment=show.named(core["nearest_id"]), distance=show.measure(core["nearest_m"], "m")
        )
    side = say(f"explain.{core['side']}") if is_given(core["side"]) else say("explain.on_line")
    return say(
        "explain.on_segment",
        segment=show.named(core["segment_id"]),
        street=show.named(core["street_matched"]),
        chainage=show.measure(round(core["chainage_m"], 2), "m"),
        offset=show.measure(round(core["offset_m"], 2), "m"),
        side=side,
        authority=show.named(core["road_authority"]),
        road_class=show.named(core["road_class"]),
    )


def surface_section(row: CoreBasis, show: Shown) -> Section:
    """Return the chances of each surface, what the surface calls for, and the district."""
    say, core, words = show.words.say, row.core, show.words
    source = say(f"explain.from_{core['surface_from']}")
    parts: list[Paragraph | Grid] = [
        Paragraph(say("explain.surface_is", surface=words.translated(core["surface"]), source=source), is_strong=True)
    ]
    chances = row.surfaces.sort_values(["chance", "surface", "source"], ascending=[False, True, True])
    # without a position nothing is weighed, and a surface without another near it has no source but the one found
    if is_given(core["x_m"]) and chances["surface"].nunique() == 1:
        parts.append(Paragraph(say("explain.one_surface")))
    elif is_given(core["x_m"]) and len(chances):
        rows = tuple(
            (words.translated(one["surface"]), say(f"explain.from_{one['source']}"), show.share(one["chance"]))
            for one in chances.to_dict("records")
        )
        heads = tuple(say(f"explain.head_{name}") for name in ("surface", "source", "chance"))
        parts.append(Grid(say("explain.chances"), heads, rows))
    if is_given(core["shade"]):
        calls = {name: words.translated(core[name]) for name in ("shade", "bedding")}
        parts.append(Paragraph(say("explain.calls_for", **calls)))
    elif core["surface"] != "unknown":
        parts.append(Paragraph(say("explain.not_reinstatable")))
    parts.append(Paragraph(_district(core, show)))
    return Section(say("explain.surface"), tuple(parts))


def _district(core: Mapping[str, Any], show: Shown) -> Cell:
    say = show.words.say
    if not is_given(core["district"]):
        return say("explain.no_district")
    district = show.named(core["district"])
    if not is_given(core["district_confidence"]):
        key = "district_nearest" if core["district_how"] in {"gap", "outside"} else "district"
        return say(
            f"explain.{key}",
            district=district,
            distance=show.value("district_distance_m", core["district_distance_m"]),
        )
    other = core["district_next"]
    return say(
        "explain.district_chance",
        district=district,
        chance=show.share(float(core["district_confidence"])),
        other=say("explain.district_next", district=show.named(other)) if is_given(other) else "",
    )
