"""Where Sun, Moon and stars stand above a place on Earth, through a span of time.

astropy does the work, with its built-in ephemerides and the Earth-rotation and leap-second tables that are installed
with it: nothing is ever downloaded. Altitudes and azimuths are topocentric and geometric (no refraction).

How good. The tables hold the Earth's rotation from 1973 to about a year ahead of the installed astropy-iers-data. After
that UT1 − UTC is taken as its last known value: every moment may then be off by a second or two, by the end of the
century perhaps by a minute if there are no more leap seconds (an estimate from the last century's drift). The answer
says so.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import erfa
import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.sky.moonlight import phase_angle_deg

FloatArray = NDArray[np.float64]

FIRST_YEAR: Final = 1973
LAST_YEAR: Final = 2100
"""Years that can be asked for: from where the tables begin to where star positions end (`guidestar.sky.dates`)."""

GRID_S: Final = 300.0
"""Spacing of the moments that are worked out; between them directions are interpolated (`Track.at`) to under 1″."""

_UNIX_MJD: Final = 40587.0


@contextmanager
def installed_tables() -> Iterator[None]:
    """Use astropy with what is installed: no download, no complaint about the age of tables, built-in ephemerides."""
    from astropy.coordinates import solar_system_ephemeris
    from astropy.utils import iers

    with ExitStack() as stack:
        for key, value in (("auto_download", False), ("auto_max_age", None), ("iers_degraded_accuracy", "ignore")):
            stack.enter_context(iers.conf.set_temp(key, value))
        stack.enter_context(warnings.catch_warnings())
        warnings.simplefilter("ignore")  # "dubious year": ERFA on leap seconds to come, which nobody knows
        stack.enter_context(iers.earth_orientation_table.set(_earth_rotation()))
        stack.enter_context(solar_system_ephemeris.set("builtin"))
        yield


@lru_cache(maxsize=1)
def _earth_rotation() -> Any:
    """Read the installed table of the Earth's rotation, once."""
    from astropy.utils import iers

    return iers.IERS_A.read(iers.IERS_A_FILE)


def rotation_known_until() -> float:
    """Return the last moment of the installed table of the Earth's rotation, Unix seconds."""
    return float((_earth_rotation()["MJD"][-1].value - _UNIX_MJD) * 86400.0)


