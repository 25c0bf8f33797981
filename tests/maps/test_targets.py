"""The person's own targets on the map equal what `check` says of them."""

import pytest
from support.sky_maps import invented_stars

import guidestar as gs
from guidestar.errors import InputError
from guidestar.maps.targets import targets_here, wished
from guidestar.stars.tycho2 import tycho2

EPOCH = 2027.0


def listed(tmp_path, text):
    path = tmp_path / "targets.csv"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("mount", ["german", "altaz"])
def test_a_row_is_the_check_of_it(tmp_path, mount):
    rig = gs.preset("compound-2000-f10-prism-14x8").with_values({"mount.kind": mount})
    rows = wished(listed(tmp_path, "name,ra_deg,dec_deg\nNGC 7331,,\nM 51,,\nmine,192.9,27.1\n"))
    for found, name in zip(
        targets_here(rows, rig, tycho2(), epoch_year=EPOCH), ("NGC 7331", "M 51", None), strict=True
    ):
        target = name or (192.9, 27.1)
        answer = gs.check(target, rig, epoch=EPOCH)
        usable = answer.usable
        assert found.target.b_deg == pytest.approx(answer.target.b_deg)
        assert found.at.usable_fraction == pytest.approx(usable.fraction, abs=6e-5)  # 0.02° of the circle
        assert found.at.sure_fraction == pytest.approx(usable.sure_fraction, abs=6e-5)
        assert found.at.flip_safe_fraction == pytest.approx(usable.flip_safe_fraction, abs=6e-5)
        assert found.at.expected_fraction == pytest.approx(usable.expected_fraction, abs=1e-3)
        assert found.best == (answer.best_sure or answer.best)
    assert found.target.name == "mine"


def test_a_row_that_is_no_target_keeps_its_reason_and_the_rest_goes_on(tmp_path):
    rows = wished(listed(tmp_path, "NGC 73331\nM 51\n200 95\n"))
    stars = invented_stars(complete_to_mag=20.0)
    found = targets_here(rows, gs.preset("refractor-480-f6"), stars, epoch_year=EPOCH)
    assert [row.number for row in found] == [1, 2, 3]
    assert "did you mean" in found[0].error
    assert found[0].target is found[0].at is found[0].best is None
    assert found[1].error is None
    assert found[2].error


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "is empty"), ("name\n", "no rows"), ("NGC 73331\nNGC 83331\n", "Row 1: No object named")],
)
def test_a_list_without_a_target_is_an_error(tmp_path, text, words):
    with pytest.raises(InputError, match=words):
        wished(listed(tmp_path, text))


def test_a_list_that_is_missing(tmp_path):
    with pytest.raises(InputError, match="There is no target list"):
        wished(tmp_path / "none.csv")
