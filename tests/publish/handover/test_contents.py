"""The handover pack: what leaves the house, that nothing else does, and that a change to it is found out."""

import contextlib
import gzip
import hashlib
import io
import json
import re
import shutil
import sqlite3
import subprocess
import sys
import zipfile
from contextlib import closing
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline import cli
from pipeline.audit.registry import RULES
from pipeline.commands.verify import verify
from pipeline.contracts import CORE_COLUMNS, HANDED_ALWAYS, HANDED_COLUMNS, REGISTER_COLUMNS, STREET_RECORDED
from pipeline.errors import InputError, SettingsError
from pipeline.publish.words import load_words
from pipeline.readback.packs import read_table
from pipeline.run import run_programme

_FILES = {
    "SHA256SUMS", "cores.csv", "cores.gpkg", "findings.csv", "handover.json", "how-to-read.html", "map.html", "rules.csv",
}  # fmt: skip
# what must not leave: a crew, a remark, a column of the register's own, and a count of bags that cannot be read
_SECRETS = ("SECRETCREW", "SECRETREMARK", "SECRETCOST", "SECRETBAGS", "SECRETCELL")


def _town(folder: Path, handover: str = "") -> Path:
    rows = [
        {
            "id": f"HV-{place}", "lon": -82.2 + place * 1e-3, "lat": 44.8, "dia": 450, "depth": 200, "cut": "2026-08-01",
            "done": "2026-08-03 14:05" if place % 2 else "", "bags": "SECRETBAGS" if place == 1 else "0.6",
            "crew": f"SECRETCREW {place}", "remarks": "SECRETREMARK", "cost": "SECRETCOST", "permit": "=P-1+1",
            "@road": "SECRETSTREET",
        }
        for place in range(5)
    ]  # fmt: skip
    rows.append({**rows[0], "id": "HV-off", "lon": ""})
    rows.append({**rows[0], "id": "HV-shifted", "lon": "SECRETCELL 555"})
    pd.DataFrame(rows).to_csv(folder / "cores.csv", index=False)
    line = shapely.LineString([(-82.21, 44.8), (-82.19, 44.8)])
    gpd.GeoDataFrame({"seg": ["S1"], "name": ["Quay Road"], "surface": ["asphalt"]}, geometry=[line], crs=4326).to_file(
        folder / "roads.gpkg"
    )
    box = shapely.box(-82.21, 44.79, -82.19, 44.82)
    gpd.GeoDataFrame({"name": ["Quayside"]}, geometry=[box], crs=4326).to_file(folder / "districts.gpkg")
    path = folder / "programme.toml"
    path.write_text(
        f"""
        [programme]
        name = "Quay 2026"
        as_of = 2026-09-30
        timezone = "America/Toronto"
        [cores]
        path = "cores.csv"
        x = "lon"
        y = "lat"
        crs = "EPSG:4326"
        columns = {{ core_id = "id", diameter = "dia", depth = "depth", opened_on = "cut", reinstated_at = "done", bags_used = "bags", crew = "crew", remarks = "remarks", permit_no = "permit", street = "@road" }}
        units = {{ diameter = "mm", depth = "mm" }}
        [roads]
        path = "roads.gpkg"
        columns = {{ segment_id = "seg", street = "name", surface = "surface" }}
        [districts]
        path = "districts.gpkg"
        columns = {{ district = "name" }}
        {handover}
        """,
        encoding="utf-8",
    )
    return path


@pytest.fixture(scope="module")
def town(tmp_path_factory):
    folder = tmp_path_factory.mktemp("town")
    return run_programme(_town(folder), folder / "out").folder


@pytest.fixture
def pack(town, tmp_path):
    """A copy that a test may spoil."""
    return Path(shutil.copytree(town / "handover", tmp_path / "handover"))


