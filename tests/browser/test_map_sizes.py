"""The map at any number of cores; no request to the network, no complaint from the browser."""

import re

import numpy as np
import pandas as pd
import pytest

from tests.bench.made_up_town import make_view
from tests.browser.browser import open_page
from tests.browser.town import (
    saved,
)


@pytest.mark.parametrize("count", [0, 1, 400, 100_000, 1_000_000])
def test_any_number_of_cores_opens_filters_and_lists_without_a_request_or_a_complaint(tmp_path, count):
    shown = make_view(count, lines=2000)
    path = saved(tmp_path, shown)
    with open_page(path) as page:
        page.wait_for("performance.getEntriesByName('all-read').length > 0", 60)
        counts = shown.cores["status"].value_counts()
        found = page.ask("[...document.querySelectorAll('#legend .count')].map((c) => c.textContent)")
        assert found == [f"{counts.get(status, 0):,}" for status in ("flagged", "pending", "reinstated")]
        fails = int(shown.findings.loc[shown.findings["severity"] == "fail", "row"].nunique())
        page.ask("kerfbook.filter.ask('severity', new Set(['fail']))")
        assert page.ask("kerfbook.filter.total") == fails
        page.ask("void document.querySelector('#as-table').click()")
        assert page.text(".table-steps p") == (
            f"1 to {min(50, fails)} of {fails:,} core{'s' * (fails != 1)}" if fails else "None."
        )
        page.ask("void window.dispatchEvent(new Event('beforeprint'))")
        assert page.requests == [path.as_uri()]
        assert page.complaints == []


def test_every_column_comes_back_as_it_went_in(tmp_path):
    """Read back through the page, against the frame: ids, texts, numbers to the digits shown, days, places."""
    shown = make_view(2000, lines=300)
    rows = shown.cores.set_index("row")
    with open_page(saved(tmp_path, shown)) as page:
        page.wait_for("performance.getEntriesByName('all-read').length > 0", 60)
        texts = [
            "core_id",
            "segment_id",
            "street",
            "district",
            "surface",
            "shade",
            "runner_up_id",
            "runner_up_street",
            "side",
        ]
        numbers = {
            "diameter_mm": 1,
            "depth_mm": 1,
            "chainage_m": 1,
            "offset_m": 1,
            "grout_kg": 1,
            "bags": 2,
            "segment_confidence": 2,
        }
        read = page.ask(
            f"(() => {{ const a = kerfbook.attributes; return Array.from({{ length: 2000 }}, (_, i) => [a.row(i), "
            f"...{texts}.map((n) => a.text(n, i)), ...{list(numbers)}.map((n) => a.number(n, i)), a.opened[i], a.reinstated[i] || null,"
            " ...a.latLng(i), a.findings(i).length]); })()"
        )
    by_row = {line[0]: line[1:] for line in read}
    assert sorted(by_row) == list(rows.index)
    findings = shown.findings["row"].value_counts()
    for row, core in rows.iterrows():
        line = by_row[row]
        assert line[: len(texts)] == [None if pd.isna(core[name]) else core[name] for name in texts]
        read_numbers = line[len(texts) : len(texts) + len(numbers)]
        assert read_numbers == pytest.approx([core[name] for name in numbers], abs=0.0501)
        opened, done, lat, lon, wrong = line[len(texts) + len(numbers) :]
        assert np.datetime64(opened, "D") == np.datetime64(core["opened_on"])
        assert (done is None) == (not isinstance(core["reinstated_at"], str))
        if done is not None:
            assert np.datetime64(done, "D") == np.datetime64(core["reinstated_at"])
        # half a drawing integer at most: 2 cm
        assert [lat, lon] == pytest.approx([core["lat"], core["lon"]], abs=3e-7)
        assert wrong == findings.get(row, 0)


def test_the_page_is_plain_enough_for_any_editor(tmp_path):
    """The packed data holds no letter that a browser drops or reads as a line end."""
    text = saved(tmp_path, make_view(3000, lines=300)).read_bytes().decode()
    for name in ("core-data", "road-data", "card-data", "detail-data"):
        packed = re.search(rf'id="{name}">(.*?)</script>', text, flags=re.DOTALL)[1]
        assert "\0" not in packed
        assert "\r" not in packed
        assert not re.search(r"<[!/sS]", packed)
