"""Objects of a store: read from a server that answers as S3 does, with another program's client having written them."""

import time

import boto3
import geopandas as gpd
import pandas as pd
import pytest
import requests
import shapely
from moto.server import ThreadedMotoServer
from pyarrow import fs

from pipeline.errors import InputError
from pipeline.intake.files import object_stores, remote
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.remote import local_copy, matching_addresses, remote_inputs
from pipeline.intake.registers import paths_of
from pipeline.programme.addresses import as_address
from pipeline.programme.settings import Cores, Layer
from tests.web_server import break_off, web_server

_KEYS = {"AWS_ACCESS_KEY_ID": "KEYHUSH", "AWS_SECRET_ACCESS_KEY": "WORDHUSH", "AWS_REGION": "us-east-1"}


@pytest.fixture(scope="module")
def endpoint():
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    yield f"http://{host}:{port}"
    server.stop()


@pytest.fixture(scope="module")
def store(endpoint):
    client = boto3.client(
        "s3", endpoint_url=endpoint, region_name="us-east-1", aws_access_key_id="a", aws_secret_access_key="b"
    )
    client.create_bucket(Bucket="quay-roads")
    yield client
    client.close()


@pytest.fixture(autouse=True)
def surroundings(endpoint, monkeypatch):
    for name in ("AWS_PROFILE", "AWS_SESSION_TOKEN", "AWS_NO_SIGN_REQUEST", "AWS_ENDPOINT_URL_S3"):
        monkeypatch.delenv(name, raising=False)
    for name, value in {**_KEYS, "AWS_ENDPOINT_URL": endpoint, "AWS_EC2_METADATA_DISABLED": "true"}.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(remote, "_WAIT_S", 0.01)
    object_stores._filesystem.cache_clear()
    yield
    object_stores._filesystem.cache_clear()


def _roads(number=0):
    lines = [shapely.LineString([(500_000 + number, 0), (500_100, n)]) for n in range(3)]
    return gpd.GeoDataFrame({"seg": [f"S{number}{n}" for n in range(3)]}, geometry=lines, crs=32617)


def _put(store, key, data):
    store.put_object(Bucket="quay-roads", Key=key, Body=data)


def _refused(path):
    with remote_inputs(allowed=True), pytest.raises(InputError) as error:
        local_copy(as_address(path), "roads", "path")
    assert "HUSH" not in str(error.value)
    return str(error.value)


def test_an_object_comes_as_it_is_whatever_its_key(store):
    data = bytes(range(256)) * 20_000
    for key in ("2026/cores #1 %41.csv", "öffnungen.csv"):
        _put(store, key, data)
        with remote_inputs(allowed=True):
            copy = local_copy(as_address(f"s3://quay-roads/{key}"), "cores", "path")
            assert copy.read_bytes() == data
            assert copy.name == key.rpartition("/")[2]


def test_a_layer_is_read_like_the_same_file_here(store, tmp_path):
    _roads().to_file(tmp_path / "roads.gpkg")
    _put(store, "roads.gpkg", (tmp_path / "roads.gpkg").read_bytes())
    with remote_inputs(allowed=True):
        far = read_raw(Layer(path="s3://quay-roads/roads.gpkg"), tmp_path, "roads", None)
    near = read_raw(Layer(path="roads.gpkg"), tmp_path, "roads", None)
    assert far.frame.equals(near.frame)
    assert far.sha256 == near.sha256
    assert far.label == "s3://quay-roads/roads.gpkg"


def test_a_shapefile_brings_the_files_beside_it(store, tmp_path):
    _roads().to_file(tmp_path / "ROADS.shp")
    for ending in ("shp", "shx", "dbf", "prj"):
        _put(store, f"shapes/ROADS.{ending.upper()}", (tmp_path / f"ROADS.{ending}").read_bytes())
    with remote_inputs(allowed=True):
        far = read_raw(Layer(path="s3://quay-roads/shapes/ROADS.SHP"), tmp_path, "roads", None)
    assert far.frame["seg"].tolist() == ["S00", "S01", "S02"]
    assert far.crs.to_epsg() == 32617
    _put(store, "alone/roads.shp", (tmp_path / "ROADS.shp").read_bytes())
    assert "its .shx is not beside it, or may not be read. Put the files" in _refused("s3://quay-roads/alone/roads.shp")


def test_a_folder_of_parquet_parts_brings_all_of_them_and_nothing_else(store, tmp_path):
    for year in (2025, 2026):
        part = tmp_path / "parts" / f"year={year}" / "part-0.parquet"
        part.parent.mkdir(parents=True)
        _roads(year - 2025).to_parquet(part)
        _put(store, f"parts/year={year}/part-0.parquet", part.read_bytes())
    _put(store, "parts/_SUCCESS", b"")
    _put(store, "parts/readme.txt", b"made by hand")
    near = read_raw(Layer(path="parts"), tmp_path, "roads", None)
    assert near.frame["seg"].tolist() == ["S00", "S01", "S02", "S10", "S11", "S12"]
    for path in ("s3://quay-roads/parts", "s3://quay-roads/parts/"):
        with remote_inputs(allowed=True):
            far = read_raw(Layer(path=path), tmp_path, "roads", None)
        pd.testing.assert_frame_equal(far.frame, near.frame)
        assert far.sha256 == near.sha256
    _put(store, "texts/readme.txt", b"x")
    assert "this is a folder of the store without Parquet files" in _refused("s3://quay-roads/texts")


