"""Cards can be read: nothing covers anything, nothing is small, one ink, on both papers and on a phone."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.patches import Circle
from support import nights
from support.cards import CASES, LAYOUTS, SUN, bounds, boxes, card_of, drawn, patches, texts, words
from support.rigs import COMPOUND, FAST, NEWTONIAN, REFRACTOR, rig

from guidestar.night.result import BadRow
from guidestar.report.card_page import PAPERS_PT, PHONE_WIDTH_PT


def covers(one, other, slack=0.6):
    across = min(one[2], other[2]) - max(one[0], other[0])
    down = min(one[3], other[3]) - max(one[1], other[1])
    return across > slack and down > slack


def assert_nothing_covers_anything(figure):
    found = boxes(figure)
    width, height = figure.bbox.width, figure.bbox.height
    for *box, text in found:
        assert box[0] >= 5.0, text.get_text()
        assert box[1] >= 5.0, text.get_text()
        assert box[2] <= width - 5.0, text.get_text()
        assert box[3] <= height - 5.0, text.get_text()
    for one, other in combinations(found, 2):
        # A line of type is as high as its letters can be; neighbouring lines may share a point of that.
        assert not covers(one, other, 1.6), (one[4].get_text(), other[4].get_text())
    inside = ("sign", "letter", "no star")
    shapes = [bounds(patch) for gid in ("main frame", "guide sensor", "prism") for patch in patches(figure, gid)]
    for *box, text in found:
        if not text.get_gid().startswith(inside):
            assert not any(covers(box, shape) for shape in shapes), text.get_text()
    for one, other in combinations(shapes, 2):
        assert not covers(one, other)


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("name", list(CASES))
def test_nothing_covers_anything(name, layout):
    assert_nothing_covers_anything(drawn(name, layout))


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("name", list(CASES))
def test_type_and_lines_are_never_small_and_there_is_one_ink(name, layout):
    figure = drawn(name, layout)
    (axes,) = figure.axes
    for text in texts(figure):
        assert text.get_fontsize() >= 9.0
        assert text.get_color() == "#000000"
    strokes = [*axes.lines, *axes.patches]
    assert len(strokes) > 2
    for stroke in strokes:
        assert stroke.get_linewidth() >= 0.6
    inks = {line.get_color() for line in axes.lines}
    colours = {tuple(ink) for patch in axes.patches for ink in (patch.get_edgecolor(), patch.get_facecolor())}
    assert inks == {"#000000"}
    assert {ink for ink in colours if ink[3] > 0.0} <= {(0.0, 0.0, 0.0, 1.0), (1.0, 1.0, 1.0, 1.0)}


@pytest.mark.parametrize("name", list(CASES))
def test_the_page_is_the_papers(name):
    for paper, (width, height) in PAPERS_PT.items():
        assert drawn(name, paper).get_size_inches() * 72.0 == pytest.approx((width, height), abs=0.01)
    width, height = drawn(name, "phone").get_size_inches() * 72.0
    assert width == pytest.approx(PHONE_WIDTH_PT)
    assert height > width  # upright


@settings(derandomize=True, deadline=None, max_examples=12)
@given(
    which=st.sampled_from([COMPOUND, NEWTONIAN, REFRACTOR, FAST]),
    stars=st.integers(2, 250),
    angle_deg=st.floats(0.0, 360.0, exclude_max=True),
    holds=st.sampled_from(["sure", "usable", "partly", "never"]),
    stretches=st.integers(1, 8),
    flips=st.booleans(),
    warned=st.booleans(),
    layout=st.sampled_from(LAYOUTS),
)
def test_nothing_covers_anything_whatever_the_night(which, stars, angle_deg, holds, stretches, flips, warned, layout):
    own = rig(which)
    result = nights.night(
        rig=own,
        sky=nights.sky_of(own, stars=stars, seed=stars),
        angle_deg=angle_deg,
        holds=holds,
        asked=True,
        stretches=stretches,
        flip_hour=4.0 if flips else None,
        warnings=(SUN,) if warned else (),
        notes=("The meridian flip does not fall into these hours.",),
    )
    assert_nothing_covers_anything(card_of(result, None, layout))


def test_a_letter_that_the_type_lacks_is_a_question_mark():
    figure = card_of(nights.no_hours(name="星 $x$\nM 1"), None, "a4")
    assert words(figure, "target") == ["? $x$ M 1"]


def test_a_word_without_a_break_is_broken():
    result = nights.no_hours(name="x" * 300)
    result = replace(result, rig=rig(COMPOUND).with_values({"name": "y" * 200}, where="a test"))
    for layout in LAYOUTS:
        assert_nothing_covers_anything(card_of(result, None, layout))


def test_signs_keep_off_the_stars_they_name():
    figure = drawn("mirrored, prism left, sensor turned", "a4")
    discs = [bounds_of_disc(disc) for disc in [*patches(figure, "star"), *patches(figure, "ring")]]
    signs = [box for *box, text in boxes(figure) if text.get_gid().startswith("sign ")]
    assert signs
    for sign in signs:
        assert not any(covers(sign, disc, 2.5) for disc in discs)


def bounds_of_disc(disc):
    assert isinstance(disc, Circle)
    (x, y), radius = disc.center, disc.radius
    return (x - radius, y - radius, x + radius, y + radius)


def test_bad_rows_do_not_matter():
    result = replace(nights.night(), bad_rows=(BadRow(2, "", "This row is empty."),))
    assert words(card_of(result, None, "a4"), "dial")