def _inside(file: Path) -> str:
    """Everything that a file says, a map's packed columns and a zip's entries included."""
    raw = file.read_bytes()
    texts = [raw.decode("utf-8", "replace")]
    if file.suffix == ".html":
        packed = re.findall(r'<script type="text/plain" id="[a-z-]+">(.*?)</script>', texts[0], re.DOTALL)
        texts += [_unpacked(text) for text in packed]
    if file.suffix == ".zip":
        with zipfile.ZipFile(io.BytesIO(raw)) as pack:
            texts += [pack.read(name).decode("utf-8", "replace") for name in pack.namelist()]
    return "\n".join(texts)


def _unpacked(text: str) -> str:
    """The page's seven-bit letters, read a second time: written from their description, not from the packing code."""
    count, _, letters = text.partition(" ")
    bits = "".join(f"{ord(letter) & 127:07b}" for letter in letters)
    content = bytes(int(bits[at : at + 8], 2) for at in range(0, int(count) * 8, 8))
    return gzip.decompress(content).decode("utf-8", "replace")


def _resum(pack: Path) -> None:
    """Make the checksums right again, as a forger would."""
    lines = [
        f"{hashlib.sha256(file.read_bytes()).hexdigest()}  {file.name}\n"
        for file in sorted(pack.iterdir())
        if file.name != "SHA256SUMS"
    ]
    (pack / "SHA256SUMS").write_text("".join(lines))


def test_the_pack_holds_what_is_said_and_no_more(town):
    assert {file.name for file in (town / "handover").iterdir()} == _FILES
    with zipfile.ZipFile(town / "handover.zip") as pack:
        assert {Path(name).name for name in pack.namelist()} == _FILES
        assert {Path(name).parts[0] for name in pack.namelist()} == {"quay-2026-2026-09-30"}
        for name in pack.namelist():
            assert pack.read(name) == (town / "handover" / Path(name).name).read_bytes()


def test_nothing_internal_is_in_any_file_not_even_in_the_maps_packed_data(town):
    # the run's own outputs do hold it: the search can find it
    own = "\n".join(_inside(file) for file in town.iterdir() if file.is_file())
    assert all(secret in own for secret in _SECRETS)
    assert "SECRETBAGS" in _inside(town / "map.html")
    for file in [*(town / "handover").iterdir(), town / "handover.zip"]:
        found = _inside(file)
        assert not [secret for secret in _SECRETS if secret in found], file.name
    # and the reading of packed data reads something
    assert "Quay Road" in _inside(town / "handover" / "map.html")


def test_the_finding_that_quotes_an_internal_column_is_there_by_its_title(town):
    findings = pd.read_csv(town / "handover" / "findings.csv").set_index("rule")
    own = pd.read_csv(town / "findings.csv").set_index("rule")
    assert findings.index.tolist() == own.index.tolist()
    assert "SECRETBAGS" in own.loc["value-unreadable", "message"]
    assert (
        findings.loc["value-unreadable", "message"] == "A number or a surface that the register writes cannot be read."
    )
    assert pd.isna(findings.loc["value-unreadable", "evidence"])
    told = findings.loc["position-missing", ["message", "evidence"]]
    assert told.equals(own.loc["position-missing", ["message", "evidence"]])
    identity = json.loads((town / "handover" / "handover.json").read_text())
    assert identity["findings_without_figures"] == ["position-unreadable", "value-unreadable"]


