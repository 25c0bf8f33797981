"""The page of a sky map: where things are drawn on the sky, and the ramp."""

import dataclasses
import time

import numpy as np
import pytest
from support.places import PLACES
from support.rigs import COMPOUND, rig
from support.sky_maps import invented_map

from guidestar.errors import InputError
from guidestar.field.check import target_of
from guidestar.maps.summary import summarise
from guidestar.maps.targets import TargetHere
from guidestar.report import map_ramp, map_sky, palette
from guidestar.report.map_figure import draw_latitudes, map_page, save_map, sparse_share
from guidestar.report.paper import new_figure
from guidestar.sky import frames, healpix
from guidestar.sky.place import Place

FRAMES = ("galactic", "equatorial")


def page(sky, targets=()):
    return map_page(sky, summarise(sky), targets)


def found(axes, gid):
    return axes.findobj(lambda item: item.get_gid() == gid)


def listed(names=PLACES):
    return [
        TargetHere(number, name, target_of(Place(name, *PLACES[name], "coordinates")))
        for number, name in enumerate(names, start=1)
    ]


def lightness_of(rgb):
    return map_ramp.lightness(palette.luminance("#" + "".join(f"{round(255 * value):02x}" for value in rgb)))


@pytest.mark.parametrize("ink", [palette.ACCENT, palette.INK])
def test_the_ramp_is_even_in_lightness(ink):
    steps = np.diff([lightness_of(colour) for colour in map_ramp.tints(ink, np.linspace(0.0, 1.0, 11))])
    assert np.all(steps < 0.0)
    assert steps == pytest.approx(np.full(10, steps.mean()), abs=0.6)


def test_the_ramp_falls_in_red_light_too_and_keeps_its_ends():
    colours = map_ramp.tints(palette.ACCENT, np.linspace(0.0, 1.0, 11))
    assert np.all(np.diff(colours[:, 0]) < 0.0)  # all that red light shows
    assert colours[0] == pytest.approx(1.0)
    assert colours[-1] == pytest.approx([0x0B / 255, 0x3C / 255, 0x6F / 255], abs=0.002)
    assert map_ramp.dark_is_little()(0.0)[:3] == pytest.approx(colours[-1], abs=0.002)
    assert map_ramp.dark_is_little()(1.0)[:3] == pytest.approx([1.0, 1.0, 1.0])


def test_lightness_has_its_published_anchors():
    # CIE 1976: L* is 100 for white, 0 for black, about 50 for a luminance of 18.42 %.
    assert map_ramp.lightness([1.0, 0.0, 0.1842]) == pytest.approx([100.0, 0.0, 50.0], abs=0.01)


@pytest.mark.parametrize("frame", FRAMES)
def test_the_drawing_is_of_equal_area(frame):
    """Every pixel of the sky gets its share of the dots."""
    pixels = np.arange(12 * 4**2, dtype=np.float64)
    dots = map_sky.on_raster(frame, pixels, 2)
    counts = np.bincount(dots[~np.isnan(dots)].astype(int), minlength=len(pixels))
    assert counts / counts.mean() == pytest.approx(np.ones(len(pixels)), abs=0.01)


@pytest.mark.parametrize("frame", FRAMES)
def test_places_and_pixels_are_drawn_at_the_same_spot(frame):
    raster = map_sky.drawing(frame, 600)
    rows, columns = np.nonzero(raster.inside)
    chosen = np.random.default_rng(1).choice(len(rows), 300, replace=False)
    ra, dec = (axis[rows[chosen], columns[chosen]] for axis in (raster.ra_deg, raster.dec_deg))
    x, y = map_sky.place_on(frame, ra, dec)
    # The library finds Mollweide's angle by iteration and stops at 0.001: 0.03 mm on the page.
    assert x == pytest.approx(((columns[chosen] + 0.5) / 600 * 2 - 1) * map_sky.HALF_WIDTH, abs=2e-3)
    assert y == pytest.approx(((rows[chosen] + 0.5) / 300 * 2 - 1) * map_sky.HALF_HEIGHT, abs=2e-3)


def test_seen_from_inside_longitude_grows_to_the_left():
    x, y = map_sky.to_drawing([90.0, 0.0, 270.0, 0.0], [0.0, 0.0, 0.0, 60.0])
    assert x[0] < x[1] < x[2]
    assert x[1] == pytest.approx(0.0)
    assert y[3] > 0.0
    l_deg, b_deg = frames.icrs_to_galactic(266.405, -28.936)  # the galactic centre (IAU 1958), within 0.1°
    assert map_sky.place_on("galactic", 266.405, -28.936)[0] == pytest.approx(0.0, abs=0.01)
    assert (min(l_deg, 360 - l_deg), b_deg) == pytest.approx((0.0, 0.0), abs=0.1)


@pytest.mark.parametrize("frame", FRAMES)
def test_the_picture_holds_the_maps_values(frame):
    sky = invented_map(16)
    figure = page(sky)
    axes = figure.axes[FRAMES.index(frame)]
    [picture] = found(axes, "map")
    values = np.asarray(picture.get_array())
    ra, dec = healpix.pixel_centres(sky.ipix, sky.order)
    x, y = map_sky.place_on(frame, ra, dec)
    rows, columns = values.shape
    column = ((x / map_sky.HALF_WIDTH + 1) / 2 * columns).astype(int)
    row = ((y / map_sky.HALF_HEIGHT + 1) / 2 * rows).astype(int)
    drawn = values[row, column]
    sky_dots = ~np.isnan(drawn)  # a few centres lie on the ellipse itself, where the nearest dot is off the sky
    assert np.count_nonzero(~sky_dots) < 20
    assert drawn[sky_dots] == pytest.approx(sky.coverage.usable_fraction[sky_dots], abs=1e-12)
    assert picture.get_clim() == (0.0, 1.0)


