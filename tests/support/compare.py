"""Intervals against a twin that is asked angle by angle."""

from __future__ import annotations

import numpy as np

from guidestar.angles import circular
from support import wcs_twin

NEAR_DEG = 0.02
"""How far apart the ends of two answers may be."""


def near_an_end(intervals, angle):
    return any(abs((angle - edge + 180) % 360 - 180) < NEAR_DEG for edge in np.ravel(intervals))


def asserted_equal(intervals, angles, twin):
    """Hold the twin against the intervals at each angle that is not within 0.02° of an end; most must be compared."""
    compared = 0
    for angle in angles:
        if near_an_end(intervals, angle):
            continue
        assert bool(circular.contains(intervals, angle)) == twin(angle), angle
        compared += 1
    assert compared > 0.8 * len(angles) or len(intervals) > 20


def just_beside(intervals):
    """Return angles 0.021° inside and outside every end."""
    edges = np.reshape(intervals, (-1, 2))
    if len(edges) == 1 and edges[0, 1] - edges[0, 0] == 360:
        return np.empty(0)
    return np.concatenate([edge + side * 1.05 * NEAR_DEG for edge in edges.T for side in (-1, 1)]) % 360


def asserted_as_check(found, camera, place, stars, step_deg):
    """Hold `wcs_twin` step by step against the usable and sure angles that `check` found (`CheckResult.usable`)."""
    steps = np.arange(step_deg / 3, 360, step_deg)
    for intervals, angles, twin in (
        (found.angles_deg, steps, wcs_twin.usable),
        (found.sure_angles_deg, steps[::2], wcs_twin.sure),
    ):
        every = np.concatenate((angles, just_beside(intervals)))
        asserted_equal(intervals, every, lambda angle, twin=twin: bool(twin(camera, place, stars, angle)))
