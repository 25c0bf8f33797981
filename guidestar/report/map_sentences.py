"""What a sky map says, as sentences for a person; confirmed stars and expected ones always apart."""

from __future__ import annotations

from guidestar.maps.result import SkyMap
from guidestar.maps.summary import Summary
from guidestar.report import wording as w


def share(value: float | None) -> str:
    """Write a share for a sentence; a dash for none."""
    return "–" if value is None else w.share(value)


def cell(value: float | None) -> str:
    """Write a share for a narrow table."""
    return "–" if value is None else w.short_share(value)


def headline(summary: Summary) -> str:
    """Say the answer in one line."""
    whole = summary.whole
    if whole.usable.mean is None:
        return "The star source holds no data for any part of this sky."
    return (
        f"Pointed anywhere and turned at random, the camera finds a confirmed guide star in {share(whole.usable.mean)} "
        f"of all cases, a sure one in {share(whole.sure.mean)}."
    )


def made_from(sky: SkyMap) -> str:
    """Say what the map was made from."""
    stars = sky.sweep.stars
    return (
        f"{stars.source}, complete to {w.magnitude(stars.complete_to_mag, stars.band)}; stars counted to "
        f"{w.magnitude(stars.faintest_mag, stars.band)}, where they stand in {sky.sweep.epoch_year:.1f}. "
        f"{len(sky.ipix):,} targets evenly over the sky{_bounds(sky)}, one for each {w.plain(sky.pixel_deg2, 2)} "
        f"square degrees (nside {sky.nside})."
    )


def _bounds(sky: SkyMap) -> str:
    if sky.bounds_deg is None:
        return ""
    low, high = (w.plain(value) for value in sky.bounds_deg)
    return f" at declinations from {low}° to {high}°"


def answer(sky: SkyMap, summary: Summary) -> str:
    """Say in one paragraph where the rig is short of stars."""
    whole = summary.whole
    if whole.usable.mean is None:
        return f"CONFIRMED  {headline(summary)}"
    part = "" if sky.bounds_deg is None else " between these declinations"
    flip = ""
    if whole.flip_safe.mean is not None:
        flip = f", in {share(whole.flip_safe.mean)} there is one both before and after the meridian flip"
    return (
        f"CONFIRMED  Point anywhere{part} and turn the camera at random: in {share(whole.usable.mean)} of all cases "
        f"there is a guide star that the catalogue lists, in {share(whole.sure.mean)} there is one wherever the prism "
        f"truly is within its accuracy{flip}. {_sparse(summary)} {_none(summary)} {_poles(summary)}"
    ).rstrip()


def _sparse(summary: Summary) -> str:
    limit = w.share(summary.sparse_below)
    return (
        f"{w.capital(share(summary.whole.usable.below))} of this sky ({_deg2(summary.sparse_deg2)}) "
        f"is sparse: fewer than {limit} of the camera angles find a star."
    )


def _none(summary: Summary) -> str:
    none = summary.whole.no_angle
    return (
        f"No camera angle at all finds one in {share(none)} of it." if none else "Every target has some usable angle."
    )


def _poles(summary: Summary) -> str:
    """Say how far the sparse fields keep away from the Milky Way."""
    known = [band for band in summary.bands if band.usable.below is not None]
    if len(known) < 2 or not summary.whole.usable.below:
        return ""
    first, last = known[0], known[-1]
    return (
        f"Within {w.plain(first.to_deg)}° of the Milky Way's plane {share(first.usable.below)} of the sky is sparse, "
        f"beyond {w.plain(last.from_deg)}° {share(last.usable.below)}."
    )


def _deg2(area: float) -> str:
    return w.unit(f"{area:,.0f}", "square degrees")


def expected(sky: SkyMap, summary: Summary) -> str:
    """Say what stars beyond the catalogue may add: an estimate."""
    whole, stars = summary.whole, sky.sweep.stars
    if whole.expected.mean is None or whole.usable.mean is None:
        return ""
    if stars.faintest_mag <= stars.complete_to_mag:
        return (
            f"EXPECTED  Nothing more: the rig counts stars to {w.magnitude(stars.faintest_mag, stars.band)}, and the "
            f"catalogue is complete to {w.magnitude(stars.complete_to_mag, stars.band)}, so its gaps are real."
        )
    complete, reach = (w.magnitude(mag, stars.band) for mag in (stars.complete_to_mag, stars.faintest_mag))
    return (
        f"EXPECTED  An estimate: the catalogue is complete to {complete} only, and this rig reaches {reach}. By star "
        "counts, with the fainter stars that are there but not listed, "
        f"{share(whole.expected.mean)} of all cases find a star instead of {share(whole.usable.mean)}, and "
        f"{share(whole.expected.below)} of the sky is sparse instead of {share(whole.usable.below)}. "
        "The counts are a smooth model of the sky: in small dark clouds they promise too much. 'guidestar stars fetch' "
        "brings the stars themselves."
    )


def no_data(summary: Summary) -> str:
    """Say what is missing from the star source; empty if nothing."""
    if not summary.no_data_deg2:
        return ""
    part = summary.no_data_deg2 / summary.worked_out_deg2
    return (
        f"NO DATA  {w.capital(share(part))} of the sky asked for ({_deg2(summary.no_data_deg2)}) lies where the star "
        "source holds nothing. It is left out of every figure; it does not mean that there are no stars."
    )


def bands_note(summary: Summary) -> str:
    """Explain the table by latitude."""
    return (
        "|b|: distance from the Milky Way's plane. usable, sure, flip-safe: mean share of all camera angles, which is "
        "the chance for a target and an angle taken blindly. median, worst 5 %: of the usable share over the sky; a "
        f"twentieth of the targets has less than the latter. sparse: share of the sky with under "
        f"{w.share(summary.sparse_below)} usable. no angle: share of the sky without any. expected: as usable, with "
        "stars that the catalogue does not list, an estimate."
    )


def caption(summary: Summary) -> str:
    """Explain the page."""
    limit = w.share(summary.sparse_below)
    whole = summary.whole
    known = whole.usable.below is not None
    lines = [
        f"Outlined: regions where more than half of the targets are sparse, with under {limit} of the camera angles "
        f"usable by confirmed stars (the heavy mark on the scale). {_sparse(summary) if known else ''}",
        "Curves: means over the sky; worst 5 %: a twentieth of the targets has less than this. sure: wherever the "
        "prism truly is within its accuracy.",
        "*expected: with stars that the catalogue does not list, by star counts: an estimate. The maps show confirmed "
        "stars alone.",
    ]
    return "\n".join(lines)
