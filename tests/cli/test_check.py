"""`guidestar check`, as a person runs it: what it answers, and one sentence for everything that cannot be used."""

import shutil

import pytest
from support.command_line import one_sentence, strict

from guidestar.stars import tycho2

EPOCH = ("--epoch", "2026.9")

COMMAND = ("check",)


@pytest.fixture
def ask(run, rig_file):
    """Run `guidestar check … --json`; return the object."""

    def ask_it(*arguments):
        status, out, err = run(*arguments, "--rig", rig_file, *EPOCH, "--json")
        assert (status, err) == (0, "")
        assert out.count("\n") == 1
        return strict(out)

    return ask_it


def changed(rig_file, before, after):
    text = rig_file.read_text(encoding="utf-8")
    assert before in text
    rig_file.write_text(text.replace(before, after), encoding="utf-8")
    return rig_file


# What it answers


def test_a_name_is_answered_in_words(run, rig_file):
    status, out, err = run("NGC 7331", "--rig", rig_file, *EPOCH)
    assert (status, err) == (0, "")
    assert out.startswith("NGC 7331\n")
    assert "With 2 s exposures" in out
    assert "\n\n\n" not in out


@pytest.mark.parametrize(
    "target",
    [("NGC 7331",), ("ngc7331",), ("NGC", "7331"), ("339.26725", "34.41553"), ("22 37 04.14 +34 24 55.9",)],
)
def test_the_same_target_however_it_is_written(ask, target):
    assert ask(*target)["usable"]["fraction"] == pytest.approx(ask("NGC 7331")["usable"]["fraction"], abs=2e-3)


def test_json_has_the_light_model(ask):
    found = ask("NGC 7331")
    assert found["schema"] == "guidestar.check/1"
    assert (found["exposure_s"], found["exposure_chosen"], found["field"]["model"]) == (2.0, False, "light")
    assert all(star["snr"] >= 10 for star in found["guide_stars"])
    assert all(0 < star["transmission"] <= 1 for star in found["guide_stars"])


def test_exposure_airmass_and_sky_stand_in_for_the_rigs(ask):
    usual, longer = ask("NGC 7331"), ask("NGC 7331", "--exposure", 4)
    assert longer["exposure_s"] == 4.0
    assert longer["stars"]["faintest_mag"] > usual["stars"]["faintest_mag"]
    assert ask("NGC 7331", "--airmass", 2.5)["stars"]["faintest_mag"] < usual["stars"]["faintest_mag"]
    assert ask("NGC 7331", "--sky", 17)["stars"]["faintest_mag"] < usual["stars"]["faintest_mag"]


@pytest.mark.parametrize("word", ["auto", "AUTO"])
def test_exposure_auto_is_the_shortest_that_will_do(ask, word):
    found = ask("NGC 7331", "--exposure", word)
    assert (found["exposure_s"], found["exposure_chosen"]) == (0.5, True)
    angle = ask("NGC 7331")["best"]["angle_deg"]
    asked = ask("NGC 7331", "--exposure", "auto", "--angle", angle)
    assert asked["asked"]["usable"]


def test_a_fixed_limit_switches_the_light_off(ask):
    found = ask("NGC 7331", "--faintest-mag", 11)
    assert (found["field"]["model"], found["exposure_s"]) == ("geometric", None)
    assert found["stars"]["faintest_mag"] == 11.0
    assert {star["snr"] for star in found["guide_stars"]} == {None}


def test_an_angle_is_judged_with_its_twin_and_sides(ask, run, rig_file):
    best = ask("NGC 7331")["best"]
    found = ask("NGC 7331", "--angle", best["angle_deg"], "--tolerance", 0.5, "--any-side")["asked"]
    assert found["usable"]
    assert found["tolerance_deg"] == 0.5
    assert found["twin_usable"] in (True, False)
    assert [side["side"] for side in found["sides"]] == ["top", "left", "bottom", "right"]
    assert found["sides"][0]["usable"]
    out = run("NGC 7331", "--rig", rig_file, *EPOCH, "--angle", best["angle_deg"], "--any-side")[1]
    assert "YOUR ANGLE" in out
    assert "bottom: " in out


def test_coordinates_of_date_are_moved_to_j2000(ask):
    plain, dated = ask("339.267 34.416"), ask("339.267 34.416", "--equinox", "date")
    apart = dated["target"]["dec_deg"] - plain["target"]["dec_deg"]
    assert -0.17 < apart < -0.12  # 27 years of precession there: 20.04″·cos(RA) a year, north


def test_more_stars_wanted_is_fewer_angles(ask):
    assert ask("NGC 7331", "--min-stars", 2)["usable"]["fraction"] < ask("NGC 7331")["usable"]["fraction"]


def test_a_figure_is_drawn_after_the_answer(run, rig_file, tmp_path):
    picture = tmp_path / "field.svg"
    status, out, _ = run("NGC 7331", "--rig", rig_file, "--figure", picture)
    assert status == 0
    assert out.endswith(f"Picture: {picture}\n")
    assert picture.stat().st_size > 1000


