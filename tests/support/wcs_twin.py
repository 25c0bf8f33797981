"""The slow twin of `check`: the camera as an astropy.wcs.WCS, turned step by step, and rectangles asked one by one.

Shares no code with guidestar: only the rig's numbers and DESIGN's conventions in words. The picture's pixel axes are
millimetres to the right and up; "up" points at the camera angle, and the side 90° further on is the picture's left
(the right if mirrored).
"""

from __future__ import annotations

import numpy as np
from astropy.wcs import WCS


def picture_wcs(ra_deg: float, dec_deg: float, angle_deg: float, focal_mm: float, mirrored: bool) -> WCS:
    """Return the plate solution of a picture in millimetres right and up of its centre."""
    phi = np.radians(angle_deg)
    up = np.array([np.sin(phi), np.cos(phi)])  # (east, north)
    left = np.array([np.cos(phi), -np.sin(phi)])
    right = left if mirrored else -left
    wcs = WCS(naxis=2)
    wcs.wcs.ctype = ["RA---TAN", "DEC--TAN"]
    wcs.wcs.crval = [ra_deg, dec_deg]
    wcs.wcs.crpix = [0.0, 0.0]
    wcs.wcs.cd = np.degrees(np.column_stack((right, up)) / focal_mm)
    # Said outright: at the pole itself the FITS default is 0 instead of 180, which would turn the picture half round.
    wcs.wcs.lonpole = 180.0
    wcs.wcs.set()
    return wcs


def rig_frame(rig, place, angle_deg, ra_deg, dec_deg):
    """Return x, y (mm) in the rig frame of stars, through the picture: with the prism on top x grows to the left."""
    wcs = picture_wcs(*place, angle_deg, rig.telescope.focal_length_mm, rig.camera.mirrored)
    right, up = wcs.wcs_world2pix(ra_deg, dec_deg, 0)
    right, up = right + 1.0, up + 1.0  # origin 0 with crpix 0 puts the centre at −1
    beta = np.radians(rig.prism.side_deg)
    return -right * np.cos(beta) - up * np.sin(beta), -right * np.sin(beta) + up * np.cos(beta)


def distances(rig, x, y):
    """Return, per star and edge, how far inside each of the eight edges a star is (mm), with the edge's slope in y."""
    scale = 1 - rig.prism.ahead_mm / rig.telescope.exit_pupil_mm
    centre = rig.prism.offset_mm / scale
    turn = np.radians(rig.guide_camera.turned_deg)
    u = x * np.cos(turn) - (y - centre) * np.sin(turn)
    v = x * np.sin(turn) + (y - centre) * np.cos(turn)
    half_u = rig.guide_camera.width_mm / 2 - rig.guiding.edge_margin_mm
    half_v = rig.guide_camera.height_mm / 2 - rig.guiding.edge_margin_mm
    half_x, half_y = rig.prism.width_mm / 2 / scale, rig.prism.height_mm / 2 / scale
    inside = np.stack((half_u - u, half_u + u, half_v - v, half_v + v, half_x - x, half_x + x,
                       half_y - (y - centre), half_y + (y - centre)))  # fmt: skip
    # d(inside)/dd when the field moves by d along +y, that is when y falls by d
    slope = np.array([-np.sin(turn), np.sin(turn), np.cos(turn), -np.cos(turn), 0, 0, 1, -1])
    return inside, slope


def usable(rig, place, stars, angle_deg, move_mm=0.0):
    """Return whether enough stars are inside at one camera angle, the field moved out by `move_mm`."""
    inside, slope = distances(rig, *rig_frame(rig, place, angle_deg, *stars))
    count = np.count_nonzero(np.all(inside + slope[:, None] * move_mm >= 0, axis=0))
    return count >= rig.guiding.min_stars


def sure(rig, place, stars, angle_deg, steps=21):
    """Return whether enough stars are inside for every move: on a grid, and beside each where one enters or leaves."""
    inside, slope = distances(rig, *rig_frame(rig, place, angle_deg, *stars))
    accuracy = rig.prism.offset_accuracy_mm / (1 - rig.prism.ahead_mm / rig.telescope.exit_pupil_mm)
    sloping = np.abs(slope) > 1e-9
    changes = (-inside[sloping] / slope[sloping, None]).ravel()
    moves = np.concatenate((np.linspace(-accuracy, accuracy, steps), changes - 1e-7, changes + 1e-7))
    moves = moves[np.abs(moves) <= accuracy]
    there = np.all(inside[:, :, None] + slope[:, None, None] * moves >= 0, axis=0)
    return bool(np.all(np.count_nonzero(there, axis=0) >= rig.guiding.min_stars))
