"""Rules on sizes and other cells that cannot be read."""

from tests.audit.rules.cases import Case

CASES = {
    "diameter-missing": Case(
        breach={"diameter_mm": None},
        says="No diameter is recorded. Measure the core: without it no materials can be ordered.",
        passes={"diameter_mm": None, "diameter_mm_problem": "unreadable"},
    ),
    "diameter-unreadable": Case(
        breach={"diameter_mm_problem": "no unit", "diameter_mm_text": "18"},
        says='Diameter "18" has no unit. Correct it: without it no materials can be ordered.',
        passes={"diameter_mm": None},
        missing={"diameter_mm_text": None},
    ),
    "diameter-implausible": Case(
        breach={"diameter_mm": 1000.5},
        says='Diameter 1,000.5 mm (written "18 in") is outside the plausible range of 100 to 1,000 mm and is not used. Check the figure and its unit.',
        passes={"diameter_mm": 600.0},
        on_limit={"diameter_mm": 1000.0},
        missing={"diameter_mm": None},
    ),
    "depth-missing": Case(
        breach={"depth_mm": None},
        says="No depth is recorded. Measure the core: without it no materials can be ordered.",
        passes={"depth_mm": None, "depth_mm_problem": "unreadable"},
    ),
    "depth-unreadable": Case(
        breach={"depth_mm_problem": "unreadable", "depth_mm_text": "deep"},
        says='Depth "deep" is not a size. Correct it: without it no materials can be ordered.',
        passes={"depth_mm": None},
        missing={"depth_mm_text": None},
    ),
    "depth-implausible": Case(
        breach={"depth_mm": 24.9},
        says='Depth 24.9 mm (written "200 mm") is outside the plausible range of 25 to 1,000 mm and is not used. Check the figure and its unit.',
        passes={"depth_mm": 300.0},
        on_limit={"depth_mm": 25.0},
        missing={"depth_mm": None},
    ),
    "pavement-thin": Case(
        breach={"depth_mm": 99.9, "depth_believed_mm": 99.9},
        says="The bound pavement is 99.9 mm thick (minimum 100 mm). Do not reuse the core: reinstate the opening as the road authority specifies.",
        passes={},
        on_limit={"depth_mm": 100.0, "depth_believed_mm": 100.0},
        missing={"depth_mm": 10.0, "depth_believed_mm": None},
    ),
    "value-unreadable": Case(
        breach={"flush_mm_problem": "unreadable", "flush_mm_text": "ok"},
        says='Not understood and left out: Largest step "ok". Correct the register.',
        passes={"flush_mm": 2.0},
        missing={"surface_recorded": None},
    ),
}
