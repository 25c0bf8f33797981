"""The answer to `reach`: text, JSON, guide scope."""

import json
import math
import re

import pytest
from support.rigs import COMPOUND, FAST, NEWTONIAN, REFRACTOR, rig

from guidestar.field import geometry
from guidestar.field.guidescope import compare_guide_scope
from guidestar.field.reach import reach
from guidestar.report import wording as w
from guidestar.report.reach_json import reach_to_json
from guidestar.report.reach_scope_text import render_guide_scope
from guidestar.report.reach_text import render_reach

RIGS = {
    "compound": rig(COMPOUND),
    "newtonian": rig(NEWTONIAN, telescope__image_circle_mm=36.0),
    "refractor": rig(REFRACTOR, telescope__fwhm_arcsec=1.0, guide_camera__binning=2),
    "fast": rig(FAST),
    # Half of the sensor in the dark: a narrow face all but in the focal plane.
    "dark corners": rig(COMPOUND, prism__width_mm=3.0, prism__ahead_mm=0.5, guiding__faintest_mag=11.0),
}
PLACES = {"nine places": None, "one place": (1.0, 15.5)}
NUMBERS = ("transmission", "faintest_mag", "limited_by")


def flat(text):
    return re.sub(r"\s+", " ", text)


@pytest.fixture(params=RIGS)
def camera(request):
    return RIGS[request.param]


@pytest.fixture(params=PLACES)
def place(request):
    return PLACES[request.param]


def scope_of(camera, **more):
    throughput = reach(camera).centre.point.throughput
    return compare_guide_scope(camera, throughput, focal_length_mm=240.0, aperture_mm=60.0, **more)


@pytest.mark.parametrize("width", [46, 60, 80, 120])
def test_no_line_is_longer_than_the_page(camera, place, width):
    for text in (render_reach(reach(camera, place), width=width), render_guide_scope(scope_of(camera), width=width)):
        assert max(map(len, text.splitlines())) <= width
        assert w.NBSP not in text
        assert not re.search(r"\b(nan|inf|None)\b", text)


def test_the_answer_comes_first_then_what_limits_then_what_helps():
    text = render_reach(reach(RIGS["newtonian"]), width=100)
    heads = ("REACH", "LIMIT", "LIT", "EXPOSURE", "PRECISION", "AIR", "WHAT WOULD HELP")
    places = [text.index(f"{head}  ") for head in heads]
    assert places == sorted(places)
    assert text.startswith("fast reflector\n")


def test_figures_are_the_results():
    result = reach(RIGS["fast"])
    text = flat(render_reach(result, width=100))
    assert f"down to G {result.centre.point.faintest_mag:.2f} at the centre" in text
    for row in result.exposures:
        assert f"{row.exposure_s:g} s {row.centre:.2f} {row.half:.2f} {row.edge:.2f} {row.corner:.2f}" in text
    for remedy in result.remedies:
        if remedy.gain_mag > 0.05:
            assert f"{remedy.gain_mag:+.2f} {remedy.gain_centre_mag:+.2f} {remedy.gain_corner_mag:+.2f}" in text
    assert f"Stars brighter than G {result.centre.saturation_mag:.2f} fill" in text
    assert f"Lost light costs {result.centre.point.lost_mag:.2f} mag at the centre" in text


def test_each_wish_and_each_noise_has_its_sentence():
    peak = flat(render_reach(reach(rig(COMPOUND, guide_camera__read_noise_e=9.0)), width=100))
    assert "would not stand 3 times above the noise of a pixel (guiding.min_peak_snr)" in peak
    assert "is the camera's read noise" in peak
    whole = flat(render_reach(reach(rig(COMPOUND, guiding__min_peak_snr=1.0, guiding__min_snr=50.0)), width=100))
    assert "below a signal to noise of 50 (guiding.min_snr)" in whole
    camera = RIGS["dark corners"]
    corner = next(point for point in reach(camera).points if point.spot == "corner")
    dark = flat(render_reach(reach(camera, (corner.x_mm, corner.y_mm)), width=100))
    assert "LIMIT Lost light: no light at all comes there." in dark
    assert "off the guide sensor" not in dark
    beside = flat(render_reach(reach(rig(COMPOUND), (3.2, geometry.centre_mm(rig(COMPOUND)))), width=100))
    assert "off the guide sensor" in beside


def test_dark_corners_are_said_to_be_dark():
    text = flat(render_reach(reach(RIGS["dark corners"]), width=100))
    assert "to nothing (no light comes there) in the worst corner" in text
    assert re.search(r"1 s \d\d\.\d\d \d\d\.\d\d dark dark", text)


def test_a_fixed_limit_is_told_apart():
    text = flat(render_reach(reach(RIGS["dark corners"]), width=100))
    assert "guiding.faintest_mag = 11: “check” goes by that everywhere" in text
    assert "faintest_mag" not in render_reach(reach(RIGS["compound"]), width=100)


