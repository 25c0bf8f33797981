import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from photutils.geometry import circular_overlap_grid
from scipy.integrate import quad
from support.light_rays import at_plane

from guidestar.optics.footprint import Footprint, Rectangle, beam_footprint, disc_rectangle_area, share_in_rectangle
from guidestar.optics.transmission import PrismFace, shadow_share, throughput, transmission

F_RATIOS = (2.8, 4.0, 5.0, 7.0, 10.0)
FACES = ((8.0, 8.0), (12.0, 12.0), (14.0, 8.0))
seeded = settings(derandomize=True, deadline=None, max_examples=200)


def telescope(f_ratio, exit_pupil_mm, obstruction_ratio=0.35, ahead_mm=55.0):
    focal_mm = 1000.0
    aperture_mm = focal_mm / f_ratio
    return beam_footprint(
        focal_length_mm=focal_mm,
        aperture_mm=aperture_mm,
        central_obstruction_mm=obstruction_ratio * aperture_mm,
        ahead_mm=ahead_mm,
        exit_pupil_mm=exit_pupil_mm,
    )


# ---------------------------------------------------------------- the area itself


def area_by_quadrature(x_min, x_max, y_min, y_max):
    """Integrate the chord's part between y_min and y_max over x, splitting where its ends change."""

    def chord(x):
        half = math.sqrt(max(0.0, 1.0 - x * x))
        return max(0.0, min(y_max, half) - max(y_min, -half))

    low, high = max(x_min, -1.0), min(x_max, 1.0)
    if low >= high:
        return 0.0
    bends = [sign * math.sqrt(1.0 - y * y) for y in (y_min, y_max) if abs(y) < 1.0 for sign in (-1.0, 1.0)]
    cuts = [low, *sorted(b for b in bends if low < b < high), high]
    # x = sin(angle) takes the infinite slope at the rim out of the integrand.
    return sum(
        quad(lambda a: chord(math.sin(a)) * math.cos(a), math.asin(p), math.asin(q), epsabs=1e-13, epsrel=1e-12)[0]
        for p, q in pairwise(cuts)
    )


def random_rectangles(count, seed):
    rng = np.random.default_rng(seed)
    xs, ys = np.sort(rng.uniform(-1.6, 1.6, (count, 2)), axis=1), np.sort(rng.uniform(-1.6, 1.6, (count, 2)), axis=1)
    return np.column_stack((xs, ys))


def test_disc_rectangle_area_equals_quadrature_to_1e_10():
    rectangles = random_rectangles(400, seed=1)
    closed = disc_rectangle_area(*rectangles.T)
    slow = np.array([area_by_quadrature(*row) for row in rectangles])
    assert np.max(np.abs(closed - slow)) < 1e-10
    assert np.count_nonzero(slow > 0.01) > 200  # the sample does exercise real overlaps


def test_disc_rectangle_area_equals_an_outside_library():
    """photutils.geometry.circular_overlap_grid, exact mode: share of one cell that a disc covers."""
    for radius in (0.3, 1.0, 7.5):
        for x_min, x_max, y_min, y_max in random_rectangles(200, seed=2) * radius:
            cell = (x_max - x_min) * (y_max - y_min)
            outside = circular_overlap_grid(x_min, x_max, y_min, y_max, 1, 1, radius, 1, 1)[0, 0] * cell
            mine = disc_rectangle_area(x_min, x_max, y_min, y_max, radius)
            assert mine == pytest.approx(outside, abs=1e-10 * radius**2)


@pytest.mark.parametrize("size", [1e-9, 1.0, 1e9])
def test_disc_rectangle_area_by_hand_at_any_size(size):
    inf = math.inf
    assert disc_rectangle_area(-inf, inf, -inf, inf, size) == pytest.approx(math.pi * size**2, rel=1e-14)
    assert disc_rectangle_area(0, inf, -inf, inf, size) == pytest.approx(math.pi / 2 * size**2, rel=1e-14)
    assert disc_rectangle_area(0, size, 0, 2 * size, size) == pytest.approx(math.pi / 4 * size**2, rel=1e-14)
    assert disc_rectangle_area(-size / 2, size / 2, -size / 4, size / 4, size) == pytest.approx(size**2 / 2, rel=1e-14)
    assert disc_rectangle_area(size, 3 * size, -size, size, size) == pytest.approx(0.0, abs=1e-15 * size**2)
    # Circular segment beyond half the radius: θ/2 − sin(θ)/2 with θ = 120°.
    segment = math.pi / 3 - math.sqrt(3) / 4
    assert disc_rectangle_area(size / 2, inf, -inf, inf, size) == pytest.approx(segment * size**2, rel=1e-14)


