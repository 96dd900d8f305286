"""Inputs from elsewhere: when they may be fetched, where to, and what becomes of them."""

import gc
import stat
import tempfile
from pathlib import Path

import geopandas as gpd
import pytest
import shapely

from pipeline.errors import InputError, OutputError
from pipeline.intake.files import remote
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.paths import input_path
from pipeline.intake.files.remote import local_copy, remote_inputs
from pipeline.intake.files.transfer import LostError, Stream
from pipeline.programme.addresses import Address, as_address
from pipeline.programme.settings import Layer
from tests.web_server import fail, send, web_server


@pytest.fixture
def served():
    with web_server() as server:
        yield server


def test_nothing_is_fetched_unless_it_is_asked_for(served, tmp_path):
    url = served.url("/roads.gpkg?sig=HUSH")
    with remote_inputs(allowed=False), pytest.raises(InputError) as error:
        input_path(url, tmp_path, "roads")
    assert str(error.value) == (
        f"{served.url('/roads.gpkg')}: this is an address, and no connection is made unless it is asked for. Add "
        "--allow-remote to the command, or save the data as a file and give its path in roads.path."
    )
    # where there is no such option
    with pytest.raises(InputError, match=r"expected the path of a file on this computer\. Save the data as a file"):
        input_path(url, tmp_path, "roads")
    assert served.connections == 0


def test_a_copy_is_private_kept_for_the_block_and_fetched_once(served, tmp_path):
    served.answers["/cores.csv"] = b"id\n"
    url = served.url("/cores.csv?sig=1")
    with remote_inputs(allowed=True):
        copies = {input_path(url, tmp_path, "cores") for _ in range(3)}
        (copy,) = copies
        assert stat.S_IMODE(copy.parents[1].stat().st_mode) == 0o700
        # another query may be other data
        assert input_path(served.url("/cores.csv?sig=2"), tmp_path, "cores") != copy
    assert len(served.asked) == 2
    assert not copy.parents[1].exists()


def test_copies_are_gone_whatever_ends_the_block(served, tmp_path):
    served.answers["/cores.csv"] = b"id\n"
    kept = []

    def stopped():
        with remote_inputs(allowed=True):
            kept.append(input_path(served.url("/cores.csv"), tmp_path, "cores"))
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert not kept[0].exists()
    gc.collect()
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_had_is_asked_for_once(served, tmp_path):
    served.answers["/gone.csv"] = fail(404)
    with remote_inputs(allowed=True):
        for _ in range(2):
            with pytest.raises(InputError, match=r"no such file on the server \(HTTP 404\)"):
                input_path(served.url("/gone.csv"), tmp_path, "cores")
    assert len(served.asked) == 1


@pytest.mark.parametrize("ending", [".shp", ".SHP"])
def test_a_shapefile_of_the_web_brings_the_files_beside_it(served, tmp_path, ending):
    line = shapely.LineString([(500_000, 0), (500_100, 0)])
    gpd.GeoDataFrame({"seg": ["S1"]}, geometry=[line], crs=32617).to_file(tmp_path / "roads.shp")
    for part in (".shp", ".shx", ".dbf", ".prj"):
        own = part.upper() if ending.isupper() else part
        served.answers[f"/roads{own}"] = (tmp_path / f"roads{part}").read_bytes()
    with remote_inputs(allowed=True):
        table = read_raw(Layer(path=served.url(f"/roads{ending}?token=T")), tmp_path, "roads", None)
    assert table.frame["seg"].tolist() == ["S1"]
    assert table.crs.to_epsg() == 32617
    assert all(path.endswith("?token=T") for path in served.asked)
    del served.answers[f"/roads{'.DBF' if ending.isupper() else '.dbf'}"]
    with (
        remote_inputs(allowed=True),
        pytest.raises(InputError, match=r"dbf is not beside it, or may|DBF is not beside"),
    ):
        input_path(served.url(f"/roads{ending}"), tmp_path, "roads")


