"""Is a catalogue on disk still what was built? Checksums of every file, and the number of stars.

`SHA256SUMS` in the catalogue's folder lists a SHA-256 and a path on each line, as `sha256sum` writes them, so
`sha256sum --check SHA256SUMS` there gives the same answer without this program.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.parquet as pq

from guidestar.errors import DataError
from guidestar.stars.hats import HatsFolder

CHECKSUMS: Final = "SHA256SUMS"
PROPERTIES: Final = "hats.properties"


def verify(folder: HatsFolder) -> int:
    """Check every file of a catalogue and return its number of stars.

    Raises
    ------
    DataError
        One or more files are missing or differ from what was built: one sentence each, naming the file and
        saying how to repair it.
    """
    problems = faults(folder)
    if problems:
        raise DataError("\n".join(str(problem) for problem in problems))
    return sum(row_counts(folder).values())


def faults(folder: HatsFolder) -> tuple[DataError, ...]:
    """Return everything that is wrong with a catalogue's files, as errors to show or raise; empty if nothing is."""
    try:
        expected = checksums(folder)
    except DataError as error:
        return (error,)
    found = [_file_fault(folder, name, digest) for name, digest in expected.items()]
    problems = [fault for fault in found if fault is not None]
    return tuple(problems or _content_faults(folder, expected))


def checksums(folder: HatsFolder) -> dict[str, str]:
    """Return the SHA-256 that each file should have, by its path from the catalogue's folder."""
    file = folder.path / CHECKSUMS
    try:
        pairs = [line.split(maxsplit=1) for line in file.read_text(encoding="utf-8").splitlines()]
        listed = {name.strip(): digest for digest, name in pairs}
    except FileNotFoundError:
        raise folder.missing(file) from None
    except (OSError, ValueError) as error:
        raise folder.damaged(file, "it is not a list of checksums and paths") from error
    if not listed:
        raise folder.damaged(file, "it lists no file")
    return listed


def row_counts(folder: HatsFolder) -> dict[str, int]:
    """Return the number of stars in each partition's file, by its path from the catalogue's folder."""
    return {part.relative_path: _rows_of(folder, folder.path / part.relative_path) for part in folder.partitions}


def _rows_of(folder: HatsFolder, file: Path) -> int:
    try:
        return int(pq.read_metadata(file).num_rows)
    except FileNotFoundError:
        raise folder.missing(file) from None
    except (OSError, ValueError, pa.ArrowException) as error:
        raise folder.damaged(file, str(error)) from error


def _file_fault(folder: HatsFolder, name: str, digest: str) -> DataError | None:
    file = folder.path / name
    try:
        found = hashlib.sha256(file.read_bytes()).hexdigest()
    except FileNotFoundError:
        return folder.missing(file)
    except OSError as error:
        return folder.damaged(file, str(error.strerror))
    if found != digest:
        return folder.damaged(file, f"its SHA-256 is {found[:12]}…, not {digest[:12]}…")
    return None


def _content_faults(folder: HatsFolder, expected: dict[str, str]) -> list[DataError]:
    """Faults that unharmed files can still have together: a partition nobody vouches for, a wrong total."""
    try:
        counts = row_counts(folder)
        total = _declared_rows(folder)
    except DataError as error:
        return [error]
    unlisted = [
        folder.damaged(folder.path / CHECKSUMS, f"it does not list {name}") for name in counts if name not in expected
    ]
    if not unlisted and sum(counts.values()) != total:
        reason = f"it says {total} stars, the partitions hold {sum(counts.values())}"
        return [folder.damaged(folder.path / PROPERTIES, reason)]
    return unlisted


def _declared_rows(folder: HatsFolder) -> int:
    file = folder.path / PROPERTIES
    try:
        lines = file.read_text(encoding="utf-8").splitlines()
        return int(dict(line.split("=", 1) for line in lines if "=" in line)["hats_nrows"])
    except FileNotFoundError:
        raise folder.missing(file) from None
    except (OSError, ValueError, KeyError) as error:
        raise folder.damaged(file, "it has no number hats_nrows") from error