def test_the_columns_are_those_of_the_settings_in_their_order_as_they_were_understood(tmp_path):
    columns = [*HANDED_ALWAYS, "reinstated_at", "opened_on", "diameter_mm", "cost", "@road", "cover_m"]
    path = _town(tmp_path, f"[handover]\ncolumns = {json.dumps(columns)}\n")
    place = run_programme(path, tmp_path / "out").folder / "handover"
    cores = pd.read_csv(place / "cores.csv")
    # the register keeps no cover
    assert cores.columns.tolist() == ["row", *columns[:-2], "'@road"]
    assert cores["cost"].eq("SECRETCOST").all()
    back = "2026-08-03T14:05-04:00"
    assert cores["reinstated_at"].fillna("").tolist() == ["", back, "", back, "", "", ""]
    assert cores["opened_on"].eq("2026-08-01").all()
    assert cores["diameter_mm"].eq(450).all()
    layer = gpd.read_file(place / "cores.gpkg", layer="cores")
    assert layer.columns.tolist() == ["row", *columns[:-1], "geometry"]
    layers = {"cores", "segments", "districts", "findings", "layer_styles"}
    assert set(gpd.list_layers(place / "cores.gpkg")["name"]) == layers
    assert verify(place).identity["columns"] == ["row", *columns[:-1]]


def test_the_registers_street_stays_if_it_is_not_listed_and_so_does_a_surface(tmp_path):
    path = _town(tmp_path, f"[handover]\ncolumns = {json.dumps([*HANDED_ALWAYS])}\n")
    run = run_programme(path, tmp_path / "out").folder
    assert "SECRETSTREET" in _inside(run / "map.html")
    assert "asphalt" in _inside(run / "map.html")
    for file in (run / "handover").iterdir():
        assert "SECRETSTREET" not in _inside(file), file.name
        # the page on how to read it tells of no surface either
        assert "asphalt" not in _inside(file), file.name
    assert "likeliest" in (run / "handover" / "how-to-read.html").read_text()
    assert "runner_up_id" not in (run / "handover" / "how-to-read.html").read_text()


