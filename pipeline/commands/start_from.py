"""A programme proposed from the files of a utility, and written with the answers to its questions."""

import datetime as dt
import os
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from pipeline.errors import OutputError
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.names import named_after
from pipeline.propose.cell_kinds import Known
from pipeline.propose.diameters import ask_once
from pipeline.propose.file_groups import files_of, groups_of, relative
from pipeline.propose.first_look import Look, first_look
from pipeline.propose.header_words import HeaderWords, header_words
from pipeline.propose.layers import LAYERS, ProposedLayer, propose_layer, roads_of
from pipeline.propose.programme_text import Answers, numbered, programme_text
from pipeline.propose.questions import PLACEHOLDER, Choice, Question, Section
from pipeline.propose.registers import Register, propose_register
from pipeline.propose.stock import propose_stock

__all__ = ["Proposal", "propose_programme", "write_programme"]

# a shorter street name is found in other words
_SHORTEST_NAME: Final = 4


@dataclass
class Proposal:
    """A programme as proposed: its registers and layers, and ``missing``: sections that a run needs, and why."""

    programme: Section
    registers: list[Register] = field(default_factory=list)
    layers: list[ProposedLayer] = field(default_factory=list)
    missing: dict[str, str] = field(default_factory=dict)
    yards: Section | None = None

    @property
    def sections(self) -> list[Section]:
        """The sections in the order of the programme file."""
        layers = [layer.section for layer in self.layers]
        if self.yards is not None and self.yards.settings:
            # the stock is the last of them, and waits for the yards
            layers.insert(len(layers) - 1, self.yards)
        return [self.programme, *(register.section for register in self.registers), *layers]

    @property
    def questions(self) -> list[tuple[int, Section, Question]]:
        """The questions with their numbers and sections."""
        return numbered(self.sections)


def propose_programme(
    folder: Path, registers: list[str], layers: dict[str, Path], announce: Callable[[str], None]
) -> Proposal:
    """Return a programme proposed from files; nothing is written.

    Parameters
    ----------
    folder
        The folder that the programme file will be in.
    registers
        Files of registers; each may be a folder or a pattern too.
    layers
        Files by section: "roads", "surfaces" and so on, and "stock".
    announce
        Called with the name of each file before it is read.

    Raises
    ------
    InputError
        A file cannot be read.
    OutputError
        The folder has a programme file already.
    """
    _refuse_to_overwrite(folder)
    words, catalogue = header_words(), load_catalogue({}, "programme.toml")
    proposal = Proposal(Section("programme", "the programme"))
    files = list(dict.fromkeys(file for written in registers for file in files_of(written)))
    roads = None
    for name in LAYERS:
        if name in layers:
            announce(layers[name].name)
            label = relative(layers[name], folder)
            layer = propose_layer(layers[name], label, name, words[name], catalogue, roads)
            proposal.layers.append(layer)
            roads = roads_of(layer) if name == "roads" else roads
    streets = [street.casefold() for street in _names(proposal.layers, "roads", "street")]
    known = Known(catalogue, frozenset(street for street in streets if len(street) >= _SHORTEST_NAME))

    def look(file: Path) -> Look:
        announce(file.name)
        return first_look(file, str(file), words["register"])

    for group in groups_of(files, folder, look, words["register"]):
        announce(f"columns of {group.name}")
        proposal.registers.append(propose_register(group, words["register"], known, roads))
    ask_once([register.section for register in proposal.registers])
    _propose_stock(proposal, layers, folder, words)
    _fill_programme(proposal, folder)
    if "roads" not in layers:
        proposal.missing["roads"] = (
            "Every run needs road lines, and they show the CRS of positions. Start again with --roads, or give "
            "them here."
        )
    return proposal


def _fill_programme(proposal: Proposal, folder: Path) -> None:
    """Add the name of the programme, its time zone as a question where registers have times, and its day."""
    section = proposal.programme
    section.add("", "name", named_after(folder.resolve().name))
    settings = [setting for register in proposal.registers for setting in register.section.settings]
    zone = Choice(f'"{PLACEHOLDER}"', 'an IANA time zone, such as "America/Toronto"', {("", "timezone"): PLACEHOLDER})
    if any(setting.key == "timezone" for setting in settings):
        text = "Which time zone is the town in? Some cells give a time of day. Without an answer, it is UTC."
        section.ask(Question(text, (zone,)))
    else:
        section.hint("timezone", "America/Toronto", 'IANA time zone of times written without one. Default: "UTC"')
    section.hint("as_of", dt.date(2026, 9, 30), "the day of the audit. Default: today")


def _propose_stock(proposal: Proposal, layers: dict[str, Path], folder: Path, words: HeaderWords) -> None:
    """Add the section of the stock, if there is one."""
    if "stock" in layers:
        label, catalogue = relative(layers["stock"], folder), load_catalogue({}, "programme.toml")
        districts = _names(proposal.layers, "districts", "district")
        stock, yards = propose_stock(layers["stock"], label, words["stock"], catalogue, districts)
        proposal.yards = yards
        proposal.layers.append(stock)


def _names(layers: list[ProposedLayer], name: str, column: str) -> list[str]:
    """Return the different names in a column of a layer; none where there is no such layer or column."""
    for layer in layers:
        header = layer.columns.get(column)
        if layer.section.name == name and header is not None:
            return sorted(layer.table.frame[header].dropna().str.strip().unique())
    return []


def write_programme(folder: Path, proposal: Proposal, answers: Answers) -> Path:
    """Write the programme file into a folder, and return its path.

    Raises
    ------
    OutputError
        The file exists already, or the folder cannot be written.
    """
    _refuse_to_overwrite(folder)
    text = programme_text(proposal.sections, answers, proposal.missing)
    # no cell of a file may break the programme: this is checked before anything is written
    tomllib.loads(text)
    target = folder / "programme.toml"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with target.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except OSError as error:
        raise OutputError(f"{folder}: cannot be written ({error.strerror}). Choose another folder.") from error
    return target


def _refuse_to_overwrite(folder: Path) -> None:
    if os.path.exists(folder / "programme.toml"):  # noqa: PTH110 - takes names too long for a folder
        raise OutputError(
            f"{folder / 'programme.toml'}: exists already, and nothing is overwritten. Choose another folder."
        )