def test_disc_rectangle_area_stays_smooth_where_a_corner_crosses_the_rim():
    """The two branches of the closed form meet: a corner just inside and just outside give nearly the same area."""
    angle = np.linspace(0.0, 2 * math.pi, 721)
    inside, outside = (
        disc_rectangle_area(-2.0, r * np.cos(angle), -2.0, r * np.sin(angle)) for r in (1 - 1e-9, 1 + 1e-9)
    )
    assert np.max(np.abs(inside - outside)) < 1e-8


# ---------------------------------------------------------------- T against rays


def ray_share(x_mm, y_mm, *, f_ratio, obstruction_ratio, ahead_mm, exit_pupil_mm, inside, seed):
    """Trace rays from the exit pupil (radius P/2N, on the axis) to a focal-plane point, and count them at the face."""
    beam = {"f_ratio": f_ratio, "obstruction": obstruction_ratio, "pupil_mm": exit_pupil_mm}
    return np.mean(inside(*at_plane(x_mm, y_mm, ahead_mm, **beam, count=220, seed=seed)))


def test_transmission_equals_traced_rays_at_30_points_for_every_f_ratio_and_prism():
    """Within 0.5 %; the worst difference over the 450 cases is printed with -s."""
    rng = np.random.default_rng(3)
    worst, seed, lit_partly = 0.0, 0, 0
    for f_ratio in F_RATIOS:
        for width, height in FACES:
            offset, ahead, obstruction = 15.0, rng.uniform(25, 80), rng.choice([0.0, 0.25, 0.4])
            pupil = rng.choice([350.0, 1000.0, math.inf])
            beam = telescope(f_ratio, pupil, obstruction, ahead)
            face = PrismFace(width, height, offset)
            x = rng.uniform(-12, 12, 30)
            y = rng.uniform(offset - 12, offset + 12, 30)
            mine = transmission(x, y, beam, face)
            for k in range(30):
                seed += 1
                traced = ray_share(
                    x[k],
                    y[k],
                    f_ratio=f_ratio,
                    obstruction_ratio=obstruction,
                    ahead_mm=ahead,
                    exit_pupil_mm=pupil,
                    inside=lambda at_x, at_y, w=width, h=height, middle=offset: (
                        (np.abs(at_x) <= w / 2) & (np.abs(at_y - middle) <= h / 2)
                    ),
                    seed=seed,
                )
                worst = max(worst, abs(mine[k] - traced))
                lit_partly += 0.02 < traced < 0.98
    print(f"\nworst difference of T from traced rays: {worst:.5f} ({lit_partly} of 450 points partly lit)")
    assert worst < 0.005
    assert lit_partly > 150


def test_shadow_equals_traced_rays():
    beam, face = telescope(4.0, 600.0), PrismFace(8.0, 8.0, 12.0)
    rng = np.random.default_rng(4)
    x, y = rng.uniform(-12, 12, 30), rng.uniform(0, 14, 30)
    mine = shadow_share(x, y, beam, face, 12.0)
    for k in range(30):
        traced = ray_share(
            x[k],
            y[k],
            f_ratio=4.0,
            obstruction_ratio=0.35,
            ahead_mm=55.0,
            exit_pupil_mm=600.0,
            inside=lambda at_x, at_y: (np.abs(at_x) <= 6.0) & (at_y >= 8.0),
            seed=k,
        )
        assert mine[k] == pytest.approx(traced, abs=0.005)
    assert np.count_nonzero((mine > 0.02) & (mine < 0.98)) >= 8


# ---------------------------------------------------------------- T by hand


def test_design_example_of_a_dip_in_the_middle():
    """DESIGN, Light: f/4, s = 60 mm, ε = 0.4, 8 × 8 mm: 0.24 at the centre, 0.29 at 3 mm aside."""
    beam, face = telescope(4.0, math.inf, 0.4, 60.0), PrismFace(8.0, 8.0, 14.0)
    assert transmission(0.0, 14.0, beam, face) == pytest.approx(0.24, abs=0.005)
    assert transmission(3.0, 14.0, beam, face) == pytest.approx(0.29, abs=0.005)
    assert transmission(0.0, 11.0, beam, face) == pytest.approx(0.29, abs=0.005)


def test_centre_by_hand_if_the_face_lies_inside_the_beam():
    """A face inside the outer and holding the inner circle: T = (w·h − π(εR)²) / (πR²(1 − ε²))."""
    beam, face = Footprint(radius_mm=7.5, obstruction_ratio=0.4, scale=1.0), PrismFace(8.0, 8.0, 14.0)
    by_hand = (64 - math.pi * 3**2) / (math.pi * 7.5**2 * (1 - 0.16))
    assert transmission(0.0, 14.0, beam, face) == pytest.approx(by_hand, rel=1e-13)


