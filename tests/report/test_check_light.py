"""What `check` says of light: columns, marks, exposure, hints, what the catalogue lacks. All stars are invented."""

import dataclasses
import json
import re

import numpy as np
import pytest
from support.rigs import COMPOUND, rig
from support.stars import sky_around

from guidestar.field.asked import Question
from guidestar.field.check import check, check_at_shortest_exposure
from guidestar.field.light import USUAL_EXPOSURES_S
from guidestar.report.json_output import to_json
from guidestar.report.text import render
from guidestar.sky.place import Place
from guidestar.stars.flags import StarFlag

HERE = (80.0, 20.0)
TARGET = Place("somewhere", *HERE, "coordinates")
STARS = np.array([[15.3, 30.0, 9.0], [15.6, 36.0, 11.3], [15.0, 200.0, 13.4]])
COMPLETE = {"complete_to_mag": 10.5}


def flat(text):
    return re.sub(r"\s+", " ", text)


def sky(stars=STARS, flags=None, **more):
    return sky_around(HERE, rig(COMPOUND), stars[:, 0], stars[:, 1], stars[:, 2], flags=flags, **(COMPLETE | more))


def answer(ask=check, stars=STARS, question=None, flags=None, more=None, **changes):
    return ask(
        TARGET, rig(COMPOUND, **changes), sky(stars, flags, **(more or {})), epoch_year=2026.9, question=question
    )


@pytest.mark.parametrize("width", [46, 60, 80, 100, 120])
def test_no_line_is_longer_than_the_page_with_light_columns(width):
    for question in (None, Question(33.0, 1.0, any_side=True)):
        text = render(answer(question=question), width=width)
        assert max(map(len, text.splitlines())) <= width
        assert "SNR" in text


def test_the_light_of_each_star_of_the_best_angle_is_told():
    result = answer()
    text = flat(render(result, width=100))
    for item in result.best_sure.placements:
        light = item.light
        row = f"{item.star_id} {item.g_mag:.2f} [^!]*? {light.snr:.0f} {100 * light.transmission:.0f} %"
        assert re.search(row, text), row
    assert "how full the brightest pixel gets" in text


def test_narrow_pages_put_the_columns_below_each_other():
    lines = render(answer(), width=70).splitlines()
    heads = [line.split() for line in lines if line.lstrip().startswith("star ")]
    assert heads[:2] == [["star", "G", "mag", "u", "v", "u", "pixel", "v", "pixel"],
                         ["star", "G", "mag", "SNR", "light", "peak", "error"]]  # fmt: skip
    wide = [line.split() for line in render(answer(), width=110).splitlines() if line.lstrip().startswith("star ")]
    assert wide[0][-4:] == ["SNR", "light", "peak", "error"]


def test_the_exposure_is_named_and_why_it_was_chosen():
    plain = flat(render(answer(), width=100))
    assert "With 2 s exposures, at airmass 1.3 under a sky of V 20.5 a square arcsecond" in plain
    auto = answer(check_at_shortest_exposure)
    assert "With 0.5 s exposures (the shortest usual ones that make any camera angle usable)" in flat(
        render(auto, width=100)
    )
    faint = np.array([[15.3, 33.0, 14.6]])
    asked = answer(check_at_shortest_exposure, stars=faint, question=Question(33.0, 1.0))
    assert asked.exposure_s == 1.5
    assert "(the shortest usual ones that make the camera angle 33.0° usable)" in flat(render(asked, width=100))
    never = answer(check_at_shortest_exposure, question=Question(120.0, 1.0))
    assert "With 10 s exposures (the longest usual ones)" in flat(render(never, width=100))


def test_without_the_light_model_that_is_said_and_no_light_is_shown():
    result = answer(guiding__faintest_mag=12.0)
    text = flat(render(result, width=100))
    assert "Every star down to G 12.00 counts wherever it stands in the guide field: its light is not reckoned." in text
    assert "SNR" not in text
    found = to_json(result)
    assert (found["exposure_s"], found["exposure_chosen"]) == (None, False)
    for star in (*found["guide_stars"], *found["best"]["placements"]):
        assert {star[key] for key in ("snr", "transmission", "peak_fill", "centroid_arcsec")} == {None}


def test_json_holds_the_light():
    result = answer(check_at_shortest_exposure)
    found = json.loads(json.dumps(to_json(result), allow_nan=False))
    assert (found["exposure_s"], found["exposure_chosen"]) == (0.5, True)
    for star, item in zip(found["guide_stars"], result.guide_stars, strict=True):
        assert star["snr"] == pytest.approx(item.light.snr, abs=0.005)
        assert star["transmission"] == pytest.approx(item.light.transmission, abs=5e-5)
        assert star["peak_fill"] == pytest.approx(item.light.peak_fill, abs=5e-5)
        assert star["centroid_arcsec"] == pytest.approx(item.light.centroid_arcsec, abs=5e-5)
    assert found["best"]["placements"][0]["snr"] > 10


