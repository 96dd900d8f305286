"""A finished run read back, and run folders that cannot be used."""

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.contracts import CORE_COLUMNS, FINDING_COLUMNS
from pipeline.errors import InputError
from pipeline.readback.runs import read_run, register_text, reinstatement_text

# columns of the register that go by another name since the table of cores has one of theirs
_NAMES_BEFORE = {"register_row", "opened_on", "reinstated_at", "register"}
DEMO = Path(__file__).parents[2] / "outputs" / "harbour-vale-2026" / "2026-09-30"


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(DEMO, tmp_path / "run")
    return tmp_path / "run"


def _refused(folder, *words):
    with pytest.raises(InputError) as error:
        read_run(folder)
    for word in words:
        assert word in str(error.value)
    assert str(error.value).endswith((".", "again."))
    return str(error.value)


def _change_record(folder, change):
    record = json.loads((folder / "run.json").read_text("utf-8"))
    change(record)
    (folder / "run.json").write_text(json.dumps(record), encoding="utf-8")


def _change_cores(folder, change):
    change(pd.read_parquet(folder / "cores.parquet")).to_parquet(folder / "cores.parquet")


def test_a_run_comes_back_as_the_tables_say_it():
    run = read_run(DEMO)
    table = pd.read_csv(DEMO / "cores.csv", dtype=str, keep_default_na=False)
    assert [name for name in run.cores if name in table] == [name for name in table if name in run.cores]
    assert set(table) <= {*run.cores, *_NAMES_BEFORE}
    assert run.cores["row"].tolist() == list(range(1, 401))
    for name in ("core_id", "status", "street", "district", "done", "remarks"):
        assert run.cores[name].fillna("").tolist() == table[name].tolist()
    assert run.cores["chainage_m"].dropna().tolist() == [float(cell) for cell in table["chainage_m"] if cell]
    findings = pd.read_csv(DEMO / "findings.csv", dtype=str, keep_default_na=False)
    assert run.findings[list(findings)].fillna("").to_dict("list") == findings.to_dict("list")
    assert (run.programme, run.as_of.isoformat(), run.day_first) == ("Harbour Vale 2026", "2026-09-30", True)
    assert run.register_sha256 == json.loads((DEMO / "run.json").read_text("utf-8"))["inputs"][0]["sha256"]


def test_its_columns_are_of_the_contracts_kinds():
    run = read_run(DEMO)
    kinds = run.cores.dtypes.astype(str)
    assert kinds["row"] == "int64"
    texts = {
        "core_id", "status", "findings", "segment_id", "street", "side", "runner_up_id", "surface", "surface_from",
        "district", "shade", "bedding", "opened_on", "reinstated_at", "register", "register_file", "state", "urgency",
        "road_class", "road_authority",
    }  # fmt: skip
    whole = dict.fromkeys(("register_row", "copy_of"), "Int64")
    for name in set(CORE_COLUMNS) - {"row"}:
        assert kinds[name] == whole.get(name, "str" if name in texts else "float64"), name
    assert run.findings.columns.tolist() == list(FINDING_COLUMNS)
    assert (run.findings.dtypes == "str").all()


def test_the_registers_own_cells_are_found_by_the_contracts_name():
    run = read_run(DEMO)
    register = pd.read_csv(
        DEMO.parents[2] / "sample_data" / "cores.csv", dtype=str, keep_default_na=False, usecols=["shade", "done"],
        on_bad_lines=lambda cells: cells[:30], engine="python",
    )  # fmt: skip
    # the table of cores has a shade of its own, so that the register's stands there as register_shade
    assert register_text(run, "shade_used").fillna("").tolist() == register["shade"].tolist()
    assert register_text(run, "reinstated_at").fillna("").tolist() == register["done"].tolist()
    assert register_text(run, "inspection_result").isna().all()


def test_a_column_that_is_named_as_the_contract_names_it_needs_no_setting(folder):
    _change_record(folder, lambda record: record["settings"]["cores"].update(columns={}))
    _change_cores(
        folder, lambda table: table.rename(columns={"done": "register_Reinstated_At", "register_shade": "shade_used"})
    )
    run = read_run(folder)
    assert register_text(run, "reinstated_at").notna().sum() == pd.read_csv(folder / "cores.csv")["done"].notna().sum()
    assert register_text(run, "shade_used").notna().any()


