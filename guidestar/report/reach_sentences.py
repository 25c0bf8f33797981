"""What a `ReachResult` says, as sentences for a person; `reach_text.py` lays them out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from guidestar.field.reach import FULLY_LIT, HALF_LIT, ReachResult
from guidestar.field.reach_points import PointReach, Wish
from guidestar.field.remedies import Remedy
from guidestar.report import wording as w
from guidestar.signal.centroid import pixel_arcsec

WISHES: Final[dict[Wish, str]] = {"snr": "whole star", "peak": "brightest pixel", "no light": "no light"}

_NOISES: Final = {
    "photons": "the star's own photons",
    "sky": "the light of the sky",
    "dark": "the camera's dark current",
    "read noise": "the camera's read noise",
}
_LITTLE_MAG: Final = 0.05
"""Gains and losses below this are not worth a word."""


def conditions(result: ReachResult) -> str:
    """Say under which conditions all that follows holds."""
    guiding, sky_mag = result.rig.guiding, result.rig.sky.brightness_mag_arcsec2
    binning = result.rig.guide_camera.binning
    binned = "" if binning == 1 else f", binned {binning}{w.NBSP}×{w.NBSP}{binning}"
    return (
        f"With {w.exposure(guiding.exposure_s)} exposures{binned}, at airmass {w.plain(guiding.airmass, 2)} under a "
        f"sky of V{w.NBSP}{w.plain(sky_mag, 2)} a square arcsecond. Magnitudes are Gaia G: the larger, the fainter."
    )


def warnings(result: ReachResult) -> list[str]:
    """One paragraph a warning."""
    return [f"WARNING  {w.sentence(text)}" for text in result.warnings]


def fixed_limit(result: ReachResult) -> list[str]:
    """Say that `check` goes by a fixed limit, if the rig has one."""
    limit = result.rig.guiding.faintest_mag
    if limit is None:
        return []
    return [
        f"NOTE  The rig has a fixed limit, guiding.faintest_mag = {w.plain(limit, 2)}: “check” goes by that "
        "everywhere. What follows is the light alone; take faintest_mag out of the rig file to let it count."
    ]


def reach_of(faintest_mag: float | None) -> str:
    """Write a reach for a table."""
    return "dark" if faintest_mag is None else f"{faintest_mag:.2f}"


def _reaches(faintest_mag: float | None) -> str:
    return "nothing (no light comes there)" if faintest_mag is None else w.magnitude(faintest_mag)


def answer(result: ReachResult) -> str:
    """Say how faint the guide camera goes."""
    if result.given is not None:
        point = result.given.point
        off = "" if point.on_sensor else " That place is off the guide sensor, or in the margin that you leave unused."
        return (
            f"REACH  {_place(point)} the guide camera uses stars down to {_reaches(point.faintest_mag)}; at the centre "
            f"of its field down to {_reaches(result.centre.point.faintest_mag)}.{off}"
        )
    return (
        f"REACH  The guide camera uses stars down to {_reaches(result.centre.point.faintest_mag)} at the centre of "
        f"its field, to {_reaches(_worst(result, 'edge'))} at the worst edge and to "
        f"{_reaches(_worst(result, 'corner'))} in the worst corner."
    )


def _worst(result: ReachResult, spot: str) -> float | None:
    found = [point.faintest_mag for point in result.points if point.spot == spot]
    return None if None in found else min(value for value in found if value is not None)


def _place(point: PointReach) -> str:
    return f"At x{w.NBSP}{w.unit(w.signed(point.x_mm, 2), 'mm')}, y{w.NBSP}{w.unit(w.signed(point.y_mm, 2), 'mm')}"


def limits(result: ReachResult) -> str:
    """Say what holds the reach back: which wish, which noise, and the light that the prism misses."""
    figures = result.given or result.centre
    point, guiding = figures.point, result.rig.guiding
    where = "there" if result.given is not None else "at the centre"
    if point.noise is None:
        return f"LIMIT  Lost light: no light at all comes {where}."
    if point.limited_by == "peak":
        why = (
            f"A fainter star would still be strong enough as a whole, but its brightest pixel would not stand "
            f"{w.plain(guiding.min_peak_snr, 2)} times above the noise of a pixel (guiding.min_peak_snr)"
        )
    else:
        why = f"A fainter star would fall below a signal to noise of {w.plain(guiding.min_snr, 2)} (guiding.min_snr)"
    return f"LIMIT  {why}; most of the noise {where} is {_NOISES[point.noise]}. {_lost(result, point)}"


def _lost(result: ReachResult, point: PointReach) -> str:
    """Say what the light that passes beside the prism, or that the telescope's edge keeps, costs."""
    lost = point.lost_mag or 0.0
    here = "there" if result.given is not None else "at the centre"
    first = (
        f"Lost light costs {w.unit(f'{lost:.2f}', 'mag')} {here}"
        if lost >= _LITTLE_MAG
        else f"Hardly any light is lost {here}"
    )
    if result.given is not None:
        return f"{first}."
    corners = [item.lost_mag for item in result.points if item.spot == "corner"]
    if None in corners:
        return f"{first}; in the worst corner all of it is lost."
    worst = max(value for value in corners if value is not None)
    if worst < _LITTLE_MAG:
        return f"{first}, nor in the corners." if lost < _LITTLE_MAG else f"{first}."
    return f"{first}; in the worst corner lost light costs {w.unit(f'{worst:.2f}', 'mag')}."


