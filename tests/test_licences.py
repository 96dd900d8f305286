"""What is installed and what is copied into pages has a licence that was accepted, and its notice travels along."""

import json
import re
import tomllib
from importlib.metadata import distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

_ROOT = Path(__file__).parents[1]
_BILL = json.loads((_ROOT / ".ci/kerfbook.cdx.json").read_text("utf-8"))
_PROJECT = tomllib.loads((_ROOT / "pyproject.toml").read_text("utf-8"))["project"]
_RENEW = "run .ci/bill, which makes the bill of materials from the lock"
_COPIED = "kerfbook:copied-into"
# licences that ask for no more than their notice, and those that bind a library's own files alone (MPL, LGPL)
_ACCEPTED = {
    "0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "MIT", "MIT-0", "MIT-CMU", "PSF-2.0", "Python-2.0",
    "Zlib", "LGPL-2.1-or-later", "LGPL-3.0-only", "MPL-1.1", "MPL-2.0",
}  # fmt: skip
# what a page may hold a part of: licences that are kept by quoting them
_ACCEPTED_IN_PAGES = {"BSD-2-Clause", "MIT"}


def is_accepted(expression, accepted=frozenset(_ACCEPTED)):
    """Return whether an SPDX expression is kept by one of its choices; names of exceptions and brackets are not accepted."""
    return any(all(part.strip() in accepted for part in choice.split(" AND ")) for choice in expression.split(" OR "))


def components(of=_BILL):
    """Return every component, those inside others too."""
    for component in of.get("components", []):
        yield component
        yield from components(component)


def licence_of(component):
    (licence,) = component["licenses"]
    return licence["expression"] if "expression" in licence else licence["license"]["id"]


def closure(requirements):
    """Return what requirements need, with their extras, by name; markers are those of this interpreter."""
    seen, left = set(), [(requirement, "") for requirement in requirements]
    while left:
        text, extra = left.pop()
        requirement = Requirement(text)
        if requirement.marker and not requirement.marker.evaluate({"extra": extra}):
            continue
        name = canonicalize_name(requirement.name)
        for asked in ("", *requirement.extras):
            if (name, asked) not in seen:
                seen.add((name, asked))
                left += [(needed, asked) for needed in distribution(name).requires or []]
    return {name for name, _ in seen}


@pytest.mark.parametrize(
    ("expression", "expected"),
    [
        ("MIT", True),
        ("GPL-3.0-only", False),
        ("GPL-2.0-or-later OR MPL-1.1", True),
        ("MIT AND GPL-2.0-only", False),
        ("GPL-2.0-only OR (MIT AND 0BSD)", False),
    ],
)
def test_a_choice_of_licences_is_accepted_if_one_is_and_a_sum_if_all_are(expression, expected):
    assert is_accepted(expression) is expected


def test_every_licence_of_what_is_installed_is_accepted():
    refused = {one["name"]: licence_of(one) for one in components() if not is_accepted(licence_of(one))}
    assert refused == {}, "accept the licence here once it was read, or do without the package"


def test_the_bill_lists_what_an_installation_with_every_extra_holds_by_the_lock():
    listed = {canonicalize_name(one["name"]): one["version"] for one in _BILL["components"]}
    extras = _PROJECT["optional-dependencies"]
    assert extras.keys() == {"cluster", "database", "pdf", "test"}
    shipped = [*_PROJECT["dependencies"], *extras["cluster"], *extras["database"], *extras["pdf"]]
    assert listed.keys() == closure(shipped), _RENEW
    lines = (line.split("==") for line in (_ROOT / ".ci/constraints.txt").read_text("utf-8").split())
    lock = {canonicalize_name(name): version for name, version in lines}
    assert listed == {name: lock.get(name) for name in listed}, _RENEW


def test_every_installed_package_brings_its_licence():
    silent = set()
    for component in _BILL["components"]:
        package = distribution(component["name"])
        files = [
            file.name
            for file in package.files or []
            if re.search(r"licen[cs]e|copying|notice", file.name, re.IGNORECASE)
        ]
        if not (files or package.metadata.get_all("License-File")):
            silent.add(component["name"])
    assert silent == set()


def test_a_page_with_a_part_of_a_library_holds_its_whole_licence():
    copied = {
        one["name"]: licence_of(one)
        for one in components()
        if any(entry["name"] == _COPIED for entry in one.get("properties", []))
    }
    assert copied == {"leaflet": "BSD-2-Clause", "folium": "MIT"}
    assert set(copied.values()) <= _ACCEPTED_IN_PAGES
    notices = [
        (_ROOT / f"pipeline/publish/map/assets/{name}_licence.txt").read_text("utf-8").strip() for name in copied
    ]
    pages = sorted((_ROOT / "outputs").rglob("*.html"))
    with_library = [page for page in pages if "L.map(" in page.read_text("utf-8")]
    assert [page.name for page in with_library] == ["map.html"] * 4
    for page in with_library:
        text = page.read_text("utf-8").replace("&quot;", '"').replace("&#x27;", "'")
        assert all(notice in text for notice in notices), page


@pytest.mark.parametrize(("package", "name"), [("folium", "folium"), ("django-js-lib-leaflet", "leaflet")])
def test_the_notice_is_that_of_the_installed_package(package, name):
    notice = (_ROOT / f"pipeline/publish/map/assets/{name}_licence.txt").read_text("utf-8")
    (shipped,) = [file for file in distribution(package).files if re.fullmatch(r"LICENSE(\.txt)?", file.name)]
    assert shipped.read_text("utf-8").split() == notice.split()


def test_no_other_file_that_is_shipped_was_made_elsewhere():
    """A font, a minified script or a picture among the shipped files would need a licence and a place on the bill."""
    foreign = {
        ".woff",
        ".woff2",
        ".ttf",
        ".otf",
        ".eot",
        ".png",
        ".jpg",
        ".gif",
        ".ico",
        ".so",
        ".whl",
        ".wasm",
        ".map",
    }
    for folder in ("pipeline", "config", "sample_data"):
        for path in (_ROOT / folder).rglob("*"):
            assert path.suffix not in foreign, path
            assert ".min." not in path.name, path
