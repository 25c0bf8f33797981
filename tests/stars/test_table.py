"""Star tables."""

import numpy as np

from guidestar.stars.table import StarTable
from guidestar.stars.tycho2 import designation


def table() -> StarTable:
    return StarTable(
        id=np.array([1_000_131, 9_537_121_213, 2_005_802]),
        ra_deg=np.array([1.0, 2.0, 3.0]),
        dec_deg=np.array([-1.0, -2.0, -3.0]),
        g_mag=np.array([8.0, 9.0, 10.0]),
        v_mag=np.array([8.1, 9.1, 10.1]),
        flags=np.array([1, 17, 513], dtype=np.uint16),
        hip=np.array([0, 5, 0], dtype=np.int32),
        designation=designation,
    )


def test_names_are_made_from_the_number() -> None:
    assert [table().names(i) for i in range(3)] == ["TYC 1-13-1", "TYC 9537-12121-3", "TYC 2-580-2"]


def test_a_mask_and_an_order_choose_rows_of_every_column() -> None:
    masked = table().take(np.array([True, False, True]))
    assert len(masked) == 2
    assert masked.names(1) == "TYC 2-580-2"
    reordered = table().take(np.array([2, 0]))
    columns = (reordered.ra_deg, reordered.dec_deg, reordered.g_mag, reordered.v_mag, reordered.flags, reordered.hip)
    assert [column.tolist() for column in columns] == [
        [3.0, 1.0], [-3.0, -1.0], [10.0, 8.0], [10.1, 8.1], [513, 1], [0, 0],
    ]  # fmt: skip


def test_nothing_chosen_is_an_empty_table() -> None:
    assert len(table().take(np.zeros(3, dtype=bool))) == 0


def test_a_designation_given_twice_is_told_apart() -> None:
    assert designation(10_049_016_741) == "TYC 49-1674-1 (supplement)"
