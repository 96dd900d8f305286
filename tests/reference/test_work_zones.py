"""The work zone feed, held to the published schema of the standard.

Source: Work Zone Data Exchange (WZDx) specification 4.2, schemas/4.2/WorkZoneFeed.json and those it refers to
(https://github.com/usdot-jpo-ode/wzdx), a public open standard of the U.S. Department of Transportation; the part
that applies to work zones is beside this test, in ``wzdx/``. Read on 2026-11-27.
"""

import datetime as dt
import json
from pathlib import Path

import pandas as pd
import pytest
from jsonschema import Draft7Validator, FormatChecker
from referencing import Registry, Resource

from tests.publish.handover.test_work_zones import feed

_SCHEMAS = Path(__file__).with_name("wzdx")


@pytest.fixture(scope="module")
def validator():
    schemas = [json.loads(file.read_text("utf-8")) for file in sorted(_SCHEMAS.glob("*.json"))]
    registry = Registry().with_resources((one["$id"], Resource.from_contents(one)) for one in schemas)
    whole = next(one for one in schemas if one["$id"].endswith("WorkZoneFeed.json"))
    formats = FormatChecker()
    # without a library of its own, jsonschema takes any text for a date and time (RFC 3339, 5.6)
    formats.checks("date-time", raises=ValueError)(lambda text: dt.datetime.strptime(text, "%Y-%m-%dT%H:%M:%S%z"))
    return Draft7Validator(whole, registry=registry, format_checker=formats)


def test_a_feed_meets_the_schema(validator):
    assert [error.message for error in validator.iter_errors(feed())] == []


def test_a_feed_without_any_open_core_meets_the_schema(validator):
    assert [error.message for error in validator.iter_errors(feed(state=pd.Series(["back"] * 4)))] == []


@pytest.mark.parametrize("name", ["start_date", "end_date", "vehicle_impact", "is_end_position_verified"])
def test_the_schema_notices_what_is_missing(validator, name):
    made = feed()
    del made["features"][0]["properties"][name]
    assert not validator.is_valid(made)


def test_the_schema_notices_a_date_that_is_none(validator):
    made = feed()
    made["features"][0]["properties"]["start_date"] = "yesterday"
    assert not validator.is_valid(made)
