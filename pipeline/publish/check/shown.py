"""What a check shows, in the order in which it is read: errors, suspicions, registers, rules, layers, notes."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from itertools import pairwise
from pathlib import PurePath
from typing import Any, Final

import numpy as np
import pandas as pd

from pipeline.contracts import REGISTER_COLUMNS
from pipeline.intake.layer_facts import LayerFacts
from pipeline.intake.position_facts import DISTANCE_BANDS_M, STEP_BANDS_M
from pipeline.intake.understood import RegisterFacts
from pipeline.publish.check.columns import cell_shown, columns_shown, share_shown
from pipeline.publish.check.voice import Voice
from pipeline.publish.pages.header_place import header_shown
from pipeline.results import Checked

__all__ = ["bands", "check_shown", "sheets_together"]

_LABELS: Final = {column.name: column.label for column in REGISTER_COLUMNS}
_DEGREE_DIGITS: Final = 4
# a sheet of a million blank rows must not make a page of a million lines
_MOST_ASIDE: Final = 2000


def check_shown(checked: Checked, voice: Voice) -> dict[str, Any]:
    """Return everything that a check shows, as sentences and rows of tables."""
    return {
        "errors": [line for error in checked.errors for line in map(voice.own_long, str(error).splitlines())],
        "suspicions": [voice.own_long(sentence) for sentence in checked.suspicions],
        "registers": [_register(facts, checked, voice) for facts in checked.registers],
        "layers": [_layer(layer, voice) for layer in checked.layers],
        "stock": _stock(checked, voice),
        "rules": _rules(checked, voice),
        "lacking": _lacking(checked, voice),
        "notices": [voice.own_long(notice) for notice in checked.notices],
        "verdict": _verdict(checked, voice),
        "measured": _measured(checked, voice),
        "cores": _cores(checked, voice),
    }


def _register(facts: RegisterFacts, checked: Checked, voice: Voice) -> dict[str, Any]:
    positions = facts.positions
    reasons = facts.set_aside["reason"].value_counts()
    return {
        "name": voice.own(facts.name),
        "files": voice.listed([voice.own(file) for file in sheets_together(facts.files, facts.headers)]),
        "headers": _headers(facts, voice),
        "rows": facts.rows,
        "counts": _counts(facts, voice),
        "columns": columns_shown(facts, voice),
        "not_kept": voice.listed(
            [voice.words.translated(one.column.label) for one in facts.columns if not one.is_kept]
        ),
        "unused": voice.listed([voice.own(name) for name in facts.unused]),
        "positions": _positions(facts, voice),
        "placed": share_shown(positions.placed, positions.rows, voice),
        "distances": None
        if positions.distances is None
        else dict(zip(bands(DISTANCE_BANDS_M, voice), positions.distances, strict=True)),
        "no_roads": checked.crs is None,
        "aside": voice.listed(
            [voice.say("check.times", text=voice.own(reason), times=int(count)) for reason, count in reasons.items()]
        ),
        "aside_rows": _aside_rows(facts, voice),
        "aside_more": max(int(facts.set_aside["text"].fillna("").str.strip().ne("").sum()) - _MOST_ASIDE, 0),
    }


def _headers(facts: RegisterFacts, voice: Voice) -> str:
    """Return where the tables begin: once where all files are alike, else file by file."""
    shown = [
        (file, header_shown(file, sheet, place, voice.say, voice.own))
        for file, (sheet, place) in zip(facts.files, facts.headers, strict=True)
    ]
    alike = {where for _, where in shown}
    if len(alike) == 1:
        return alike.pop()
    parts = []
    for where in filter(None, dict.fromkeys(where for _, where in shown)):
        here = [at for at, (_, other) in enumerate(shown) if other == where]
        names = [PurePath(facts.files[at]).name for at in here]
        names = sheets_together(names, [facts.headers[at] for at in here])
        parts.append(voice.say("check.times", text=voice.listed(map(voice.own, names)), times=where))
    return voice.joined("; ", parts)


def sheets_together(files: Sequence[str], headers: Sequence[tuple[str, int]]) -> list[str]:
    """Return the names of N files; of the sheets of one workbook, each after the first by its own name alone.

    ``headers``: the sheet that is read of each, empty for a file without any, and the row of its header.
    """
    shown, book = [], ""
    for file, (sheet, _) in zip(files, headers, strict=True):
        here = file.removesuffix(f", sheet {sheet}") if sheet else file
        is_named = here != file
        shown.append(sheet if is_named and here == book else file)
        book = here if is_named else ""
    return shown


def _counts(facts: RegisterFacts, voice: Voice) -> str:
    """Return the balance of the rows of a register."""
    shown = [voice.say("check.rows", n=facts.rows)]
    filtered = facts.rows_in_file - facts.rows
    for key, count in (
        ("check.filtered", filtered),
        ("check.copies", facts.copies),
        ("check.repeated_ids", facts.repeated_ids),
        ("check.aside", len(facts.set_aside)),
    ):
        if count > 0:
            shown.append(voice.say(key, n=count))
    return voice.joined("; ", shown)


def _positions(facts: RegisterFacts, voice: Voice) -> list[str]:
    """Return sentences on where the positions come from, and what is wrong with some."""
    positions = facts.positions
    headers = voice.listed([voice.own(header) for header in positions.headers])
    crs = voice.own(positions.crs)
    placed = share_shown(positions.placed, positions.rows, voice)
    lines = [
        voice.say("check.position_columns", placed=placed, columns=headers, crs=crs)
        if headers
        else voice.say("check.position_points", placed=placed, crs=crs)
    ]
    for key, counts in (("check.unplaced", positions.unplaced), ("check.repaired", positions.repaired)):
        if counts:
            reasons = [
                voice.say("check.times", text=voice.say("check.dms") if reason == "dms" else reason, times=count)
                for reason, count in counts.items()
            ]
            lines.append(voice.say(key, reasons=voice.listed(reasons)))
    if positions.steps is not None:
        metres = [voice.say("unit.m", v=band) for band in bands(STEP_BANDS_M, voice)]
        names = [voice.say("check.finer", m=voice.words.measure(STEP_BANDS_M[1])), *metres[1:]]
        named = zip(names, positions.steps, strict=True)
        steps = [voice.say("check.times", text=name, times=count) for name, count in named if count]
        lines.append(voice.say("check.digits", steps=voice.listed(steps)))
    if positions.farthest is not None and positions.median_m is not None:
        away, cell = positions.farthest
        most = voice.words.measure(DISTANCE_BANDS_M[-1])
        far = voice.say("check.over", m=most) if away == float("inf") else voice.words.number(away, 1)
        middle = (
            voice.say("check.over", m=most)
            if positions.median_m == float("inf")
            else voice.words.number(positions.median_m, 1)
        )
        lines.append(voice.say("check.distance", middle=middle, far=far, cell=cell_shown(cell, facts, voice)))
    return lines


def bands(edges: tuple[float, ...], voice: Voice) -> list[str]:
    """Return the names of the bands of a histogram in metres, the last without an upper end."""
    shown = [voice.words.measure(edge) for edge in edges]
    return [
        *(voice.say("format.range", low=low, high=high) for low, high in pairwise(shown)),
        voice.say("check.over", m=shown[-1]),
    ]


def _aside_rows(facts: RegisterFacts, voice: Voice) -> list[dict[str, Any]]:
    # rows that say nothing are counted, not listed
    is_blank = facts.set_aside["text"].fillna("").str.strip().eq("")
    blank = Counter(zip(*(facts.set_aside.loc[is_blank, name].map(str) for name in ("file", "reason")), strict=True))
    listed = [
        {
            "file": voice.own(PurePath(row["file"]).name),
            "place": "" if pd.isna(row["place"]) else str(row["place"]),
            "reason": voice.own(row["reason"]),
            "text": voice.own(row["text"]),
        }
        for row in facts.set_aside[~is_blank].head(_MOST_ASIDE).to_dict("records")
    ]
    return listed + [
        {
            "file": voice.own(PurePath(file).name),
            "place": "",
            "reason": voice.say("check.blank_rows", n=count)
            if reason == "blank"
            else voice.say("check.times", text=voice.own(reason), times=count),
            "text": "",
        }
        for (file, reason), count in blank.items()
    ]


def _layer(layer: LayerFacts, voice: Voice) -> dict[str, Any]:
    # what is nowhere on Earth extends from nowhere
    west, south, east, north = (
        voice.words.number(side, _DEGREE_DIGITS) if np.isfinite(side) else "–" for side in layer.extent
    )
    columns = [
        voice.say("check.layer_column", name=name, column=voice.own(source), part=filled)
        for name, source, filled in layer.columns
        if source is not None
    ]
    absent = [name for name, source, _ in layer.columns if source is None]
    notes = [voice.say("check.no_surface", n=layer.without_surface)] if layer.without_surface else []
    if layer.districts is not None:
        notes.append(voice.say("check.districts", n=layer.districts))
    if absent:
        notes.append(voice.say("check.absent", names=voice.listed(absent)))
    return {
        "name": layer.name,
        "file": voice.own(layer.path),
        "rows": share_shown(layer.rows, layer.rows_in_file, voice),
        "geometry": voice.listed([voice.say("check.times", text=kind, times=n) for kind, n in layer.geometry.items()]),
        "crs": voice.own(layer.crs),
        "extent": voice.say("check.extent", west=west, south=south, east=east, north=north),
        "columns": columns,
        "notes": notes,
    }


def _stock(checked: Checked, voice: Voice) -> str:
    stock = checked.stock
    if stock is None:
        return ""
    yards, items = (voice.listed([voice.own(name) for name in names]) for names in (stock.yards, stock.items))
    return voice.say("check.stock", file=voice.own(stock.path), n=stock.rows, yards=yards, items=items)


def _rules(checked: Checked, voice: Voice) -> str:
    """Return how many rules can be assessed for every register."""
    every = sum(not one.lacking for one in checked.rules)
    return voice.say("check.rules", part=every, n=len(checked.rules))


def _lacking(checked: Checked, voice: Voice) -> list[dict[str, Any]]:
    """Return the rules that cannot be assessed, by the missing data and the registers without them."""
    groups: dict[tuple[tuple[tuple[str, ...], ...], tuple[str, ...]], list[str]] = defaultdict(list)
    for one in checked.rules:
        for lacking in dict.fromkeys(one.lacking.values()):
            names = tuple(name for name, its in one.lacking.items() if its == lacking)
            groups[lacking, names].append(one.rule)
    everywhere = tuple(facts.name for facts in checked.registers)
    return [
        {
            "lacks": voice.joined("; ", [_choices(choices, voice) for choices in lacking]),
            "registers": voice.say("check.every_register")
            if names == everywhere
            else voice.listed(map(voice.own, names)),
            "rules": voice.listed([voice.own(voice.words.rule(slug)) for slug in slugs]),
        }
        for (lacking, names), slugs in groups.items()
    ]


def _choices(choices: tuple[str, ...], voice: Voice) -> str:
    """Return inputs of which any one is enough."""
    return voice.joined(voice.say("check.or"), [_input(name, voice) for name in choices])


def _input(name: str, voice: Voice) -> str:
    if name in _LABELS:
        return voice.own(voice.words.translated(_LABELS[name]))
    section, _, column = name.partition(".")
    return voice.own(f"{section}.columns.{column}") if column else voice.say("check.layer", name=name)


def _verdict(checked: Checked, voice: Voice) -> str:
    """Return one sentence on whether the inputs can be used."""
    if checked.errors:
        return voice.say("check.refused", n=len(checked.errors))
    if checked.suspicions:
        return voice.say("check.points", n=len(checked.suspicions))
    return voice.say("check.nothing")


def _cores(checked: Checked, voice: Voice) -> str:
    """Return how many cores the rows of all registers are; empty where an audit would refuse them."""
    if checked.inputs is None:
        return ""
    cores = checked.inputs.cores
    copies = cores[cores["is_copy"]]
    if copies.empty:
        return voice.say("check.all_cores", n=len(cores))
    counted_in = cores.set_index("row")["register"].loc[copies["copy_of"]].to_numpy()
    within = int((copies["register"].to_numpy() == counted_in).sum())
    return voice.say(
        "check.cores", rows=len(cores), n=len(cores) - len(copies), within=within, across=len(copies) - within
    )


def _measured(checked: Checked, voice: Voice) -> str:
    """Return whether an audit can use the inputs, and what it measures in."""
    if checked.errors or checked.crs is None:
        return voice.say("check.refused", n=len(checked.errors))
    stretch = voice.words.percent(checked.stretch or 0, 2)
    return voice.say("check.valid", crs=voice.own(checked.crs), stretch=stretch)