def test_progress_tells_how_much_has_come(served, tmp_path):
    served.answers["/big.csv"] = b"x" * 5_000_000
    told = []
    with remote_inputs(allowed=True) as fetching:
        fetching.told = lambda *of: told.append(of)
        input_path(served.url("/big.csv?sig=HUSH"), tmp_path, "cores")
    assert told[0][0] == served.url("/big.csv")
    assert told[-1] == (served.url("/big.csv"), 5, 5, "MB")


def test_more_than_the_disk_has_room_for_is_not_begun(served, tmp_path):
    served.answers["/big.gpkg"] = send(b"", Content_Length=str(10**15))
    with remote_inputs(allowed=True), pytest.raises(InputError) as error:
        input_path(served.url("/big.gpkg"), tmp_path, "roads")
    assert "does not fit on the disk of " in str(error.value)
    assert str(error.value).endswith("Free some space, or name a folder with more in TMPDIR.")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a disk that is always full")
def test_a_disk_that_fills_up_is_told():
    blocks = iter([b"x" * 100_000, b""])
    with pytest.raises(InputError, match="does not fit on the disk of"):
        remote._write(
            Stream(lambda: next(blocks), None), Path("/dev/full"), Address("https://host/a.csv"), lambda *_: None
        )


def test_what_is_cut_short_counts_as_lost(tmp_path):
    blocks = iter([b"xx", b""])
    with pytest.raises(LostError, match="only 2 of 3 bytes arrived"):
        remote._write(Stream(lambda: next(blocks), 3), tmp_path / "a", Address("https://host/a.csv"), lambda *_: None)


@pytest.mark.parametrize(
    ("address", "name"),
    [
        ("https://host/roads.gpkg?x=a.csv", "roads.gpkg"),
        ("https://host/", "host"),
        ("https://host/a%2F..%2F..%2Fetc%2Fpasswd", "a_.._.._etc_passwd"),
        ("https://host/%00%0A.csv", "__.csv"),
        ("https://host/..", "data"),
        ("https://host/" + "x" * 500 + ".csv", "x" * 100 + ".csv"),
        ("https://host/a." + "x" * 500, "a." + "x" * 98),
        ("https://host/" + "ö" * 200 + ".csv", "ö" * 50 + ".csv"),
        ("s3://bucket/a/b%2Fc.csv", "b%2Fc.csv"),
        ("s3://bucket/a\\..\\c.csv", "a_.._c.csv"),
        ("s3://bucket/parts/", "parts"),
    ],
)
def test_a_copy_has_a_name_that_stays_in_its_folder(address, name):
    assert remote._file_name(as_address(address)) == name


def test_a_share_is_opened_only_where_that_is_asked_for(tmp_path):
    (tmp_path / "cores.csv").touch()
    double = "/" + str(tmp_path / "cores.csv")
    with (
        remote_inputs(allowed=False),
        pytest.raises(InputError, match="leads to a share of another computer, to which"),
    ):
        input_path(double, tmp_path, "cores")
    with remote_inputs(allowed=True):
        assert input_path(double, tmp_path, "cores").samefile(tmp_path / "cores.csv")
    # the folder that the user opened the programme in is the user's own
    (tmp_path / "share").symlink_to("/" + str(tmp_path))
    assert input_path("cores.csv", tmp_path / "share", "cores") == tmp_path / "share" / "cores.csv"
    with pytest.raises(InputError, match="leads to a share"):
        input_path("share/cores.csv", tmp_path, "cores")


def test_a_place_for_copies_is_needed_only_where_something_may_be_fetched(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    with remote_inputs(allowed=False):
        pass
    with (
        pytest.raises(OutputError, match=r"^no folder can be made for what --allow-remote fetches \(No such file"),
        remote_inputs(allowed=True),
    ):
        pass


def test_local_copy_needs_a_block(served):
    with pytest.raises(InputError):
        local_copy(as_address(served.url("/a.csv")), "cores", "path")