def test_several_stars_tell_a_shift_better_together():
    """k stars of errors e weigh 1/e²: 1/√Σ e⁻²; one that fills its pixel does not count."""
    stars = np.array([[15.3, 30.0, 5.0], [15.6, 31.0, 11.3], [15.0, 30.5, 12.4]])
    result = answer(stars=stars, question=Question(30.5, 0.0))
    first, *others = (item.light for item in result.asked.placements)
    assert first.peak_fill >= 1.0 > max(light.peak_fill for light in others)
    error = sum(light.centroid_arcsec**-2 for light in others) ** -0.5
    assert to_json(result)["asked"]["together"] == {"stars": 2, "centroid_arcsec": pytest.approx(error, abs=5e-5)}
    assert f"Averaged over 2 stars, the error is {error:.3f}″." in flat(render(result, width=100))
    alone = answer(stars=stars[:2], question=Question(30.5, 0.0))
    assert to_json(alone)["asked"]["together"] is None
    assert "Averaged" not in render(alone, width=100)
    assert to_json(answer(stars=stars, guiding__faintest_mag=13.0))["best"]["together"] is None


def test_saturated_and_double_stars_are_marked_and_explained():
    bright = np.array([[15.3, 30.0, 5.0], [15.6, 31.0, 11.3], [15.0, 30.5, 12.4]])
    flags = np.array([0, int(StarFlag.DOUBLE), 0])
    text = render(answer(stars=bright, flags=flags), width=110)
    marked = {line.split()[0] for line in text.splitlines() if line.rstrip().endswith(("″  !", "–  !"))}
    assert marked == {"S0", "S1"}
    words = flat(text)
    assert "S0 fills its brightest pixel in one exposure" in words
    assert "S1 is a double star" in words
    assert "!: a double star, one with a close neighbour, one that fills its brightest pixel, or a galaxy." in words
    assert "!:" not in render(answer(), width=110)


def test_a_saturated_star_has_no_error_but_a_shorter_exposure_where_one_serves():
    stars = np.array([[15.3, 30.0, 6.6]])
    result = answer(stars=stars, guiding__exposure_s=4.0)
    light = result.best_sure.placements[0].light
    assert light.peak_fill >= 1 > light.peak_fill / 4.0 * light.unsaturated_exposure_s
    assert light.centroid_arcsec is None
    usual = [exposure for exposure in USUAL_EXPOSURES_S if exposure > light.unsaturated_exposure_s]
    assert answer(stars=stars, guiding__exposure_s=usual[0]).best_sure.placements[0].light.peak_fill >= 1
    shorter = answer(stars=stars, guiding__exposure_s=light.unsaturated_exposure_s)
    assert shorter.best_sure.placements[0].usable
    assert shorter.best_sure.placements[0].light.peak_fill < 1
    text = flat(render(result, width=100))
    assert f"less exact, but {light.unsaturated_exposure_s:g} s would leave room and be enough for it." in text
    assert re.search(r"S0 6\.60 .*? % – !", text)
    assert "under 0.001″" not in text
    found = to_json(result)["best_sure"]["placements"][0]
    assert (found["centroid_arcsec"], found["unsaturated_exposure_s"]) == (None, light.unsaturated_exposure_s)


def test_a_star_too_bright_for_any_usual_exposure_is_said_to_be():
    result = answer(stars=np.array([[15.3, 30.0, 1.0]]))
    assert result.best_sure.placements[0].light.unsaturated_exposure_s is None
    assert "less exact, and no usual exposure (0.5 s or more) is short enough for it." in flat(
        render(result, width=100)
    )


def test_remarks_are_sentences_and_only_about_stars_of_the_table():
    both = int(StarFlag.NO_MEAN_POSITION) | int(StarFlag.COLOUR_ASSUMED)
    stars = np.array([[15.3, 30.0 + 0.2 * i, 10.0 + 0.1 * i] for i in range(13)])
    flags = np.array([both if i in (0, 12) else 0 for i in range(13)])
    text = flat(render(answer(stars=stars, flags=flags, question=None), width=100))
    assert "3 fainter usable ones are left out." in text
    assert re.search(r"S0 has [^.]* so its G is rough; it has no [^.]*\.|S0 has [^.]* off; it has [^.]* rough\.", text)
    assert "S12 has" not in text


