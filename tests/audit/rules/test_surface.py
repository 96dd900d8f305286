"""Rules on surface and shade."""

from tests.audit.frames import reinstated
from tests.audit.rules.cases import Case

CASES = {
    "surface-unknown": Case(
        breach={"surface": "unknown"},
        says="Neither the map nor the register gives the surface. Look at the road: without the surface no shade can be chosen and no materials ordered.",
        passes={},
        missing={"surface": "unknown", "x_m": None},
    ),
    "surface-differs": Case(
        breach={"surface_recorded_name": "concrete"},
        says='The register gives the surface as "asph", the surface layer as asphalt; the layer is used. Look at the road, and correct the one that is wrong.',
        passes={},
        missing={"surface_recorded_name": None},
    ),
    "surface-overlap": Case(
        breach={"surface_others": "concrete"},
        says="The surface layer shows both asphalt and concrete here; the smaller polygon, asphalt, is used. Look at the road, and correct the surface layer.",
        passes={},
        missing={"x_m": None},
    ),
    "surface-not-allowed": Case(
        breach={"surface": "block paving", "reinstatable": False},
        says="The surface, block paving, is not suitable for core reinstatement. Do not reuse the core: reinstate as the road authority specifies for this surface.",
        passes={},
        missing={"surface": None},
    ),
    "shade-differs": Case(
        breach=reinstated(shade_used="Grey", shade_used_name="pale"),
        says='Shade "Grey" was used on asphalt; the shade specified is dark. Agree a remedy with the road authority.',
        passes=reinstated(shade_used_name="dark"),
        missing=reinstated(shade_used_name="pale", shade=None),
    ),
    "shade-unreadable": Case(
        breach=reinstated(shade_used="as last time"),
        says='Shade "as last time" is not in the catalogue. Look at the core, and correct the register.',
        passes=reinstated(shade_used="n/a"),
        missing=reinstated(shade_used=None),
    ),
}
