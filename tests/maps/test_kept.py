"""Stars that are kept are the source's own."""

import numpy as np
import pytest
from support.sky_maps import invented_stars

from guidestar.maps import kept as module
from guidestar.maps.kept import KeptSky, kept
from guidestar.stars.source import SkySource, StarSource, cone
from guidestar.stars.tycho2 import tycho2
from guidestar.stars.wholesky import sky_chunks, sky_coverage

EPOCH = 2027.0
STARS = invented_stars(5000)


def all_of(source, **asked):
    chunks = list(sky_chunks(source, **asked))
    return np.concatenate([chunk.vectors for chunk in chunks], axis=1), np.concatenate([c.g_mag for c in chunks])


@pytest.mark.parametrize(
    "asked",
    [
        {"epoch_year": EPOCH, "faintest_mag": 10.0},
        {"epoch_year": EPOCH, "faintest_mag": 11.05},
        {"epoch_year": EPOCH, "faintest_mag": 12.0},  # deeper than kept
        {"epoch_year": EPOCH, "faintest_mag": None},
        {"epoch_year": 1990.0, "faintest_mag": 10.0},
        {"epoch_year": EPOCH, "faintest_mag": 10.0, "dec_deg": (-20.0, 30.0)},
    ],
)
def test_the_same_stars_as_the_source(asked):
    source = kept(STARS, epoch_year=EPOCH, faintest_mag=11.0)
    assert isinstance(source, KeptSky)
    for mine, own in zip(all_of(source, **asked), all_of(STARS, **asked), strict=True):
        assert np.array_equal(mine, own)


def test_it_is_the_source_otherwise():
    source = kept(STARS, epoch_year=EPOCH, faintest_mag=11.0)
    assert isinstance(source, StarSource)
    assert isinstance(source, SkySource)
    for name in ("name", "band", "complete_to_mag"):
        assert getattr(source, name) == getattr(STARS, name)
    assert np.array_equal(sky_coverage(source), sky_coverage(STARS))
    near = {"faintest_mag": 10.5, "epoch_year": EPOCH}
    assert np.array_equal(cone(source, 10.0, 20.0, 5.0, **near).id, cone(STARS, 10.0, 20.0, 5.0, **near).id)
    assert np.array_equal(source.ring(10.0, 20.0, 2.0, 5.0, **near).id, STARS.ring(10.0, 20.0, 2.0, 5.0, **near).id)


def test_too_many_are_not_kept(monkeypatch):
    monkeypatch.setattr(module, "MOST_KEPT", 100)
    assert kept(STARS, epoch_year=EPOCH, faintest_mag=11.0) is STARS


def test_the_catalogue_moves_with_its_epoch():
    asked = {"epoch_year": EPOCH, "faintest_mag": 6.0}
    source = kept(tycho2(), **asked)
    for mine, own in zip(all_of(source, **asked), all_of(tycho2(), **asked), strict=True):
        assert np.array_equal(mine, own)