def test_face_in_the_focal_plane_gives_all_or_nothing():
    beam, face = telescope(4.0, 800.0, ahead_mm=0.0), PrismFace(8.0, 6.0, 14.0)
    x = np.array([0.0, 3.999, 4.001, 0.0, 0.0, 4.0, -4.0, 4.0, 0.0])
    y = np.array([14.0, 14.0, 14.0, 16.999, 17.001, 14.0, 11.0, 17.0, 11.0])
    assert transmission(x, y, beam, face) == pytest.approx([1, 1, 0, 1, 0, 0.5, 0.25, 0.25, 0.5])


@pytest.mark.parametrize("ahead_mm", [1e-12, 1e-6, 1e-3])
def test_vanishing_beam_tends_to_the_same_rim_values(ahead_mm):
    beam, face = telescope(4.0, math.inf, ahead_mm=ahead_mm), PrismFace(8.0, 6.0, 14.0)
    found = transmission([0.0, 4.0, 4.0, 5.0], [14.0, 14.0, 17.0, 14.0], beam, face)
    assert found == pytest.approx([1.0, 0.5, 0.25, 0.0], abs=2e-3)


def test_prism_that_covers_the_beam_passes_all_and_a_far_star_nothing():
    beam, face = telescope(5.0, 700.0), PrismFace(30.0, 30.0, 20.0)
    centre = 20.0 / beam.scale
    assert transmission([0.0, 5.0, -9.0], [centre, centre - 4, centre + 9], beam, face) == pytest.approx([1, 1, 1])
    assert transmission([0.0, 60.0, 0.0], [centre + 60, centre, -40.0], beam, face) == pytest.approx([0, 0, 0])


def test_half_plane_gives_half_at_its_edge():
    beam = telescope(4.0, 500.0)
    half_plane = Rectangle(-math.inf, math.inf, 10.0, math.inf)
    assert share_in_rectangle(3.0, 10.0 / beam.scale, beam, half_plane) == pytest.approx(0.5, abs=1e-14)
    wide = PrismFace(1e4, 1e4, 10.0 + 5e3)
    assert transmission(3.0, 10.0 / beam.scale, beam, wide) == pytest.approx(0.5, abs=1e-12)


def test_finite_exit_pupil_moves_and_does_not_resize_the_footprint():
    near, far = telescope(4.0, 200.0), telescope(4.0, math.inf)
    assert near.radius_mm == far.radius_mm == pytest.approx(55.0 / 8)
    face = PrismFace(8.0, 8.0, 14.0)
    y = np.linspace(8.0, 26.0, 19)
    at_scale = transmission(0.0, y / near.scale, near, face)
    assert at_scale == pytest.approx(transmission(0.0, y, far, face), abs=1e-14)


def test_nan_in_gives_nan_and_shapes_broadcast():
    beam, face = telescope(4.0, 500.0), PrismFace(8.0, 8.0, 14.0)
    assert math.isnan(transmission(math.nan, 14.0, beam, face))
    assert transmission(np.zeros((3, 1)), np.linspace(10, 18, 5), beam, face).shape == (3, 5)
    assert transmission(np.empty(0), np.empty(0), beam, face).shape == (0,)


def test_many_points_in_pieces_equal_the_same_points_one_by_one():
    beam, face = telescope(4.0, 500.0), PrismFace(8.0, 8.0, 14.0)
    rng = np.random.default_rng(6)
    x, y = rng.uniform(-10, 10, (171, 119)), rng.uniform(4, 24, (171, 119))  # 20349 points: three unequal pieces
    whole = transmission(x, y, beam, face)
    assert whole.shape == x.shape
    assert np.array_equal(whole, np.array([transmission(*row, beam, face) for row in zip(x, y, strict=True)]))
    column, row = y[:, :1], x[:1]
    grid = transmission(row, column, beam, face)
    assert np.array_equal(grid, transmission(*np.broadcast_arrays(row, column), beam, face))


# ---------------------------------------------------------------- properties

beams = st.builds(
    Footprint,
    radius_mm=st.floats(0.01, 20.0),
    obstruction_ratio=st.floats(0.0, 0.9),
    scale=st.floats(0.5, 1.0),
)
faces = st.builds(PrismFace, st.floats(0.5, 30.0), st.floats(0.5, 30.0), st.floats(0.0, 40.0))
points = st.tuples(st.floats(-40.0, 40.0), st.floats(-40.0, 60.0))