def test_no_data_and_what_was_not_asked_for_are_hatched_differently():
    sky = invented_map(8, bounds_deg=(-30.0, 90.0), no_data_beyond_dec_deg=60.0)
    figure = page(sky)
    for axes in figure.axes[:2]:
        for gid, hatch in (("no data", "xxxx"), ("left out", "...")):
            [filled] = found(axes, gid)
            assert hatch in filled.hatches
    assert {"no data", "not asked for"} <= {text.get_text() for text in figure.texts}
    whole = page(invented_map(8))
    assert not found(whole.axes[0], "no data")
    assert not {"no data", "not asked for"} & {text.get_text() for text in whole.texts}


def test_sparse_regions_are_outlined_where_they_are():
    sky = invented_map(16, richness=1.2)
    figure = page(sky)
    lines = found(figure.axes[0], "sparse")
    assert len(lines) == 2  # white below ink
    share = sparse_share("galactic", sky, 0.25)
    assert 0.0 < np.nanmean(share < 0.5) < 1.0
    rows, columns = share.shape
    vertices = np.concatenate([path.vertices for path in lines[1].get_paths()])
    column = (vertices[:, 0] / map_sky.HALF_WIDTH + 1) / 2 * columns - 0.5
    row = (vertices[:, 1] / map_sky.HALF_HEIGHT + 1) / 2 * rows - 0.5
    around = np.stack([share[(row + a).astype(int), (column + b).astype(int)] for a in (0, 0.999) for b in (0, 0.999)])
    known = ~np.isnan(around).any(axis=0)
    assert np.all(around[:, known].min(axis=0) <= 0.51)
    assert np.all(around[:, known].max(axis=0) >= 0.49)


def test_where_nothing_is_sparse_nothing_is_outlined():
    line = found(page(invented_map(8, richness=50.0)).axes[0], "sparse")[1]
    assert not [path for path in line.get_paths() if len(path.vertices)]


@pytest.mark.parametrize("frame", FRAMES)
def test_targets_are_marked_at_their_places_and_named(frame):
    sky = invented_map(4)
    targets = [*listed(), TargetHere(99, "nonsense", error="no such thing")]
    axes = page(sky, targets).axes[FRAMES.index(frame)]
    marks = found(axes, "target")
    x, y = map_sky.place_on(frame, *np.array(list(PLACES.values())).T)
    for mark in marks:
        assert mark.get_xydata() == pytest.approx(np.stack([x, y], axis=1))
    names = {text.get_text().replace("\N{NO-BREAK SPACE}", " ") for text in axes.texts}
    assert set(PLACES) <= names
    assert "nonsense" not in names


def test_curves_are_the_bands():
    summary = summarise(invented_map(8))
    axes = new_figure((4.0, 3.0)).add_axes((0.1, 0.1, 0.8, 0.8))
    draw_latitudes(axes, summary)
    for name, values in (
        ("usable", [band.usable.mean for band in summary.bands]),
        ("sure", [band.sure.mean for band in summary.bands]),
        ("expected*", [band.expected.mean for band in summary.bands]),
        ("worst 5 %", [band.usable.low for band in summary.bands]),
    ):
        [steps] = found(axes, name)
        assert steps.get_data().values == pytest.approx([100.0 * value for value in values])
        assert list(steps.get_data().edges) == [0.0, 10.0, 20.0, 30.0, 45.0, 60.0, 90.0]
    assert {"usable", "sure", "expected*", "worst 5 %"} <= {text.get_text() for text in axes.texts}


def test_a_sky_without_any_data_is_drawn_all_the_same(tmp_path):
    assert save_map(*_answer(invented_map(2, no_data_beyond_dec_deg=-91.0)), tmp_path / "a.png").stat().st_size > 3000


def _answer(sky, targets=()):
    return sky, summarise(sky), targets


@pytest.mark.parametrize("suffix", ["png", "svg"])
def test_the_same_map_gives_the_same_bytes(tmp_path, suffix):
    answer = _answer(invented_map(4), listed(["equator", "mid south"]))
    first, second = (save_map(*answer, tmp_path / f"{name}.{suffix}").read_bytes() for name in "ab")
    assert first == second


def test_a_dollar_sign_in_a_name_is_one():
    sky = invented_map(2, camera=rig(COMPOUND).with_values({"name": "$5 rig $x^2$"}))
    assert any(text.get_text() == "$5 rig $x^2$" for text in page(sky).texts)


def test_another_suffix_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"\.png, \.svg or \.pdf"):
        save_map(*_answer(invented_map(2)), tmp_path / "a.jpg")


def test_the_time_does_not_grow_with_the_maps_resolution(tmp_path):
    coarse, fine = (_answer(invented_map(nside)) for nside in (4, 128))
    save_map(*coarse, tmp_path / "a.png")  # rasters and fonts are found once
    times = []
    for answer in (coarse, fine):
        begun = time.process_time()
        save_map(*answer, tmp_path / "a.png")
        times.append(time.process_time() - begun)
    # 1024 times as many pixels; polygon by polygon it would be minutes.
    assert times[1] < 2.5 * times[0] + 0.3


def test_a_map_is_not_changed_by_being_drawn():
    sky = invented_map(4)
    before = dataclasses.replace(sky.coverage, **{"usable_fraction": sky.coverage.usable_fraction.copy()})
    page(sky)
    assert np.array_equal(before.usable_fraction, sky.coverage.usable_fraction)
