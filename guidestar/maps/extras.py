"""The packages that only the sky map needs: looked for before the work."""

from __future__ import annotations

import importlib

from guidestar.errors import InputError


def require(package: str, purpose: str) -> None:
    """Raise an InputError that says what to install, if a package of the extra `maps` is missing."""
    try:
        importlib.import_module(package)
    except ImportError as error:
        raise InputError(f'{purpose} needs the package {package}: python -m pip install "guidestar[maps]".') from error
