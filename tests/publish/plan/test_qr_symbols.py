"""Tests of QR symbols for many texts at once."""

import numpy as np
import segno

from pipeline.publish.plan.qr_symbols import LONGEST, SHORTEST, SIDE, qr_symbols


def _rows(text):
    symbol = segno.make(text, error="m", micro=False, boost_error=False)
    assert symbol.designator == "2-M"
    return [int("".join(str(int(module)) for module in row), 2) for row in symbol.matrix]


def test_texts_of_every_length_have_the_symbols_of_the_library():
    random = np.random.default_rng(3)
    letters = np.array(list("geo:;,.-0123456789"))
    texts = ["g" + "".join(random.choice(letters, length - 1)) for length in range(SHORTEST, LONGEST + 1)] * 4
    symbols = qr_symbols(texts)
    assert symbols.shape == (len(texts), SIDE)
    assert symbols.tolist() == [_rows(text) for text in texts]
