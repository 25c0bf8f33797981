"""Rigs to compare: varied numbers, names, and what cannot be used."""

import math

import pytest
from support.rigs import COMPOUND, NEWTONIAN, rig

from guidestar.errors import InputError, RigError
from guidestar.maps.variants import MOST_RIGS, Vary, parse_vary, told_apart, variants


@pytest.mark.parametrize(
    ("text", "key", "values"),
    [
        ("prism.width_mm=8,10,12,14", "prism.width_mm", (8, 10, 12, 14)),
        (" prism.width_mm = 8.5 , 1e1 ", "prism.width_mm", (8.5, 10.0)),
        ("telescope.exit_pupil_mm=600,inf", "telescope.exit_pupil_mm", (600, math.inf)),
        ("guide_camera.binning=1,2", "guide_camera.binning", (1, 2)),
        ("guide_camera.turned_deg=-20,0", "guide_camera.turned_deg", (-20, 0)),
    ],
)
def test_reading_what_to_vary(text, key, values):
    found = parse_vary(text)
    assert (found.key, found.values) == (key, values)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("prism.width_mm", 'give a key of the rig file, "=" and numbers'),
        ("=8,9", "give a key"),
        ("prism.width_mm=", "give a key"),
        ("prism.width_mm=8,,9", '"" is no number'),
        ("prism.side=top,left", '"top" is no number'),
        ("prism.width_mm=8,nan", '"nan" is no number'),
        ("prism.width_mm=8,8.0", "8 is there twice"),
    ],
)
def test_what_cannot_be_varied_is_a_sentence(text, words):
    with pytest.raises(InputError, match="--vary") as caught:
        parse_vary(text)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_each_value_makes_a_rig():
    base = rig(COMPOUND)
    found = variants([base], [Vary("prism.width_mm", (8, 10))])
    assert [item.rig.prism.width_mm for item in found] == [8.0, 10.0]
    assert [item.rig.name for item in found] == ["long compound, prism.width_mm=8", "long compound, prism.width_mm=10"]
    assert {item.base for item in found} == {"long compound"}
    assert found[0].rig.prism.holder_width_mm == 8.0  # what leans on the key goes with it
    assert base.prism.width_mm == 14.0


def test_two_keys_make_a_grid_and_two_rigs_two_of_them():
    varied = [Vary("prism.width_mm", (8, 10)), Vary("guiding.exposure_s", (1, 2, 4))]
    found = variants([rig(COMPOUND), rig(NEWTONIAN)], varied)
    assert len(found) == 12
    assert [item.values for item in found[:4]] == [(8, 1), (8, 2), (8, 4), (10, 1)]
    assert len({item.rig.name for item in found}) == 12


def test_an_unknown_key_is_asked_about():
    with pytest.raises(RigError, match=r"--vary prism.widht_mm=8: prism\.widht_mm: .*did you mean width_mm\?"):
        variants([rig(COMPOUND)], [Vary("prism.widht_mm", (8, 10))])
    with pytest.raises(RigError, match="did you mean prism"):
        variants([rig(COMPOUND)], [Vary("prisma.width_mm", (8, 10))])


def test_a_value_that_makes_no_rig_is_a_fault_of_the_rig():
    with pytest.raises(RigError, match=r"prism.offset_mm: found 3.* must be more than half the prism's height"):
        variants([rig(COMPOUND)], [Vary("prism.offset_mm", (14, 3))])
    with pytest.raises(RigError, match="whole number"):
        variants([rig(COMPOUND)], [Vary("guide_camera.binning", (1, 1.5))])


@pytest.mark.parametrize(
    ("rigs", "varied", "words"),
    [
        ([], [], "nothing to compare"),
        ([COMPOUND], [], "nothing to compare"),
        ([COMPOUND], [Vary("prism.width_mm", (8,))], "nothing to compare"),
        ([COMPOUND, NEWTONIAN, COMPOUND], [], 'Two of the rigs are called "long compound"'),
        ([COMPOUND], [Vary("prism.width_mm", (8, 9)), Vary("prism.width_mm", (10, 11))], "is there twice"),
        ([COMPOUND], [Vary("prism.width_mm", tuple(range(2, MOST_RIGS + 3)))], "at most 48"),
    ],
)
def test_what_cannot_be_compared_is_a_sentence(rigs, varied, words):
    with pytest.raises(InputError) as caught:
        variants([rig(base) for base in rigs], varied)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("sources", "names"),
    [
        (["a.toml", "b.toml"], ["a.toml", "b.toml"]),
        (["home/a.toml", "home/b.toml"], ["a.toml", "b.toml"]),
        (["home/a.toml", "field/a.toml"], ["home/a.toml", "field/a.toml"]),
        ([None, "b.toml"], ["long compound", "b.toml"]),
        (["a\udcff.toml", "b.toml"], ["a\\udcff.toml", "b.toml"]),
        (["a.toml", "a.toml"], ["long compound"] * 2),
        ([None, None], ["long compound"] * 2),
    ],
)
def test_rigs_of_one_name_are_told_apart_by_where_they_are_from(sources, names):
    found = told_apart([rig(COMPOUND), rig(COMPOUND), rig(NEWTONIAN)], [*sources, "c.toml"])
    assert [item.name for item in found] == [*names, rig(NEWTONIAN).name]
    assert found[0] == rig(COMPOUND).with_values({"name": names[0]})
