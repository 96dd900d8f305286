"""Everything about one core as one document: each row that carries its id, then decisions, history and inputs."""

from collections.abc import Mapping
from typing import Any

import pandas as pd
from markupsafe import Markup

from pipeline.publish.explain.cells_read import cells_read
from pipeline.publish.explain.judged import rules_sections
from pipeline.publish.explain.parts import Cell, Document, Grid, Listing, Paragraph, Section, Shown, is_given
from pipeline.publish.explain.past import decisions_section, history_section
from pipeline.publish.explain.place import position_section, segment_section, surface_section
from pipeline.publish.explain.supply import supply_section
from pipeline.publish.explain.volumes import grout_used_section, volumes_section
from pipeline.publish.words import Words, title_text
from pipeline.readback.basis import CoreBasis
from pipeline.results import ExplainedCore

__all__ = ["explain_document"]


def explain_document(explained: ExplainedCore, words: Words) -> Document:
    """Return the document; the same run gives the same document."""
    run, show, say = explained.run, Shown(words), words.say
    record = run.record
    core_id = explained.basis.rows[0].core["core_id"]
    title = say("explain.title", core=show.named(core_id)) if is_given(core_id) else say("explain.no_id")
    name = title_text(core_id) if is_given(core_id) else words.plainly("explain.no_id")
    sections = [section for row in explained.basis.rows for section in _of_row(explained, row, show)]
    rows = [int(row.core["row"]) for row in explained.basis.rows]
    findings = run.findings[run.findings["row"].isin([str(row) for row in rows])]
    sections += [
        decisions_section(findings, show),
        history_section(explained.history, run.as_of.isoformat(), explained.later, explained.notices, show),
        _inputs(record, show),
        Section(say("explain.cautions"), (Listing(tuple(words.own(text, 2000) for text in explained.cautions)),), 2),
    ]
    return Document(
        window=words.plainly("explain.page", core=name, name=title_text(run.programme), day=words.day(run.as_of)),
        title=title,
        under=say("explain.under", name=show.named(run.programme), day=words.date(run.as_of)),
        parts=(*_identity(record, show), *_several(explained, show)),
        sections=tuple(sections),
    )


def _identity(record: Mapping[str, Any], show: Shown) -> tuple[Paragraph, ...]:
    """What the run is, and what the page is good for."""
    say = show.words.say
    registers = [
        say("explain.register_sum", file=show.named(file["path"]), sha256=_code(file["sha256"]))
        for file in record["inputs"]
        if file["section"] == "cores"
    ]
    version = show.named(record.get("versions", {}).get("kerfbook"))
    return (
        Paragraph(say("explain.run", run=_code(record.get("run", "")), version=version)),
        Paragraph(say("explain.registers", n=len(registers), registers=show.words.listed(registers))),
        Paragraph(say("explain.own_truth")),
        Paragraph(say("explain.not_codes"), is_strong=True),
    )


def _several(explained: ExplainedCore, show: Shown) -> tuple[Paragraph, ...]:
    others = explained.other_rows
    shown = len(explained.basis.rows)
    say = show.words.say
    if shown > 1:
        return (Paragraph(say("explain.several", n=shown), is_strong=True),)
    if others:
        rows = show.words.listed(show.words.number(row) for row in others)
        return (Paragraph(say("explain.others_rows", n=len(others), rows=rows), is_strong=True),)
    return ()


def _of_row(explained: ExplainedCore, row: CoreBasis, show: Shown) -> list[Section]:
    """The sections about one row."""
    say, record, core = show.words.say, explained.run.record, row.core
    settings = _section(record, str(core["register"]))
    units = record["units_of_bare_numbers"]
    units = units.get(core["register"], units) if units and isinstance(next(iter(units.values())), dict) else units
    number = int(core["row"])
    findings = explained.run.findings
    mine = findings[findings["row"].eq(str(number))]
    used = grout_used_section(core, explained.basis.materials, show)
    matching = record["settings"]["matching"]
    title = say(
        "explain.row_title",
        row=number,
        register=show.named(core["register"]),
        file=show.named(core["register_file"]),
        line=int(core["register_row"]),
    )
    return [
        Section(title, _in_short(core, mine, show), level=2),
        cells_read(row, explained.headers[number], units, explained.other_cells[number], show),
        position_section(row, record["crs"], show),
        segment_section(row, matching, show),
        surface_section(row, show),
        volumes_section(core, explained.basis.materials, str(settings.get("diameter_is", "hole")), show),
        *([used] if used else []),
        supply_section(row, explained.ids, explained.order_lines[number], show),
        *rules_sections(row, explained.basis, record["rules"], mine, show),
    ]


def _section(record: Mapping[str, Any], register: str) -> Mapping[str, Any]:
    """Return the settings of a register."""
    cores = record["settings"]["cores"]
    sections = cores if isinstance(cores, list) else [cores]
    own: Mapping[str, Any] = next((one for one in sections if one.get("name") == register), sections[0])
    return own


def _in_short(core: Mapping[str, Any], findings: pd.DataFrame, show: Shown) -> tuple[Paragraph | Grid, ...]:
    """The row's answer in a few lines."""
    say, words = show.words.say, show.words
    found = [
        say(
            "explain.finding", rule=Markup("<b>{}</b>").format(words.rule_label(rule)), message=words.own(message, 4000)
        )
        for rule, message in zip(findings["rule"], findings["message"], strict=True)
    ]
    rows: list[tuple[Cell, Cell]] = [
        (show.label("status"), show.value("status", core["status"])),
        (show.label("state"), _word("state", core, show)),
        (say("explain.found_short"), Markup(" ").join(found) if found else say("explain.none")),
        (show.label("urgency"), _word("urgency", core, show)),
        (show.label("street_matched"), show.named(core["street_matched"])),
        (show.label("district"), show.named(core["district"])),
    ]
    parts: list[Paragraph | Grid] = [Grid(say("explain.in_short"), (), tuple(rows))]
    if is_given(core["copy_of"]):
        parts.insert(0, Paragraph(say("explain.copy", row=int(core["copy_of"])), is_strong=True))
    return tuple(parts)


def _word(name: str, core: Mapping[str, Any], show: Shown) -> Cell:
    return show.value(name, core[name]) if is_given(core.get(name)) else show.words.say("explain.none")


def _inputs(record: Mapping[str, Any], show: Shown) -> Section:
    say = show.words.say
    rows = [(show.named(file["path"]), _code(file["sha256"])) for file in record["inputs"]]
    programme = record["programme_file"]
    rows.insert(0, (show.named(programme["name"]), _code(programme["sha256"])))
    heads = (say("explain.head_file"), say("explain.head_sha256"))
    return Section(say("explain.inputs"), (Grid(say("explain.inputs_read"), heads, tuple(rows)),), level=2)


def _code(text: object) -> Markup:
    return Markup("<code>{}</code>").format(text)
