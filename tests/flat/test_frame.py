"""What is refused as a flat, and the reason that is given."""

import numpy as np
import pytest
from support import flats

from guidestar.errors import InputError
from guidestar.flat.frame import flat_frame
from guidestar.flat.result import Body, Sensor

BODY = Body(1.0, 3.0, 0.0, 8.0, 8.0, 15.0)
SENSOR = Sensor(23.5, 15.7, 23500 / 600, 0.0, BODY)


@pytest.fixture(scope="module")
def plain():
    return flats.plain_flat(3).pixels


def refused(pixels, **more):
    with pytest.raises(InputError) as caught:
        flat_frame(pixels, name="f.fits", **more)
    sentence = str(caught.value)
    assert sentence.startswith("f.fits: ")
    assert "\n" not in sentence
    return sentence


def test_a_flat_passes_and_says_whether_it_had_colours(plain):
    assert not flat_frame(plain, sensor=SENSOR).colour
    colour = flat_frame(flats.plain_flat(3, colour=True).pixels)
    assert colour.colour
    assert colour.pixels.shape == (200, 300)
    assert (colour.width_px, colour.height_px) == (600, 400)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("colour", [False, True])
def test_a_mosaic_is_told_from_its_pixels(seed, colour):
    assert flat_frame(flats.shadowed_flat(seed, "left", 0.4, colour=colour).pixels).colour is colour


def test_binned_frames_of_the_right_camera_pass(plain):
    binned = plain[:400, :600].reshape(200, 2, 300, 2).mean(axis=(1, 3))
    assert flat_frame(binned, sensor=SENSOR, mosaic=False).width_px == 300


@pytest.mark.parametrize("size", [(500, 400), (600, 300), (400, 600), (1000, 800)])
def test_another_cameras_size(size, plain):
    resized = np.resize(plain, size[::-1])
    assert "the rig's camera gives about 600 × 401" in refused(resized, sensor=SENSOR)


def test_saturated(plain):
    assert "saturated" in refused(np.minimum(plain, int(np.median(plain))))


def test_dark_and_empty(plain):
    assert "too dark" in refused((plain / 2000).astype(np.uint16))
    assert "no light" in refused(np.zeros((100, 100)))
    assert "all pixels hold the same value (500)" in refused(np.full((100, 100), 500))


def test_not_numbers(plain):
    values = plain.astype(float)
    values[5, 5] = np.nan
    assert "1 of 240000 pixels hold no number" in refused(values)
    values[5, 5] = np.inf
    assert "1 of 240000 pixels hold no number" in refused(values)
    assert "240000 of 240000" in refused(plain * 1e35)
    assert "of type complex128" in refused(plain.astype(complex))


def test_counts_saved_as_signed_numbers(plain):
    """Above 32767 they come back negative; a few pixels below zero, as after a dark is taken off, are let pass."""
    wrapped = (plain / np.median(plain) * 33000).clip(0, 65535).astype(np.uint16).view(np.int16)
    assert "saved as signed numbers" in refused(wrapped)
    few = plain.astype(float)
    few[:10, :50] = -3.0
    flat_frame(few)


@pytest.mark.parametrize("kind", [np.uint16, np.int32, np.int64, np.float32, ">u2", ">f8"])
def test_every_kind_of_number(plain, kind):
    found = flat_frame(plain.astype(kind))
    assert np.array_equal(found.pixels, plain)


@pytest.mark.parametrize("shape", [(20, 30), (3, 400, 600), (400,)])
def test_not_a_plane_of_some_size(shape):
    assert "a flat must be a plane" in refused(np.ones(shape))


@pytest.mark.parametrize("number", [30, 150])
@pytest.mark.parametrize("colour", [False, True])
def test_stars(number, colour):
    rng = np.random.default_rng(number)
    rows, columns = np.indices((400, 600))
    light = np.full((400, 600), 0.1)
    for _ in range(number):
        distance = (rows - rng.uniform(0, 400)) ** 2 + (columns - rng.uniform(0, 600)) ** 2
        light += rng.uniform(0.05, 0.6) * np.exp(-distance / (2 * 1.8**2))
    frame = flats.expose(light, rng, colour=colour, level_e=20000)
    assert "star-like spots" in refused(frame)


@pytest.mark.parametrize("seed", range(8))
def test_dust_noise_and_hot_pixels_are_no_stars(seed):
    flat_frame(flats.plain_flat(100 + seed, colour=seed % 2 == 0).pixels)
    flat_frame(flats.shadowed_flat(100 + seed, "top", 0.6, colour=seed % 2 == 0).pixels)
