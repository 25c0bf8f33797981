"""The reach across the field: against the plain functions and by hand, its shares, its remedies, the guide scope."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.rigs import COMPOUND, FAST, NEWTONIAN, REFRACTOR, rig

from guidestar.errors import InputError
from guidestar.field import geometry
from guidestar.field.guidescope import STARS_PER_DEG2, STARS_PER_DEG2_AT_POLE, compare_guide_scope, rectangle_deg2
from guidestar.field.light import rig_light
from guidestar.field.reach import EXPOSURES_S, reach
from guidestar.field.reach_map import reach_map
from guidestar.field.reach_points import point_reach
from guidestar.field.remedies import remedies
from guidestar.signal import snr
from guidestar.stars.source import cone
from guidestar.stars.tycho2 import builtin_folder, tycho2

RIGS = {"compound": COMPOUND, "newtonian": NEWTONIAN, "refractor": REFRACTOR, "fast": FAST}


@pytest.mark.parametrize("base", RIGS.values(), ids=RIGS)
def test_points_are_centre_edges_and_corners_of_the_sensor_less_its_margin(base):
    camera = rig(base)
    points = reach(camera).points
    assert [point.spot for point in points] == ["centre", *["edge"] * 4, *["corner"] * 4]
    assert (points[0].x_mm, points[0].y_mm) == (0.0, geometry.centre_mm(camera))
    turn = math.radians(camera.guide_camera.turned_deg)
    half_u = camera.guide_camera.width_mm / 2 - 0.1
    half_v = camera.guide_camera.height_mm / 2 - 0.1
    away = sorted(round(math.hypot(p.x_mm, p.y_mm - points[0].y_mm), 9) for p in points[1:5])
    assert away == pytest.approx(sorted([half_u, half_u, half_v, half_v]))
    for point in points[5:]:
        x, y = point.x_mm, point.y_mm - points[0].y_mm
        u, v = x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)
        assert (abs(u), abs(v)) == pytest.approx((half_u, half_v))
    assert all(point.on_sensor for point in points)


@pytest.mark.parametrize("base", RIGS.values(), ids=RIGS)
def test_a_star_at_the_reach_just_meets_the_wish_that_limits(base):
    camera = rig(base, telescope__image_circle_mm=34.0)
    for point in reach(camera).points:
        setup = rig_light(camera).setup
        whole = float(snr.snr(point.faintest_mag, point.throughput, setup)) / camera.guiding.min_snr
        peak = float(snr.peak_snr(point.faintest_mag, point.throughput, setup)) / camera.guiding.min_peak_snr
        assert min(whole, peak) == pytest.approx(1.0, abs=1e-6)
        assert point.limited_by == ("snr" if whole < peak else "peak")
        full = float(snr.faintest_mag(1.0, setup))
        assert point.lost_mag == pytest.approx(full - point.faintest_mag, abs=1e-9)


def test_transmission_is_that_of_the_design_page():
    # f/4, 0.4 obstructed, 8 × 8 mm face 60 mm ahead: 0.24 at the centre, 0.29 at 3 mm aside (DESIGN, Light).
    camera = rig(FAST)
    assert reach(camera).centre.point.transmission == pytest.approx(0.24, abs=0.005)
    aside = reach(camera, (3.0, geometry.centre_mm(camera))).points
    assert [point.spot for point in aside] == ["given"]
    assert aside[0].transmission == pytest.approx(0.29, abs=0.005)
    assert aside[0].faintest_mag > reach(camera).centre.point.faintest_mag


def test_the_noise_named_is_the_largest():
    bright_sky = reach(rig(COMPOUND, sky__brightness_mag_arcsec2=16.0)).centre.point
    noisy = reach(rig(COMPOUND, guide_camera__read_noise_e=12.0)).centre.point
    hot = reach(rig(COMPOUND, guide_camera__dark_e_per_s=300.0)).centre.point
    quiet = reach(rig(COMPOUND, guide_camera__read_noise_e=0.0, sky__brightness_mag_arcsec2=23.0,
                      guide_camera__dark_e_per_s=0.0, guiding__min_peak_snr=1.0)).centre.point  # fmt: skip
    assert (bright_sky.noise, noisy.noise, hot.noise) == ("sky", "read noise", "dark")
    assert (quiet.limited_by, quiet.noise) == ("snr", "photons")


@pytest.mark.parametrize("place", [(0.0, 0.0), (0.0, -40.0), (30.0, 16.0)])
def test_a_dark_place_off_the_sensor_is_no_place_of_the_guide_field(place):
    with pytest.raises(InputError, match="no guide field; the guide sensor reaches from") as caught:
        reach(rig(COMPOUND), place)
    camera = rig(COMPOUND)
    low, high = geometry.sensor_polygon(camera).min(axis=0), geometry.sensor_polygon(camera).max(axis=0)
    for bound in (*low, *high):
        assert f"{bound:.1f}".replace("-", "−") in str(caught.value)


def test_where_no_light_comes_there_is_no_reach():
    camera = rig(COMPOUND, prism__width_mm=3.0, prism__ahead_mm=0.5)
    place = (2.5, geometry.centre_mm(camera))
    away = reach(camera, place).points[0]
    assert (away.transmission, away.faintest_mag, away.limited_by) == (0.0, None, "no light")
    assert (away.noise, away.lost_mag, away.on_sensor) == (None, None, True)
    figures = reach(camera, place).given
    assert figures.saturation_mag is None
    assert {star.centroid_arcsec for star in figures.stars} == {None}
    assert {star.snr for star in figures.stars} == {0.0}


@pytest.mark.parametrize("place", [(math.nan, 0.0), (0.0, math.inf)])
def test_a_place_must_be_one(place):
    with pytest.raises(InputError, match="two numbers in mm"):
        reach(rig(COMPOUND), place)


def test_lit_shares_by_hand():
    # A pick-off in the focal plane to a hair: the face is 3 mm wide, the used sensor 5.4 mm: 3/5.4 of it is lit.
    narrow = rig(
        COMPOUND, prism__width_mm=3.0, prism__ahead_mm=0.001, telescope__exit_pupil_mm=math.inf, prism__height_mm=8.0
    )
    lit = reach(narrow).lit
    assert lit.full == pytest.approx(3.0 / 5.4, abs=0.002)
    assert lit.full + lit.half == pytest.approx(3.0 / 5.4, abs=0.002)
    assert lit.full + lit.half + lit.less == pytest.approx(1.0, abs=1e-12)
    # A face much larger than the sensor and the beam together lights all of it.
    wide = reach(rig(COMPOUND, prism__width_mm=30.0, prism__height_mm=20.0)).lit
    assert (wide.full, wide.half, wide.less) == (1.0, 0.0, 0.0)


@pytest.mark.parametrize("base", RIGS.values(), ids=RIGS)
def test_lit_shares_equal_a_count_of_random_points(base):
    camera = rig(base)
    light, lit = rig_light(camera), reach(camera).lit
    draw = np.random.default_rng(7).random((2, 100_000)) - 0.5
    u, v = (draw.T * (np.array([camera.guide_camera.width_mm, camera.guide_camera.height_mm]) - 0.2)).T
    turn = math.radians(camera.guide_camera.turned_deg)
    x = u * math.cos(turn) + v * math.sin(turn)
    y = geometry.centre_mm(camera) - u * math.sin(turn) + v * math.cos(turn)
    transmission = light.transmission(x, y)
    assert lit.full == pytest.approx(np.mean(transmission >= 0.999), abs=0.006)
    assert lit.less == pytest.approx(np.mean(transmission < 0.5), abs=0.006)


@pytest.mark.parametrize("base", RIGS.values(), ids=RIGS)
def test_the_table_of_exposures_is_reach_at_each_exposure(base):
    camera = rig(base)
    for row, exposure in zip(reach(camera).exposures, EXPOSURES_S, strict=True):
        alone = reach(camera.with_values({"guiding.exposure_s": exposure}))
        worst = {
            spot: min(point.faintest_mag for point in alone.points if point.spot == spot)
            for spot in ("centre", "edge", "corner")
        }
        assert (row.centre, row.edge, row.corner) == pytest.approx(tuple(worst.values()), abs=1e-9)
        assert row.half <= max(point.faintest_mag for point in alone.points) + 0.3
    reaches = [row.centre for row in reach(camera).exposures]
    assert reaches == sorted(reaches)


@pytest.mark.parametrize("base", RIGS.values(), ids=RIGS)
def test_remedies_gain_what_the_changed_rig_reaches(base):
    camera = rig(base)
    before = reach(camera)
    found = remedies(camera)
    assert {remedy.kind for remedy in found} >= {"exposure", "binning", "focus", "ahead", "wider prism"}
    gains = [remedy.gain_mag for remedy in found]
    assert gains == sorted(gains, reverse=True)
    for remedy in found:
        after = reach(camera.with_values(remedy.values))
        gain = after.centre.point.faintest_mag - before.centre.point.faintest_mag
        assert remedy.gain_centre_mag == pytest.approx(gain, abs=1e-9)


def test_a_wider_prism_gains_nothing_where_the_whole_beam_arrives():
    found = {remedy.kind: remedy for remedy in remedies(rig(COMPOUND))}
    assert found["wider prism"].gain_mag == pytest.approx(0.0, abs=1e-9)
    assert found["exposure"].gain_mag > 0.3
    fast = {remedy.kind: remedy for remedy in remedies(rig(FAST))}
    assert fast["wider prism"].gain_mag > 0.3
    assert fast["ahead"].gain_mag > 0.1


def test_a_remedy_out_of_bounds_is_left_out_and_a_new_shadow_is_told():
    assert "exposure" not in {r.kind for r in remedies(rig(COMPOUND, guiding__exposure_s=3000.0))}
    assert "binning" not in {r.kind for r in remedies(rig(COMPOUND, guide_camera__binning=4))}
    undersampled = {r.kind: r for r in remedies(rig(REFRACTOR, telescope__fwhm_arcsec=2.0))}
    assert undersampled["binning"].undersampled


def test_undersampled_star_images_are_warned_of():
    words = "most of a star into one pixel"
    assert not any(words in text for text in reach(rig(REFRACTOR)).warnings)
    assert any(words in text for text in reach(rig(REFRACTOR, telescope__fwhm_arcsec=1.0)).warnings)


def test_a_fixed_limit_does_not_change_the_physics():
    assert reach(rig(COMPOUND, guiding__faintest_mag=9.0)).centre == reach(rig(COMPOUND)).centre


def test_common_practice_a_small_guide_scope_reaches_thirteen_to_fourteen_and_a_half():
    # Common practice, no source: 30–50 mm of aperture and a small sensitive camera show G 13–14.5 in 2 s.
    camera = rig(COMPOUND)
    for aperture, focal in ((30.0, 120.0), (50.0, 200.0)):
        scope = compare_guide_scope(camera, 1.0, focal_length_mm=focal, aperture_mm=aperture).guide_scope
        assert 12.9 < scope.faintest_mag < 14.6


def test_the_pick_off_of_the_comparison_is_the_reach_at_the_centre():
    camera = rig(NEWTONIAN)
    centre = reach(camera).centre
    compared = compare_guide_scope(camera, centre.point.throughput, focal_length_mm=240.0, aperture_mm=60.0)
    assert compared.pick_off.faintest_mag == pytest.approx(centre.point.faintest_mag)
    assert compared.pick_off.stars == centre.stars
    assert compared.pick_off.saturation_mag == pytest.approx(centre.saturation_mag)
    assert compared.guide_scope.scale_arcsec_per_px == pytest.approx(206.265 * 2.9 / 240.0, rel=1e-5)


def test_flexure_by_hand():
    # One 3.76 µm pixel at 2000 mm is 1.88 µrad: 0.388″, 0.376 µm over 200 mm, 0.451 µm at 240 mm.
    compared = compare_guide_scope(rig(COMPOUND), 1.0, focal_length_mm=240.0, aperture_mm=60.0, main_exposure_s=600.0)
    assert compared.flexure.arcsec == pytest.approx(0.3878, abs=1e-4)
    assert compared.flexure.at_lever_um == pytest.approx(0.376)
    assert compared.flexure.at_guide_sensor_um == pytest.approx(0.4512)
    assert compared.rate_arcsec_per_min == pytest.approx(0.3878 / 10, abs=1e-5)


def test_a_rectangles_area_is_the_published_one():
    # 8 × 8 mm at 1000 mm: 0.210096 square degrees (4 atan(ab/√(1+a²+b²)); flat: 0.210100).
    assert rectangle_deg2(0.004, 0.004) == pytest.approx(0.210100 - 2.2e-6, abs=3e-6)
    assert rectangle_deg2(1.0, 1.0) == pytest.approx(4 * math.pi / 6 * math.degrees(1.0) ** 2)  # a face of a cube


def test_the_mean_density_is_that_of_the_built_in_catalogue():
    properties = (builtin_folder() / "hats.properties").read_text().splitlines()
    rows = next(int(line.split("=")[1]) for line in properties if line.startswith("hats_nrows"))
    main_list = rows - 17_588  # less supplement 1
    assert main_list / (4 * math.pi * math.degrees(1.0) ** 2) == pytest.approx(STARS_PER_DEG2, abs=0.005)


def test_the_density_at_the_galactic_poles_is_that_of_the_built_in_catalogue():
    cap_deg2 = 2 * math.pi * (1 - math.cos(math.radians(10.0))) * math.degrees(1.0) ** 2
    poles = ((192.859, 27.128), (12.859, -27.128))
    count = sum(len(cone(tycho2(), *pole, 10.0, faintest_mag=None, epoch_year=2000.0)) for pole in poles)
    assert count / (2 * cap_deg2) == pytest.approx(STARS_PER_DEG2_AT_POLE, rel=0.02)


@pytest.mark.parametrize("exposure", [0.0, -1.0, math.nan, math.inf])
def test_a_main_exposure_must_be_one(exposure):
    with pytest.raises(InputError, match="--main-exposure"):
        compare_guide_scope(rig(COMPOUND), 1.0, focal_length_mm=240.0, aperture_mm=60.0, main_exposure_s=exposure)


@pytest.mark.parametrize("base", RIGS.values(), ids=RIGS)
def test_the_map_holds_the_points(base):
    camera = rig(base, telescope__image_circle_mm=36.0)
    drawn = reach_map(camera)
    for point in reach(camera).points:
        column, row = np.argmin(np.abs(drawn.x_mm - point.x_mm)), np.argmin(np.abs(drawn.y_mm - point.y_mm))
        assert drawn.transmission[row, column] == pytest.approx(point.transmission, abs=0.03)
        assert drawn.faintest_mag[row, column] == pytest.approx(point.faintest_mag, abs=0.1)
    assert np.array_equal(np.isnan(drawn.faintest_mag), drawn.transmission * _edge(camera, drawn) == 0.0)


def _edge(camera, drawn):
    return rig_light(camera).vignetting(np.hypot(drawn.x_mm[None, :], drawn.y_mm[:, None]))


@settings(derandomize=True, deadline=None, max_examples=40)
@given(
    st.sampled_from(list(RIGS.values())),
    st.floats(0.05, 30.0),
    st.floats(1.0, 3.0),
    st.floats(15.0, 22.0),
)
def test_more_time_less_air_and_a_darker_sky_never_reach_less(base, exposure, airmass, sky):
    values = {"guiding.exposure_s": exposure, "guiding.airmass": airmass, "sky.brightness_mag_arcsec2": sky}
    camera = rig(base).with_values(values)

    def centre(changed):
        return point_reach(rig_light(changed), ("centre", 0.0, geometry.centre_mm(changed))).faintest_mag

    for path, better in (
        ("guiding.exposure_s", exposure * 1.3),
        ("guiding.airmass", max(airmass - 0.2, 1.0)),
        ("sky.brightness_mag_arcsec2", sky + 0.5),
    ):
        assert centre(camera.with_values({path: better})) >= centre(camera) - 1e-9
