"""Where the pieces of a stage's work are done: in this process, or by the workers of a cluster."""

from pipeline.engines.cells import cells_of
from pipeline.engines.engine import Count, Done, Engine
from pipeline.engines.here import HERE

__all__ = ["HERE", "Count", "Done", "Engine", "cells_of"]