def test_a_pattern_stands_for_the_objects_of_one_folder(store, tmp_path):
    for key in ("months/2026-01.csv", "months/2026-02.csv", "months/2025-12.csv", "months/deeper/2026-03.csv"):
        _put(store, key, b"id\n1\n")
    section = Cores(path="s3://quay-roads/months/2026-*.csv", columns={"core_id": "id"})
    assert section.register_name == "months"
    with remote_inputs(allowed=True):
        found = paths_of(section, tmp_path)
        assert found == ["s3://quay-roads/months/2026-01.csv", "s3://quay-roads/months/2026-02.csv"]
        assert local_copy(found[1], "cores", "path").read_bytes() == b"id\n1\n"
        with pytest.raises(InputError, match="no object of the store matches"):
            matching_addresses(as_address("s3://quay-roads/months/2024-*.csv"), "cores")
        with pytest.raises(InputError, match=r"found \* in a folder, expected it in the name alone"):
            matching_addresses(as_address("s3://quay-roads/mon*/2026.csv"), "cores")
    with remote_inputs(allowed=False), pytest.raises(InputError, match="Add --allow-remote"):
        paths_of(section, tmp_path)


def test_an_object_that_changes_while_it_is_read_is_read_again(store):
    """The store's clock has whole seconds."""
    old, new = (bytes([n]) * 20_000_000 for n in (1, 2))
    _put(store, "roads.gpkg", old)
    time.sleep(1.1)
    with remote_inputs(allowed=True) as fetching:
        told = iter([lambda: _put(store, "roads.gpkg", new)])
        fetching.told = lambda *_: next(told, lambda: None)()
        assert local_copy(as_address("s3://quay-roads/roads.gpkg"), "roads", "path").read_bytes() == new


def test_what_is_not_there_is_told():
    for path in ("s3://quay-roads/gone.csv", "s3://no-such-bucket-here/gone.csv"):
        assert _refused(path) == f"{path}: no such object in the store. Correct the address; capitals count."


def test_who_may_not_read_is_told_and_no_key_is_shown(store, endpoint):
    """From here on the server knows nobody, as a store does with a wrong key."""
    _put(store, "closed.csv", b"id\n")
    requests.post(f"{endpoint}/moto-api/reset-auth", data=b"0", timeout=10)
    try:
        error = _refused("s3://quay-roads/closed.csv")
    finally:
        requests.post(f"{endpoint}/moto-api/reset-auth", data=b"1000000000", timeout=10)
    assert "s3://quay-roads/closed.csv: the store does not let you read it" in error
    assert "Check your rights and AWS_PROFILE, or AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY; for data" in error


def test_data_that_is_open_to_all_needs_no_key(store, monkeypatch):
    for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
        monkeypatch.delenv(name)
    monkeypatch.setenv("AWS_NO_SIGN_REQUEST", "YES")
    store.put_object(Bucket="quay-roads", Key="open.csv", Body=b"id\n", ACL="public-read")
    with remote_inputs(allowed=True):
        assert local_copy(as_address("s3://quay-roads/open.csv"), "cores", "path").read_bytes() == b"id\n"


def test_a_store_that_is_not_reached_is_told(monkeypatch):
    monkeypatch.setenv("AWS_ENDPOINT_URL", "http://127.0.0.1:1")
    error = _refused("s3://quay-roads/roads.gpkg")
    assert "the store could not be reached or the connection was lost (network connection)" in error


def test_an_object_that_breaks_off_again_and_again_is_told(monkeypatch):
    def head_or_part(request):
        if request.command == "HEAD":
            request.send_response(200)
            request.send_header("Content-Length", "100000")
            request.send_header("ETag", '"x"')
            request.end_headers()
        else:
            break_off(b"x" * 5000, 100_000)(request)

    with web_server() as server:
        server.answers["/quay-roads/roads.gpkg"] = head_or_part
        monkeypatch.setenv("AWS_ENDPOINT_URL", server.url(""))
        error = _refused("s3://quay-roads/roads.gpkg")
    assert "s3://quay-roads/roads.gpkg: " in error
    assert "tried 3 times" in error


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("When getting: AWS Error ACCESS_DENIED during HeadObject: HUSH", "does not let you read it (access denied)"),
        (
            "AWS Error UNKNOWN (HTTP status 301) during HeadObject",
            "the bucket lies in another region. Set AWS_REG",
        ),
        ("Bucket 'x' not found", "no such bucket"),
        (
            "AWS Error NETWORK_CONNECTION during HeadObject: curlCode: 60, SSL peer certificate HUSH",
            "no encrypted connection",
        ),
        ("AWS Error REQUEST_TIMEOUT", "the store did not answer within 30 s"),
    ],
)
def test_each_word_of_a_store_has_its_sentence(monkeypatch, said, shown):
    """Messages as Arrow and its clients word them."""

    class Saying:
        def get_file_info(self, _):
            raise OSError(said)

    monkeypatch.setattr(object_stores, "_filesystem", lambda *_: Saying())
    monkeypatch.setattr(object_stores._filesystem, "cache_clear", lambda: None, raising=False)
    assert shown in _refused("s3://quay-roads/x.csv")


def test_an_address_of_google_is_asked_of_its_store(tmp_path, monkeypatch):
    """No server here answers as Google's does: only the way to it is tried, with a folder in its place."""
    (tmp_path / "quay-roads").mkdir()
    (tmp_path / "quay-roads" / "cores.csv").write_bytes(b"id\n1\n")
    asked = []

    def local(**settings):
        asked.append(settings)
        return fs.SubTreeFileSystem(str(tmp_path), fs.LocalFileSystem())

    monkeypatch.setattr(fs, "GcsFileSystem", local)
    monkeypatch.setenv("GS_NO_SIGN_REQUEST", "YES")
    with remote_inputs(allowed=True):
        assert local_copy(as_address("gs://quay-roads/cores.csv"), "cores", "path").read_bytes() == b"id\n1\n"
    assert [one["anonymous"] for one in asked] == [True]
