"""One open core by hand, for the tests of what is said about it: 450 mm wide, 200 mm deep, in asphalt."""

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import AUDIT_FRAME, AUDITED_COLUMNS
from pipeline.publish.explain.parts import Grid, Listing, Paragraph, Shown
from pipeline.publish.words import words_of
from pipeline.readback.basis import BASIS_TABLES, Basis, CoreBasis

SHOW = Shown(words_of("en"))
_EMPTY = dict.fromkeys([*AUDIT_FRAME, *(column.name for column in AUDITED_COLUMNS)])
_CORE = _EMPTY | {
    "row": 7, "core_id": "HV-7", "register": "cores", "register_file": "cores.csv", "register_row": 8, "status": "pending",
    "state": "open", "is_open": True, "is_copy": False, "is_thin": False, "x_m": 400000.0, "y_m": 4950000.0,
    "lon": -82.2, "lat": 44.8, "rounding_sigma_m": 0.0, "accuracy_used_m": 5.0, "accuracy_from": "programme",
    "sigma_m": 2.04, "reach_m": 15.0, "segment_id": "S1", "street_matched": "Quay Road", "chainage_m": 12.5,
    "offset_m": 2.0, "side": "left", "surface": "asphalt", "surface_from": "segment", "shade": "dark",
    "bedding": "pea gravel", "hole_mm": 450.0, "depth_believed_mm": 200.0, "diameter_mm": 450.0,
    "grout_net_l": 4.7416643, "grout_l": 5.6899972, "bags": 0.5560679, "grout_kg": 11.1213581, "water_l_needed": 1.1121358,
    "gravel_kg": 6.3219645,
}  # fmt: skip
_MATERIALS = {
    "geometry.kerf": (9.0, "mm"), "geometry.pilot_hole": (38.1, "mm"), "geometry.gap": (12.7, "mm"),
    "geometry.bed_fill": (0.0, "%"), "grout.bag": (20.0, "kg"), "grout.water_per_bag": (2.0, "L"),
    "grout.wet_density": (2.15, "kg/L"), "grout.overfill": (0.2, "%"), "bedding.pea gravel.thickness": (25.0, "mm"),
    "bedding.pea gravel.bulk_density": (1.59, "kg/L"), "bedding.pea gravel.voids": (0.4, "%"),
    "bedding.pea gravel.pack": (25.0, "kg"),
}  # fmt: skip


def core(**changes):
    """The core's columns, some of them changed."""
    return _CORE | changes


def materials(**changes):
    """The table of materials; ``changes`` by the last word of a name: its value, its source and who set it."""
    rows = []
    for name, (value, unit) in _MATERIALS.items():
        new, source, origin = changes.get(name.rpartition(".")[-1], (value, "our default", "shipped"))
        rows.append((name, new, unit, None, None, source, origin))
    return pd.DataFrame(rows, columns=list(BASIS_TABLES["materials"]))


def table(name, *rows):
    """A table of the basis, with what the rows name and nothing else."""
    return pd.DataFrame([*map(dict, rows)], columns=list(BASIS_TABLES[name]))


def row(candidates=(), surfaces=(), corrections=(), plan=None, mix=(), outcomes=None, **changes):
    """A row of the register with its other tables."""
    return CoreBasis(
        core(**changes),
        outcomes or {},
        table("candidates", *candidates),
        table("surfaces", *surfaces),
        table("corrections", *corrections),
        plan,
        table("plan", *mix),
    )


def basis(limits=(), rules=()):
    """What holds for all rows."""
    return Basis((), table("limits", *limits), table("rules", *rules), materials())


def texts(section):
    """Everything that a section says, a text per paragraph, line and cell, as one reads it."""
    said = []
    for part in section.parts:
        if isinstance(part, Paragraph):
            said.append(part.text)
        elif isinstance(part, Listing):
            said += part.lines
        elif isinstance(part, Grid):
            said += [cell for cells in part.rows for cell in cells]
    plain = [cell.striptags() if isinstance(cell, Markup) else cell for cell in said]
    return [text.replace("\N{NO-BREAK SPACE}", " ") for text in plain]