@pytest.mark.parametrize(
    ("handover", "said"),
    [
        (f"columns = {json.dumps([*HANDED_ALWAYS, 'Bags'])}", r"no column 'Bags'"),
        (f"columns = {json.dumps([*HANDED_ALWAYS, 'crews'])}", r"no column 'crews'\. Did you mean \"crew\"\?"),
        (f"columns = {json.dumps([*HANDED_ALWAYS, 'lat'])}", r"lat named twice"),
        ("columns = 3", r"handover\.columns"),
        ('colums = ["core_id"]', r'Did you mean "columns"\?'),
    ],
)  # fmt: skip
def test_a_list_of_columns_that_cannot_be_is_refused_before_anything_is_read_at_length(tmp_path, handover, said):
    with pytest.raises(SettingsError, match=said):
        run_programme(_town(tmp_path, f"[handover]\n{handover}\n"), tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_two_runs_make_the_same_zip_and_another_result_another_identity(town, tmp_path):
    inputs = Path(shutil.copytree(town.parents[2], tmp_path / "inputs", ignore=shutil.ignore_patterns("out")))
    path = inputs / "programme.toml"
    again = run_programme(path, tmp_path / "elsewhere").folder
    assert (again / "handover.zip").read_bytes() == (town / "handover.zip").read_bytes()
    text = (inputs / "cores.csv").read_text()
    (inputs / "cores.csv").write_text(text.replace("HV-3", "HV-33"))
    other = run_programme(path, tmp_path / "other").folder
    identities = [json.loads((run / "run.json").read_text())["run"] for run in (town, again, other)]
    assert identities[0] == identities[1] != identities[2]
    assert json.loads((town / "handover" / "handover.json").read_text())["run"] == identities[0]


def test_sha256sum_finds_every_file_as_it_should_be(town):
    done = subprocess.run(
        ["sha256sum", "--strict", "-c", "SHA256SUMS"], cwd=town / "handover", capture_output=True, text=True, check=True
    )
    assert done.stdout.count(": OK") == len(_FILES) - 1


def test_the_folder_and_its_zip_are_found_whole_with_the_fingerprint_of_the_runs_record(town):
    told = json.loads((town / "run.json").read_text())
    for path in (town / "handover", town / "handover.zip"):
        verified = verify(path, told["handover"]["fingerprint"][:20])
        assert verified.fingerprint == told["handover"]["fingerprint"]
        assert {name for name, _, _ in verified.files} == _FILES - {"SHA256SUMS"}
        assert verified.identity["cores"] == 7


def _flip(pack):
    raw = bytearray((pack / "map.html").read_bytes())
    raw[len(raw) // 2] ^= 1
    (pack / "map.html").write_bytes(raw)


def _without_a_core(pack):
    lines = (pack / "cores.csv").read_text().splitlines(keepends=True)
    (pack / "cores.csv").write_text("".join(lines[:-1]))
    _resum(pack)


def _with_a_column(pack):
    frame = pd.read_csv(pack / "cores.csv").assign(crew="A")
    frame.to_csv(pack / "cores.csv", index=False)
    _resum(pack)


def _closed(pack):
    text = (pack / "cores.csv").read_text()
    (pack / "cores.csv").write_text(text.replace('"flagged"', '"reinstated"', 1))
    _resum(pack)


def _other_map(pack):
    text = (pack / "map.html").read_text("utf-8")
    (pack / "map.html").write_text(text.replace('"cores":7', '"cores":6'), "utf-8")
    _resum(pack)


def _no_map(pack):
    (pack / "map.html").write_text("<p>no map</p>")
    _resum(pack)


def _no_geopackage(pack):
    (pack / "cores.gpkg").write_bytes(b"not a database at all" * 100)
    _resum(pack)


def _identity(pack):
    (pack / "handover.json").write_text('{"programme": 1}')
    _resum(pack)


def _other_ids(pack):
    frame = pd.read_csv(pack / "cores.csv", dtype=str, keep_default_na=False)
    frame["core_id"] = frame["core_id"].to_list()[::-1]
    frame.to_csv(pack / "cores.csv", index=False, quoting=1)
    _resum(pack)


def _other_findings(pack):
    rows = len(pd.read_csv(pack / "findings.csv"))
    (pack / "findings.csv").write_text("a,b\n" + "1,2\n" * rows)
    _resum(pack)


def _one_table_more(pack):
    with closing(sqlite3.connect(pack / "cores.gpkg")) as database, database:
        database.execute("CREATE TABLE crews (name TEXT)")
    _resum(pack)


def _nested(pack):
    deep = "[" * 200_000 + "]" * 200_000
    (pack / "map.html").write_text(f'<script type="application/json" id="page-data">{deep}</script>')
    _resum(pack)


def _fewer_findings(pack):
    lines = (pack / "findings.csv").read_text().splitlines(keepends=True)
    (pack / "findings.csv").write_text("".join(lines[:-1]))
    _resum(pack)


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (_flip, r"map\.html: changed: its SHA-256 is [0-9a-f]{64}, not"),
        (lambda pack: (pack / "cores.csv").unlink(), r"cores\.csv: missing"),
        (lambda pack: (pack / "extra.txt").write_text("x"), r"extra\.txt: not of the pack"),
        (lambda pack: (pack / "SHA256SUMS").unlink(), r"SHA256SUMS: cannot be read"),
        (lambda pack: (pack / "SHA256SUMS").write_text(""), r"SHA256SUMS: empty"),
        (lambda pack: (pack / "SHA256SUMS").write_text("../../etc/passwd\n"), r"SHA256SUMS: line 1: expected"),
        (lambda pack: (pack / "SHA256SUMS").write_text("0" * 64 + "  ../map.html\n"), r"SHA256SUMS: line 1: expected"),
        (lambda pack: (pack / "SHA256SUMS").write_bytes(b"\xff\xfe"), r"SHA256SUMS: not UTF-8"),
        (_without_a_core, r"cores\.csv: cores: found 6, handover\.json says 7"),
        (_with_a_column, r"cores\.csv: columns: found .*'crew'"),
        (_closed, r"cores\.csv: cores by status"),
        (_other_map, r"map\.html: cores: found 6, handover\.json says 7"),
        (_no_map, r"map\.html: no map that can be read"),
        (_no_geopackage, r"cores\.gpkg: layer cores: cannot be read"),
        (_identity, r"handover\.json: cannot be used"),
        (_other_ids, r"cores\.gpkg, layer cores: not the same cores as cores\.csv"),
        (_other_findings, r"findings\.csv: columns: found \['a', 'b'\]"),
        (_one_table_more, r"cores\.gpkg: holds more than it should: crews"),
        (_nested, r"map\.html: no map that can be read"),
        (_fewer_findings, r"findings\.csv: findings: found"),
    ],
)  # fmt: skip
def test_a_pack_that_is_not_as_it_was_sent_is_refused_with_what_is_wrong(pack, spoil, said):
    verify(pack)
    spoil(pack)
    with pytest.raises(InputError, match=said) as refused:
        verify(pack)
    assert "ask for it again" in str(refused.value)


