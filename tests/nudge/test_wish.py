"""How far, and what a turn costs: read once, refused in a sentence."""

import numpy as np
import pytest
from support.rigs import COMPOUND, rig

from guidestar.errors import InputError
from guidestar.nudge.wish import furthest_arcmin, wish_of

RIG = rig(COMPOUND)
FURTHEST = np.degrees(np.arctan(11.3 / 2 / 2000)) * 60


def test_none_asked_for():
    assert wish_of(RIG, None, None, None, 30.0) is None


def test_arcminutes_and_per_cent_of_the_shorter_side():
    assert furthest_arcmin(RIG) == pytest.approx(FURTHEST)
    assert wish_of(RIG, 3.0, None, None, None).limit_arcmin == 3.0
    assert wish_of(RIG, None, 50.0, 2.5, 10.0).limit_arcmin == pytest.approx(FURTHEST)
    assert wish_of(RIG, None, 50.0, 2.5, 10.0).turn_cost_percent == 2.5
    assert wish_of(RIG, 3.0, None, None, 10.0).turn_cost_percent == 1.0


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ((3.0, 5.0, None, None), "leave one out"),
        ((0.0, None, None, None), "--nudge 0:"),
        ((-2.0, None, None, None), "--nudge -2:"),
        ((float("nan"), None, None, None), "--nudge nan:"),
        ((9.8, None, None, None), "9.7′ from its middle"),
        ((float("inf"), None, None, None), "--nudge inf:"),
        ((None, 0.0, None, None), "--nudge-percent 0:"),
        ((None, 51.0, None, None), "--nudge-percent 51:"),
        ((None, float("nan"), None, None), "--nudge-percent nan:"),
        ((3.0, None, 0.0, 10.0), "--turn-cost 0:"),
        ((3.0, None, float("nan"), 10.0), "--turn-cost nan:"),
        ((3.0, None, 2.0, None), "give that with --angle"),
        ((None, None, 2.0, 10.0), "ask for one with --nudge"),
    ],
)
def test_one_sentence_for_what_cannot_be(values, says):
    with pytest.raises(InputError) as caught:
        wish_of(RIG, *values)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
