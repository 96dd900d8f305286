"""The rules that a published code of practice sets, at its own figures.

Source: Specification for the Reinstatement of Openings in Highways, 4th edition, May 2020, section S6.7: a core of more
than 150 mm may be used again if at least 300 mm is left clear between its perimeter and the next, and if the bound
pavement is at least 100 mm thick. Local codes and licensed practice decide; the thresholds are settings.
"""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

# a point in UTM zone 17, with coordinates as large as in real registers
EAST, NORTH = 478_123.4, 4_963_321.0


@pytest.fixture
def audit(audit_text, run_text, tmp_path):
    """Audit cores given by metres east and north of that point, diameter and depth."""
    street = shapely.LineString([(EAST - 500, NORTH + 2), (EAST + 500, NORTH + 2)])
    roads = gpd.GeoDataFrame({"segment_id": ["1"], "surface": ["asphalt"]}, geometry=[street], crs=32617)
    roads.to_file(tmp_path / "roads.gpkg")

    def run(cores, catalogue="", *, has_messages=False):
        rows = [
            (f"C{place}", f"{EAST + x:.6f}", f"{NORTH + y:.6f}", d, t) for place, (x, y, d, t) in enumerate(cores, 1)
        ]
        table = pd.DataFrame(rows, columns=["core_id", "x", "y", "diameter", "depth"])
        table.to_csv(tmp_path / "cores.csv", index=False)
        result = (run_text if has_messages else audit_text)(
            '[programme]\nname = "x"\nas_of = 2026-09-30\ncrs = "EPSG:32617"\n'
            '[cores]\npath = "cores.csv"\ncrs = "EPSG:32617"\n[roads]\npath = "roads.gpkg"\n[thresholds]\ncode = "england"\n'
            + catalogue
        )
        return [set(slugs.split(";")) - {""} for slugs in result.cores["findings"]], result

    return run


# diameters as written, and the distance between centres that leaves 300 mm clear: both radii and 300 mm
PAIRS = [
    ("457.2 mm", "457.2 mm", 757.2),
    ("18 in", "18 in", 757.2),
    ("450 mm", "450 mm", 750.0),
    ("600 mm", "600 mm", 900.0),
    ("457.2 mm", "600 mm", 828.6),
]


@pytest.mark.parametrize("degrees", [0, 37, 90, 233])
def test_300_mm_between_perimeters_is_enough_and_a_millimetre_less_is_not(audit, degrees):
    """Each pair 1 mm under the limit, on it, and 1 mm over it, 20 m from the next pair; all turned by an angle."""
    turn = np.exp(1j * np.radians(degrees))
    cores, expected, east = [], [], 0
    for one, other, apart_mm in PAIRS:
        for more_mm, found in ((-1, {"cores-too-close"}), (0, set()), (1, set())):
            end = (apart_mm + more_mm) / 1000 * turn
            cores += [(east, 0, one, "200 mm"), (east + end.real, end.imag, other, "200 mm")]
            expected += [found, found]
            east += 20
    slugs, _ = audit(cores)
    assert slugs == expected


def test_cores_that_overlap_are_distinguished_from_cores_that_are_too_close(audit):
    """Centres 456.2, 457.2 and 458.2 mm apart: cores of 457.2 mm overlap, touch, and are 1 mm apart."""
    cores = []
    for place, apart_m in enumerate((0.4562, 0.4572, 0.4582)):
        cores += [(40 * place, 0, "18 in", "8 in"), (40 * place + apart_m, 0, "18 in", "8 in")]
    slugs, _ = audit(cores)
    assert slugs == [{"cores-overlap"}] * 2 + [{"cores-too-close"}] * 4


def test_two_cores_of_600_mm_that_overlap_by_150_mm_are_to_be_checked(audit):
    """Centres 450 mm apart. The code allows two cores to overlap, so it is not a failure."""
    slugs, result = audit([(0, 0, "600 mm", "200 mm"), (0.45, 0, "600 mm", "200 mm")], has_messages=True)
    assert slugs == [{"cores-overlap"}] * 2
    assert result.cores["status"].tolist() == ["pending"] * 2
    assert "450 mm apart" in result.audit.findings["message"][0]


@pytest.mark.parametrize(
    ("depth", "is_thin"),
    [
        ("100 mm", False),
        ("10 cm", False),
        ("0.1 m", False),
        ("99.9 mm", True),
        # 3.94 in is 100.08 mm, 3.93 in is 99.82 mm
        ("3.94 in", False),
        ("3.93 in", True),
        ("4 in", False),
    ],
)
def test_bound_pavement_of_100_mm_is_thick_enough(audit, depth, is_thin):
    slugs, result = audit([(0, 0, "18 in", depth)])
    assert slugs == [{"pavement-thin"} if is_thin else set()]
    assert result.cores["status"][0] == ("flagged" if is_thin else "pending")


def test_a_stricter_authority_is_obeyed(audit):
    rules = '[catalogue.rules.pavement-thin]\nmin_thickness = "150 mm"\n[catalogue.rules.cores-too-close]\nmin_clear = "18 in"\n'
    # 457.2 mm clear between cores of 457.2 mm: 914.4 mm between centres
    cores = [
        (0, 0, "18 in", "149 mm"),
        (0.913, 0, "18 in", "150 mm"),
        (40, 0, "18 in", "8 in"),
        (40.915, 0, "18 in", "8 in"),
    ]
    slugs, result = audit(cores, rules)
    assert slugs == [{"cores-too-close", "pavement-thin"}, {"cores-too-close"}, set(), set()]
    in_force = result.rules.set_index("rule").loc["pavement-thin"]
    assert (in_force["limits"], in_force["source"]) == ("min thickness 150 mm", "set by x")


def test_every_rule_of_the_code_names_it_as_its_source(audit):
    _, result = audit([(0, 0, "18 in", "8 in")])
    sources = result.rules.set_index("rule")["source"]
    for slug in ("pavement-thin", "cores-too-close", "cores-clustered", "core-unsound"):
        assert "SROH 4th ed. (2020) S6.7" in sources[slug]