def test_every_wrong_file_is_named_at_once(pack):
    _flip(pack)
    (pack / "cores.csv").unlink()
    (pack / "extra.txt").write_text("x")
    with pytest.raises(InputError) as refused:
        verify(pack)
    assert len(str(refused.value).splitlines()) == 5


@pytest.mark.parametrize("fingerprint", ["0" * 64, "abc", ""])
def test_another_fingerprint_is_refused(town, fingerprint):
    with pytest.raises(InputError, match="not the pack that was meant"):
        verify(town / "handover", fingerprint)


def test_the_folder_that_a_zip_unpacks_to_is_found_by_the_folder_around_it(town, tmp_path):
    with zipfile.ZipFile(town / "handover.zip") as packed:
        packed.extractall(tmp_path)
    assert verify(tmp_path).fingerprint == verify(town / "handover").fingerprint


def test_what_a_map_needs_is_handed_over_unasked_and_a_column_that_is_not_kept_gives_nothing_away(tmp_path):
    path = _town(tmp_path, '[handover]\ncolumns = ["opened_on", "reinstated_at"]\n')
    place = run_programme(path, tmp_path / "out").folder / "handover"
    identity = verify(place).identity
    assert identity["columns"] == ["row", *HANDED_ALWAYS, "opened_on", "reinstated_at"]
    # its sentence may name a day of an interim reinstatement, which this register does not keep
    assert "interim_on" in RULES["open-too-long"].reveals
    said = pd.read_csv(place / "findings.csv").set_index("rule").loc["open-too-long", "message"]
    assert said.str.contains("30 days are allowed").all()
    rules = pd.read_csv(place / "rules.csv").set_index("rule")
    assert rules.loc["open-too-long", "limits"] == "limit 30 day"
    assert set(pd.read_csv(place / "findings.csv")["rule"]) <= set(rules.index)


def test_a_fingerprint_is_read_in_groups_and_capitals(town):
    told = json.loads((town / "run.json").read_text())["handover"]["fingerprint"]
    grouped = " ".join(told[at : at + 8] for at in range(0, 64, 8)).upper()
    assert verify(town / "handover.zip", grouped).fingerprint == told