def test_what_may_be_no_star_is_told():
    flags = np.array([int(StarFlag.EXTENDED), int(StarFlag.POOR_FIT), 0])
    text = render(answer(stars=np.array([[15.3, 30.0, 9.0], [15.6, 31.0, 11.3], [15.0, 30.5, 12.4]]), flags=flags))
    words = flat(text)
    assert "S0 is a galaxy by Gaia's measurements" in words
    assert "S1 does not fit one single star" in words
    assert {line.split()[0] for line in text.splitlines() if line.rstrip().endswith("″  !")} == {"S0"}


def test_a_star_saturated_elsewhere_only_is_not_called_so_here():
    result = answer()
    star = dataclasses.replace(result.guide_stars[0], flags=("saturated",))
    text = render(dataclasses.replace(result, guide_stars=(star, *result.guide_stars[1:])), width=100)
    assert "fills its brightest pixel" not in text


def test_a_longer_exposure_is_a_sentence():
    faint = np.array([[15.3, 33.0, 14.6]])
    result = answer(stars=faint, guiding__exposure_s=0.5)
    text = flat(render(result, width=100))
    assert re.search(r"Expose the guide camera for 1.5 s: S0 \(G 14\.60\) is then bright enough at 33\.\d°, over", text)
    beyond = flat(render(answer(stars=np.array([[15.3, 33.0, 17.5]]), guiding__exposure_s=0.5), width=100))
    assert "A guide camera that reaches G 17.50 (no usual exposure is enough) would use S0" in beyond


def test_what_the_catalogue_lacks_is_a_lower_bound():
    text = flat(render(answer(), width=100))
    assert "complete to about G 10.50: most of the stars between the two are missing from the catalogue" in text
    assert "the answer is a lower bound: expect more usable angles than shown, not fewer" in text
    near = flat(render(answer(guiding__exposure_s=0.03), width=100))
    assert "some stars between the two may be missing" in near
    deep = flat(render(answer(more={"complete_to_mag": 18.0}), width=100))
    assert "the gaps are real" in deep
    around = np.array([[15.3, angle, 11.0] for angle in range(0, 360, 8)])
    whole = flat(render(answer(stars=around, more={"complete_to_mag": 18.0}), width=100))
    assert "no star that matters is missing from the catalogue. Magnitudes" in whole


def test_most_are_missing_only_where_the_estimate_says_so():
    result = answer(guiding__faintest_mag=12.0)
    few, many = (dataclasses.replace(result.expected, stars=stars, listed=1.0) for stars in (0.02, 1.7))
    assert "some stars between" in flat(render(dataclasses.replace(result, expected=few), width=100))
    assert "most of the stars between" in flat(render(dataclasses.replace(result, expected=many), width=100))
    # A small field that happens to list none is not yet a catalogue that lacks most.
    for error, most in ((0.3, False), (0.2, True)):
        none = dataclasses.replace(result.expected, stars=0.5, stars_error=error, listed=0.0)
        assert none.mostly_unlisted is most
    listed = np.array([[14.0 + 0.05 * i, 17.0 * i, 11.0] for i in range(60)])
    assert not answer(stars=listed, guiding__faintest_mag=12.0).warnings
    (warning,) = answer(guiding__faintest_mag=15.0).warnings
    assert "by star counts, most of the fainter stars that are there are not counted" in warning


def test_an_offset_without_error_is_not_called_sure_whatever_it_is():
    text = flat(render(answer(prism__offset_accuracy_mm=0.0, question=Question(30.0, 1.0)), width=100))
    assert "up to 0 mm" not in text
    assert "allows nothing for the prism (prism.offset_accuracy_mm = 0)" in text
    assert "yes. You will find a guide star if the prism sits exactly where you measured it" in text
    tiny = flat(render(answer(prism__offset_accuracy_mm=0.004), width=100))
    assert "up to 0.004 mm from where" in tiny


def test_no_listed_star_is_not_called_no_star():
    nothing = np.array([[15.3, 33.0, 17.5]])
    text = flat(render(answer(stars=nothing), width=100))
    assert "NO GUIDE STAR However you turn the camera, no star bright enough" in text
    assert "fainter ones that your guide camera would still see may well be there" in text
    complete = flat(render(answer(stars=nothing, more={"complete_to_mag": 18.0}), width=100))
    assert "may well be there" not in complete


def test_a_full_circle_has_more_stars_not_more_angles():
    around = np.array([[15.3, angle, 11.0] for angle in range(0, 360, 8)])
    result = answer(stars=around)
    assert result.usable.fraction == 1.0
    assert "so there are more usable stars than listed, not fewer" in flat(render(result, width=100))
