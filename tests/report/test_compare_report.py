"""Rigs side by side: words, JSON, CSV, and the page of curves and differences."""

import csv
import dataclasses
import io
import json
import re

import numpy as np
import pytest
from support.sky_maps import invented_comparison, invented_map

from guidestar.maps.compare import Comparison, compared, means
from guidestar.maps.regional import cell_means
from guidestar.maps.targets import Wished
from guidestar.maps.variants import Vary
from guidestar.report import compare_curves, map_ramp, map_sky, palette
from guidestar.report import compare_sentences as sentences
from guidestar.report import wording as w
from guidestar.report.compare_figure import compare_page, map_title, save_compare, scale_points, shown_rigs
from guidestar.report.compare_json import compare_csv, compare_to_json
from guidestar.report.compare_text import FILES, render_compare
from guidestar.sky.place import Place

ROWS = (
    Wished(2, "M 51", Place("M 51", 202.47, 47.195, "galaxy")),
    Wished(3, "NGC 73331", None, "No such object."),
)
WIDTHS = [Vary("prism.width_mm", (4, 8, 14))]
OFFSETS = [Vary("prism.offset_mm", (11, 12, 13)), Vary("guide_camera.width_mm", (4, 8))]
PUPILS = [Vary("telescope.exit_pupil_mm", (600, 700, float("inf")))]
FOUND = {
    "rigs": invented_comparison((1.0, 1.3, 0.8), rows=ROWS),
    "widths": invented_comparison((1.0, 1.2, 1.3), varied=WIDTHS),
    "grid": invented_comparison((1.4, 2.8, 1.2, 2.4, 1.0, 2.0), varied=OFFSETS),
    "pupils": invented_comparison((1.0, 1.1, 1.05), varied=PUPILS),
    "alike": invented_comparison((1.0, 1.0)),
    "altaz": invented_comparison((1.0, 1.5), mount__kind="altaz"),
    "many": invented_comparison(
        tuple(np.linspace(0.5, 1.5, 12)), varied=[Vary("guiding.exposure_s", tuple(range(1, 13)))], nside=2
    ),
}


@pytest.fixture(params=FOUND)
def found(request):
    return FOUND[request.param]


def flat(text):
    return re.sub(r"\s+", " ", text)


def with_gid(axes, gid):
    return axes.findobj(lambda item: item.get_gid() == gid)


@pytest.mark.parametrize("width", [46, 60, 80, 120])
def test_no_line_is_longer_than_the_page(found, width):
    text = render_compare(found, ["A note."], folder="out", width=width)
    assert max(map(len, text.splitlines())) <= width
    assert w.NBSP not in text
    assert not re.search(r"\b(nan|None)\b", text)


def test_the_best_rig_is_named_with_its_gain():
    found = FOUND["rigs"]
    text = flat(render_compare(found, width=100))
    usable = [100 * item.summary.whole.usable.mean for item in found.rigs]
    assert (
        f"CONFIRMED Rig 2 serves most by confirmed stars: {usable[1]:.0f} % of all cases against {usable[0]:.0f} %"
        in text
    )
    assert f"+{usable[1] - usable[0]:.1f} points" in text
    assert text.index("CONFIRMED ") < text.index("SURE ") < text.index("EXPECTED ") < text.index("rig usable")


def test_rigs_that_hardly_differ_are_said_to():
    text = flat(render_compare(FOUND["alike"], width=100))
    assert "CONFIRMED No rig is worth more than another by confirmed stars" in text


def test_the_first_rig_may_be_the_best():
    assert "The first rig serves most by confirmed stars" in flat(
        render_compare(invented_comparison((1.5, 1.0)), width=90)
    )


def test_a_rig_that_shadows_the_picture_does_not_win():
    text = flat(render_compare(FOUND["grid"], width=120))
    assert "CONFIRMED Rig 4 (prism.offset_mm 12 mm, guide_camera.width_mm 8 mm) serves most" in text
    assert "Rig 2 (prism.offset_mm 11 mm, guide_camera.width_mm 8 mm) would serve" in text
    assert "but shadows the main sensor" in text
    assert "WARNING Rigs 1 and 2: prism.offset_mm: at 11.0 mm the prism shadows the main sensor" in text
    rows = [line for line in render_compare(FOUND["grid"], width=120).splitlines() if "G 14.85" in line]
    assert [row.rstrip().endswith("!") for row in rows[-6:]] == [True, True, False, False, False, False]


