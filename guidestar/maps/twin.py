"""The slow, obvious twin of the sweep: one whole check after another.

Reference for tests and benchmarks, and what a sweep falls back on for a target that its kernels leave open.
"""

from __future__ import annotations

import numpy as np

from guidestar.angles import circular
from guidestar.field.check import check
from guidestar.field.result import CheckResult
from guidestar.maps.result import COLUMNS, Coverage, FloatArray
from guidestar.rig import Rig
from guidestar.sky.place import Place
from guidestar.stars.source import StarSource


def coverage_by_checks(
    rig: Rig, source: StarSource, ra_deg: FloatArray, dec_deg: FloatArray, *, epoch_year: float
) -> Coverage:
    """Return the columns of the sky map at places (ICRS degrees, shape (n,)), from `field.check` alone."""
    rows = [row_of(check(_place(*at), rig, source, epoch_year=epoch_year)) for at in zip(ra_deg, dec_deg, strict=True)]
    columns = np.array(rows, dtype=np.float64).reshape(-1, len(COLUMNS))
    return Coverage(*columns.T)


def _place(ra_deg: float, dec_deg: float) -> Place:
    return Place("", float(ra_deg), float(dec_deg), "coordinates")


def row_of(result: CheckResult) -> tuple[float, ...]:
    """Return a check's answer as a row of the sky map, in the order of `COLUMNS`."""
    usable, flip_safe = result.usable, result.usable.flip_safe_fraction
    blind = circular.complement(np.array(usable.angles_deg).reshape(-1, 2))
    expected = usable.expected_fraction
    return (
        usable.fraction,
        np.nan if flip_safe is None else flip_safe,
        usable.sure_fraction,
        sum(end - start for star in result.guide_stars for start, end in star.angles_deg) / 360.0,
        float(np.max(blind[:, 1] - blind[:, 0], initial=0.0)),
        np.nan if expected is None else expected,
    )
