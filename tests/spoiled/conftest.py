"""The sound programme that each test of this folder spoils."""

import shutil

import pytest

from tests.spoiled.town import TOWN, Town


@pytest.fixture(scope="module")
def layers(tmp_path_factory):
    folder = tmp_path_factory.mktemp("layers")
    for name, layer in TOWN.items():
        layer.to_file(folder / f"{name}.gpkg")
    return folder


@pytest.fixture
def town(layers, tmp_path, capsys, monkeypatch):
    shutil.copytree(layers, tmp_path, dirs_exist_ok=True)
    return Town(tmp_path, capsys, monkeypatch)
