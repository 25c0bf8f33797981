"""A night as text for a person: one target in full, a list as a table, the best of the night first."""

from __future__ import annotations

from collections.abc import Sequence

from guidestar.night.result import Moment, NightResult, Run, TargetNight
from guidestar.report import night_sentences as sentences
from guidestar.report import wording as w
from guidestar.report.night_wording import Clock, clock_of, hours
from guidestar.report.sheet import Sheet, new_sheet

_MOST_RUNS = 30


def render_night(result: NightResult, *, width: int | None = None, colour: bool = False) -> str:
    """Write the whole report.

    Parameters
    ----------
    result : NightResult
    width : int, optional
        Characters a line; default: the terminal's width, or 80 where there is none.
    colour : bool
        Mark headings and answers with terminal codes.

    Returns
    -------
    str
        Lines that end in a newline; no line is longer than `width`, unless a single word is.
    """
    sheet, clock = new_sheet(width, colour), clock_of(result)
    _safety(sheet, result)
    if result.is_list:
        _list(sheet, result, clock)
    else:
        _one(sheet, result, result.targets[0], clock)
    return sheet.finished()


def _safety(sheet: Sheet, result: NightResult) -> None:
    """Write the warnings about the Sun before everything else."""
    for night in result.targets:
        name = f"{night.target.name}: " if result.is_list else ""
        sheet.prose([f"DANGER  {name}{text}" for text in night.warnings], hang="  ")
    if any(night.warnings for night in result.targets):
        sheet.gap()


def _one(sheet: Sheet, result: NightResult, night: TargetNight, clock: Clock) -> None:
    target = night.target
    sheet.title(target.name)
    sheet.prose(
        [f"{w.right_ascension(target.ra_deg)}, {w.declination(target.dec_deg)} (ICRS). {sentences.heading(result)}"]
    )
    sheet.prose(sentences.warnings(result), hang="  ")
    _paragraphs(sheet, sentences.darkness(result, clock))
    _paragraphs(sheet, [sentences.up(result, night, clock)])
    if night.choice is None:
        _paragraphs(sheet, night.notes)
        return
    _paragraphs(sheet, sentences.angle(result, night))
    if night.choice.asked or night.choice.holds != "never":
        _runs(sheet, result, night, clock)
    _paragraphs(sheet, [*sentences.each_side(night), *sentences.held(result, night)])
    _paragraphs(sheet, sentences.turning(night, clock))
    sheet.gap()
    _hours(sheet, result, night, clock)
    _paragraphs(sheet, night.notes)
    _paragraphs(sheet, [sentences.stars(night)])


def _paragraphs(sheet: Sheet, paragraphs: Sequence[str]) -> None:
    for paragraph in paragraphs:
        sheet.gap()
        sheet.prose([paragraph], hang="  ")


def _runs(sheet: Sheet, result: NightResult, night: TargetNight, clock: Clock) -> None:
    """List which star serves when."""
    shown = night.runs[:_MOST_RUNS]
    lit = result.rig.guiding.faintest_mag is None
    turning = night.turning is not None
    headings = ("  from", "to", "camera angle", "star", "G mag", *(["exposure"] if lit else []))
    rows = [_run_cells(run, clock, lit, turning) for run in shown]
    sheet.table_or_lines(headings, rows, frozenset({0, 3}), indent="  ")
    more = [f"{len(night.runs) - _MOST_RUNS} more stretches follow."] if len(night.runs) > _MOST_RUNS else []
    notes = [*more, sentences.changes(night)]
    if lit and any(run.star_id for run in night.runs):
        notes.append("exposure: the shortest usual guide exposure that serves the whole stretch.")
    notes += [f"!: {text}" for text in sentences.saturated(night)]
    said = " ".join(note for note in notes if note)
    sheet.prose([said] if said else [], indent="  ")


def _run_cells(run: Run, clock: Clock, lit: bool, turning: bool) -> tuple[str, ...]:
    angle = w.angle(run.camera_angle_deg)
    if turning:
        angle = f"{angle} to {w.angle(run.camera_angle_end_deg)}"
    star = run.star_id or sentences.gap_words(run.exposure_s, run.would_be_id)
    exposure = "–" if run.star_id is None or run.exposure_s is None else w.exposure(run.exposure_s)
    exposure += " !" if run.saturated else ""
    magnitude = "–" if run.g_mag is None else f"{run.g_mag:.2f}"
    return (f"  {clock.at(run.start)}", clock.at(run.end), angle, star, magnitude, *([exposure] if lit else []))