def test_a_column_that_a_later_version_added_is_empty_in_an_older_run(folder):
    _change_cores(folder, lambda table: table.drop(columns=["segment_confidence", "bedding"]))
    run = read_run(folder)
    assert run.cores.columns.tolist()[: len(CORE_COLUMNS)] == list(CORE_COLUMNS)
    assert run.cores[["segment_confidence", "bedding"]].isna().all(axis=None)


def _older(folder):
    """Make the run one of a version that counted rows: without the columns of copies, dates and registers."""
    later = ["opened_on", "reinstated_at", "register", "register_row", "register_file", "copy_of"]
    _change_cores(folder, lambda table: table.drop(columns=[name for name in later if name in table]))

    def of_rows(record):
        for name in ("copies", "cores", "set_aside"):
            record["account"].pop(name, None)
        found = pd.read_csv(folder / "findings.csv")["severity"].value_counts()
        record.update(findings_by_severity={name: int(found[name]) for name in ("fail", "check", "note")})
        record.pop("rows_of_findings", None)

    _change_record(folder, of_rows)


def test_of_an_older_run_the_copies_are_worked_out(folder):
    """The demo writes two rows twice."""
    _older(folder)
    run = read_run(folder)
    register = pd.read_csv(
        DEMO.parents[2] / "sample_data" / "cores.csv", dtype=str, keep_default_na=False,
        on_bad_lines=lambda cells: cells[:30], engine="python",
    )  # fmt: skip
    assert run.cores["copy_of"].notna().tolist() == register.duplicated().tolist()
    assert len(run.counted_cores) == 398
    copies = run.cores[run.cores["copy_of"].notna()]
    firsts = run.cores.set_index("row").loc[copies["copy_of"], "core_id"]
    assert copies["core_id"].tolist() == firsts.tolist()


def test_of_an_older_run_the_registers_own_columns_are_found_whose_names_are_taken_by_now(folder):
    _older(folder)
    _change_record(folder, lambda record: record["settings"]["cores"].update(columns={}))
    _change_cores(folder, lambda table: table.rename(columns={"done": "Reinstated_At", "crew": "register"}))
    run = read_run(folder)
    written = pd.read_csv(folder / "cores.csv", dtype=str)["done"]
    assert reinstatement_text(run).fillna("").tolist() == written.fillna("").tolist()
    assert run.cores["register"].isna().all()
    assert run.cores["register_register"].notna().any()


def _newer(folder):
    """Make the run one of two registers: one that calls its street "Way", and one that calls it "road"."""

    def two(table):
        rows = pd.Series(range(len(table)))
        return table.drop(columns="reinstated_at", errors="ignore").assign(
            register=["north" if at < 200 else "south" for at in rows],
            copy_of=pd.Series([None] * len(table), dtype="Int64"),
            reinstated_at=pd.Series(["2026-09-01"] + [None] * (len(table) - 1), dtype="str"),
            Way=table["road"],
        )

    _change_cores(folder, two)

    def registers(record):
        cores = record["settings"]["cores"]
        record["settings"]["cores"] = [
            {**cores, "name": "north", "columns": {"street": "road"}},
            {**cores, "name": "south", "columns": {"street": "Way"}},
        ]
        record["inputs"].append(next(file for file in record["inputs"] if file["section"] == "cores"))
        record["account"]["cores"] = 400

    _change_record(folder, registers)


def test_a_run_of_several_registers_is_read(folder):
    before = read_run(folder)
    street = register_text(before, "street")
    _newer(folder)
    run = read_run(folder)
    _change_cores(folder, lambda table: table.assign(road=table["road"].where(table["register"].eq("north"))))
    assert register_text(read_run(folder), "street").fillna("").tolist() == street.fillna("").tolist()
    assert (run.day_first, len(run.register_sha256)) == (None, 64)
    assert run.register_sha256 != before.register_sha256


def test_a_reinstatement_is_the_date_as_understood_or_that_it_cannot_be_read(folder):
    _newer(folder)
    run = read_run(folder)
    text = reinstatement_text(run)
    unreadable = run.cores["findings"].str.contains("reinstatement-date-unreadable", regex=False).fillna(value=False)
    assert text[0] == "2026-09-01"
    assert unreadable.any()
    assert text.notna().tolist() == [at == 0 or bad for at, bad in enumerate(unreadable)]


def test_a_run_without_findings_is_a_run(folder):
    (folder / "findings.csv").write_text(",".join(f'"{name}"' for name in FINDING_COLUMNS) + "\n", encoding="utf-8")
    _change_record(
        folder,
        lambda record: record.update(findings_by_severity={"fail": 0, "check": 0, "note": 0}, rows_of_findings=0),
    )
    assert read_run(folder).findings.empty