def test_warnings_are_printed():
    assert "WARNING Star images" in flat(render_reach(reach(RIGS["refractor"]), width=100))


def test_nothing_to_gain_is_said():
    result = reach(rig(COMPOUND))
    idle = flat(render_reach(result, width=100)).split("No gain from: ")[1]
    assert "a prism 21 mm wide" in idle


def test_colour_adds_codes_and_nothing_else(camera):
    plain, coloured = (render_reach(reach(camera), width=80, colour=colour) for colour in (False, True))
    assert "\x1b[" not in plain
    bare = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert [line.rstrip() for line in bare.splitlines()] == plain.splitlines()


def no_constant(word):
    pytest.fail(f"{word} is not JSON")


def test_json_has_the_agreed_fields_and_no_nan(camera, place):
    text = json.dumps(reach_to_json(reach(camera, place), scope_of(camera)), allow_nan=False)
    found = json.loads(text, parse_constant=no_constant)
    assert found["schema"] == "guidestar.reach/1"
    assert set(found) >= {"rig", "exposure_s", "airmass", "centre", "points", "lit", "exposures", "remedies",
                          "image_motion_arcsec", "scintillation"}  # fmt: skip
    assert set(found["centre"]) >= {*NUMBERS, "saturation_mag", "snr", "centroid_arcsec", "centroid_main_px"}
    for name in ("snr", "centroid_arcsec", "centroid_main_px"):
        assert list(found["centre"][name]) == ["10", "12", "14"]
    assert len(found["points"]) == (9 if place is None else 1)
    for point in found["points"]:
        assert set(point) >= {"x_mm", "y_mm", *NUMBERS}
        assert (point["faintest_mag"] is None) == (point["limited_by"] == "no light")
        assert point["limited_by"] in {"snr", "peak", "no light"}
    assert math.fsum(found["lit"].values()) == pytest.approx(1.0, abs=1e-9)
    assert set(found["lit"]) == {"full", "half", "less"}
    assert [row["exposure_s"] for row in found["exposures"]] == [0.5, 1.0, 2.0, 4.0, 8.0]
    assert all(set(row) >= {"centre", "edge", "corner"} for row in found["exposures"])
    assert all(("given" in row) == (place is not None) for row in found["exposures"])


def test_json_values_are_the_results():
    result = reach(RIGS["fast"], (1.0, 19.0))
    found = reach_to_json(result)
    assert found["guide_scope"] is None
    assert found["given"]["faintest_mag"] == pytest.approx(result.given.point.faintest_mag, abs=5e-4)
    assert found["centre"]["transmission"] == pytest.approx(result.centre.point.transmission, abs=1e-6)
    assert found["remedies"][0]["gain_mag"] == pytest.approx(result.remedies[0].gain_mag, abs=5e-4)
    assert found["fixed_limit_mag"] is None
    assert reach_to_json(reach(RIGS["dark corners"]))["fixed_limit_mag"] == 11.0


def test_the_comparison_says_when_a_guide_scope_will_do():
    scope = scope_of(RIGS["compound"], main_exposure_s=600.0)
    text = flat(render_guide_scope(scope, width=100))
    for words in ("FLEXURE", "GOOD ENOUGH", "NOT GOOD ENOUGH", "FIND OUT", "6 of 600 s", "f/4", "an average, no count"):
        assert words in text
    assert f"by {scope.flexure.arcsec:.2f}″ before your picture moves by a pixel" in text
    assert f"0.8 {scope.guide_scope.catalogue_stars():.0f}" in text
    assert "Its light is enough" in text


def test_a_guide_scope_too_small_is_said_to_be():
    camera = rig(COMPOUND, sky__brightness_mag_arcsec2=17.0, camera__pixel_um=1.0)
    small = compare_guide_scope(camera, 1.0, focal_length_mm=60.0, aperture_mm=10.0)
    text = flat(render_guide_scope(small, width=100))
    assert "Its light is no help here" in text
    assert "Not all of these stars are within the guide scope's reach" in text
    coarse = compare_guide_scope(camera, 1.0, focal_length_mm=80.0, aperture_mm=40.0)
    text = flat(render_guide_scope(coarse, width=100))
    assert "WARNING With the guide scope most of a star falls into one pixel" in text


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        (w.exposure(2.0), "2 s"),
        (w.exposure(0.5), "0.5 s"),
        (w.percent(0.0), "0 %"),
        (w.percent(0.004), "under 1 %"),
        (w.percent(1.234), "123 %"),
        (w.arcsec(0.0), "0.000″"),
        (w.arcsec(0.0001), "under 0.001″"),
        (w.arcsec(0.0437), "0.044″"),
        (w.arcsec(0.437), "0.44″"),
        (w.arcsec(4.37), "4.4″"),
        (w.arcsec(math.inf), "–"),
        (w.small(0.0001), "under 0.001"),
    ],
)
def test_wording_of_light(written, expected):
    assert written.replace(w.NBSP, " ") == expected
