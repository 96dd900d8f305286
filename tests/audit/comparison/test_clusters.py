"""Which cores are one cluster."""

import pytest

from pipeline.audit.comparison.clusters import cluster_codes, ties_of
from tests.audit.comparison.worlds import cores_of


def _same(codes):
    """The cores by cluster, as lists of their places."""
    return sorted([[at for at, one in enumerate(codes) if one == code] for code in set(codes)])


def test_cores_of_one_crew_on_one_local_day_are_a_cluster():
    cores = cores_of(
        crew=["A", "a ", "A", "B"], reinstated_at=["2026-08-01 00:30", "2026-08-01 23:30", "2026-08-02", "2026-08-01"]
    )
    assert _same(cluster_codes(cores)["day"]) == [[0, 1], [2], [3]]


def test_without_a_crew_the_register_and_the_day_are_a_cluster():
    cores = cores_of(crew=[None, None, None, "A"], register=["north", "north", "south", "north"])
    assert _same(cluster_codes(cores)["day"]) == [[0, 1], [2], [3]]


def test_cores_of_a_crew_without_a_date_are_one_cluster():
    cores = cores_of(crew=["A", "A", "A"], reinstated_at=[None, None, "2026-08-01"])
    assert _same(cluster_codes(cores)["day"]) == [[0, 1], [2]]


def test_a_day_of_all_crews_is_a_cluster_and_undated_cores_are_one_by_register():
    cores = cores_of(
        crew=["A", "B", "A", "B", "A"],
        register=["north", "south", "north", "north", "south"],
        reinstated_at=["2026-08-01", "2026-08-01 14:00", None, None, None],
    )
    assert _same(cluster_codes(cores)["date"]) == [[0, 1], [2, 3], [4]]


def test_cores_of_one_id_or_segment_are_a_cluster_and_those_without_are_alone():
    cores = cores_of(core_id=["HV-1", "hv-1 ", None, None], segment_id=["S1", "S2", "S1", None])
    codes = cluster_codes(cores)
    assert _same(codes["id"]) == [[0, 1], [2], [3]]
    assert _same(codes["segment"]) == [[0, 2], [1], [3]]


@pytest.mark.parametrize(
    ("family", "by", "ties"),
    [
        ("placement", "crew", ("day",)),
        ("placement", "month", ("day", "date")),
        ("spacing", "crew", ("day", "segment")),
        ("identity", "contractor", ("day", "date", "id")),
    ],
)
def test_findings_cluster_by_day_and_by_what_their_rule_finds_together(family, by, ties):
    assert ties_of(family, by) == ties
