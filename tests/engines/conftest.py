"""Clusters of real processes, ended with the test."""

import pytest

from tests.engines.clusters import StartedCluster


@pytest.fixture
def started(tmp_path):
    clusters = []

    def start(workers, *before, **settings):
        clusters.append(StartedCluster(tmp_path, **settings))
        for _ in range(workers):
            clusters[-1].start_worker(*before)
        return clusters[-1]

    yield start
    for cluster in clusters:
        cluster.end()