def _hours(sheet: Sheet, result: NightResult, night: TargetNight, clock: Clock) -> None:
    headings = ("  time", "altitude", "airmass", "lost", "star", "sky", "Moon", "reach", "angles")
    rows = [_moment_cells(moment, clock) for moment in _hourly(night, clock)]
    sheet.table_or_lines(headings, rows, frozenset({0}), indent="  ")
    sheet.prose([sentences.conditions_note(result)], indent="  ")


def _hourly(night: TargetNight, clock: Clock) -> list[Moment]:
    """Return the moments at full hours and at the ends of windows; every quarter hour is in the JSON."""
    ends = {moment for window in night.windows for moment in (window.start, window.end)}
    return [m for m in night.moments if m.time in ends or clock.local(m.time).minute == 0]


def _moment_cells(moment: Moment, clock: Clock) -> tuple[str, ...]:
    up = moment.moon_altitude_deg > 0.0
    moon = f"{moment.moon_altitude_deg:.0f}°, {moment.moon_separation_deg:.0f}° away" if up else "down"
    return (
        f"  {clock.at(moment.time)}",
        f"{moment.altitude_deg:.0f}°",
        f"{moment.airmass:.2f}",
        f"{moment.extinction_mag:.2f}",
        f"{moment.fwhm_arcsec:.1f}″",
        f"{moment.sky_v_mag_arcsec2:.1f}",
        moon,
        f"{moment.faintest_mag:.1f}",
        w.percent(moment.usable_fraction),
    )


def _list(sheet: Sheet, result: NightResult, clock: Clock) -> None:
    number = len(result.targets)
    sheet.title(f"{w.counted(number, 'target')} for tonight")
    sheet.prose([sentences.heading(result)])
    sheet.prose(sentences.warnings(result), hang="  ")
    _paragraphs(sheet, sentences.darkness(result, clock))
    sheet.gap()
    headings = ("", "target", "from", "to", "up", "guided", "angle", "holds", "±", "star", "flip")
    rows = [_row_cells(place, night, clock) for place, night in enumerate(result.targets, 1)]
    sheet.table_or_lines(headings, rows, frozenset({1, 7, 9}), between="; ")
    sheet.prose([_list_note(result), *_first_saturated(result)])
    _paragraphs(sheet, [f"{night.target.name}: {night.no_window}" for night in result.targets if night.no_window])
    if result.bad_rows:
        sheet.gap()
    sheet.prose([f"Row {row.row}, “{row.text}”: {row.reason}" for row in result.bad_rows], hang="  ")


def _first_saturated(result: NightResult) -> list[str]:
    """Say what the sign behind a star means, where one stands."""
    firsts = (next((run for run in night.runs if run.star_id), None) for night in result.targets)
    if not any(run is not None and run.saturated for run in firsts):
        return []
    return [
        "!: the star fills its brightest pixel even with the shortest exposure that serves, so its place is less exact."
    ]


def _row_cells(place: int, night: TargetNight, clock: Clock) -> tuple[str, ...]:
    name = f"{'! ' if night.warnings else ''}{night.target.name}"
    choice = night.choice
    if choice is None:
        return (str(place), name, *("–",) * 3, "0", *("–",) * 5)
    last = night.windows[-1]
    star = next((f"{run.star_id}{' !' if run.saturated else ''}" for run in night.runs if run.star_id), "–")
    found = choice.holds != "never"
    margin = "–" if choice.margin_deg <= 0.0 else "any" if choice.margin_deg >= 180.0 else w.margin(choice.margin_deg)
    return (
        str(place),
        name,
        clock.at(night.windows[0].start),
        clock.at(last.end),
        hours(night.hours),
        hours(night.guidable_hours) if found else "0",
        w.angle(choice.angle_deg) if found or choice.asked else "–",
        choice.holds,
        margin,
        star,
        "–" if night.flip is None else clock.at(night.flip),
    )


def _list_note(result: NightResult) -> str:
    parted = any(len(night.windows) > 1 for night in result.targets)
    between = " (less than from–to where it is too low or not dark in between)" if parted else ""
    accuracy_mm = result.rig.prism.offset_accuracy_mm
    off = "the rig file allows nothing for the prism"
    if accuracy_mm:
        off = f"even if the prism sits {w.play(accuracy_mm)} off"
    return (
        "The best of the night first: longest with a guide star, then longest up. up: dark and above your "
        f"limits{between}; guided: with a star at the camera angle named, as it stands when the hours begin; holds: "
        f"from beginning to end, sure ({off}) or usable, or only partly; ±: how far you "
        "may miss the angle; star: the first that serves; flip: when the mount turns over."
    )