@seeded
@given(beams, faces, points)
@example(Footprint(1.0, 0.0, 1.0), PrismFace(2.0, 2.0, 10.0), (0.0, 10.0))
@example(Footprint(1.0, 1.1e-308, 1.0), PrismFace(1.0, 1.0, 0.0), (0.0, 0.0))  # overflowed once
def test_transmission_is_a_share_and_symmetric(beam, face, point):
    x, y = point
    found = float(transmission(x, y, beam, face))
    assert 0.0 <= found <= 1.0
    assert found == pytest.approx(float(transmission(-x, y, beam, face)), abs=1e-12)
    mirrored_y = 2 * face.offset_mm / beam.scale - y
    assert found == pytest.approx(float(transmission(x, mirrored_y, beam, face)), abs=1e-9)


@seeded
@given(beams, faces, points, st.floats(1.0, 3.0), st.floats(1.0, 3.0))
def test_larger_prism_never_passes_less(beam, face, point, wider, higher):
    larger = PrismFace(face.width_mm * wider, face.height_mm * higher, face.offset_mm)
    assert transmission(*point, beam, larger) >= transmission(*point, beam, face) - 1e-12


@seeded
@given(beams, faces, points)
def test_two_halves_of_a_prism_add_up(beam, face, point):
    quarter = face.height_mm / 4
    low = PrismFace(face.width_mm, face.height_mm / 2, face.offset_mm - quarter)
    high = PrismFace(face.width_mm, face.height_mm / 2, face.offset_mm + quarter)
    parts = transmission(*point, beam, low) + transmission(*point, beam, high)
    assert parts == pytest.approx(float(transmission(*point, beam, face)), abs=1e-11)


@seeded
@given(beams, faces)
def test_all_light_is_counted_once(beam, face):
    """Fubini: T summed over the plane is the face's area, whatever the beam, as every ray counts once."""
    reach_x, reach_y = face.width_mm / 2 + beam.radius_mm, face.height_mm / 2 + beam.radius_mm
    x = (np.arange(300) + 0.5) / 300 * 2 * reach_x - reach_x
    y = (np.arange(300) + 0.5) / 300 * 2 * reach_y - reach_y
    at_face = Footprint(beam.radius_mm, beam.obstruction_ratio, 1.0)
    lit = transmission(x[None, :], face.offset_mm + y[:, None], at_face, face)
    area = np.sum(lit) * (x[1] - x[0]) * (y[1] - y[0])
    assert area == pytest.approx(face.width_mm * face.height_mm, rel=0.03)


# ---------------------------------------------------------------- shadow and throughput


def test_shadow_begins_at_the_side_on_clear_offset():
    """DESIGN: the shallowest clear offset is h/2 + (1 − s/P)·H/2 + R for a sensor of height H."""
    beam, sensor_height = telescope(4.0, 600.0), 16.0
    clear = 8.0 / 2 + beam.scale * sensor_height / 2 + beam.radius_mm
    edge = sensor_height / 2
    assert shadow_share(0.0, edge, beam, PrismFace(8.0, 8.0, clear), 8.0) == pytest.approx(0.0, abs=1e-12)
    assert shadow_share(0.0, edge, beam, PrismFace(8.0, 8.0, clear - 0.5), 8.0) > 1e-3
    y = np.linspace(0.0, edge, 9)
    assert np.all(np.diff(shadow_share(0.0, y, beam, PrismFace(8.0, 8.0, clear - 3.0), 8.0)) >= 0)


def test_holder_wider_than_the_prism_shadows_more_and_a_narrower_one_the_same():
    beam, face = telescope(4.0, 600.0), PrismFace(8.0, 8.0, 12.0)
    plain, wide, narrow = (float(shadow_share(0.0, 6.0, beam, face, w)) for w in (8.0, 14.0, 3.0))
    assert wide > plain + 0.01
    assert narrow == plain


def test_what_the_prism_takes_from_a_main_sensor_point_includes_what_it_sends_on():
    beam, face = telescope(4.0, 600.0), PrismFace(8.0, 8.0, 12.0)
    y = np.linspace(0.0, 20.0, 41)
    assert np.all(shadow_share(1.0, y, beam, face, 8.0) >= transmission(1.0, y, beam, face) - 1e-12)


def test_throughput_is_transmission_times_vignetting():
    beam, face = telescope(5.0, 700.0), PrismFace(10.0, 8.0, 15.0)
    x, y = np.array([0.0, 3.0, 0.0]), np.array([15.0, 17.0, 21.0])
    lit = transmission(x, y, beam, face)
    assert throughput(x, y, beam, face, None) == pytest.approx(lit)
    assert throughput(x, y, beam, face, math.inf) == pytest.approx(lit)
    assert throughput(x, y, beam, face, 60.0) == pytest.approx(lit)
    # Circle of radius 16; beam diameter 55/5 = 11 mm: V = 1 − (ρ − 16)/11 outside.
    loss = np.array([1.0, 1 - (math.hypot(3, 17) - 16) / 11, 1 - 5 / 11])
    assert throughput(x, y, beam, face, 32.0) == pytest.approx(lit * loss)