def test_what_bounds_the_field_is_said_where_prisms_are_compared():
    text = flat(render_compare(FOUND["widths"], width=100))
    assert "FIELD In rigs 2 and 3 the guide sensor bounds the guide field, not the prism" in text
    assert "FIELD" not in render_compare(FOUND["pupils"], width=100)


def test_tables_are_the_figures():
    found = FOUND["rigs"]
    lines = [line for line in render_compare(found, width=110).splitlines() if re.match(r" +[123]  ", line)]
    figures, bands, changes = lines[3:6], lines[6:9], lines[9:11]  # after the three names
    estimates = lines[11:14]
    for line, item in zip(figures, found.rigs, strict=True):
        whole = item.summary.whole
        shares = (whole.usable.mean, whole.sure.mean, whole.flip_safe.mean, whole.no_angle, whole.usable.below)
        numbers = [float(number) for number in re.findall(r"([\d.]+) %", line)]
        assert numbers[:6] == pytest.approx([100 * share for share in (*shares, whole.expected.mean)], abs=0.51)
        assert "G 14.85" in line
    for line, item in zip(bands, found.rigs, strict=True):
        numbers = [float(number) for number in re.findall(r"([\d.]+) %", line)]
        assert numbers == pytest.approx([100 * value for value in means(item)], abs=0.51)
    for line, item in zip(estimates, found.rigs, strict=True):
        numbers = [float(number) for number in re.findall(r"([\d.]+) %", line)]
        whole = item.summary.whole
        assert numbers == pytest.approx([100 * band.expected.mean for band in (*item.summary.bands, whole)], abs=0.51)
    for line, item in zip(changes, found.rigs[1:], strict=True):
        numbers = [float(number.replace("−", "-")) for number in re.findall(r"[+−]?[\d.]+", line)[1:]]
        gains = [100 * (a - b) for a, b in zip(means(item), means(found.rigs[0]), strict=True)]
        assert numbers == pytest.approx(gains, abs=0.051)


def test_targets_stand_beside_the_rigs():
    text = render_compare(FOUND["rigs"], width=100)
    assert re.search(r"2 +M 51 +40 % / 20 % +40 % / 20 % +40 % / 20 %", text)
    assert "Row 3, “NGC 73331”: No such object." in text
    assert "row  target" not in render_compare(FOUND["alike"], width=100)


def test_every_file_is_named():
    assert all(f"\n  {name} " in render_compare(FOUND["alike"], folder="x", width=100) for name in FILES)


@pytest.mark.parametrize(
    ("key", "value", "expected"),
    [
        ("prism.width_mm", 8, "8 mm"),
        ("guide_camera.pixel_um", 2.9, "2.9 µm"),
        ("guiding.exposure_s", 2.0, "2 s"),
        ("guide_camera.dark_e_per_s", 0.1, "0.1 electrons a second"),
        ("guide_camera.binning", 2, "2"),
        ("prism.side_deg", 45.0, "45°"),
        ("telescope.fwhm_arcsec", 2.5, "2.5″"),
        ("telescope.exit_pupil_mm", float("inf"), "inf mm"),
        ("sky.brightness_mag_arcsec2", 21, "21 mag/arcsec²"),
    ],
)
def test_values_carry_the_unit_of_their_key(key, value, expected):
    assert sentences.value_of(key, value).replace(w.NBSP, " ") == expected


def test_json_has_no_nan_and_the_figures(found):
    read = json.loads(json.dumps(compare_to_json(found, ["A note."]), allow_nan=False))
    assert read["schema"] == "guidestar.compare/1"
    assert [rig["name"] for rig in read["rigs"]] == [item.rig.name for item in found.rigs]
    for rig, item in zip(read["rigs"], found.rigs, strict=True):
        assert rig["whole"]["confirmed"]["usable"]["mean"] == pytest.approx(item.summary.whole.usable.mean, abs=1e-5)
        assert rig["shadows_main_sensor"] == item.shadows
        gain = item.summary.whole.usable.mean - found.rigs[0].summary.whole.usable.mean
        assert rig["minus_first"]["usable"] == pytest.approx(gain, abs=1e-5)
        assert list(rig["values"]) == [item.key for item in found.varied]
    assert read["warnings"] == ["A note."]
    if found.rows:
        assert read["targets"][1] == {"row": 3, "error": "No such object."}
        assert len(read["targets"][0]["rigs"]) == len(found.rigs)


