"""The registers of a programme read once, and typed as often as somebody changes their cells in memory."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pyproj import CRS

from pipeline.clock import Told, numbered
from pipeline.contracts import column_by_column, sharing_blanks
from pipeline.intake import Inputs
from pipeline.intake.crs import Extent
from pipeline.intake.files.tables import RawTable
from pipeline.intake.map_layers import read_layer
from pipeline.intake.register_parts import raw_parts
from pipeline.intake.registers import in_run_crs, merged, typed_part
from pipeline.intake.returned_fields import fill_returned
from pipeline.intake.returns import Returned, read_returns
from pipeline.intake.same_cores import same_cores
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Cores, Settings

__all__ = ["RawRegisters", "read_raw_registers"]


@dataclass(frozen=True)
class RawRegisters:
    """The registers of a programme before anything of them is interpreted.

    ``tables``: each file or sheet, in the order of its rows. ``sections``: for each of these, the register's settings
    and those of the part. ``roads``: extent and CRS of the road layer. ``returned``: what crews sent back.
    """

    tables: list[RawTable]
    sections: list[tuple[Cores, Cores]]
    settings: Settings
    roads: tuple[Extent, CRS]
    kerf_mm: float
    returned: Returned

    def typed(self, tables: Sequence[RawTable], inputs: Inputs) -> Inputs:
        """Return the inputs of the run with the registers that such tables hold, typed as an audit types them.

        Parameters
        ----------
        tables
            As ``self.tables``, with other cells.
        inputs
            Those of the programme: what is not of the registers stays as it is.

        Raises
        ------
        InputError
            An audit would refuse these registers.
        """
        # typing adds to the notices of a table
        copies = [replace(table, notices=[*table.notices]) for table in tables]
        more = self.settings, *self.roads, self.kerf_mm, inputs.entries.frame
        parts = [
            typed_part(own, table, section, *more) for (section, own), table in zip(self.sections, copies, strict=True)
        ]
        register = merged(parts)
        filled = fill_returned(in_run_crs(register, inputs.crs), register.kept, self.returned)
        cores = filled.cores.assign(**same_cores(filled.cores, self.settings.matching.same_core_m))
        cores = sharing_blanks(column_by_column(cores))
        return replace(inputs, register=replace(register, kept=filled.kept), cores=cores)


def read_raw_registers(settings: Settings, folder: Path, catalogue: Catalogue, told: Told) -> RawRegisters:
    """Read every file of every register.

    Parameters
    ----------
    settings, folder, catalogue, told
        As for ``pipeline.intake.read_inputs``, which has accepted these registers.

    Raises
    ------
    InputError
        A file cannot be used.
    """
    announce = numbered(told, len(settings.cores) + 1, "files")
    roads = read_layer(settings.roads, "roads", folder, announce)
    zone, day_first = settings.programme.timezone, settings.day_first
    found = [(section, *part) for section in settings.cores for part in raw_parts(section, folder, announce)[0]]
    return RawRegisters(
        tables=[table for _, _, table in found],
        sections=[(section, own) for section, own, _ in found],
        settings=settings,
        roads=(roads.extent, roads.crs),
        kerf_mm=catalogue.materials.geometry.kerf.value,
        returned=read_returns(settings.returns, folder, zone, day_first=day_first),
    )
