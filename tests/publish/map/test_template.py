"""A template filled in one pass, and the policy of the page that it makes."""

import base64
import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.publish.map.template import fill, policy_of


def hash_of(text):
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def test_each_placeholder_is_replaced_by_its_part():
    assert fill("<p>@@a@@ and @@b_2@@, @@a@@</p>", {"a": "1", "b_2": "2"}) == "<p>1 and 2, 1</p>"


@given(st.text(), st.text())
def test_a_part_that_names_a_placeholder_is_left_as_it_is(first, second):
    """A register cell may hold ``@@csp@@``: in a chain of replacements it would be filled in."""
    text = fill("@@a@@|@@b@@", {"a": f"@@b@@{first}", "b": f"@@a@@{second}"})
    assert text == f"@@b@@{first}|@@a@@{second}"


def test_a_placeholder_without_a_part_is_no_page():
    with pytest.raises(KeyError):
        fill("@@missing@@", {})


def test_the_policy_holds_the_hash_of_every_script_and_style_sheet_as_filled_in():
    page = "<style>@@css@@</style><script>let a = @@n@@;</script><script type='text/plain'>@@n@@</script><script>b</script>"
    policy = policy_of(page, {"css": "p { margin: 0; }", "n": "1"})
    assert f"script-src {hash_of('let a = 1;')} {hash_of('b')};" in policy
    assert f"style-src {hash_of('p { margin: 0; }')};" in policy


def test_the_policy_lets_nothing_else_in():
    policy = policy_of("<script>a</script><style>b</style>", {})
    assert policy.startswith("default-src 'none'; ")
    assert policy.endswith("img-src data:; base-uri 'none'; form-action 'none'")
    assert "unsafe" not in policy


def test_pictures_may_come_from_one_named_host():
    policy = policy_of("", {}, "https://tiles.harbourvale.example")
    assert "img-src data: https://tiles.harbourvale.example; base-uri" in policy
