"""Colours of statuses and streets as people without one kind of cone, or a grey print, show them.

Matrices: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color Vision
Deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (2009), severity 1.0, on linear sRGB.
Lab: CIE 15, D65; sRGB: IEC 61966-2-1.
"""

from itertools import combinations

import numpy as np
import pytest

from pipeline.publish.looks import COLOURS, DARK_COLOURS, DARK_STATUSES, STATUS_LOOKS, STREET_LEVELS

_VISIONS = {
    "usual": np.eye(3),
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritan": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
_WHITE = np.array([0.95047, 1.0, 1.08883])
_STREETS = [
    pytest.param([colours[f"street-{level}"] for level in STREET_LEVELS], id=f"streets, {scheme}")
    for scheme, colours in (("light", COLOURS), ("dark", DARK_COLOURS))
]
_STATUSES = [
    pytest.param([look.fill for look in STATUS_LOOKS.values()], id="statuses, light"),
    pytest.param([fill for fill, _, _ in DARK_STATUSES.values()], id="statuses, dark"),
]


def lab(colour, vision):
    """``#rrggbb`` in CIE Lab, as one vision has it."""
    parts = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    xyz = _XYZ @ np.clip(_VISIONS[vision] @ linear, 0, 1) / _WHITE
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def closest(colours, vision):
    seen = [lab(colour, vision) for colour in colours]
    return min(float(np.linalg.norm(one - other)) for one, other in combinations(seen, 2))


def test_lab_is_that_of_the_published_values_of_red():
    """sRGB red is 53.24, 80.09, 67.20 for D65."""
    assert lab("#ff0000", "usual") == pytest.approx([53.24, 80.09, 67.20], abs=0.02)


@pytest.mark.parametrize("vision", _VISIONS)
@pytest.mark.parametrize("colours", _STREETS)
def test_no_two_street_colours_look_alike(colours, vision):
    """A difference of 2.3 is just noticeable side by side; a map needs several times that."""
    assert closest(colours, vision) > 3 * 2.3


@pytest.mark.parametrize("vision", _VISIONS)
@pytest.mark.parametrize("colours", _STATUSES)
def test_no_two_statuses_look_alike(colours, vision):
    assert closest(colours, vision) > 10


@pytest.mark.parametrize("colours", _STATUSES)
def test_statuses_differ_in_lightness_alone(colours):
    lightness = sorted(lab(colour, "usual")[0] for colour in colours)
    assert np.diff(lightness).min() > 10


@pytest.mark.parametrize("colours", _STREETS)
def test_what_is_wrong_with_a_street_is_in_order_of_lightness(colours):
    """Hazard, overdue, flagged otherwise: the more urgent, the further from the ground."""
    lightness = [lab(colour, "usual")[0] for colour in colours[:3]]
    assert abs(np.diff(lightness)).min() > 10
    assert len({*np.sign(np.diff(lightness))}) == 1
