"""No input makes the program open a connection unless it is asked for: not by a path, and not by what a file holds.

A server counts what reaches it, and the kernel ends a process that opens a socket of the internet, whoever opens it:
Python, GDAL, PROJ or a store's library.
"""

import json
import os
import platform
import signal
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import pytest
import shapely

from tests.leading_elsewhere import addresses, write_links
from tests.web_server import web_server

_ROOT = Path(__file__).parents[2]
# a computer on which everything that can be switched on is
_ENVIRONMENT = {
    "GML_SKIP_RESOLVE_ELEMS": "NONE", "GML_DOWNLOAD_SCHEMA": "YES", "OGR_SQLITE_ALLOW_EXTERNAL_ACCESS": "YES",
    "LIBKML_RESOLVE_STYLE": "YES", "GDAL_PAM_ENABLED": "YES", "PROJ_NETWORK": "ON", "AWS_NO_SIGN_REQUEST": "YES",
    "GDAL_HTTP_MAX_RETRY": "0", "GDAL_HTTP_CONNECTTIMEOUT": "2", "AWS_REGION": "us-east-1", "NO_PROXY": "*",
}  # fmt: skip
# in these the first look alone opens a connection with GDAL as it comes
# what GDAL as it comes asks the server for as it opens each of these
_LIVE = {
    "plain.vrt": "/plain.vrt.json", "vrt.kml": "/vrt.kml.json", "vrt.gpkg": "/vrt.gpkg.json", "vrt.zip": "/vrt.geojson.json",
    "link.geojson": "/crs-link", "pipeline.json": "/p.json",
    "service.xml": "/service.xml?SERVICE=WFS&REQUEST=GetCapabilities",
}  # fmt: skip
# system calls that open a socket, and how the kernel names the processor
_SOCKET_CALLS = {"x86_64": (41, 0xC000003E), "aarch64": (198, 0xC00000B7)}
# ends the process at a socket of the internet, then becomes the command that follows
_GUARDED = """
import ctypes, os, struct, sys
call, machine = int(sys.argv[1]), int(sys.argv[2])
def step(code, true, false, value):
    return struct.pack("HBBI", code, true, false, value)
LOAD, EQUAL, RETURN, ALLOW, END = 0x20, 0x15, 0x06, 0x7FFF0000, 0x80000000
program = b"".join([
    step(LOAD, 0, 0, 4), step(EQUAL, 1, 0, machine), step(RETURN, 0, 0, ALLOW),
    step(LOAD, 0, 0, 0), step(EQUAL, 0, 3, call),
    step(LOAD, 0, 0, 16), step(EQUAL, 2, 0, 2), step(EQUAL, 1, 0, 10),
    step(RETURN, 0, 0, ALLOW), step(RETURN, 0, 0, END),
])
class Filter(ctypes.Structure):
    _fields_ = [("length", ctypes.c_ushort), ("steps", ctypes.c_char_p)]
libc = ctypes.CDLL(None, use_errno=True)
assert libc.prctl(38, 1, 0, 0, 0) == 0
if libc.prctl(22, 2, ctypes.byref(Filter(len(program) // 8, program)), 0, 0):
    sys.exit(99)
os.execv(sys.executable, [sys.executable, *sys.argv[3:]])
"""


def _run(base, arguments, *, is_guarded=False, **more):
    """Run Python with arguments where everything is switched on, with or without the kernel's guard."""
    environment = (
        os.environ | _ENVIRONMENT | {"PROJ_NETWORK_ENDPOINT": f"{base}/grids", "AWS_ENDPOINT_URL": base} | more
    )
    command = [sys.executable, *arguments]
    if is_guarded:
        numbers = map(str, _SOCKET_CALLS.get(platform.machine(), (0, 0)))
        command = [sys.executable, "-c", _GUARDED, *numbers, *arguments]
    return subprocess.run(command, cwd=_ROOT, env=environment, capture_output=True, text=True, check=False, timeout=300)


def _write_programme(folder, base, paths):
    """Write a programme that names every path as a register, and addresses wherever a file may be named."""
    line = shapely.LineString([(-82.21, 44.8), (-82.19, 44.8)])
    # a datum whose transformation PROJ would fetch a grid for
    roads = gpd.GeoDataFrame({"seg": ["S1"], "name": ["Quay Road"]}, geometry=[line], crs=4267)
    roads.to_file(folder / "roads.gpkg")
    (folder / "plain.csv").write_text("id,lon,lat,dia,depth\nA,-82.2,44.8,450,200\n", encoding="utf-8")
    registers = [{"path": path} for path in paths]
    registers += [
        {"path": "plain.csv", "crs": crs}
        for crs in (f"+proj=longlat +nadgrids={base}/grid.tif +no_defs", f"{base}/crs", "EPSG:4267")
    ]
    tables = "".join(
        f"[[cores]]\nname = '{number}'\n"
        + "".join(f"{key} = {json.dumps(value)}\n" for key, value in (_table(one["path"]) | one).items())
        # any column will do, so that nothing ends before it is read
        + "columns = { core_id = 'id', diameter = 'id', depth = 'id' }\nunits = { diameter = 'mm', depth = 'mm' }\n"
        for number, one in enumerate(registers)
    )
    far = f"{base}/further"
    text = (
        "[programme]\nname = 'Quay'\nas_of = 2026-09-30\ntimezone = 'America/Toronto'\n[roads]\npath = 'roads.gpkg'\n"
        f"columns = {{ segment_id = 'seg' }}\n[surfaces]\npath = '{far}.gpkg'\n[districts]\npath = 'vrt.geojson'\n"
        f"[orders.stock]\npath = '{far}-stock.csv'\n[weather]\npath = '{far}-weather.csv'\n"
        f"[decisions]\npath = '{far}-decisions.csv'\n[returns]\npath = '{far}-returns.csv'\n[plan]\nkeep = '{far}-plan.csv'\n"
    )
    (folder / "programme.toml").write_text(text + tables, encoding="utf-8")
    return folder / "programme.toml"


