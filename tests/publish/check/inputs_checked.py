"""A check of one small register, for tests of what is shown of it."""

import dataclasses

import pandas as pd

from pipeline.errors import InputError
from pipeline.intake.layer_facts import LayerFacts, StockFacts
from pipeline.programme.settings import Settings
from pipeline.results import Checked, RuleInputs
from tests.intake.registers_understood import AS_OF, register_of, rows, understood

# a cell that would be a tag, a template and a sequence that controls a terminal
HOSTILE = "<script>alert(1)</script>{{ 7*7 }}\x1b[31m"
LAYER = LayerFacts(
    "roads", "roads.gpkg", 110, 120, {"linestring": 110}, "EPSG:32617", (-82.2, 44.8, -82.1, 44.9),
    (("street", "name", 90), ("surface", "paved", 100), ("slope", None, 0)), without_surface=12,
)  # fmt: skip


def checked(**more):
    """A register of three rows with an unread diameter, and one row set aside."""
    aside = pd.DataFrame({"place": [9], "reason": ["total"], "text": ["Total 3"]})
    cells = rows(3, dia=["18", "large", "450"], cut=["03/04/2026", "25/04/2026", ""], cost="310")
    part = register_of(
        cells, columns={"opened_on": "cut"}, day_first=True, set_aside=aside, units={"diameter": "mm", "depth": "mm"}
    )
    settings = Settings.model_validate(
        {"programme": {"name": "Harbour Vale"}, "roads": {"path": "roads.gpkg"}, "cores": {"path": "north.csv"}}
    )
    found = Checked(
        settings=settings,
        as_of=AS_OF,
        registers=[understood(part)],
        layers=[LAYER],
        stock=StockFacts("stock.csv", 2, ("North",), ("gravel",)),
        rules=[
            RuleInputs("permit-expired", "Title.", "check", {"North": (("permit_expires_on",),)}),
            RuleInputs("joint-near", "Title.", "check", {"North": (("joints",), ("surfaces", "roads.surface"))}),
            RuleInputs("id-missing", "Title.", "check", {}),
        ],
        suspicions=["North: look here."],
        notices=["north.csv: a notice."],
        errors=[],
        crs="WGS 84 / UTM zone 17N (EPSG:32617)",
        stretch=0.0004,
    )
    return dataclasses.replace(found, **more)


def refused():
    """The same with an error."""
    return checked(errors=[InputError("south.csv: no such file.")], stretch=None)
