"""The Python interface: the same answers as the command line, as objects."""

import inspect
import json
import sys

import numpy as np
import pandas as pd
import pytest

import guidestar as gs
from guidestar.api import arguments
from guidestar.errors import InputError, MissingPackageError
from guidestar.sky.place import Place

EPOCH = {"epoch": 2026.9}


@pytest.fixture(scope="module", autouse=True)
def _no_store(tmp_path_factory):
    """Keep a person's own star store out of it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("GUIDESTAR_STORE", str(tmp_path_factory.mktemp("store") / "none"))
        yield


@pytest.fixture(scope="module")
def rig():
    return gs.preset("compound-2000-f10-prism-14x8")


@pytest.fixture(scope="module")
def answer(rig):
    return gs.check("NGC 7331", rig, **EPOCH)


def test_public_names_are_there_and_others_are_not():
    for name in gs.__all__:
        assert getattr(gs, name) is not None
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = gs.no_such_name


def test_an_answer_shows_itself(answer):
    assert str(answer).startswith("NGC 7331\n")
    assert answer.to_json()["schema"] == "guidestar.check/1"
    frame = answer.to_frame()
    assert isinstance(frame, pd.DataFrame)
    assert len(frame) == len(answer.guide_stars)
    assert {"id", "g_mag", "snr", "transmission", "peak_fill", "centroid_arcsec"} <= set(frame.columns)
    assert frame["snr"].notna().all()
    assert answer.plot_field().get_title().startswith("The sky at camera angle")


def test_targets_may_be_names_pairs_or_places(rig, answer):
    ra, dec = answer.target.ra_deg, answer.target.dec_deg
    for target in ((ra, dec), Place("mine", ra, dec, "coordinates"), f"{ra} {dec}"):
        again = gs.check(target, rig, **EPOCH)
        assert again.usable.fraction == pytest.approx(answer.usable.fraction, abs=1e-6)
    assert gs.check((10.0, -5.0), rig, **EPOCH).target.dec_deg == pytest.approx(-5.0)


def test_a_rig_may_be_a_path(tmp_path, rig, answer):
    from guidestar.rig import preset_toml

    path = tmp_path / "rig.toml"
    path.write_text(preset_toml("compound-2000-f10-prism-14x8"), encoding="utf-8")
    assert gs.check("NGC 7331", path, **EPOCH).usable == answer.usable
    assert gs.reach(str(path)).centre == gs.reach(rig).centre


def test_options_change_what_they_say(rig, answer):
    assert gs.check("NGC 7331", rig, exposure=4, **EPOCH).exposure_s == 4.0
    assert gs.check("NGC 7331", rig, exposure="auto", **EPOCH).exposure_chosen
    assert gs.check("NGC 7331", rig, faintest_mag=11.0, **EPOCH).exposure_s is None
    assert gs.check("NGC 7331", rig, sky=17.0, airmass=2.0, **EPOCH).stars.faintest_mag < answer.stars.faintest_mag
    assert gs.check("NGC 7331", rig, angle=100.0, **EPOCH).asked.tolerance_deg == rig.guiding.rotation_accuracy_deg


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"exposure": 0}, "--exposure"),
        ({"exposure": "soon"}, "soon"),
        ({"exposure": float("nan")}, "nan"),
        ({"airmass": 0.5}, "--airmass"),
        ({"sky": 50.0}, "--sky"),
        ({"exposure": 2.0, "faintest_mag": 11.0}, "leave one of the two out"),
        ({"any_side": True}, "--angle"),
        ({"angle": 5000.0}, "5000"),
        ({"angle": 5.0, "tolerance": -1.0}, "-1"),
    ],
)
def test_what_cannot_be_used_is_an_input_error(rig, options, words):
    with pytest.raises(InputError, match=words):
        gs.check("NGC 7331", rig, **options, **EPOCH)


def test_the_reach_shows_itself(rig):
    answer = gs.reach(rig)
    assert str(answer).startswith(rig.name)
    assert json.dumps(answer.to_json(), allow_nan=False)
    assert len(answer.plot().axes) == 2
    assert answer.guide_scope is None


def test_the_reach_takes_the_command_lines_options(rig):
    answer = gs.reach(rig, at=(1.0, 15.0), exposure=1.0, airmass=1.1, sky=21.0, guide_scope=(240.0, 60.0))
    assert (answer.points[0].x_mm, answer.points[0].y_mm) == (1.0, 15.0)
    assert answer.rig.guiding.exposure_s == 1.0
    assert answer.guide_scope.main_exposure_s == 300.0
    assert "GUIDE" not in str(answer).splitlines()[0]
    assert "FLEXURE" in str(answer)
    with pytest.raises(InputError, match="--main-exposure"):
        gs.reach(rig, main_exposure=300.0)


def test_check_and_reach_agree_on_how_faint(answer, rig):
    reached = gs.reach(rig)
    assert answer.stars.faintest_mag == pytest.approx(reached.centre.point.faintest_mag, abs=0.01)


def test_a_preset_that_is_none_is_named():
    with pytest.raises(InputError, match="compound-2000-f10"):
        gs.preset("compound-2000-f11")


def test_the_package_lists_its_public_names_and_no_others():
    assert dir(gs) == sorted(gs.__all__)


@pytest.mark.parametrize(
    ("name", "given", "options", "words"),
    [
        ("check", (None, "RIG"), {}, "target: found None"),
        ("check", (5, "RIG"), {}, "target: found 5"),
        ("check", ((1.0,), "RIG"), {}, "target: found a list"),
        ("check", (("a", "b"), "RIG"), {}, "target: found a list"),
        ("check", (b"12", "RIG"), {}, "target: found"),
        ("check", ({10.0, 20.0}, "RIG"), {}, "target: found"),
        ("check", ([b"12"], "RIG"), {}, "target: found"),
        ("check", ("M31", 5), {}, "rig: found 5"),
        ("check", ("M31", "RIG"), {"angle": np.complex128(3)}, "angle: found"),
        ("check", ("M31", "RIG"), {"angle": "north"}, 'angle: found "north"'),
        ("check", ("M31", "RIG"), {"angle": True}, "angle: found true"),
        ("check", ("M31", "RIG"), {"angle": 1.0, "tolerance": "x"}, "tolerance: "),
        ("check", ("M31", "RIG"), {"nudge": "x"}, "nudge: "),
        ("check", ("M31", "RIG"), {"min_stars": "x"}, "guiding.min_stars: "),
        ("check", ("M31", "RIG"), {"stars": 5}, "stars: found 5"),
        ("check", ("M31", "RIG"), {"store": 5}, "store: found 5"),
        ("check", ("M31", "RIG"), {"epoch": [2027]}, "epoch: found a list"),
        ("reach", ("RIG",), {"at": (1,)}, "at: found a list"),
        ("reach", (7,), {}, "rig: found 7"),
        ("reach", ("RIG",), {"guide_scope": "ab"}, "guide_scope: "),
        ("compare", ("rig.toml",), {}, "rigs: found"),
        ("compare", (["RIG", 5],), {}, "rigs: found 5"),
        ("compare", (["RIG"],), {"vary": {"prism.width_mm": 8}}, "vary: found a table"),
        ("compare", (["RIG"],), {"vary": [1, 2]}, "vary: found a list"),
        ("compare", (["RIG"],), {"vary": {"prism.width_mm": "8,9"}}, "vary: found a table"),
        ("sky_map", ("RIG",), {"nside": 2.5}, "nside: found 2.5"),
        ("sky_map", ("RIG",), {"bounds": ("a", 3)}, "bounds: found a list"),
        ("mosaic", ("M31", "RIG", 5), {}, "panels: found 5"),
        ("mosaic", ("M31", "RIG", "2x2"), {"overlap": "x"}, "overlap: "),
        ("plan_night", (None, "RIG"), {}, "target: found None"),
        ("plan_night", ("M31", "RIG"), {"date": 5}, "date: found 5"),
        ("plan_night", ("M31", "RIG"), {"site": 5}, "site: found 5"),
        ("build_train", ("RIG",), {"order": 5}, "order: found 5"),
        ("judge_flat", (5,), {}, "flat: found 5"),
        ("read_rig", (None,), {}, "path: found None"),
        ("preset", (5,), {}, "name: found 5"),
    ],
)
def test_an_argument_of_a_wrong_type_is_named(rig, name, given, options, words):
    put = [[rig if one == "RIG" else one for one in item] if isinstance(item, list) else item for item in given]
    put = [rig if isinstance(item, str) and item == "RIG" else item for item in put]
    with pytest.raises(InputError, match="must be") as caught:
        getattr(gs, name)(*put, **options)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_numbers_of_numpy_will_do(rig, answer):
    target = np.array([answer.target.ra_deg, answer.target.dec_deg])
    found = gs.check(target, rig, angle=np.float32(100.0), tolerance=np.int64(1), **EPOCH)
    assert found.asked.angle_deg == pytest.approx(100.0)


def test_every_argument_with_a_rule_is_one_of_a_function():
    functions = (gs.check, gs.compare, gs.mosaic, gs.plan_night, gs.reach, gs.sky_map, gs.build_train, gs.judge_flat)
    names = {name for function in functions for name in inspect.signature(function).parameters}
    assert set(arguments.RULES) <= names


def test_a_function_keeps_what_python_says_of_it():
    assert gs.check.__doc__.startswith("Find the camera angles")
    assert list(inspect.signature(gs.check).parameters)[:2] == ["target", "rig"]
    with pytest.raises(TypeError, match="angel"):
        gs.check("M31", "rig.toml", angel=5.0)


def test_a_table_without_pandas_is_a_sentence(answer, monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(MissingPackageError, match=r'the package pandas: python -m pip install "guidestar\[frames\]"\.'):
        answer.to_frame()
