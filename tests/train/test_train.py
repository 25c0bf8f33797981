"""Spacing, guide focus, orders: a rig's train against sums by hand."""

import pytest
from support.trains import train_rig

from guidestar.errors import InputError
from guidestar.rig import preset
from guidestar.train.build import train

SHIFT = 2.0 * (1 - 1 / 1.52)
PRISM_SHIFT = 8.0 * (1 - 1 / 1.52)
GUIDE_SIDE = {"train__stalk_mm": 20.0, "train__guide_flange_mm": 12.5, "train__focuser_travel_mm": 8.0}


def test_common_practice_leaves_ten_millimetres_and_the_filter_adds_its_shift():
    assert train(train_rig()).spacing.spacer_mm == pytest.approx(10.0)
    with_filter = train(train_rig(train__filter_thickness_mm=2.0)).spacing
    assert with_filter.spacer_mm == pytest.approx(10.0 + SHIFT)
    assert with_filter.glass_shift_mm == pytest.approx(SHIFT)


def test_pieces_fill_the_wanted_length_without_gaps():
    spacing = train(train_rig(train__filter_thickness_mm=2.0)).spacing
    starts = [piece.start_mm for piece in spacing.pieces]
    ends = [piece.start_mm + piece.length_mm for piece in spacing.pieces]
    assert starts[0] == 0.0
    assert starts[1:] == pytest.approx(ends[:-1])
    assert ends[-1] == pytest.approx(55.0 + SHIFT)
    assert [piece.kind for piece in spacing.pieces] == ["spacer", "part", "part", "camera"]


def test_ray_exact_shifts_more():
    paraxial, exact = (train(train_rig(train__filter_thickness_mm=2.0), ray_exact=x).spacing for x in (False, True))
    assert SHIFT < exact.glass_shift_mm < SHIFT * 1.02
    assert exact.ray_exact
    assert not paraxial.ray_exact


def test_a_train_too_long_has_no_spacer_piece():
    spacing = train(train_rig(train__back_focus_mm=40.0)).spacing
    assert spacing.spacer_mm == pytest.approx(-5.0)
    assert all(piece.kind != "spacer" for piece in spacing.pieces)


def test_owned_spacers():
    spacing = train(train_rig(train__spacers_mm=[7.5, 2.0, 0.4, 16.5])).spacing
    assert spacing.chosen_mm == (7.5, 2.0, 0.4)
    assert spacing.residual_mm == pytest.approx(-0.1)
    assert train(train_rig()).spacing.chosen_mm is None


def test_guide_path_is_the_way_to_the_sensor_less_filter_plus_prism():
    focus = train(train_rig(train__filter_thickness_mm=2.0)).focus
    assert focus.ahead_mm == pytest.approx(36.0)
    assert focus.needed_mm == pytest.approx(36.0 - SHIFT + PRISM_SHIFT)
    mirror = train(train_rig(prism__glass_path_mm=0.0)).focus
    assert mirror.needed_mm == pytest.approx(36.0)


def test_a_filter_ahead_of_the_prism_shifts_both_cameras_alike():
    result = train(train_rig(train__filter_thickness_mm=2.0), order="filter drawer, pick-off body")
    assert result.filter.place == "ahead"
    assert result.focus.filter_shift_mm == 0.0
    assert result.focus.ahead_mm == pytest.approx(17.5 - 9.0 + 6.5)


def test_a_filter_in_the_prisms_own_part():
    part = {"name": "all in one", "length_mm": 30.0, "prism_at_mm": 9.0, "filter_at_mm": 25.0}
    rig = train_rig(train__parts=[part], train__filter_thickness_mm=2.0)
    assert train(rig).filter.place == "behind"
    rig = train_rig(train__parts=[part | {"filter_at_mm": 2.0}], train__filter_thickness_mm=2.0)
    assert train(rig).filter.place == "ahead"


def test_a_filter_without_a_place_counts_as_behind():
    parts = [{"name": "pick-off body", "length_mm": 17.5, "prism_at_mm": 9.0}]
    place = train(train_rig(train__parts=parts, train__filter_thickness_mm=2.0)).filter
    assert (place.place, place.stated) == ("behind", False)