# Lists


@pytest.fixture
def targets(tmp_path):
    path = tmp_path / "targets.csv"
    path.write_text("name,ra,dec\nNGC 7331,,\nNGC 733l,,\nmine,83.6331,22.0145\nhalf,83.6,\n", encoding="utf-8")
    return path


def test_a_list_is_one_json_line_a_row_and_a_bad_row_says_why(run, rig_file, targets):
    status, out, err = run("--targets", targets, "--rig", rig_file, "--json", *EPOCH)
    assert (status, err) == (0, "")
    rows = [strict(line) for line in out.splitlines()]
    assert [row.get("schema") for row in rows] == ["guidestar.check/1", None, "guidestar.check/1", None, None]
    assert [row.get("row") for row in rows] == [None, 3, None, 5, None]
    assert [row["target"]["name"] for row in (rows[0], rows[2])] == ["NGC 7331", "mine"]
    assert rows[4]["error"] == "2 of 4 rows cannot be used."
    assert "NGC 733l" in rows[1]["error"]
    assert "give both" in rows[3]["error"]


def test_a_list_in_words_does_the_rest_after_a_bad_row(run, rig_file, targets):
    status, out, err = run("--targets", targets, "--rig", rig_file, *EPOCH)
    assert (status, err) == (0, "")
    assert "Row 3, “NGC 733l”" in out
    assert out.count("error") == 2
    assert out.startswith("WARNING  2 of 4 rows cannot be used.\n")
    assert " mine " in out
    assert "NGC 7331" in out


def test_a_list_of_nothing_but_bad_rows_is_bad_input(run, rig_file, tmp_path):
    path = tmp_path / "bad.csv"
    path.write_text("NGC 99999\nNGC 99998\n", encoding="utf-8")
    for more in ((), ("--json",)):
        status, out, err = run("--targets", path, "--rig", rig_file, *more)
        assert (status, out) == (2, "")
        assert "None of the 2 rows of" in one_sentence(err)
        assert "“NGC 99999”: No object named" in err
    path.write_text("NGC 99999\n", encoding="utf-8")
    assert "The only row of" in one_sentence(run("--targets", path, "--rig", rig_file)[2])


def test_bad_rows_before_the_first_good_one_are_told_in_order(run, rig_file, tmp_path):
    path = tmp_path / "late.csv"
    path.write_text("NGC 99999\nNGC 7331\n", encoding="utf-8")
    status, out, _ = run("--targets", path, "--rig", rig_file, "--json", *EPOCH)
    assert status == 0
    assert [strict(line).get("row", "result") for line in out.splitlines()] == [1, "result", None]


@pytest.mark.parametrize(("content", "words"), [(None, "no target list"), ("", "is empty"), ("ra\n1\n", "only one of")])
def test_a_list_that_cannot_be_used_is_one_sentence(run, rig_file, tmp_path, content, words):
    path = tmp_path / "list.csv"
    if content is not None:
        path.write_text(content)
    status, out, err = run("--targets", path, "--rig", rig_file)
    assert (status, out) == (2, "")
    assert words in one_sentence(err)


# What cannot be used


@pytest.mark.parametrize(
    ("target", "words"),
    [
        ("NGC 7331b", "NGC 7331"),
        ("NGC 99999", "did you mean"),
        ("Andromda Galaxy", "Andromeda Galaxy"),
        ("400 20", "400"),
        ("20 95", "95"),
        ("25 61 10 +20 00 00", "25"),
        ("nan 20", "nan"),
    ],
)
def test_a_target_that_is_none_is_one_sentence(run, rig_file, target, words):
    status, out, err = run(target, "--rig", rig_file)
    assert (status, out) == (2, "")
    assert words in one_sentence(err)


@pytest.mark.parametrize("arguments", [(), ("M31", "--targets", "list.csv")])
def test_one_target_or_a_list(run, rig_file, arguments):
    status, _, err = run(*arguments, "--rig", rig_file)
    assert status == 2
    assert "either one TARGET" in one_sentence(err)


def test_a_missing_rig_is_one_sentence(run):
    status, out, err = run("M31", "--rig", "no-such-rig.toml")
    assert (status, out) == (2, "")
    assert "no such file" in one_sentence(err)


