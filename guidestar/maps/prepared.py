"""Whether numba still has to compile the kernels on this computer, which takes a while and should be said beforehand.

numba keeps what it compiled, but tells only afterwards whether it found it. So a small file beside it says that a sweep
with these kernels has ended once.
"""

from __future__ import annotations

import contextlib
from pathlib import Path

import numba

from guidestar.maps import kernels


def is_prepared() -> bool:
    """Return whether a sweep has already ended once with these kernels; if in doubt, not."""
    return not hasattr(kernels.sweep_targets, "stats") or _mark().exists()


def remember() -> None:
    """Note that a sweep has ended; where nothing can be written or numba is off, nothing happens."""
    with contextlib.suppress(OSError, AttributeError):
        _mark().touch()


def _mark() -> Path:
    folder = Path(kernels.sweep_targets.stats.cache_path)
    return folder / f"guidestar-{kernels.STAMP:08x}-numba-{numba.__version__}.ready"
