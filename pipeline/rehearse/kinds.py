"""The kinds of fault that are planted: what each spoils, how, and which rules know it.

A rule knows a kind if its finding leads whoever reads it to the cell that is wrong. A rule that no kind plants is in
``NOT_PLANTED`` with the reason; a test holds that every rule of the audit is in one or the other.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from pipeline.rehearse import slips
from pipeline.rehearse.making import (
    Kind,
    changed,
    changed_at_random,
    cut_digits,
    exchanged,
    from_above,
    in_other_unit,
    of_another,
    other_year,
    replaced,
    row_above,
    scaled,
    shift_cells,
    use_other_grid,
    where_written_in,
)

__all__ = ["KINDS", "NOT_PLANTED", "Kind"]


# what a core in the wrong place, or a position that cannot be used, is found by
_PLACE: Final = (
    "off-network", "street-differs", "surface-differs", "district-outside", "district-gap", "position-out-of-range",
    "position-sign-lost", "position-projected", "position-swapped", "position-zero", "position-unreadable",
)  # fmt: skip
_ORDER: Final = ("dates-out-of-order", "date-in-future", "date-implausible", "date-unreadable")
_OPENED: Final = (*_ORDER, "open-too-long", "open-uncovered", "permit-expired")
_DONE: Final = (*_ORDER, "reinstatement-date-unreadable", "reinstated-without-permit", "notice-late")
_GROUT: Final = ("grout-short", "grout-long")
_DIAMETER: Final = ("diameter-implausible", *_GROUT)
_DEPTH: Final = ("depth-implausible", "pavement-thin", *_GROUT)
_SAME_ID: Final = ("id-duplicated", "id-in-two-registers", "core-in-two-registers", "core-handed-over")
_UNREADABLE: Final = (
    "position-missing", "diameter-missing", "diameter-unreadable", "depth-missing", "depth-unreadable",
    "date-unreadable", "reinstatement-date-unreadable", "value-unreadable", "shade-unreadable",
    "core-condition-unreadable",
)  # fmt: skip
_NOTHING: Final = ()
_WORD: Final = "see photo"
_FT_PER_M: Final = 3.280839895
_MM_PER_IN: Final = 25.4
# the middle of a column in inches is below these
_LEAST_MM: Final = 40.0
_LEAST_BED_MM: Final = 5.0
# and that of one in degrees Celsius below this
_LEAST_F: Final = 45.0
_L_PER_GAL: Final = 3.785411784
_XY: Final = ("x", "y")

_POSITIONS: Final = (
    *(
        Kind(f"{name}-{axis}", "position", (axis,), _PLACE, changed_at_random(axis, change), has_size=True)
        for axis in _XY
        for name, change in (("digits-exchanged", slips.exchange_digits), ("digit-wrong", slips.wrong_digit))
    ),
    Kind("axes-exchanged", "position", _XY, _PLACE, exchanged("x", "y")),
    Kind("sign-wrong-x", "position", ("x",), _PLACE, changed(slips.flip_sign, "x")),
    Kind("sign-wrong-y", "position", ("y",), _PLACE, changed(slips.flip_sign, "y")),
    Kind("digits-cut", "position", _XY, ("position-rounded", *_PLACE), cut_digits),
    Kind("point-lost", "position", ("x",), _PLACE, changed(slips.drop_point, "x")),
    Kind("comma-written", "position", _XY, ("position-decimal-comma", *_PLACE),
         changed(slips.points_to_commas, *_XY)),
    Kind("dms-written", "position", _XY, ("position-dms", *_PLACE), where_written_in("degrees", slips.written_dms)),
    Kind("noughts-written", "position", _XY, _PLACE, replaced("0", *_XY)),
    Kind("position-blank", "position", _XY, ("position-missing",), replaced(None, *_XY)),
    Kind("word-for-position", "position", ("x",), _PLACE, replaced(_WORD, "x")),
    Kind("other-grid", "position", _XY, _PLACE, use_other_grid),
    Kind("feet-for-metres", "position", _XY, _PLACE,
         where_written_in("metres", lambda texts: slips.scale(texts, _FT_PER_M))),
    Kind("position-of-row-above", "position", _XY, ("cores-overlap", *_PLACE), from_above("x", "y"), has_partner=True),
)  # fmt: skip

_ROWS: Final = (
    Kind("id-blank", "row", ("core_id",), ("id-missing",), replaced(None, "core_id")),
    Kind("id-of-row-above", "row", ("core_id",), _SAME_ID, from_above("core_id"), has_partner=True),
    Kind("id-of-another", "row", ("core_id",), _SAME_ID, of_another("core_id")),
    Kind("letter-in-id", "row", ("core_id",), _NOTHING, changed(slips.letter_for_digit, "core_id")),
    Kind("row-above-repeated", "row", ("core_id",), ("row-duplicated", *_SAME_ID), row_above(keeps_id=False),
         has_partner=True),
    Kind("row-above-under-own-id", "row", ("core_id",), ("cores-overlap",), row_above(keeps_id=True),
         has_partner=True),
    Kind("cells-shifted", "row", ("core_id",),
         (*_UNREADABLE, *_PLACE, *_ORDER, *_DIAMETER, *_DEPTH, "shade-differs"), shift_cells),
)  # fmt: skip

_SIZES: Final = (
    *(
        Kind(f"{short}-{name}", "size", (column,), rules, slip)
        for column, short, known in (("diameter_mm", "diameter", _DIAMETER), ("depth_mm", "depth", _DEPTH))
        for name, rules, slip in (
            ("blank", (f"{short}-missing",), replaced(None, column)),
            ("word", (f"{short}-unreadable",), replaced(_WORD, column)),
            ("other-unit", known, in_other_unit(column, 1 / _MM_PER_IN, 0, _LEAST_MM)),
            ("tenfold", known, scaled(column, 10)),
            ("tenth", known, scaled(column, 0.1)),
            ("digits-exchanged", known, changed_at_random(column, slips.exchange_digits)),
            ("of-another", known, of_another(column)),
        )
    ),
    Kind("sizes-exchanged", "size", ("diameter_mm", "depth_mm"), (*_DIAMETER, *_DEPTH),
         exchanged("diameter_mm", "depth_mm")),
)  # fmt: skip

_NAMES: Final = (
    Kind("street-of-another", "name", ("street",), ("street-differs",), of_another("street")),
    Kind("street-of-row-above", "name", ("street",), ("street-differs",), from_above("street"), has_partner=True),
    Kind("surface-of-another", "name", ("surface_recorded",), ("surface-differs", "surface-not-allowed"),
         of_another("surface_recorded")),
    Kind("surface-word", "name", ("surface_recorded",), ("value-unreadable",), replaced(_WORD, "surface_recorded")),
    Kind("shade-of-another", "name", ("shade_used",), ("shade-differs",), of_another("shade_used")),
    Kind("shade-word", "name", ("shade_used",), ("shade-unreadable",), replaced(_WORD, "shade_used")),
    Kind("condition-of-another", "name", ("core_condition",), ("core-unsound",), of_another("core_condition")),
    Kind("condition-word", "name", ("core_condition",), ("core-condition-unreadable",),
         replaced(_WORD, "core_condition")),
    Kind("crew-blank", "name", ("crew",), _NOTHING, replaced(None, "crew")),
    Kind("crew-of-another", "name", ("crew",), _NOTHING, of_another("crew")),
    Kind("permit-of-another", "name", ("permit_no",), _NOTHING, of_another("permit_no")),
    Kind("result-of-another", "name", ("inspection_result",), _NOTHING, of_another("inspection_result")),
)  # fmt: skip

_DATES: Final = (
    *(
        Kind(f"{short}-{name}", "date", (column,), rules, slip)
        for column, short, known in (("opened_on", "opened", _OPENED), ("reinstated_at", "reinstated", _DONE))
        for name, rules, slip in (
            ("day-month", known, changed(slips.exchange_day_and_month, column)),
            ("year-early", known, other_year(column, -1)),
            ("year-late", known, other_year(column, 1)),
            ("century-early", known, other_year(column, -100)),
            ("word", known, replaced(_WORD, column)),
            ("impossible", known, replaced("31/02/2026", column)),
        )
    ),
    Kind("opened-blank", "date", ("opened_on",), _NOTHING, replaced(None, "opened_on")),
    Kind("opened-of-row-above", "date", ("opened_on",), _OPENED, from_above("opened_on"), has_partner=True),
    Kind("opened-reinstated-exchanged", "date", ("opened_on", "reinstated_at"), (*_OPENED, *_DONE),
         exchanged("opened_on", "reinstated_at")),
    Kind("reinstated-blank", "date", ("reinstated_at",),
         (*_OPENED, "plated-too-long", "interim-too-old"), replaced(None, "reinstated_at")),
    Kind("reopened-exchanged", "date", ("reinstated_at", "reopened_at"), (*_DONE, "reopened-too-soon"),
         exchanged("reinstated_at", "reopened_at")),
    Kind("reopened-as-reinstated", "date", ("reinstated_at", "reopened_at"), ("reopened-too-soon",),
         lambda cells, _: cells.assign(reopened_at=cells["reinstated_at"])),
    Kind("plated-year-early", "date", ("plated_on",), (*_ORDER, "plated-too-long"), other_year("plated_on", -1)),
    Kind("backfilled-year-late", "date", ("backfilled_on",), _ORDER, other_year("backfilled_on", 1)),
    Kind("interim-year-early", "date", ("interim_on",), (*_ORDER, "interim-too-old"), other_year("interim_on", -1)),
    Kind("permit-year-early", "date", ("permit_expires_on",),
         ("permit-expired", "reinstated-without-permit", "date-implausible"), other_year("permit_expires_on", -1)),
    Kind("notice-year-late", "date", ("notice_sent_on",), (*_ORDER, "notice-late"), other_year("notice_sent_on", 1)),
    Kind("inspected-year-late", "date", ("inspected_on",), _ORDER, other_year("inspected_on", 1)),
    Kind("planned-year-early", "date", ("planned_on",), _NOTHING, other_year("planned_on", -1)),
)  # fmt: skip

_MATERIALS: Final = (
    Kind("bags-tenfold", "material", ("bags_used",), ("grout-long", "water-ratio-off"), scaled("bags_used", 10)),
    Kind("bags-tenth", "material", ("bags_used",), ("grout-short", "water-ratio-off"), scaled("bags_used", 0.1)),
    Kind("bags-word", "material", ("bags_used",), ("value-unreadable",), replaced("two", "bags_used")),
    Kind("water-in-gallons", "material", ("water_l",), ("water-ratio-off", "grout-short"),
         scaled("water_l", 1 / _L_PER_GAL)),
    Kind("water-tenfold", "material", ("water_l",), ("water-ratio-off", "grout-long"), scaled("water_l", 10)),
    Kind("temperature-other-unit", "material", ("air_temperature_c",), ("air-temperature-outside",),
         in_other_unit("air_temperature_c", 1 / 1.8, -32 / 1.8, _LEAST_F)),
    Kind("bedding-other-unit", "material", ("bedding_mm",), ("bedding-off", "value-unreadable"),
         in_other_unit("bedding_mm", 1 / _MM_PER_IN, 0, _LEAST_BED_MM)),
    Kind("step-tenfold", "material", ("flush_mm",), ("flush-out-of-tolerance", "depression-with-step"),
         scaled("flush_mm", 10)),
    Kind("step-sign-wrong", "material", ("flush_mm",), _NOTHING, changed(slips.flip_sign, "flush_mm")),
    Kind("depression-tenfold", "material", ("depression_mm",), ("surface-depression", "depression-with-step"),
         scaled("depression_mm", 10)),
    Kind("cover-thousandfold", "material", ("cover_m",), _NOTHING, scaled("cover_m", 1000)),
    Kind("accuracy-hundredfold", "material", ("position_accuracy_m",), _NOTHING, scaled("position_accuracy_m", 100)),
)  # fmt: skip

KINDS: Final = (*_POSITIONS, *_ROWS, *_SIZES, *_NAMES, *_DATES, *_MATERIALS)

_OF_THE_PLACE: Final = "place"
_OF_THE_MAP: Final = "map"
_OF_THE_WORK: Final = "work"
_OF_THE_FILE: Final = "file"
# rules that find no slip in a cell, and why: a word of the words file
NOT_PLANTED: Final[Mapping[str, str]] = MappingProxyType(
    {
        "road-uncertain": _OF_THE_PLACE,
        "surface-uncertain": _OF_THE_PLACE,
        "district-uncertain": _OF_THE_PLACE,
        "cores-too-close": _OF_THE_PLACE,
        "cores-clustered": _OF_THE_PLACE,
        "joint-near": _OF_THE_PLACE,
        "segment-crowded": _OF_THE_PLACE,
        "segment-cut-up": _OF_THE_PLACE,
        "slope-steep": _OF_THE_PLACE,
        "street-protected": _OF_THE_PLACE,
        "resurfacing-first": _OF_THE_PLACE,
        "resurfacing-follows": _OF_THE_PLACE,
        "district-overlap": _OF_THE_MAP,
        "surface-overlap": _OF_THE_MAP,
        "surface-unknown": _OF_THE_MAP,
        "guarantee-ending": _OF_THE_WORK,
        "inspection-missed": _OF_THE_WORK,
        "row-ragged": _OF_THE_FILE,
    }
)
