"""The reach all over the prism's light, for a picture of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.field import geometry
from guidestar.field.light import rig_light
from guidestar.rig import Rig
from guidestar.signal import snr

FloatArray = NDArray[np.float64]

_STEPS = 241
_AROUND = 0.12


@dataclass(frozen=True)
class ReachMap:
    """Transmission and reach on a grid in the rig frame, mm in the focal plane, and the outlines to draw on it.

    `x_mm` (n,) and `y_mm` (n,) are the axes, `transmission` and `faintest_mag` (n, n) with y along the first index;
    the latter is NaN where no light comes. Outlines are corners (4, 2): the guide sensor, that less its margin, and the
    prism's face as it is seen from the focal plane.
    """

    x_mm: FloatArray
    y_mm: FloatArray
    transmission: FloatArray
    faintest_mag: FloatArray
    sensor_mm: FloatArray
    used_mm: FloatArray
    face_mm: FloatArray


def reach_map(rig: Rig) -> ReachMap:
    """Return the map of a rig's reach over its guide sensor and the whole prism face.

    Raises
    ------
    InputError
        No light reaches the guide camera.
    """
    light = rig_light(rig)
    sensor = geometry.sensor_polygon(rig, edge_margin_mm=0.0)
    face = _face(rig)
    both = np.concatenate((sensor, face))
    low, high = both.min(axis=0), both.max(axis=0)
    spare = _AROUND * (high - low).max()
    x, y = (np.linspace(low[i] - spare, high[i] + spare, _STEPS) for i in (0, 1))
    lit = light.transmission(x[None, :], y[:, None])
    throughput = lit * light.vignetting(np.hypot(x[None, :], y[:, None]))
    faintest = snr.faintest_mag(throughput, light.setup)
    return ReachMap(
        x_mm=x,
        y_mm=y,
        transmission=lit,
        faintest_mag=np.where(np.isfinite(faintest), faintest, np.nan),
        sensor_mm=sensor,
        used_mm=light.outline_mm,
        face_mm=face,
    )


def _face(rig: Rig) -> FloatArray:
    """Return the corners of the prism's face projected along the chief rays onto the focal plane."""
    scale = geometry.scale_at_face(rig)
    half_x, half_y = rig.prism.width_mm / 2 / scale, rig.prism.height_mm / 2 / scale
    corners = np.array([(-half_x, -half_y), (half_x, -half_y), (half_x, half_y), (-half_x, half_y)])
    return np.asarray(corners + np.array([0.0, geometry.centre_mm(rig)]))