def test_the_csv_is_the_table(found):
    rows = list(csv.DictReader(io.StringIO(compare_csv(found))))
    assert len(rows) == len(found.rigs)
    for row, item in zip(rows, found.rigs, strict=True):
        assert float(row["usable"]) == pytest.approx(item.summary.whole.usable.mean, abs=1e-5)
        assert (row["flip_safe"] == "") == (not item.rig.mount.flips)
        assert float(row["usable_60_90"]) == pytest.approx(item.summary.bands[-1].usable.mean, abs=1e-5)
        assert row["shadows_main_sensor"] == str(item.shadows).lower()
        for varied, value in zip(found.varied, item.variant.values, strict=True):
            assert float(row[varied.key]) == value


def test_the_trade_off_is_drawn_along_the_varied_number():
    found = FOUND["widths"]
    left, right = compare_page(found).axes[:2]
    for name, measure in (
        ("usable", sentences.usable),
        ("flip-safe", sentences.flip_safe),
        ("sure", sentences.sure),
        ("expected*", sentences.expected),
    ):
        [line] = with_gid(left, name)
        assert line.get_xdata().tolist() == [4.0, 8.0, 14.0]
        assert line.get_ydata() == pytest.approx([100 * measure(item) for item in found.rigs])
    for at, band in enumerate(found.rigs[0].summary.bands):
        [line] = with_gid(right, f"{band.from_deg:.0f}°–{band.to_deg:.0f}°")
        assert line.get_ydata() == pytest.approx([100 * item.summary.bands[at].usable.mean for item in found.rigs])
    assert [label.get_text() for label in left.get_xticklabels()] == ["4", "8", "14"]
    assert left.get_xlabel() == "prism.width_mm"


def test_two_keys_make_a_family_of_curves_and_shadows_are_crossed_out():
    found = FOUND["grid"]
    left, right = compare_page(found).axes[:2]
    for axes, measure in ((left, sentences.usable), (right, sentences.sure)):
        for width, name in enumerate((f"4{w.NBSP}mm", f"8{w.NBSP}mm")):
            [line] = with_gid(axes, name)
            assert line.get_xdata().tolist() == [11.0, 12.0, 13.0]
            assert line.get_ydata() == pytest.approx([100 * measure(item) for item in found.rigs[width::2]])
        crossed = [tuple(point) for mark in with_gid(axes, "shadow") for point in mark.get_xydata()]
        assert crossed == [(11.0, pytest.approx(100 * measure(item))) for item in found.rigs[:2]]


def test_a_value_without_end_stands_in_line_with_the_others():
    left = compare_page(FOUND["pupils"]).axes[0]
    assert with_gid(left, "usable")[0].get_xdata().tolist() == [0.0, 1.0, 2.0]
    assert [label.get_text() for label in left.get_xticklabels()] == ["600", "700", "inf"]


def test_rigs_are_drawn_by_latitude_and_as_bars():
    found = FOUND["rigs"]
    left, right = compare_page(found).axes[:2]
    for at, item in enumerate(found.rigs, start=1):
        [line] = with_gid(left, str(at))
        assert line.get_ydata() == pytest.approx([100 * band.usable.mean for band in item.summary.bands])
    for gid, shares in (("sure", [item.summary.whole.sure.mean for item in found.rigs]),):
        bars = with_gid(right, gid)
        assert [bar.get_width() for bar in bars] == pytest.approx([100 * share for share in shares])
    tops = [bar.get_x() + bar.get_width() for bar in with_gid(right, "usable")]
    assert tops == pytest.approx([100 * item.summary.whole.usable.mean for item in found.rigs])


def test_maps_show_the_differences_and_hatch_the_losses():
    found = FOUND["rigs"]
    figure = compare_page(found)
    assert shown_rigs(found) == [1, 2]
    for number, axes in zip((1, 2), figure.axes[2:4], strict=True):
        cells, order = cell_means(found.rigs[0].sky, found.difference(number), 3)
        [picture] = with_gid(axes, "map")
        expected = map_sky.on_raster("galactic", 100.0 * cells, order)
        assert np.array_equal(np.asarray(picture.get_array()), expected, equal_nan=True)
        assert picture.get_clim() == (-scale_points(found), scale_points(found))
        assert axes.get_title() == map_title(found, number)
    assert not with_gid(figure.axes[2], "loss")
    assert with_gid(figure.axes[3], "loss")
    assert "−" in map_title(found, 2)
    assert "+" in map_title(found, 1)


