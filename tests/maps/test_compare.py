"""Rigs side by side: figures, differences, targets, light, shadows; the engine on few targets."""

import numpy as np
import pytest
from support.rigs import COMPOUND, REFRACTOR, rig
from support.sky_maps import invented_comparison, invented_stars

from guidestar.errors import InputError
from guidestar.field.light import rig_light
from guidestar.field.reach import lit_shares
from guidestar.maps.compare import MOST_PIXELS, compare, difference, lit_share, means
from guidestar.maps.targets import wished
from guidestar.maps.variants import Vary, variants

EPOCH = 2027.0
STARS = invented_stars(complete_to_mag=20.0)  # no estimate: it takes half a second a sweep


def test_differences_are_against_the_first_rig_pixel_by_pixel():
    found = invented_comparison((1.0, 1.3, 0.8))
    usable = [item.sky.coverage.usable_fraction for item in found.rigs]
    for number in range(3):
        assert np.array_equal(found.difference(number), usable[number] - usable[0])
    assert not found.difference(0).any()
    gains = [
        difference(value, before) for value, before in zip(means(found.rigs[1]), means(found.rigs[0]), strict=True)
    ]
    assert min(gains) > 0.0
    assert gains[-2] == pytest.approx(np.mean(found.difference(1)))
    assert difference(None, 0.5) is difference(0.5, None) is None


def test_a_shadow_is_told_by_the_least_clear_offset():
    found = invented_comparison((1.0, 1.1), varied=[Vary("prism.offset_mm", (11, 14))])
    assert [item.shadows for item in found.rigs] == [True, False]
    assert found.rigs[0].least_clear_offset_mm == pytest.approx(11.68, abs=0.005)
    assert any("shadows the main sensor" in text for text in found.rigs[0].rig.warnings)


def test_the_lit_share_is_that_of_reach():
    half = rig(REFRACTOR, prism__width_mm=6.0, prism__height_mm=6.0)
    lit = lit_shares(rig_light(half))
    assert lit_share(half) == pytest.approx(lit.full + lit.half)
    assert 0.0 < lit_share(half) < 1.0
    # A fixed limit switches the reckoning of light off, not the light.
    assert lit_share(rig(REFRACTOR, guiding__faintest_mag=11.0)) == lit_share(rig(REFRACTOR))
    dark = rig(COMPOUND, telescope__image_circle_mm=4.0, guiding__faintest_mag=11.0)
    assert lit_share(dark) is None


@pytest.fixture(scope="module")
def widths():
    """Prisms narrower and wider than the guide sensor (5.6 mm), stars to a fixed limit: plain geometry."""
    base = rig(COMPOUND, guiding__faintest_mag=11.5)
    varied = [Vary("prism.width_mm", (2, 4, 8, 14))]
    return compare(
        variants([base], varied), STARS, nside=2, epoch_year=EPOCH, sparse_below=0.25, varied=varied
    )  # fmt: skip


def test_a_wider_prism_serves_more_until_the_guide_sensor_bounds_the_field(widths):
    usable = [item.summary.whole.usable.mean for item in widths.rigs]
    assert usable[0] < usable[1] < usable[2]
    assert usable[3] == pytest.approx(usable[2], abs=1e-9)
    assert [item.limited_by for item in widths.rigs] == ["prism", "prism", "guide sensor", "guide sensor"]
    # Nested fields: nowhere on the sky does a wider prism lose an angle.
    assert np.min(widths.difference(3)) >= -1e-9


def test_each_rig_counts_stars_to_its_own_reach():
    base = rig(REFRACTOR)
    varied = [Vary("guiding.exposure_s", (0.01, 1))]
    found = compare(variants([base], varied), STARS, nside=1, epoch_year=EPOCH, sparse_below=0.25, varied=varied)
    assert found.rigs[0].reach_mag < found.rigs[1].reach_mag - 2.0
    assert found.rigs[0].summary.whole.usable.mean < found.rigs[1].summary.whole.usable.mean


def test_progress_goes_from_rig_to_rig_and_ends_at_one():
    seen = []
    varied = [Vary("prism.width_mm", (4, 8))]
    compare(
        variants([rig(COMPOUND)], varied), STARS, nside=1, epoch_year=EPOCH, sparse_below=0.25, varied=varied,
        progress=seen.append,
    )  # fmt: skip
    assert seen == sorted(seen)
    assert seen[-1] == pytest.approx(1.0)
    assert any(0.4 < share <= 0.5 for share in seen)


def test_too_many_pixels_are_refused_before_the_work():
    varied = [Vary("prism.width_mm", tuple(range(2, 14)))]
    with pytest.raises(InputError, match=f"at most {MOST_PIXELS // 1_000_000} million"):
        compare(variants([rig(COMPOUND)], varied), STARS, nside=512, epoch_year=EPOCH, sparse_below=0.25, varied=varied)


def test_targets_stand_beside_the_rigs(tmp_path):
    path = tmp_path / "targets.csv"
    path.write_text("name\nNGC 7331\nNGC 73331\nM 51\n", encoding="utf-8")
    varied = [Vary("prism.width_mm", (2, 8))]
    chosen = variants([rig(COMPOUND)], varied)
    found = compare(
        chosen, STARS, nside=1, epoch_year=EPOCH, sparse_below=0.25, varied=varied, rows=wished(path)
    )  # fmt: skip
    assert [row.error is None for row in found.rows] == [True, False, True]
    for item in found.rigs:
        assert item.at[1] is None
        assert 0.0 <= item.at[0].sure_fraction <= item.at[0].usable_fraction <= 1.0
    assert found.rigs[0].at[0].usable_fraction <= found.rigs[1].at[0].usable_fraction