def _zip_of(path: Path, *entries: tuple[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as pack:
        for name, content in entries:
            pack.writestr(name, content)
    return path


@pytest.mark.parametrize(
    "entries",
    [
        [("a/../../evil.txt", b"x")],
        [("/etc/evil.txt", b"x")],
        [("a/b/c.txt", b"x")],
        [("map.html", b"x")],
        [("a/map.html", b"x"), ("b/map.html", b"x")],
        [],
    ],
)
def test_a_zip_that_reaches_out_of_its_folder_is_refused_and_writes_nothing(tmp_path, entries):
    path = _zip_of(tmp_path / "pack.zip", *entries)
    with pytest.raises(InputError, match="expected one folder of files"):
        verify(path)
    assert [file.name for file in tmp_path.iterdir()] == ["pack.zip"]
    assert not (tmp_path.parent / "evil.txt").exists()


def test_a_table_is_read_as_text_however_late_its_first_text_stands(tmp_path):
    """A reader that guesses kinds looks at the first megabyte alone."""
    rows = 200_000
    pd.DataFrame(
        {"row": range(rows), "permit": ["12"] * (rows - 1) + ["A-12"], "note": [""] * (rows - 1) + ["x"]}
    ).to_csv(tmp_path / "t.csv", index=False)
    assert (tmp_path / "t.csv").stat().st_size > 2_000_000
    table = read_table(tmp_path / "t.csv")
    assert table.iloc[-1].tolist() == ["199999", "A-12", "x"]


def test_a_forged_pack_cannot_paint_on_the_terminal(pack, capsys, monkeypatch):
    told = json.loads((pack / "handover.json").read_text())
    (pack / "handover.json").write_text(json.dumps(told | {"programme": "\x1b[2JAll is well\u202e"}))
    (pack / "\x1b[31mred").write_text("x")
    _resum(pack)
    monkeypatch.setattr(sys, "argv", ["kerfbook", "verify", str(pack)])
    with pytest.raises(SystemExit):
        cli.main()
    (pack / "\x1b[31mred").unlink()
    _resum(pack)
    with contextlib.suppress(SystemExit):
        cli.main()
    said = capsys.readouterr()
    assert "All is well" in said.out
    assert "red" in said.err + said.out
    assert not {"\x1b[2J", "\x1b[31m", "\u202e"} & {
        part for part in ("\x1b[2J", "\x1b[31m", "\u202e") if part in said.out + said.err
    }


def test_a_folder_that_may_not_be_looked_into_is_refused_in_words(tmp_path, monkeypatch):
    def refuse(_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    with pytest.raises(InputError, match=r"cannot be read \(Permission denied\)"):
        verify(tmp_path)


def test_what_is_no_pack_is_refused_in_words(tmp_path, town):
    with pytest.raises(InputError, match="no such file or folder"):
        verify(tmp_path / "nothing")
    (tmp_path / "text.zip").write_text("not a zip")
    with pytest.raises(InputError, match="no zip that can be read"):
        verify(tmp_path / "text.zip")
    whole = (town / "handover.zip").read_bytes()
    (tmp_path / "cut.zip").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(InputError, match="no zip that can be read"):
        verify(tmp_path / "cut.zip")
    spoiled = bytearray(whole)
    spoiled[len(whole) // 3 : len(whole) // 3 + 50] = bytes(50)
    (tmp_path / "spoiled.zip").write_bytes(spoiled)
    with pytest.raises(InputError, match="no zip that can be read"):
        verify(tmp_path / "spoiled.zip")
    with pytest.raises(InputError, match="SHA256SUMS: cannot be read"):
        verify(tmp_path)
    with pytest.raises(InputError, match=r"cannot be read|no such file"):
        verify(tmp_path / ("x" * 300))


def test_the_command_ends_with_0_or_3_and_never_with_a_traceback(pack):
    def run(*words):
        return subprocess.run(
            [sys.executable, "-m", "pipeline", "verify", *map(str, words)], capture_output=True, text=True, check=False
        )

    done = run(pack)
    assert done.returncode == 0
    assert "7 cores" in done.stdout
    _flip(pack)
    done = run(pack)
    assert done.returncode == 3
    assert "map.html: changed" in done.stderr
    assert "Traceback" not in done.stderr


def test_every_column_that_can_be_handed_over_has_its_sentence():
    words = load_words()
    names = {*CORE_COLUMNS, STREET_RECORDED, *(column.name for column in REGISTER_COLUMNS)}
    assert names >= set(HANDED_COLUMNS)
    assert {key.partition(".")[2] for key in words if key.startswith("column.")} == names


def test_by_default_nothing_of_crews_remarks_and_materials_is_handed_over():
    assert not {"crew", "remarks", "bags", "bags_used", "grout_l", "grout_kg", "gravel_kg", "water_l"} & set(
        HANDED_COLUMNS
    )
