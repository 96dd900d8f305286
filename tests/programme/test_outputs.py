"""Which outputs a programme asks for."""

import pytest

from pipeline.errors import SettingsError
from pipeline.programme.outputs import OUTPUTS, Database, Publish
from pipeline.programme.settings import load_programme
from tests.small_town import write_town


def test_every_output_is_written_unless_the_programme_says_otherwise(tmp_path):
    asked = load_programme(write_town(tmp_path)).publish
    assert asked.outputs == list(OUTPUTS)
    assert asked.left_out == []


def test_what_is_not_named_is_left_out_in_the_order_of_the_readme():
    asked = Publish.model_validate({"outputs": ["map.html", "days"]})
    assert asked.left_out == ["crew-sheets.html", "orders.xlsx", "cores.gpkg", "report.html", "handover", "basis"]


@pytest.mark.parametrize(
    ("outputs", "message"),
    [
        ('["map"]', r"publish\.outputs.*'map'.*'map\.html'"),
        ('["days", "days"]', r"publish\.outputs: found 'days' twice, expected each output once"),
    ],
)
def test_a_wrong_output_is_named_with_what_was_expected(tmp_path, outputs, message):
    with pytest.raises(SettingsError, match=message):
        load_programme(write_town(tmp_path, f"[publish]\noutputs = {outputs}\n"))


@pytest.mark.parametrize(
    ("table", "address", "shown"),
    [
        ('{ path = "postgresql://db/town" }', "postgresql://db/town", "postgresql://db/town, schema kerfbook"),
        ('{ path = "postgresql://db/town?sslmode=require", schema = "Gas mains" }',
         "postgresql://db/town?sslmode=require", "postgresql://db/town, schema Gas mains"),
        ('{ service = "my town" }', "postgresql:///?service=my%20town", "postgresql:///?service=my%20town, schema kerfbook"),
    ],
)  # fmt: skip
def test_a_database_is_an_address_or_a_service(tmp_path, table, address, shown):
    database = load_programme(write_town(tmp_path, f"[publish]\ndatabase = {table}\n")).publish.database
    assert (database.address, database.shown) == (address, shown)


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ("{}", r"publish\.database: found neither of path and service, expected one, such as path = "),
        ('{ path = "postgresql://db/town", service = "x" }', r"publish\.database: found both of path and service"),
        ('"postgresql://me:geheim@db/town"', r"publish\.database: found a user or a password"),
        ('["postgresql://me:geheim@db/town"]', r"publish\.database: found a user or a password"),
        ('{ path = "postgresql://me:geheim@db/town" }', r"publish\.database\.path: found a user or a password in the address"),
        ('{ path = "postgresql://db/town?password=geheim" }', r"publish\.database\.path: found a user or a password"),
        ('{ path = "postgresql://me:geheim@db/town", schema = 5 }', r"publish\.database\.path: found a user or a password"),
        ('{ path = ["postgresql://me:geheim@db/town"] }', r"publish\.database\.path: found a user or a password"),
        ('{ path = "postgresql://db/town", password = "geheim" }', r"publish\.database\.password: unknown key"),
        ('{ service = "postgresql://me:geheim@db/town" }', r"publish\.database\.service: found a user or a password"),
        ('{ path = "postgresql://db/town", schema = 5 }', r"publish\.database\.schema: found 5, expected text"),
        ('{ service = "me:geheim@db" }', r"publish\.database\.service: found an address, expected the name"),
        ('"postgresql://db/town"', r"publish\.database: .*expected a table"),
        ('{ path = "town.gpkg" }', r"publish\.database: found an unusable path: .*expected postgresql://HOST:PORT/DATABASE"),
        ('{ path = "mysql://me:geheim@db/town" }', r"publish\.database: found a user or a password"),
        ('{ path = "postgresql://db/town", schema = "pg_mine" }', r"publish\.database\.schema: found 'pg_mine', expected the name"),
        (f'{{ path = "postgresql://db/town", schema = "{"ä" * 32}" }}', r"publish\.database\.schema: .*at most 63 bytes"),
        ('{ path = "postgresql://db/town", schema = "" }', r"publish\.database\.schema: found ''"),
        ('{ path = "postgresql://db/town", schema = "a\\u0000" }', r"publish\.database\.schema: .*expected the name"),
    ],
)  # fmt: skip
def test_a_wrong_database_is_told_without_what_may_be_secret(tmp_path, table, message):
    with pytest.raises(SettingsError, match=message) as refused:
        load_programme(write_town(tmp_path, f"[publish]\ndatabase = {table}\n"))
    assert "geheim" not in str(refused.value)
    assert len(str(refused.value)) < 500


def test_a_database_that_is_not_asked_for_is_not_in_the_way():
    assert Publish().database is None
    with pytest.raises(ValueError, match="frozen"):
        Database.model_validate({"service": "x"}).path = "postgresql://db/town"