def _table(path):
    """Return the settings that a table needs, and that a layer must not have, so that its own CRS is looked at."""
    is_table = Path(path).suffix in {".csv", ".xlsx"} or path in {"far.parquet", "parts"}
    return {"x": "lon", "y": "lat", "crs": "EPSG:4326"} if is_table else {}


@pytest.fixture(scope="module")
def links(tmp_path_factory):
    """A server, the folder of files that lead to it, their names, and a programme that names all of them."""
    folder = tmp_path_factory.mktemp("links")
    with web_server() as server:
        base = server.url("")
        names = write_links(folder, base)
        yield server, folder, names, _write_programme(folder, base, [*names, "parts", *addresses(base)])


@pytest.fixture
def server(links):
    links[0].asked.clear()
    links[0].connections = 0
    return links[0]


def test_the_links_are_live(links, server):
    """Without our walls they do what they are for: GDAL as it comes connects."""
    _, folder, names, _ = links
    assert set(names) > set(_LIVE)
    script = (
        "import pathlib, sys, pyogrio\n"
        "for name in sys.argv[1:]:\n"
        "    try: pyogrio.read_dataframe(pathlib.Path(name))\n"
        "    except Exception: pass\n"
        "import pyproj\n"
        "pyproj.Transformer.from_crs(4267, 4326, always_xy=True).transform(-82.2, 44.8)\n"
    )
    _run(server.url(""), ["-c", script, *(str(folder / name) for name in _LIVE)])
    assert set(_LIVE.values()) - set(server.asked) == set()
    assert any(path.startswith("/grids/") for path in server.asked)


def test_no_file_and_no_path_leads_to_a_connection(links, server):
    """The command lists every input that it cannot use, so that one call tries them all."""
    *_, programme = links
    done = _run(server.url(""), ["-m", "pipeline", "check", str(programme), "--no-page"])
    assert (server.asked, server.connections) == ([], 0)
    assert done.returncode == 3, done.stderr
    assert "Traceback" not in done.stderr
    # each of the addresses that could be read is refused by the option
    errors = [line for line in done.stderr.splitlines() if line.startswith("Error: ")]
    (asked,) = [line for line in errors if "/a.csv" in line]
    assert "this is an address, and no connection is made unless it is asked for. Add --allow-remote" in asked
    for path in (server.url("/a.csv"), "/a.geojson", "s3://bucket/a.csv", "gs://bucket/a.csv"):
        assert path in asked
    for path in ("/further.gpkg", "/further-stock.csv", "/further-weather.csv", "/further-decisions.csv"):
        assert f"{server.url(path)}: this is an address, and no connection is made unless" in done.stderr
    (shares,) = [line for line in errors if "leads to a share of another computer" in line]
    assert "linked.csv" in shares
    assert "//127.0.0.1/share/i.csv" in shares
    assert r"\\127.0.0.1\share\j.csv" in shares
    assert "is a link to other data" in done.stderr


def test_an_audit_makes_no_connection_either(links, server):
    *_, programme = links
    done = _run(server.url(""), ["-m", "pipeline", "audit", str(programme)])
    assert done.returncode == 3
    assert (server.asked, server.connections) == ([], 0)


def test_a_folder_that_is_looked_at_for_a_programme_makes_no_connection(links, server, tmp_path):
    _, folder, *_ = links
    done = _run(server.url(""), ["-m", "pipeline", "start", str(tmp_path / "new"), "--from", str(folder)])
    assert "Traceback" not in done.stderr
    assert (server.asked, server.connections) == ([], 0)


_has_guard = pytest.mark.skipif(
    sys.platform != "linux" or platform.machine() not in _SOCKET_CALLS, reason="needs the kernel's guard"
)


@_has_guard
def test_no_socket_of_the_internet_is_opened_by_anyone(links, server):
    """The guard is tried first: it ends a process that opens one, and no other."""
    *_, programme = links
    base = server.url("")
    opened = _run(base, ["-c", "import socket; socket.socket(); print('open')"], is_guarded=True)
    if opened.returncode == 99:
        pytest.skip("the kernel has no such guard here")
    assert (opened.returncode, opened.stdout) == (-signal.SIGSYS, "")
    assert _run(base, ["-c", "import socket; socket.socket(socket.AF_UNIX)"], is_guarded=True).returncode == 0
    done = _run(base, ["-m", "pipeline", "check", str(programme), "--no-page"], is_guarded=True)
    assert done.returncode == 3, done.stderr
    # and it ends the same command where that is asked to connect
    remote = _run(base, ["-m", "pipeline", "check", str(programme), "--no-page", "--allow-remote"], is_guarded=True)
    assert remote.returncode == -signal.SIGSYS
