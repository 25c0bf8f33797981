"""The registry of star flags."""

import numpy as np

from guidestar.stars.flags import StarFlag, flag_names, flag_where


def test_every_flag_is_one_bit_of_sixteen() -> None:
    assert [int(flag) for flag in StarFlag] == [1 << bit for bit in range(len(StarFlag))]
    assert len(StarFlag) <= 16


def test_names_come_in_order_of_the_bits() -> None:
    bits = StarFlag.SUPPLEMENT | StarFlag.DERIVED_G | StarFlag.HP_MAGNITUDE
    assert flag_names(int(bits)) == ("derived_g", "hp_magnitude", "supplement")


def test_no_bits_have_no_names_and_unknown_ones_are_left_out() -> None:
    assert flag_names(0) == ()
    assert flag_names(1 << 15) == ()


def test_names_of_all_flags_are_those_that_output_promises() -> None:
    assert flag_names((1 << 16) - 1) == (
        "derived_g", "colour_range", "colour_assumed", "hp_magnitude", "no_mean_position", "no_proper_motion",
        "close_neighbour", "photocentre", "double", "supplement", "shared_name", "extended", "poor_fit", "no_colour",
    )  # fmt: skip


def test_bits_are_set_only_where_the_mask_is() -> None:
    bits = flag_where(np.array([True, False]), StarFlag.DOUBLE)
    assert bits.tolist() == [int(StarFlag.DOUBLE), 0]
    assert bits.dtype == np.uint16


def test_numbers_of_a_column_have_names_too() -> None:
    assert flag_names(np.uint16(17)) == ("derived_g", "no_mean_position")
