"""The page as text: the same input gives the same bytes, and wrong input is refused in words."""

import re

import pytest

from pipeline.errors import ContractError
from pipeline.publish.map.page import draw_map
from tests.browser.town import (
    FINDINGS,
    THREE,
    findings,
    view,
)


def test_the_same_input_gives_the_same_bytes() -> None:
    assert draw_map(view()) == draw_map(view())


def test_the_order_of_the_findings_and_an_index_of_its_own_change_nothing() -> None:
    one_each = FINDINGS.iloc[1:]
    moved = view(findings=one_each.iloc[::-1], cores=THREE.set_axis([7, 7, 3, 1], axis=0))
    assert draw_map(moved) == draw_map(view(findings=one_each))


def test_the_page_holds_leaflets_licence_and_no_outside_address_to_load() -> None:
    page = draw_map(view())
    assert "Copyright (c) 2010-2024, Volodymyr Agafonkin" in page
    assert re.findall(r'(?:src|href)="(?!data:)[^"#]', page.split("<script")[0]) == []
    assert "sourceMappingURL" not in page


def test_a_count_of_unplaced_cores_that_is_not_theirs_is_refused() -> None:
    with pytest.raises(ContractError, match="2 cores without a position expected, 1 found"):
        draw_map(view(unplaced=2))


def test_a_status_of_no_meaning_is_refused() -> None:
    with pytest.raises(ContractError, match=r"status .*lost.* found"):
        draw_map(view(cores=THREE.assign(status="lost")))


def test_a_finding_about_no_row_is_refused() -> None:
    with pytest.raises(ContractError, match="about row 99, which is not in the cores"):
        draw_map(view(findings=findings((99, "id-missing", "check", "no id"))))