@dataclass(frozen=True)
class Track:
    """Directions at equally spaced moments: `unix_s` (n,), `vectors` (n, 3) unit vectors.

    For a body in the sky the axes point north, east and up; for the zenith among the stars they are those of the ICRS.
    """

    unix_s: FloatArray
    vectors: FloatArray

    def vectors_at(self, unix_s: ArrayLike) -> FloatArray:
        """Return unit vectors at moments within the track, shape (k, 3): cubic through the four nearest moments.

        Directions are interpolated as vectors, which are smooth where azimuth is not: at the zenith.
        """
        wanted = np.atleast_1d(np.asarray(unix_s, dtype=np.float64))
        place = (wanted - self.unix_s[0]) / (self.unix_s[1] - self.unix_s[0])
        first = np.clip(np.floor(place).astype(np.int64) - 1, 0, len(self.unix_s) - 4)
        t = place - first
        weights = np.stack(
            (
                -(t - 1) * (t - 2) * (t - 3) / 6,
                t * (t - 2) * (t - 3) / 2,
                -t * (t - 1) * (t - 3) / 2,
                t * (t - 1) * (t - 2) / 6,
            )
        )
        mixed = sum(weight[:, None] * self.vectors[first + i] for i, weight in enumerate(weights))
        return np.asarray(mixed / np.linalg.norm(mixed, axis=1, keepdims=True))

    def at(self, unix_s: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return altitude and azimuth at moments, degrees; of the zenith's track declination and right ascension."""
        x, y, z = self.vectors_at(unix_s).T
        return np.degrees(np.arctan2(z, np.hypot(x, y))), np.mod(np.degrees(np.arctan2(y, x)), 360.0)


@dataclass(frozen=True)
class SkyTracks:
    """Sun, Moon and zenith through a span, and the Moon's phase angle (0 full to 180 new) at the same moments."""

    sun: Track
    moon: Track
    zenith: Track
    moon_phase_deg: FloatArray
    moon_waxing: bool


@dataclass(frozen=True)
class Observer:
    """A place on Earth: degrees, east and north positive; metres above the ellipsoid (sea level will do)."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float = 0.0

    def location(self) -> Any:
        """Return the place as astropy's."""
        import astropy.units as u
        from astropy.coordinates import EarthLocation

        return EarthLocation.from_geodetic(
            self.longitude_deg * u.deg, self.latitude_deg * u.deg, self.elevation_m * u.m
        )


def moments(start_unix_s: float, end_unix_s: float) -> FloatArray:
    """Return equally spaced moments from start to end, at most `GRID_S` apart, four at least."""
    count = max(int(np.ceil((end_unix_s - start_unix_s) / GRID_S)) + 1, 4)
    return np.linspace(start_unix_s, end_unix_s, count)


def sky_tracks(unix_s: FloatArray, observer: Observer) -> SkyTracks:
    """Work out Sun, Moon and zenith at equally spaced moments."""
    import astropy.units as u
    from astropy.coordinates import AltAz, SkyCoord, get_body
    from astropy.time import Time

    with installed_tables():
        times, place = Time(unix_s, format="unix"), observer.location()
        frame = AltAz(obstime=times, location=place)
        sun, moon = (get_body(name, times, place) for name in ("sun", "moon"))
        overhead = np.zeros(len(unix_s)) * u.deg
        zenith = SkyCoord(az=overhead, alt=overhead + 90.0 * u.deg, frame=frame).icrs
        phase = _phase_deg(sun, moon)
        elongation_deg = np.mod(_longitude_deg(moon) - _longitude_deg(sun), 360.0)
        return SkyTracks(
            sun=Track(unix_s, _horizontal(sun.transform_to(frame))),
            moon=Track(unix_s, _horizontal(moon.transform_to(frame))),
            zenith=Track(unix_s, _vectors(zenith.dec.deg, zenith.ra.deg)),
            moon_phase_deg=phase,
            moon_waxing=bool(elongation_deg[len(unix_s) // 2] < 180.0),
        )


def star_tracks(ra_deg: ArrayLike, dec_deg: ArrayLike, unix_s: FloatArray, observer: Observer) -> list[Track]:
    """Work out where places of the sky (ICRS degrees, shape (n,)) stand at equally spaced moments, one track each."""
    import astropy.units as u
    from astropy.coordinates import AltAz, SkyCoord
    from astropy.time import Time

    ra, dec = (np.atleast_1d(np.asarray(value, dtype=np.float64))[:, None] * u.deg for value in (ra_deg, dec_deg))
    with installed_tables():
        frame = AltAz(obstime=Time(unix_s[None, :], format="unix"), location=observer.location())
        placed = SkyCoord(ra, dec, frame="icrs").transform_to(frame)
        vectors = _vectors(placed.alt.deg, placed.az.deg)
    return [Track(unix_s, row) for row in vectors]


def _horizontal(placed: Any) -> FloatArray:
    return _vectors(placed.alt.deg, placed.az.deg)


def _vectors(up_deg: ArrayLike, around_deg: ArrayLike) -> FloatArray:
    """Return unit vectors of angles above a plane and around it, shape (…, 3)."""
    up, around = np.radians(up_deg), np.radians(around_deg)
    return np.stack((np.cos(up) * np.cos(around), np.cos(up) * np.sin(around), np.sin(up)), axis=-1)


def _phase_deg(sun: Any, moon: Any) -> FloatArray:
    """Return the Moon's phase angle as seen by the observer."""
    elongation = erfa.sepp(*(body.cartesian.xyz.to_value("km").T for body in (sun, moon)))
    return phase_angle_deg(np.degrees(elongation), *(body.distance.to_value("km") for body in (sun, moon)))


def _longitude_deg(body: Any) -> FloatArray:
    """Return the ecliptic longitude, degrees (J2000 ecliptic will do to tell waxing from waning)."""
    x, y, z = body.cartesian.xyz.to_value("km")
    tilt = np.radians(23.4392911)
    return np.asarray(np.degrees(np.arctan2(y * np.cos(tilt) + z * np.sin(tilt), x)), dtype=np.float64)
