"""Damage that validation finds, and the built-in catalogue's own checksums."""

import hashlib
from pathlib import Path

import pytest

from guidestar.errors import DataError
from guidestar.stars import validation
from guidestar.stars.hats import HatsFolder
from guidestar.stars.tycho2 import Tycho2

SAMPLE_ROWS = 129


def test_the_built_in_catalogue_is_whole(catalogue: Tycho2) -> None:
    assert validation.verify(catalogue.folder) == 2_557_501


def test_every_file_of_the_built_in_catalogue_has_a_checksum(catalogue: Tycho2) -> None:
    folder = catalogue.folder.path
    files = {file.relative_to(folder).as_posix() for file in folder.rglob("*") if file.is_file()}
    assert set(validation.checksums(catalogue.folder)) == files - {"SHA256SUMS"}


def test_a_fresh_catalogue_is_whole(small_folder: HatsFolder) -> None:
    assert validation.faults(small_folder) == ()
    assert validation.verify(small_folder) == SAMPLE_ROWS


def partition_file(folder: HatsFolder, which: int = 0) -> Path:
    return folder.path / folder.partitions[which].relative_path


@pytest.mark.parametrize("share", [0.0, 0.3, 0.7, 0.999])
def test_one_flipped_bit_is_found(small_folder: HatsFolder, share: float) -> None:
    file = partition_file(small_folder)
    content = bytearray(file.read_bytes())
    content[int(share * len(content))] ^= 1
    file.write_bytes(content)
    with pytest.raises(DataError, match=rf"{file.name} is damaged \(its SHA-256 is \w+…, not \w+…\): build it again"):
        validation.verify(small_folder)


def test_every_fault_is_reported_at_once(small_folder: HatsFolder) -> None:
    missing, cut = partition_file(small_folder, 0), partition_file(small_folder, 1)
    missing.unlink()
    cut.write_bytes(cut.read_bytes()[:-20])
    (small_folder.path / "hats.properties").write_text("hats_nrows=1\n", encoding="utf-8")
    messages = [str(fault) for fault in validation.faults(small_folder)]
    assert len(messages) == 3
    assert any(f"{missing} is missing" in message for message in messages)
    assert any(f"{cut} is damaged" in message for message in messages)
    with pytest.raises(DataError, match="\n"):
        validation.verify(small_folder)


@pytest.mark.parametrize("text", ["", "no pairs here\njust-one-word\n"])
def test_a_damaged_list_of_checksums_is_named(small_folder: HatsFolder, text: str) -> None:
    (small_folder.path / "SHA256SUMS").write_text(text, encoding="utf-8")
    with pytest.raises(DataError, match="SHA256SUMS is damaged"):
        validation.verify(small_folder)


def test_a_missing_list_of_checksums_is_named(small_folder: HatsFolder) -> None:
    (small_folder.path / "SHA256SUMS").unlink()
    with pytest.raises(DataError, match="SHA256SUMS is missing: build it again"):
        validation.verify(small_folder)


def reseal(folder: HatsFolder, name: str) -> None:
    """Make the list of checksums agree with a changed file, as someone building by hand might."""
    sums = validation.checksums(folder)
    sums[name] = hashlib.sha256((folder.path / name).read_bytes()).hexdigest()
    text = "".join(f"{digest}  {path}\n" for path, digest in sums.items())
    (folder.path / "SHA256SUMS").write_text(text, encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "message"),
    [("hats_nrows=128\n", "it says 128 stars, the partitions hold 129"), ("hats_nrows=many\n", "no number hats_nrows")],
)
def test_a_wrong_number_of_stars_is_found(small_folder: HatsFolder, text: str, message: str) -> None:
    (small_folder.path / "hats.properties").write_text(text, encoding="utf-8")
    reseal(small_folder, "hats.properties")
    with pytest.raises(DataError, match=message):
        validation.verify(small_folder)


def test_a_partition_without_a_checksum_is_found(small_folder: HatsFolder) -> None:
    name = small_folder.partitions[0].relative_path
    lines = (small_folder.path / "SHA256SUMS").read_text(encoding="utf-8").splitlines(keepends=True)
    (small_folder.path / "SHA256SUMS").write_text("".join(line for line in lines if name not in line), encoding="utf-8")
    with pytest.raises(DataError, match=f"does not list {name}"):
        validation.verify(small_folder)