def places_note(result: ReachResult) -> str:
    """Explain the table of places."""
    side = result.rig.prism.side
    edge = f"the {side} edge" if side else "the edge"
    return (
        f"x runs along {edge} of the main picture, y from the axis outward, mm in the focal plane; light: share of a "
        "star's beam that arrives; lost: magnitudes that the rest costs; fails first: what a fainter star would lack."
    )


def lit(result: ReachResult) -> str:
    """Say how much of the guide sensor the prism lights."""
    shares = result.lit
    enough = w.unit(w.plain(100 * FULLY_LIT, 1), "%")
    return (
        f"LIT  Of the guide sensor's area, less the margin: fully lit (the prism catches at least {enough} of a star's "
        f"beam) {w.share(shares.full)}; half lit or better, but not fully, {w.share(shares.half)}; less than half "
        f"(under {w.percent(HALF_LIT)}) {w.share(shares.less)}."
    )


def exposures_heading(result: ReachResult) -> str:
    """Introduce the table of exposures."""
    here = "" if result.given is None else "here, "
    return (
        f"EXPOSURE  Faintest star (G) by guide exposure, {here}at the centre, over half of the guide sensor, at the "
        "worst edge and in the worst corner:"
    )


def star_heading(result: ReachResult) -> str:
    """Introduce the figures of single stars."""
    where = "there" if result.given is not None else "at the centre"
    return f"PRECISION  What one exposure gives of a star {where}:"


def star_notes(result: ReachResult) -> list[str]:
    """Explain the figures of single stars, and say which are too bright."""
    figures = result.given or result.centre
    notes = (
        "error: expected error of the star's place along one axis, from the light alone, in arcseconds and in pixels "
        "of the main camera."
    )
    if figures.saturation_mag is not None:
        notes += f" Stars brighter than {w.magnitude(figures.saturation_mag)} fill their brightest pixel."
    return [notes]


def air(result: ReachResult) -> str:
    """Say what the air does besides, which no amount of light mends."""
    motion = result.image_motion_arcsec
    pixel = pixel_arcsec(result.rig.telescope.focal_length_mm, result.rig.camera.pixel_um)
    return (
        f"AIR  On top of that the air moves every star, however bright, from exposure to exposure: by up to "
        f"{w.arcsec(motion)} rms along one axis ({w.small(motion / pixel)} main pixels; an upper estimate). Stars "
        f"flicker by {w.unit(w.plain(100 * result.scintillation, 1), '%')} rms, which does not move them."
    )


def helps(remedy: Remedy) -> bool:
    """Tell whether a change is worth a line: it gains something where it counts."""
    return any(gain is not None and gain >= _LITTLE_MAG for gain in (remedy.gain_mag, remedy.gain_corner_mag))


def remedies_heading(helping: Sequence[Remedy]) -> str:
    """Introduce the changes that would help."""
    if not helping:
        return "WHAT WOULD HELP  None of the small changes tried gains as much as 0.05 mag."
    return "WHAT WOULD HELP  Magnitudes gained by one change each, all else left alone, largest first:"


def change(remedy: Remedy) -> str:
    """Name a change."""
    values = remedy.values
    if remedy.kind == "exposure":
        return f"expose twice as long ({w.exposure(values['guiding.exposure_s'])})"
    if remedy.kind == "binning":
        number = f"{values['guide_camera.binning']:.0f}"
        return f"bin the guide camera {number}{w.NBSP}×{w.NBSP}{number}"
    if remedy.kind == "focus":
        return f"make stars a fifth smaller ({w.plain(values['telescope.fwhm_arcsec'], 2)}″)"
    if remedy.kind == "ahead":
        return f"prism nearer to the sensor ({w.unit(w.plain(values['prism.ahead_mm'], 2), 'mm')} ahead)"
    if remedy.kind == "wider prism":
        return f"a prism {w.unit(w.plain(values['prism.width_mm'], 2), 'mm')} wide"
    return f"a prism {w.unit(w.plain(values['prism.height_mm'], 2), 'mm')} high"


def remedy_notes(result: ReachResult, helping: Sequence[Remedy]) -> list[str]:
    """Say what else must be known of the changes, and which ones would not help."""
    notes = []
    if any(remedy.kind == "focus" for remedy in helping):
        notes.append("Smaller stars: a better focus of the guide camera, or a better corrected place for it.")
    if any(remedy.kind == "higher prism" for remedy in helping):
        notes.append("A higher prism keeps its inner edge and grows outward; the guide camera moves with its middle.")
    for remedy in helping:
        if remedy.undersampled:
            notes.append(
                f"{w.capital(change(remedy))}: that puts most of a star into one pixel: its place is then less exact."
            )
        notes += [f"{w.capital(change(remedy))}: {w.sentence(text)}" for text in remedy.warnings]
    idle = [change(remedy) for remedy in result.remedies if remedy not in helping]
    if idle:
        notes.append(f"No gain from: {'; '.join(idle)}.")
    return notes