def test_a_folder_without_a_record_is_no_run(tmp_path):
    _refused(tmp_path, str(tmp_path), "no run.json", "outputs/my-programme/2026-09-30")
    _refused(tmp_path / "nowhere", "no run.json")
    (tmp_path / "handover.zip").write_bytes(b"PK")
    _refused(tmp_path / "handover.zip", "handover.zip: a file, expected the folder of a run", "Unpack a zip first")


@pytest.mark.parametrize("file", ["run.json", "cores.parquet", "findings.csv"])
@pytest.mark.parametrize("cut", [0, 1, 100, 0.5, -20, -2])
def test_a_file_cut_short_is_refused_wherever_it_is_cut(folder, file, cut):
    whole = (folder / file).read_bytes()
    end = int(len(whole) * cut) if isinstance(cut, float) else cut
    (folder / file).write_bytes(whole[:end])
    _refused(folder, file, "Run the audit again")


def test_findings_cut_between_two_lines_are_cut_short_too(folder):
    lines = (folder / "findings.csv").read_bytes().splitlines(keepends=True)
    (folder / "findings.csv").write_bytes(b"".join(lines[:50]))
    _refused(folder, "findings.csv", "49 findings, while run.json counts")


@pytest.mark.parametrize("file", ["cores.parquet", "findings.csv"])
def test_a_missing_table_is_refused(folder, file):
    (folder / file).unlink()
    _refused(folder, file)


@pytest.mark.parametrize("file", ["run.json", "cores.parquet", "findings.csv"])
@pytest.mark.parametrize(
    "raw", [b"\x89PNG\r\n\x1a\n" + bytes(300), b"\xff\xfe" * 50, b"{}\n", b"[1, 2]\n", b"[" * 9999]
)
def test_a_file_of_another_kind_is_refused(folder, file, raw):
    (folder / file).write_bytes(raw)
    _refused(folder, file)


def test_the_tables_of_another_run_are_refused(folder):
    _change_cores(folder, lambda table: table.iloc[:-1])
    _refused(folder, "cores.parquet", "399 rows, while run.json counts 400")


@pytest.mark.parametrize(
    ("change", "word"),
    [
        (lambda table: table.drop(columns="status"), "no column 'status'"),
        (lambda table: table.assign(status="lost"), "a status is not flagged"),
        (lambda table: table.assign(row=1), "occurs twice"),
        (lambda table: table.assign(row="one"), "invalid literal"),
        (lambda table: table.assign(lon="east"), "could not convert"),
        (lambda table: table.assign(row=None), "cores.parquet"),
    ],
)
def test_a_table_that_breaks_the_contract_is_refused(folder, change, word):
    _change_cores(folder, change)
    _refused(folder, "cores.parquet", word)


@pytest.mark.parametrize(
    "change",
    [
        lambda record: record.pop("as_of"),
        lambda record: record.update(as_of="yesterday"),
        lambda record: record.update(as_of=7),
        lambda record: record.update(programme=None),
        lambda record: record.update(inputs=[]),
        lambda record: record.update(inputs=None),
        lambda record: record["inputs"][0].update(sha256="not a checksum"),
        lambda record: record["account"].update(rows_read="many"),
        lambda record: record.update(settings=[]),
        lambda record: record["settings"]["cores"].update(columns={"core_id": 3}),
        lambda record: record["settings"].update(cores=[]),
        lambda record: record.update(programme_file=None),
        lambda record: record["programme_file"].pop("sha256"),
        lambda record: record["inputs"][-1].pop("path"),
        lambda record: record.update(findings_by_severity={"fail": "some"}),
    ],
)
def test_a_record_that_lacks_what_it_must_say_is_refused(folder, change):
    _change_record(folder, change)
    _refused(folder, "run.json", "cannot be used")


def test_a_register_column_whose_name_is_taken_is_found_by_the_name_it_comes_under(folder):
    """The register writes "Status", which the table of cores has; there it is "register_Status"."""
    _change_cores(folder, lambda table: table.rename(columns={"remarks": "register_Status"}))
    _change_record(folder, lambda record: record["settings"]["cores"]["columns"].update(remarks=" status "))
    run = read_run(folder)
    assert register_text(run, "remarks").equals(run.cores["register_Status"])


def test_a_column_that_is_set_but_gone_gives_nothing_even_if_one_of_the_usual_name_is_there(folder):
    _change_record(folder, lambda record: record["settings"]["cores"]["columns"].update(crew="gang"))
    assert register_text(read_run(folder), "crew").isna().all()
