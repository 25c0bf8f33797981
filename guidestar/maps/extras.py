"""The packages that only the sky map needs: looked for before the work."""

from __future__ import annotations

import importlib

from guidestar.errors import MissingPackageError


def require(package: str, purpose: str) -> None:
    """Raise a MissingPackageError that says what to install, if a package of the extra `maps` is missing."""
    try:
        importlib.import_module(package)
    except ImportError as error:
        raise MissingPackageError(purpose, [package], "maps") from error