def test_a_rig_that_is_not_toml_is_one_sentence(run, tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text("name = 'x'\nfocal length: 2000\n")
    status, out, err = run("M31", "--rig", path)
    assert (status, out) == (2, "")
    assert "not TOML at line 2" in one_sentence(err)


def test_every_fault_of_a_rig_is_named_at_once(run, rig_file):
    changed(rig_file, "[sky]", "[sly]")
    changed(rig_file, "focal_length_mm =", "focal_lenght_mm =")
    changed(rig_file, "offset_mm = 14.5", "offset_mm = -3.0")
    status, out, err = run("M31", "--rig", rig_file)
    assert (status, out) == (2, "")
    for words in ("sly", "did you mean sky?", "focal_lenght_mm", "focal_length_mm", "-3.0"):
        assert words in err
    assert "Traceback" not in err


def test_a_prism_that_shadows_is_a_warning_with_the_least_offset(run, rig_file):
    changed(rig_file, "offset_mm = 14.5", "offset_mm = 12.0")
    status, out, _ = run("M31", "--rig", rig_file)
    assert status == 0
    assert "WARNING" in out
    assert "13.13 mm" in " ".join(out.split())


def test_a_limit_far_beyond_the_catalogue_is_answered_with_a_warning(run, rig_file):
    status, out, _ = run("M31", "--rig", rig_file, "--faintest-mag", 16)
    assert status == 0
    assert "You ask for stars to G 16, but Tycho-2 is complete only to G 10.5" in " ".join(out.split())


@pytest.mark.parametrize(
    "options",
    [
        ("--exposure", "0"),
        ("--exposure", "-1"),
        ("--exposure", "nan"),
        ("--exposure", "inf"),
        ("--exposure", "soon"),
        ("--exposure", ""),
        ("--airmass", "0.5"),
        ("--airmass", "nan"),
        ("--sky", "99"),
        ("--sky", "nan"),
        ("--faintest-mag", "99"),
        ("--faintest-mag", "nan"),
        ("--min-stars", "0"),
        ("--min-stars", "two"),
        ("--angle", "1000"),
        ("--angle", "nan"),
        ("--tolerance", "1"),
        ("--any-side",),
        ("--epoch", "yesterday"),
        ("--equinox", "B1950"),
        ("--colour", "blue"),
    ],
)
def test_a_bad_option_is_one_sentence_that_names_it_or_its_value(run, rig_file, options):
    status, out, err = run("M31", "--rig", rig_file, *options)
    assert (status, out) == (2, "")
    assert options[0].lstrip("-") in one_sentence(err) or f'"{options[1]}"' in err


@pytest.mark.parametrize("option", [("--exposure", "2"), ("--exposure", "auto"), ("--airmass", "2"), ("--sky", "19")])
def test_light_and_a_fixed_limit_do_not_go_together(run, rig_file, option):
    status, out, err = run("M31", "--rig", rig_file, "--faintest-mag", 11, *option)
    assert (status, out) == (2, "")
    assert f"{option[0]} would change nothing: leave one of the two out" in one_sentence(err)
    changed(rig_file, "# faintest_mag = 12.0", "faintest_mag = 11.5")
    status, out, err = run("M31", "--rig", rig_file, *option)
    assert (status, out) == (2, "")
    assert "take faintest_mag out of the rig file" in one_sentence(err)
    assert run("M31", "--rig", rig_file)[0] == 0


@pytest.mark.parametrize("name", ["missing/field.png", "field.jpg", "."])
def test_where_the_figure_cannot_be_written_the_answer_still_stands(run, rig_file, tmp_path, name):
    status, out, err = run("NGC 7331", "--rig", rig_file, "--figure", f"{tmp_path}/{name}")
    assert status == 2
    assert "BEST SURE ANGLE" in out
    assert str(tmp_path) in one_sentence(err)


def test_a_figure_of_a_list_is_refused(run, rig_file, targets):
    status, out, err = run("--targets", targets, "--rig", rig_file, "--figure", "a.png")
    assert (status, out) == (2, "")
    assert "--figure draws one target" in one_sentence(err)


@pytest.fixture
def catalogue(tmp_path, monkeypatch):
    """A copy of the built-in catalogue that may be damaged."""
    copy = tmp_path / "tycho2"
    shutil.copytree(tycho2.builtin_folder(), copy)
    tycho2.tycho2.cache_clear()
    monkeypatch.setattr(tycho2, "builtin_folder", lambda: copy)
    yield copy
    tycho2.tycho2.cache_clear()


@pytest.mark.parametrize("damage", ["cut short", "emptied", "removed", "scrambled"])
def test_a_damaged_catalogue_file_is_named_with_the_repair(run, rig_file, catalogue, damage):
    assert run("NGC 7331", "--rig", rig_file)[0] == 0
    for file in catalogue.glob("dataset/Norder=2/Dir=0/*.parquet"):
        content = file.read_bytes()
        if damage == "removed":
            file.unlink()
        elif damage == "scrambled":
            file.write_bytes(content[:4] + bytes(len(content) // 2) + content[4 + len(content) // 2 :])
        else:
            file.write_bytes(content[: 0 if damage == "emptied" else len(content) // 2])
    tycho2.tycho2.cache_clear()
    status, out, err = run("NGC 7331", "--rig", rig_file)
    assert (status, out) == (3, "")
    assert str(catalogue / "dataset" / "Norder=2" / "Dir=0") in one_sentence(err)
    assert ".parquet is " in err
    assert "install guidestar again" in err
