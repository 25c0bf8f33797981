"""Sky light as electrons. It comes through the same optics and prism as the stars."""

from __future__ import annotations

from guidestar.signal.flux import g0_rate_e_per_s
from guidestar.signal.setup import GuideSetup


def sky_rate_e_per_s_arcsec2(setup: GuideSetup) -> float:
    """Return the sky's electrons/s/arcsec² at throughput 1.

    The brightness is entered in V and turned to G with the sky's colour. A sky meter stands on the ground, so
    neither extinction nor airmass is applied. Where the prism takes in only the share τ of the beam, the sky
    loses the same share: multiply by τ.
    """
    sky_g_mag = setup.sky_v_mag_arcsec2 - setup.v_minus_g
    return g0_rate_e_per_s(setup) * float(10.0 ** (-0.4 * sky_g_mag))


def sky_rate_e_per_s_px(setup: GuideSetup) -> float:
    """Return the sky's electrons/s in one unbinned pixel at throughput 1."""
    return sky_rate_e_per_s_arcsec2(setup) * setup.pixel_arcsec**2
