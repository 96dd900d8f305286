"""Tables, the headers of layers and the columns of a map, spoiled byte by byte: read, or refused in words."""

import numpy as np
import pytest

from pipeline.errors import InputError
from pipeline.readback.pack_map import read_map_columns
from tests.fuzz.changed_maps import closed, example_map, opened, try_map
from tests.fuzz.readers_of_bytes import (
    HEADERS,
    TABLES,
    columns_of_a_map,
    read_as_columns_of_a_map,
    read_as_header,
    read_as_table,
    spoiled,
)


@pytest.mark.parametrize(("read", "examples"), [(read_as_table, TABLES), (read_as_header, HEADERS)])
def test_bytes_of_a_file_are_read_or_refused_in_words(tmp_path, read, examples):
    rng = np.random.default_rng(3)
    for number in range(80):
        read(tmp_path, spoiled(examples[number % len(examples)], rng))


def test_a_description_of_a_map_s_columns_is_read_or_refused_in_words(tmp_path):
    rng, sound = np.random.default_rng(3), columns_of_a_map()
    for _ in range(80):
        read_as_columns_of_a_map(tmp_path, spoiled(sound, rng))


@pytest.mark.parametrize("seed", range(60))
def test_changed_columns_of_a_map_are_read_or_refused_in_words(tmp_path, seed):
    wrong, done = try_map(example_map(), tmp_path / "map.html", np.random.default_rng(seed))
    assert not wrong, done


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("card-data", lambda head: head.update(columns=3), "an entry is missing, or of another kind than expected"),
        (
            "core-data",
            lambda head: next(iter(head["columns"].values())).update(n=0, planes=10**12),
            "a wider one than any map has",
        ),
        (
            "detail-data",
            lambda head: [how.update(digits=2**62) for how in head["columns"].values() if "digits" in how],
            "decimal places, more than any number has",
        ),
    ],
)
def test_a_map_that_would_take_any_memory_is_refused(tmp_path, name, change, words):
    text = example_map()
    head, planes = opened(text, name)
    change(head)
    (tmp_path / "map.html").write_text(closed(text, name, head, planes), encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_map_columns(tmp_path / "map.html")


def test_a_crs_that_is_no_text_is_named(tmp_path):
    raw = HEADERS[2].replace(b"Mercator", b"Mercato\xff\xfer")
    with pytest.raises(InputError, match=r"a\.csv: cannot be read as a table \(its CRS is not text\)\. Check that"):
        read_as_header(tmp_path, raw, is_told=True)
