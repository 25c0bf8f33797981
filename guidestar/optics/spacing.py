"""Distances along the imaging train: what glass adds to them, what spacer is missing, where the guide focus lies.

All lengths in mm along the light. Mechanical length is what a caliper measures on the parts.
"""

from __future__ import annotations

import math


def glass_shift_mm(thickness_mm: float, index: float, f_ratio: float | None = None) -> float:
    """Return how far a plane-parallel plate moves the focus away from the telescope, mm.

    Parameters
    ----------
    thickness_mm : float
        Way of the axial ray through the glass, mm, ≥ 0.
    index : float
        Refractive index n ≥ 1.
    f_ratio : float, optional
        Focal ratio N > 0 of the beam: the shift of its outermost ray, which is larger. Without it the paraxial
        shift, that of rays near the axis.

    Returns
    -------
    float
        Paraxial t·(1 − 1/n) (La Palma observers' guide, focus offsets: t/3 for n = 1.5, 0.38 t for n = 1.6);
        exact t·(1 − √((1 − sin²)/(n² − sin²))) with tan = 1/(2N) by Snell's law. Never negative.

    Notes
    -----
    A ray at angle i to the axis leaves the plate parallel to itself, displaced sideways by t·(tan i − tan i′), which
    is t·(1 − tan i′/tan i) along the axis; tan i′/tan i = cos i/(n cos i′) = √((1 − sin²i)/(n² − sin²i)).
    """
    if f_ratio is None:
        return thickness_mm * (1.0 - 1.0 / index)
    sine = math.sin(math.atan(0.5 / f_ratio))
    return thickness_mm * (1.0 - math.sqrt((1.0 - sine**2) / (index**2 - sine**2)))


def spacer_mm(back_focus_mm: float, glass_shift_mm: float, parts_mm: float, flange_mm: float) -> float:
    """Return the spacer that is still missing between corrector and camera, mm; negative: too long by that much.

    The corrector asks for `back_focus_mm` without glass in the way; a filter moves the focus back by
    `glass_shift_mm`, so the mechanical length has to grow by it. `parts_mm` and the camera's `flange_mm` are there
    already.
    """
    return back_focus_mm + glass_shift_mm - parts_mm - flange_mm


def guide_path_mm(ahead_mm: float, filter_shift_mm: float, prism_shift_mm: float) -> float:
    """Return the mechanical way from the prism's entrance face, round the reflection, to the guide sensor in focus, mm.

    With the main camera in focus at `ahead_mm` behind the face, of which a filter behind the prism made up
    `filter_shift_mm` (0 for a filter ahead of the prism, whose shift both cameras share), the light would focus
    ahead − filter shift behind the face; the prism's own glass moves that back by `prism_shift_mm` (0 for a mirror).
    """
    return ahead_mm - filter_shift_mm + prism_shift_mm


def filter_cost_mag(bandwidth_nm: float, open_bandwidth_nm: float) -> float:
    """Return how many magnitudes a filter ahead of the prism takes from a guide star of flat photon spectrum.

    2.5 log₁₀ of the open band over the filter's, both in nm and > 0; never negative. Perfect transmission within the
    filter's band is assumed, so a real filter costs a little more.
    """
    return max(0.0, 2.5 * math.log10(open_bandwidth_nm / bandwidth_nm))