def test_three_of_many_are_shown_evenly_out_of_all():
    assert shown_rigs(FOUND["many"]) == [1, 6, 11]
    assert shown_rigs(FOUND["widths"]) == [1, 2]
    assert shown_rigs(FOUND["alike"]) == [1]


def test_where_only_the_estimate_differs_that_is_drawn_and_said():
    found = invented_comparison((1.0, 1.0, 1.0), varied=WIDTHS)
    rigs = []
    for at, item in enumerate(found.rigs):
        chance = np.clip(item.sky.coverage.expected_fraction + 0.1 * at, 0.0, 1.0)
        coverage = dataclasses.replace(item.sky.coverage, expected_fraction=chance)
        sky = dataclasses.replace(item.sky, sweep=dataclasses.replace(item.sky.sweep, coverage=coverage))
        rigs.append(compared(item.variant, sky, 0.25))
    found = dataclasses.replace(found, rigs=tuple(rigs))
    assert sentences.only_expected_differ(found)
    figure = compare_page(found)
    assert figure.axes[1].get_title(loc="left").startswith("Expected*")
    [line] = with_gid(figure.axes[1], "60°–90°")
    assert line.get_ydata() == pytest.approx([100 * item.summary.bands[-1].expected.mean for item in found.rigs])
    cells, order = cell_means(found.rigs[0].sky, found.difference(1, "expected_fraction"), 3)
    expected = map_sky.on_raster("galactic", 100.0 * cells, order)
    [picture] = with_gid(figure.axes[2], "map")
    assert np.array_equal(np.asarray(picture.get_array()), expected, equal_nan=True)
    text = flat(render_compare(found, width=100))
    assert "CONFIRMED No rig is worth more than another" in text
    assert "EXPECTED Rig 3 (prism.width_mm 14 mm) serves most with estimated fainter stars besides" in text


def test_of_rigs_that_are_alike_the_first_is_named():
    found = invented_comparison((1.0, 1.3, 1.305, 0.9))
    text = flat(render_compare(found, width=100))
    first, best, equal = (100 * item.summary.whole.usable.mean for item in found.rigs[:3])
    assert re.search(rf"CONFIRMED Rig 2 serves most .* \+{best - first:.1f} points\.", text)
    # The figure of the table, which may be a little above the best one's.
    assert f"Rig 3 serves as much to within a point: +{equal - first:.1f}." in text


def test_the_scale_holds_nearly_all_differences():
    for found in FOUND.values():
        limit = scale_points(found)
        assert limit in (1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 50.0, 100.0)
        for number in shown_rigs(found):
            cells = cell_means(found.rigs[0].sky, found.difference(number), 3)[0]
            assert np.mean(100 * np.abs(cells) <= limit) >= 0.98


def test_gain_and_loss_grow_darker_either_way():
    ramp = map_ramp.loss_and_gain()
    for half in (np.linspace(0.5, 1.0, 6), np.linspace(0.5, 0.0, 6)):
        seen = [
            map_ramp.lightness(palette.luminance("#" + "".join(f"{round(255 * v):02x}" for v in ramp(x)[:3])))
            for x in half
        ]
        assert seen == sorted(seen, reverse=True)
        assert seen[0] > 95


def test_names_are_moved_apart():
    moved = compare_curves.spread_out([0.5, 0.5, 0.52, 0.9], 0.05)
    assert np.all(np.diff(moved) >= 0.05 - 1e-4)
    assert moved[3] == 0.9
    assert np.mean(moved[:3]) == pytest.approx(np.mean([0.5, 0.5, 0.52]), abs=1e-4)


def test_the_same_comparison_gives_the_same_bytes(tmp_path):
    first, second = (save_compare(FOUND["rigs"], tmp_path / f"{name}.svg").read_bytes() for name in "ab")
    assert first == second


@pytest.mark.parametrize("name", ["many", "altaz", "alike"])
def test_every_page_can_be_drawn(name, tmp_path):
    assert save_compare(FOUND[name], tmp_path / "a.png").stat().st_size > 3000


def test_a_sky_without_data_is_drawn_and_told(tmp_path):
    empty = invented_map(2, no_data_beyond_dec_deg=-91.0)
    rigs = tuple(compared(item.variant, empty, 0.25) for item in FOUND["alike"].rigs)
    found = Comparison(rigs)
    save_compare(found, tmp_path / "a.png")
    assert "–" in render_compare(found, width=100)
    assert json.dumps(compare_to_json(found), allow_nan=False)