@pytest.mark.parametrize(
    ("stalk", "in_travel", "extension", "adapter"),
    [(20.0, True, 36 + PRISM_SHIFT - 32.5, 0.0), (10.0, False, 36 + PRISM_SHIFT - 22.5, 36 + PRISM_SHIFT - 26.5),
     (30.0, False, 36 + PRISM_SHIFT - 42.5, 0.0)],
)  # fmt: skip
def test_extension_and_adapter(stalk, in_travel, extension, adapter):
    focus = train(train_rig(**GUIDE_SIDE | {"train__stalk_mm": stalk})).focus
    assert focus.in_travel is in_travel
    assert focus.focuser_mm == pytest.approx(extension)
    assert focus.adapter_mm == pytest.approx(adapter)


def test_what_is_not_known_is_none():
    assert train(train_rig()).focus.focuser_mm is None
    assert train(train_rig()).focus.in_travel is None
    no_travel = train(train_rig(**GUIDE_SIDE | {"train__focuser_travel_mm": None})).focus
    assert no_travel.focuser_mm is not None
    assert no_travel.in_travel is None


def test_spacer_behind_the_prism_moves_it_away():
    result = train(train_rig())
    assert result.spacer_behind.ahead_mm == pytest.approx(46.0)
    assert result.spacer_behind.needed_mm == pytest.approx(result.focus.needed_mm + 10.0)
    assert train(train_rig(), order="pick-off body, spacer, filter drawer").spacer_behind is None


def test_a_better_order_is_found_and_keeps_the_rules():
    """Needed 10 mm more: only the spacer behind the prism gives them."""
    short = GUIDE_SIDE | {"train__stalk_mm": 30.0}
    order = train(train_rig(**short)).better_order
    assert order.names == ("pick-off body", "spacer", "filter drawer")
    assert order.focus.in_travel
    assert order.focus.ahead_mm == pytest.approx(46.0)
    ruled = short | {"train__order_rules": ["pick-off body before filter drawer"]}
    assert train(train_rig(**ruled)).better_order.names.index("pick-off body") < 2
    assert train(train_rig(**GUIDE_SIDE)).better_order is None


def test_order_rules():
    rules = ["Pick-off body before filter drawer", "tilt plate before filter drawer"]
    rig = train_rig(train__order_rules=rules)
    assert any("tilt plate" in text and "no effect" in text for text in train(rig).warnings)
    broken = train(rig, order="filter drawer, pick-off body").warnings
    assert any('breaks "Pick-off body before filter drawer"' in text for text in broken)


@pytest.mark.parametrize(
    ("order", "words"),
    [("pick-off body", '"filter drawer" is missing'), ("body, filter drawer", 'no part "body"'),
     ("pick-off body, pick-off body, filter drawer", 'no part "pick-off body" left')],
)  # fmt: skip
def test_an_order_must_name_every_part_once(order, words):
    with pytest.raises(InputError) as caught:
        train(train_rig(), order=order)
    assert words in str(caught.value)


def test_a_rig_without_a_train_is_told_what_to_add():
    with pytest.raises(InputError, match=r"no \[train\] section"):
        train(preset("newtonian-1000-f5"))


@pytest.mark.parametrize(
    "bad", [{"allowed_loss": 1.0}, {"allowed_loss": -0.1}, {"clear_share": 0.0}, {"clear_share": 1.1}]
)
def test_shares_out_of_range(bad):
    with pytest.raises(InputError, match="per cent"):
        train(train_rig(), **bad)


def test_ahead_that_disagrees_with_the_train_is_a_warning_and_is_used():
    result = train(train_rig(prism__ahead_mm=38.0))
    assert any("disagrees with the train" in text for text in result.warnings)
    assert result.focus.ahead_mm == 38.0


def test_rules_may_speak_of_prism_and_filter():
    """The word "filter" stands for the part that holds it, whatever that is called."""
    rig = train_rig(train__order_rules=["pick-off body before filter", "prism before filter"])
    assert not [text for text in train(rig).warnings if "order_rules" in text]
    broken = train(rig, order="filter drawer, pick-off body").warnings
    assert sum("this order breaks" in text for text in broken) == 2
