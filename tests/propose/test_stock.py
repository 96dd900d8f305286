"""The stock as proposed sections."""

import pytest

from pipeline.programme.catalogue import load_catalogue
from pipeline.propose.header_words import header_words
from pipeline.propose.stock import propose_stock


@pytest.fixture
def stock(tmp_path):
    def proposed(districts):
        file = tmp_path / "stock.csv"
        file.write_text(
            "depot,material,qty,use by\nNorth yard,grout dark,12,2027-01-31\nSouth yard,grout dark,4,\n", "utf-8"
        )
        return propose_stock(
            file, "stock.csv", header_words()["stock"], load_catalogue({}, "programme.toml"), districts
        )

    return proposed


def test_the_columns_of_the_stock_are_those_that_their_headers_name(stock):
    layer, _ = stock(["North yard", "South yard"])
    assert layer.columns == {"yard": "depot", "item": "material", "packs": "qty", "expires_on": "use by"}


def test_yards_that_are_districts_need_no_question(stock):
    layer, yards = stock(["North yard", "south yard"])
    assert yards.settings == []
    assert layer.section.settings[0].question is None


def test_the_stock_waits_until_each_district_has_its_yard(stock):
    layer, yards = stock(["Mill Bank", "Orchard"])
    assert [question.text for question in yards.questions] == [
        'Which yard supplies "Mill Bank"?', 'Which yard supplies "Orchard"?',
    ]  # fmt: skip
    assert yards.questions[0].choices[1].gives == {("", "Mill Bank"): "South yard"}
    assert layer.section.settings[0].question is yards.questions[0]
