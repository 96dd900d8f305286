"""The page and the tables of a rehearsal, made from counts written by hand."""

import html
import re

import numpy as np
import pandas as pd
import pytest

from pipeline.publish.rehearsal.files import draw_rehearsal, publish_rehearsal
from pipeline.publish.rehearsal.shown import other_rules, verdict, what_raises, without_faults
from pipeline.publish.words import load_words, words_of
from pipeline.rehearse.kinds import KINDS
from tests.publish.rehearsal.by_hand import rehearsal


def test_the_verdict_has_the_counts_and_the_exact_interval():
    """15 of 30 is 50 %, from 31.3 to 68.7 %, as tables of exact binomial limits print it."""
    assert verdict(rehearsal(), words_of("en")) == [
        "Of 30 planted faults of kinds that a rule knows, the rules found 15: 50.0% (95% interval 31.3% to 68.7%).",
        "Rules that look for something else noticed 1 more; no rule noticed 14.",
        (
            "Of 6 faults of kinds that no rule knows, rules that look for something else noticed 0. "
            "Nothing else in an audit would show the others."
        ),
        "3 rows that nobody had spoiled got findings.",
        (
            "The smallest slip in a coordinate that was found had moved its core by 12 m. From 1,000 m on, at least half are "
            "found."
        ),
        "Positions count as accurate to 5 m (95%), as the programme states.",
    ]


def test_an_accuracy_that_was_learnt_is_said_to_be():
    assert verdict(rehearsal(np.nan), words_of("en"))[-1] == "Most errors of positions were learnt from the register."


def test_what_would_raise_it_is_named():
    english = words_of("en")
    assert what_raises(rehearsal(), english) == [
        'With "Street recorded" where it is missing, 7 of the missed faults could be checked by a rule: Street differs.',
        (
            "If the limits of Depth implausible were 80 and 1,430 mm, between which 99% of the sizes in these registers lie, "
            "3 of the missed faults would be found. The rule would then also question 12 of the rows as they are."
        ),
        (
            "State the accuracy of positions, or measure them better: 2 slips put their cores into other streets, and the "
            "positions were too uncertain to say so."
        ),
        "3 more kinds of fault need columns that these registers do not have, or have blank: Bags used.",
    ]
    lines = without_faults(rehearsal(), english)
    assert lines[0] == (
        "Record Bags used: without it, no rule can find ten times the bags; a tenth of the bags; a word in place of the bags."
    )
    assert len(lines) == 2
    assert "coordinates blank" in lines[1]
    assert "They judge the map: District overlap, Surface overlap, Surface unknown." in other_rules(english)


def test_the_page_warns_and_holds_no_text_of_a_register_as_markup():
    page = draw_rehearsal(rehearsal())
    assert "They say nothing about how many faults it has" in page
    assert "<script" not in page
    assert "=1+1&lt;script&gt;" in page
    assert re.search(r"<desc[^>]*>10 to 30 m: 25% of 20; 1,000 m or more: 100% of 10</desc>", page)
    assert "1,234 rows" in page


def test_every_sentence_of_the_page_is_in_the_words_file():
    marked = {
        key: {form: f"⟦{text}⟧" for form, text in said.items()} if isinstance(said, dict) else f"⟦{said}⟧"
        for key, said in load_words().items()
    }
    page = draw_rehearsal(rehearsal(name="1"), words_of("en", marked | {"locale": "de"}))
    text = html.unescape(re.sub(r"<(style|title|bdi|code|time)\b.*?</\1>|<[^>]*>", " ", page, flags=re.DOTALL))
    while "⟦" in text:
        text = re.sub(r"⟦[^⟦⟧]*⟧", " ", text)
    assert re.findall(r"[^\W\d_]{2,}", text) == []


def test_the_tables_are_safe_to_open_and_whole(tmp_path):
    publish_rehearsal(rehearsal(), tmp_path / "out")
    faults = pd.read_csv(tmp_path / "out" / "rehearsal_faults.csv")
    assert list(faults)[:4] == ["audit", "row", "core_id", "kind"]
    assert len(faults) == 36
    assert faults["core_id"].str.startswith("'=").all()
    kinds = pd.read_csv(tmp_path / "out" / "rehearsal.csv").set_index("kind")
    assert kinds.loc["digits-exchanged-x", ["planted", "found", "noticed", "missed", "blamed"]].tolist() == [
        30,
        15,
        1,
        14,
        3,
    ]
    assert kinds.loc["digits-exchanged-x", ["share", "low", "high"]].tolist() == pytest.approx(
        [0.5, 0.313, 0.687], abs=5e-4
    )
    assert len(kinds) == len(KINDS)
    # another rehearsal into the same folder replaces it
    publish_rehearsal(rehearsal(), tmp_path / "out")
