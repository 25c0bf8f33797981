"""A sky map in words and as JSON: confirmed and expected apart, tables that line up, no NaN."""

import json
import re

import pytest
from support.rigs import COMPOUND, rig
from support.sky_maps import invented_map

from guidestar.field.check import target_of
from guidestar.field.result import Setting
from guidestar.maps.result import COLUMNS
from guidestar.maps.summary import summarise
from guidestar.maps.targets import At, TargetHere
from guidestar.report import wording as w
from guidestar.report.map_json import map_to_json
from guidestar.report.map_text import FILES, render_map
from guidestar.sky.place import Place

SKIES = {
    "whole": {},
    "altaz": {"camera": rig(COMPOUND, mount__kind="altaz")},
    "part": {"bounds_deg": (-20.0, 90.0), "no_data_beyond_dec_deg": 50.0},
    "nothing": {"no_data_beyond_dec_deg": -91.0},
    "plenty": {"richness": 60.0},
    "shadowed": {"camera": rig(COMPOUND, prism__offset_mm=10.0)},
}
TARGETS = (
    TargetHere(
        2, "M 51", target_of(Place("M 51", 202.47, 47.195, "galaxy")), At(0.5, 0.2, 0.3, 1.2, 90.0, 0.9),
        Setting(119.9, 3.7, ("S1",), True, ()),
    ),
    TargetHere(3, "far", target_of(Place("far", 10.0, -60.0, "coordinates")), At(None, None, None, None, None, None)),
    TargetHere(4, "poor", target_of(Place("poor", 190.0, 27.0, "coordinates")), At(0.0, None, 0.0, 0.0, 360.0, 0.4)),
    TargetHere(5, "NGC 73331", error="No such object."),
)  # fmt: skip


@pytest.fixture(params=SKIES)
def sky(request):
    return invented_map(8, **SKIES[request.param])


def flat(text):
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("width", [46, 60, 80, 120])
def test_no_line_is_longer_than_the_page(sky, width):
    text = render_map(sky, summarise(sky), TARGETS, ["A note."], folder="out", width=width)
    assert max(map(len, text.splitlines())) <= width
    assert w.NBSP not in text
    assert not re.search(r"\b(nan|inf|None)\b", text)


def test_confirmed_comes_first_and_expected_is_called_an_estimate():
    sky = invented_map(8)
    summary = summarise(sky)
    text = flat(render_map(sky, summary, (), width=100))
    assert text.index("CONFIRMED ") < text.index("EXPECTED An estimate:") < text.index("|b| usable")
    for value in (summary.whole.usable.mean, summary.whole.sure.mean, summary.whole.flip_safe.mean):
        assert w.share(value).replace(w.NBSP, " ") in text
    assert "expected: as usable, with stars that the catalogue does not list, an estimate." in text


def test_the_table_is_the_bands():
    sky = invented_map(8)
    summary = summarise(sky, 0.3)
    text = render_map(sky, summary, (), width=100)
    lines = {line.split()[0]: line for line in text.splitlines() if re.match(r"\d+°–\d+°|all ", line)}
    assert list(lines) == ["0°–10°", "10°–20°", "20°–30°", "30°–45°", "45°–60°", "60°–90°", "all"]
    for line, band in zip(lines.values(), (*summary.bands, summary.whole), strict=True):
        numbers = [float(number) for number in re.findall(r"[<>]?([\d.]+) %", line)]
        shares = (band.usable.mean, band.sure.mean, band.flip_safe.mean, band.usable.median, band.usable.low)
        shares = (*shares, band.usable.below, band.no_angle, band.expected.mean)
        assert numbers == pytest.approx([100 * share for share in shares], abs=0.51)
    assert "fewer than 30 %" in flat(text)


