"""Reading HATS folders: which files, which values, and what a damaged file is called."""

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from guidestar.errors import DataError
from guidestar.stars.hats import HatsFolder, Partition

COLUMNS = ("ra_deg", "dec_deg", "hip", "pm_ra")


def test_paths_group_pixels_by_ten_thousand() -> None:
    assert Partition(2, 7).relative_path == "dataset/Norder=2/Dir=0/Npix=7.parquet"
    assert Partition(7, 123456).relative_path == "dataset/Norder=7/Dir=120000/Npix=123456.parquet"


def write_partition(path: Path, partition: Partition, table: pa.Table) -> None:
    file = path / partition.relative_path
    file.parent.mkdir(parents=True, exist_ok=True)
    pq.write_table(table, file, row_group_size=2)


@pytest.fixture
def mixed(tmp_path: Path) -> HatsFolder:
    """Pixel 0 of order 0 as one file, pixels 4 and 5 of order 1 beside it; several row groups each."""
    parts = [Partition(0, 0), Partition(1, 4), Partition(1, 5)]
    for part in parts:
        table = pa.table(
            {"n": pa.array([part.pixel, None, 9], pa.int32()), "x": pa.array([1.5, None, 2.5], pa.float32())}
        )
        write_partition(tmp_path, part, table)
    rows = "".join(f"{part.order},{part.pixel}\n" for part in reversed(parts))
    (tmp_path / "partition_info.csv").write_text("Norder,Npix\n" + rows, encoding="utf-8")
    return HatsFolder(tmp_path, "fetch it again")


def test_orders_may_differ_between_partitions(mixed: HatsFolder) -> None:
    assert mixed.partitions == (Partition(0, 0), Partition(1, 4), Partition(1, 5))
    # Pixel 0 of order 0 lies around RA 45, pixel 1 (with 4 to 7 of order 1) around RA 135, both at declination 41.8.
    assert mixed.partitions_touching(45.0, 41.8, 1.0) == [Partition(0, 0)]
    assert Partition(1, 4) in mixed.partitions_touching(135.0, 15.0, 1.0)
    assert mixed.partitions_touching(45.0, -60.0, 1.0) == []


def test_missing_numbers_are_nan_or_zero(mixed: HatsFolder) -> None:
    columns = mixed.read(mixed.partitions, ("x", "n"))
    assert columns["n"].tolist() == [0, 0, 9, 4, 0, 9, 5, 0, 9]
    assert columns["n"].dtype == np.int32
    assert np.isnan(columns["x"]).tolist() == [False, True, False] * 3
    assert columns["x"][0] == 1.5


def test_no_partitions_give_empty_columns(mixed: HatsFolder) -> None:
    columns = mixed.read([], ("x", "n"))
    assert {name: len(values) for name, values in columns.items()} == {"x": 0, "n": 0}


def test_a_column_that_is_not_there_is_a_damaged_file(mixed: HatsFolder) -> None:
    with pytest.raises(DataError, match=r"Npix=0\.parquet is damaged .*colour.*: fetch it again"):
        mixed.read(mixed.partitions[:1], ("colour",))


def first_file(folder: HatsFolder) -> tuple[Partition, Path]:
    return folder.partitions[0], folder.path / folder.partitions[0].relative_path


def test_a_missing_file_is_named_with_the_repair(small_folder: HatsFolder) -> None:
    partition, file = first_file(small_folder)
    file.unlink()
    with pytest.raises(DataError) as caught:
        small_folder.read([partition], COLUMNS)
    assert str(caught.value) == f"The catalogue file {file} is missing: build it again."


@pytest.mark.parametrize("kept", [0, 3, 100, -1, -9])
def test_a_truncated_file_is_damaged(small_folder: HatsFolder, kept: int) -> None:
    partition, file = first_file(small_folder)
    file.write_bytes(file.read_bytes()[:kept])
    with pytest.raises(DataError, match=r"Npix=\d+\.parquet is damaged \(.*\): build it again"):
        small_folder.read([partition], COLUMNS)


def test_rubbish_in_place_of_a_file_is_damaged(small_folder: HatsFolder) -> None:
    partition, file = first_file(small_folder)
    file.write_bytes(np.random.default_rng(0).bytes(5000))
    with pytest.raises(DataError, match="is damaged"):
        small_folder.read([partition], COLUMNS)


def test_no_flipped_bit_is_ever_read_as_a_value(small_folder: HatsFolder) -> None:
    """Wherever the bit is, the file is refused or every value is as before: pages carry checksums."""
    partition, file = first_file(small_folder)
    good, before = file.read_bytes(), small_folder.read([partition], COLUMNS)
    refused = 0
    for place in range(4, len(good), 11):
        flipped = bytearray(good)
        flipped[place] ^= 1 << place % 8
        file.write_bytes(flipped)
        try:
            after = small_folder.read([partition], COLUMNS)
        except DataError:
            refused += 1
            continue
        assert all(np.array_equal(before[name], after[name], equal_nan=True) for name in COLUMNS)
    assert refused > 20


@pytest.mark.parametrize(
    "text", ["", "Norder,Npix\n", "rubbish\n1\n", "Norder,Npix\n2,many\n", "Norder,Npix\n2\n", "\x00"]
)
def test_a_damaged_list_of_partitions_is_named(small_folder: HatsFolder, text: str) -> None:
    (small_folder.path / "partition_info.csv").write_text(text, encoding="utf-8")
    with pytest.raises(DataError, match=r"partition_info\.csv is damaged \(it .*\): build it again"):
        _ = HatsFolder(small_folder.path, "build it again").partitions


def test_a_missing_folder_is_a_missing_list_of_partitions(tmp_path: Path) -> None:
    with pytest.raises(DataError, match=r"partition_info\.csv is missing: fetch it"):
        _ = HatsFolder(tmp_path / "nowhere", "fetch it").partitions
