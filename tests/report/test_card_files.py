"""Cards as files: what a pdf says when it is read back, names, sameness, and failures in one sentence."""

from __future__ import annotations

import errno
import struct
from dataclasses import replace
from datetime import date

import pytest
from support import nights, pdf_words
from support.rigs import rig

from guidestar.api.common import chosen_stars
from guidestar.errors import InputError
from guidestar.night.plan import Wanted, plan
from guidestar.report import wording as w
from guidestar.report.card import save_cards
from guidestar.report.card_page import PAPERS_PT
from guidestar.sky.place import place


def listed(*names):
    """A list of targets: the same made-up one under several names."""
    one = nights.night()
    (night,) = one.targets
    targets = tuple(replace(night, target=replace(night.target, name=name), row=i) for i, name in enumerate(names, 1))
    return replace(one, targets=targets, is_list=True)


@pytest.fixture(scope="module")
def three():
    return listed("M 31", "NGC 891", "M31")


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_pdf_has_a_page_a_target_and_its_words_can_be_read(three, tmp_path, paper):
    (path,) = save_cards(three, tmp_path / "card.pdf", paper=paper)
    content = path.read_bytes()
    assert pdf_words.sizes_pt(content) == [pytest.approx(PAPERS_PT[paper], abs=0.01)] * 3
    pages = pdf_words.pages(content)
    assert [page[0] for page in pages] == ["M 31", "NGC 891", "M31"]
    for page, night in zip(pages, three.targets, strict=True):
        assert w.angle(night.choice.angle_deg) in page
        assert "18:20 to 05:53" in page
        for side, run in zip(night.sides, night.runs, strict=True):
            assert run.star_id in page
            (star,) = [item for item in side.check.asked.placements if item.star_id == run.star_id]
            assert f"{star.u_px:.0f}, {star.v_px:.0f}" in page


def test_a_real_night_on_a_card(tmp_path):
    """From the built-in stars through the whole plan: M 33 from 50° north, a night with a flip."""
    there, own = place("M 33"), rig()
    stars = chosen_stars("tycho2", None, there, own).source
    result = plan([Wanted(there, stars)], own, nights.SITE, date(2026, 11, 25), epoch_year=2026.9)
    (night,) = result.targets
    (page,) = pdf_words.pages(save_cards([result], tmp_path / "m33.pdf")[0].read_bytes())
    assert night.choice.holds == "sure"
    assert w.angle(night.choice.angle_deg) in page
    assert f"The flip by itself makes it {w.angle(night.choice.angle_deg + 180.0)}." in page
    first, second = (run.star_id for run in night.runs)
    assert first != second
    assert {first, second} <= set(page)


def test_pictures_of_a_list_are_named_after_the_targets(three, tmp_path):
    odd = replace(three, targets=three.targets[:2] + listed("../Ω Nebula, 2", "Μ").targets)
    paths = save_cards(odd, tmp_path / "tonight.png")
    names = [path.name for path in paths]
    assert names == ["tonight-m-31.png", "tonight-ngc-891.png", "tonight-nebula-2.png", "tonight-target.png"]
    assert all(path.parent == tmp_path for path in paths)
    assert sorted(tmp_path.iterdir()) == sorted(paths)


def test_no_name_is_used_twice(tmp_path):
    paths = save_cards(listed("M 31", "m-31", "M 31!"), tmp_path / "a.png")
    assert [path.name for path in paths] == ["a-m-31.png", "a-m-31-2.png", "a-m-31-3.png"]


def test_a_picture_is_upright_and_1080_pixels_wide(tmp_path):
    (path,) = save_cards(nights.night(), tmp_path / "card.PNG")
    assert path.name == "card.PNG"
    width, height = struct.unpack(">II", path.read_bytes()[16:24])
    assert width == 1080
    assert height > 1.4 * width


@pytest.mark.parametrize("suffix", ["pdf", "png"])
def test_the_same_night_gives_the_same_bytes_without_a_date(tmp_path, suffix, monkeypatch):
    result = nights.night()
    (first,) = save_cards(result, tmp_path / f"a.{suffix}")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1000000000")  # matplotlib would write this date if it wrote any
    (second,) = save_cards([result], tmp_path / f"b.{suffix}")
    assert first.read_bytes() == second.read_bytes()
    assert b"CreationDate" not in first.read_bytes()


def test_the_train_belongs_to_its_result(tmp_path):
    with pytest.raises(ValueError, match="zip"):
        save_cards([nights.night()], tmp_path / "a.pdf", trains=(None, None))


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("card.jpg", r"must end in \.pdf \(to print\) or \.png \(for a phone\); .*has “\.jpg”: try “card\.pdf”"),
        ("card", r"has no suffix: try “card\.pdf”"),
        ("card.svg", r"has “\.svg”"),
    ],
)
def test_another_suffix_is_refused(tmp_path, name, said):
    with pytest.raises(InputError, match=said):
        save_cards(nights.no_hours(), tmp_path / name)
    assert not list(tmp_path.iterdir())


def test_another_paper_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"The paper “a5” is not known: choose a4 or letter\."):
        save_cards(nights.no_hours(), tmp_path / "card.pdf", paper="a5")


def test_no_target_is_refused(tmp_path):
    with pytest.raises(InputError, match="nothing to put on the card"):
        save_cards(replace(nights.no_hours(), targets=()), tmp_path / "card.pdf")


@pytest.mark.parametrize("name", ["no/such/folder/card.pdf", "no/such/folder/card.png"])
def test_an_unwritable_path_is_one_sentence(tmp_path, name):
    with pytest.raises(InputError, match=r"cannot be written to .*No such file or directory.*Choose another path\."):
        save_cards(nights.no_hours(), tmp_path / name)
    (tmp_path / "folder.pdf").mkdir()
    with pytest.raises(InputError, match="cannot be written"):
        save_cards(nights.no_hours(), tmp_path / "folder.pdf")


@pytest.mark.parametrize("suffix", ["pdf", "png"])
def test_a_full_disk_leaves_the_old_file_and_no_half_one(tmp_path, monkeypatch, suffix):
    path = tmp_path / f"card.{suffix}"
    path.write_bytes(b"the old card")

    def full(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("pathlib.Path.replace", full)
    with pytest.raises(InputError, match="No space left on device"):
        save_cards(nights.no_hours(), path)
    assert path.read_bytes() == b"the old card"
    assert list(tmp_path.iterdir()) == [path]