def test_no_data_is_told_and_is_not_no_stars():
    sky = invented_map(8, no_data_beyond_dec_deg=50.0)
    text = flat(render_map(sky, summarise(sky), (), width=100))
    assert f"NO DATA {100 * sky.no_data.mean():.0f} % of the sky asked for" in text
    assert "it does not mean that there are no stars" in text
    assert "NO DATA" not in render_map(invented_map(8), summarise(invented_map(8)), (), width=100)
    nothing = invented_map(4, no_data_beyond_dec_deg=-91.0)
    text = flat(render_map(nothing, summarise(nothing), (), width=100))
    assert "CONFIRMED The star source holds no data for any part of this sky." in text
    assert "0 %" not in text.replace("100 %", "")


def test_a_rig_that_reaches_no_deeper_than_the_catalogue_has_real_gaps():
    import dataclasses

    sky = invented_map(4)
    sweep = dataclasses.replace(sky.sweep, stars=dataclasses.replace(sky.sweep.stars, faintest_mag=10.0))
    sky = dataclasses.replace(sky, sweep=sweep)
    assert "its gaps are real" in flat(render_map(sky, summarise(sky), (), width=100))


def test_warnings_stand_on_top():
    sky = invented_map(4, **SKIES["shadowed"])
    text = flat(render_map(sky, summarise(sky), (), ["The store ends early."], width=100))
    assert "the prism shadows the main sensor" in text[: text.index("CONFIRMED")]
    assert "WARNING The store ends early." in text


def test_targets_are_listed_with_their_errors():
    sky = invented_map(4)
    text = render_map(sky, summarise(sky), TARGETS, width=100)
    rows = [line.split() for line in text.splitlines()]
    assert ["2", "M", "51", "+69°", "50", "%", "30", "%", "20", "%", "119.9°", "90", "%"] in rows
    assert any(row[:2] == ["3", "far"] and row[3:5] == ["no", "data"] for row in rows if row)
    assert ["4", "poor", "+87°", "0", "%", "0", "%", "–", "–", "40", "%"] in rows
    assert "Row 5, “NGC 73331”: No such object." in text


def test_every_file_is_named():
    sky = invented_map(2)
    text = render_map(sky, summarise(sky), (), folder="some/where", width=100)
    assert "Files in some/where:" in text
    assert all(f"\n  {name} " in text for name in FILES)


def test_colour_adds_codes_and_nothing_else(sky):
    plain, coloured = (render_map(sky, summarise(sky), TARGETS, width=80, colour=colour) for colour in (False, True))
    bare = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert "\x1b[" not in plain
    assert [line.rstrip() for line in bare.splitlines()] == plain.splitlines()


def test_json_has_no_nan_and_keeps_confirmed_and_expected_apart(sky):
    summary = summarise(sky)
    text = json.dumps(map_to_json(sky, summary, TARGETS, ["A note."]), allow_nan=False)
    found = json.loads(text)
    assert found["schema"] == "guidestar.map/1"
    assert [band["abs_b_deg"] for band in found["bands"]] == [[b.from_deg, b.to_deg] for b in summary.bands]
    for values, band in zip([*found["bands"], found["whole"]], (*summary.bands, summary.whole), strict=True):
        assert set(values) == {"abs_b_deg", "pixels", "no_data_pixels", "confirmed", "expected"}
        if band.usable.mean is None:
            assert values["confirmed"]["usable"]["mean"] is None
        else:
            assert values["confirmed"]["usable"]["mean"] == pytest.approx(band.usable.mean, abs=6e-6)
            assert values["expected"]["usable"]["mean"] == pytest.approx(band.expected.mean, abs=6e-6)
    assert found["warnings"][-1] == "A note."
    good, far, poor, bad = found["targets"]
    assert set(good) >= {"row", "name", "ra_deg", "dec_deg", "b_deg", "best", *COLUMNS}
    assert good["best"] == {"angle_deg": 119.9, "sure": True}
    assert [far[name] for name in COLUMNS] == [None] * 6
    assert poor["best"] is None
    assert bad == {"row": 5, "error": "No such object."}
