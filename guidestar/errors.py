"""Every error that guidestar raises on purpose.

Which to raise: `InputError` when the person can mend it by typing or editing something else (a name, a number,
a file path); `RigError` for a rig file, with all its faults at once; `DataError` when a catalogue, a store or a
network service failed. Anything else that escapes is a bug and keeps its traceback.

A message is one plain sentence with the value found and what would be allowed or would help.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum


class ExitStatus(IntEnum):
    """Exit status of the command line."""

    ANSWERED = 0
    BAD_INPUT = 2
    DATA_FAILURE = 3


class GuidestarError(Exception):
    """Base of all errors raised on purpose; `str()` is the sentence to show."""

    status: ExitStatus = ExitStatus.BAD_INPUT


class InputError(GuidestarError):
    """Something the person typed or wrote cannot be used."""


class MissingPackageError(InputError):
    """Something needs packages that come with one of guidestar's extras, and they are not installed.

    `purpose` begins the sentence ("Fetching stars"), `packages` are named in it.
    """

    def __init__(self, purpose: str, packages: Sequence[str], extra: str) -> None:
        names = f"package{'s' if len(packages) > 1 else ''} {' and '.join(packages)}"
        super().__init__(f'{purpose} needs the {names}: python -m pip install "guidestar[{extra}]".')


class RigError(InputError):
    """One or more faults of a rig file, found in a single pass.

    Attributes
    ----------
    where : str
        The file's path, or what else the rig came from.
    faults : tuple of str
        One sentence a fault: key path, value found, what is allowed.
    """

    def __init__(self, where: str, faults: Sequence[str]) -> None:
        self.where = where
        self.faults = tuple(faults)
        super().__init__("\n".join(f"{where}: {fault}" for fault in self.faults))


class DataError(GuidestarError):
    """A catalogue, a local store or a network service is missing, damaged or out of reach."""

    status = ExitStatus.DATA_FAILURE
