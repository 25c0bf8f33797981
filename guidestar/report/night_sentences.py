"""What a night says, as sentences for a person; `night_text.py` lays them out.

Every function returns a paragraph or a list of them. Words in capitals at the head of a paragraph are its name.
"""

from __future__ import annotations

from guidestar.field.result import Intervals
from guidestar.night.result import Bound, Choice, NightResult, SideOfNight, TargetNight, Window
from guidestar.report import wording as w
from guidestar.report.night_wording import Clock, day, hours, place

_MOST_SPANS = 8

_BEGINS: dict[Bound, str] = {
    "dusk": "from dusk",
    "rises": "from when it is high enough",
    "night begins": "from noon",
}
_ENDS: dict[Bound, str] = {"dawn": "until dawn", "sets": "until it is too low", "night ends": "until noon"}


def heading(result: NightResult) -> str:
    """Name the night, the place and the clocks."""
    zone = result.site.time_zone
    clocks = "times are UTC" if zone in ("Etc/UTC", "UTC") else f"times are those of {zone}"
    return f"The night of {day(result.dark.evening)} at {place(result.site)}; {clocks}."


def darkness(result: NightResult, clock: Clock) -> list[str]:
    """Say how long it is dark, and what Sun and Moon do."""
    dark = result.dark
    spans = w.joined([clock.span(span) for span in dark.spans])
    if dark.kind == "astronomical":
        first = f"DARK  {spans} ({hours(dark.hours)}), with the Sun at least 18° below the horizon."
    elif dark.kind == "nautical":
        first = (
            f"DARK  It does not get fully dark: the Sun goes no more than {-dark.lowest_sun_deg:.1f}° below the "
            f"horizon. The hours with the Sun at least 12° below it are taken instead, {spans} "
            f"({hours(dark.hours)}); the light of twilight is not reckoned, so the sky is brighter than said here, "
            "most at their ends."
        )
    else:
        lowest = dark.lowest_sun_deg
        depth = "stays above the horizon" if dark.sun == "never sets" else f"goes only {-lowest:.1f}° below the horizon"
        first = f"DARK  Not at all in this night: the Sun {depth}. There is nothing to plan."
    return [f"{first} {_sun(result, clock)} {_moon(result, clock)}", *dark.notes]


def _sun(result: NightResult, clock: Clock) -> str:
    dark = result.dark
    if dark.sun == "never sets":
        return "The Sun does not set."
    if dark.sun == "never rises":
        return "The Sun does not rise."
    parts = []
    if dark.sunset is not None:
        parts.append(f"sunset {clock.at(dark.sunset)}")
    if dark.sunrise is not None:
        parts.append(f"sunrise {clock.at(dark.sunrise)}")
    words = w.joined(parts)
    return f"{w.capital(words)}."


def _moon(result: NightResult, clock: Clock) -> str:
    moon, dark = result.dark.moon, result.dark
    phase = f"The Moon is {w.percent(moon.illuminated)} lit and {'waxing' if moon.waxing else 'waning'}"
    if moon.rises is None and moon.sets is None:
        up = float(moon.curve.altitude_deg.max()) > 0.0
        return f"{phase}; it {'does not set' if up else 'does not rise'}."
    marks = sorted(
        (when, f"{word} at {clock.at(when)}")
        for when, word in ((moon.rises, "rises"), (moon.sets, "sets"))
        if when is not None
    )
    words = [mark for _, mark in marks]
    if not dark.spans:
        return f"{phase}; it {w.joined(words)}."
    if moon.up_while_dark_hours <= 0.0:
        return f"{phase}; it {w.joined([*words, 'is down while it is dark'])}."
    whole = moon.up_while_dark_hours >= dark.hours - 0.02
    share = "all the dark hours" if whole else f"{hours(moon.up_while_dark_hours)} of the dark hours"
    return f"{phase}; it {w.joined([*words, f'is up for {share}'])}."


def up(result: NightResult, night: TargetNight, clock: Clock) -> str:
    """Say when a target can be imaged, its transit and the flip."""
    if night.no_window is not None:
        transit = _transit(night, clock)
        return f"UP  No hours tonight. {night.no_window}{f' {transit}.' if transit else ''}"
    spans = w.joined([_window(window, clock) for window in night.windows])
    meridian = f"{_transit(night, clock)}{_flip(night, clock)}"
    return f"UP  {spans}: {hours(night.hours)} above {_limit(result)}. {meridian}"


def _window(window: Window, clock: Clock) -> str:
    return f"{clock.span(window)} ({_BEGINS[window.begins]} {_ENDS[window.ends]})"


def _limit(result: NightResult) -> str:
    line = result.site.horizon_deg
    least = result.least_altitude_deg
    if isinstance(line, float | int):
        return f"{max(float(line), least):g}° of altitude"
    return "your horizon line" + (f" and {least:g}° of altitude" if least > 0.0 else "")


def _transit(night: TargetNight, clock: Clock) -> str:
    if night.transit is None or night.transit_altitude_deg is None:
        return ""
    if night.transit_altitude_deg <= 0.0:
        return ""
    return f"Transit {clock.at(night.transit)} at {night.transit_altitude_deg:.0f}°"


def _flip(night: TargetNight, clock: Clock) -> str:
    if night.flip is None:
        return "." if night.transit is not None else ""
    first = night.sides[0].side if night.sides else "before flip"
    if first == "before flip":
        return f", so the mount turns over at {clock.at(night.flip)}."
    return f"; the mount turns back over at {clock.at(night.flip)}, when the target passes below the pole."


def angle(result: NightResult, night: TargetNight) -> list[str]:
    """Say which camera angle to dial, for how long it holds, and what to do where none holds all night."""
    choice = night.choice
    if choice is None:
        return []
    name = "ANGLE ASKED FOR" if choice.asked else "ANGLE"
    if choice.holds == "never" and not choice.asked:
        return [f"{name}  No camera angle finds {_stars(result)} at any time of these hours.{_hints(night)}"]
    return [f"{name}  {_dial(night, choice)} {_holds(result, night, choice)}"]


def _stars(result: NightResult) -> str:
    number = result.rig.guiding.min_stars
    return "a guide star" if number == 1 else f"{number} guide stars at once"


def _dial(night: TargetNight, choice: Choice) -> str:
    if choice.roll_deg is not None:
        return (
            f"Set the camera to {w.angle(choice.angle_deg)} when the hours begin, which is with the upper edge of "
            f"the picture {w.angle(choice.roll_deg)} from the zenith, counted anticlockwise as you face the sky; the "
            "sky then turns in the camera."
        )
    if len(night.sides) > 1:
        after = night.sides[1]
        turned = "after the flip" if after.side == "after flip" else "after it turns back over"
        return (
            f"Set the camera to {w.angle(choice.angle_deg)}; {turned} the same setting stands at "
            f"{w.angle(after.camera_angle_deg)}."
        )
    return f"Set the camera to {w.angle(choice.angle_deg)}."


def _holds(result: NightResult, night: TargetNight, choice: Choice) -> str:
    served = f"{hours(night.guidable_hours)} of {hours(night.hours)}"
    if choice.holds == "never":
        return f"It finds {_stars(result)} at no time of these hours."
    if choice.holds == "partly":
        longest = f"without a break for {hours(night.longest_run_hours)} at most"
        best = "" if choice.asked else " No angle holds all night; this one does longest."
        return f"It finds {_stars(result)} for {served}, {longest}.{best}"
    margin = (
        "any other angle will do as well"
        if choice.margin_deg >= 180.0
        else f"you may miss it by {w.margin(choice.margin_deg)} either way"
    )
    if choice.holds == "sure":
        return f"It is sure throughout, {w.even_if_off(result.rig.prism.offset_accuracy_mm)}; {margin}."
    return f"It finds {_stars(result)} throughout if the prism sits exactly where you measured it; {margin}."


def each_side(night: TargetNight) -> list[str]:
    """Where no angle holds on both sides of the flip, name one for each."""
    if night.choice is None or night.choice.holds in ("sure", "usable") or len(night.sides) < 2:
        return []
    parts = [
        f"{_side(side)} {w.angle(side.own_angle_deg)} ({'sure' if side.sure else 'usable'})"
        for side in night.sides
        if side.own_angle_deg is not None
    ]
    if len(parts) < 2:
        return []
    words = w.joined(parts)
    return [
        f"EACH SIDE BY ITSELF  {w.capital(words)} would hold, if you set the camera anew at the flip "
        "(which by itself turns it by 180°)."
    ]


def _side(side: SideOfNight) -> str:
    return side.side.replace(" flip", " the flip")


def _hints(night: TargetNight) -> str:
    return " The check of its hardest moment says what would help: guidestar check." if night.sides else ""


def warnings(result: NightResult) -> list[str]:
    """One paragraph a warning of the rig or of the stars."""
    return [f"WARNING  {w.sentence(text)}" for text in result.warnings]


def saturated(night: TargetNight) -> list[str]:
    """Name the stars that fill their brightest pixel even with the exposure told; nothing if none does."""
    full = list(dict.fromkeys(w.star(run.star_id) for run in night.runs if run.star_id and run.saturated))
    if not full:
        return []
    they, their = ("fills its", "its place is") if len(full) == 1 else ("fill their", "their places are")
    return [
        f"{w.joined(full)} {they} brightest pixel even with the shortest exposure that serves, so {their} less exact."
    ]


def held(result: NightResult, night: TargetNight) -> list[str]:
    """List the camera angles that hold all night."""
    accuracy = result.rig.guiding.rotation_accuracy_deg
    found = []
    if night.sure:
        found.append(f"SURE ALL NIGHT  {_settable(night.sure, accuracy)}.")
    if night.usable and night.usable != night.sure:
        found.append(f"USABLE ALL NIGHT  {_settable(night.usable, accuracy)}.")
    if found and len(night.sides) > 1:
        found[-1] += f" ({_side(night.sides[0]).capitalize()}; 180° on at the other side.)"
    return found


def _settable(ranges: Intervals, accuracy_deg: float) -> str:
    """List the ranges that are wide enough to be set; of the narrower ones only how many there are."""
    wide = [(start, end) for start, end in ranges if end - start >= 2.0 * accuracy_deg]
    narrow = len(ranges) - len(wide)
    limit = f"narrower than you can set the camera (±{w.plain(accuracy_deg, 2)}°)"
    if not wide:
        only = w.spans(ranges, _MOST_SPANS)
        return f"only {only}{',' if narrow == 1 else ', all'} {limit}"
    return w.spans(wide, _MOST_SPANS) + (f"; besides {w.counted(narrow, 'range')} {limit}" if narrow else "")


def changes(night: TargetNight) -> str:
    """Say how often another star has to be taken."""
    number = night.star_changes
    if not night.guidable_hours:
        return ""
    if number == 0:
        return "One star serves throughout." if len({run.star_id for run in night.runs}) == 1 else ""
    return f"Another star has to be taken {'once' if number == 1 else f'{number} times'}."


def turning(night: TargetNight, clock: Clock) -> list[str]:
    """Say how the field turns on an alt-azimuth mount."""
    turn = night.turning
    if turn is None:
        return []
    return [
        f"TURNING  On an alt-azimuth mount the field turns by {turn.total_deg:.0f}° in these hours, fastest at "
        f"{clock.at(turn.fastest_at)} with {_rate(turn.fastest_deg_per_hour)}; then the corners of the picture smear "
        f"by a pixel in {_seconds(turn.exposure_limit_s)}."
    ]


def _rate(deg_per_hour: float) -> str:
    return f"{deg_per_hour / 60.0:.0f}° a minute" if deg_per_hour > 600.0 else f"{deg_per_hour:.0f}° an hour"


def _seconds(value_s: float) -> str:
    if value_s < 0.1:
        return "under" + w.NBSP + w.unit("0.1", "s")
    return w.unit(w.plain(value_s, 1 if value_s < 10.0 else 0), "s")


def gap_words(needs_s: float | None, star_id: str | None) -> str:
    """Say what would bring a star into a gap."""
    if needs_s is None or star_id is None:
        return "no star"
    return f"none; {star_id} with {w.exposure(needs_s)}"


def conditions_note(result: NightResult) -> str:
    """Say what the columns of the hours mean."""
    seen = (
        "" if result.rig.guiding.faintest_mag is None else " The rig's fixed magnitude limit does not heed any of this."
    )
    return (
        "altitude without refraction; lost: starlight that the air takes, mag; star: its size on the guide camera; "
        "sky: V a square arcsecond at the target with moonlight (Krisciunas & Schaefer 1991, good to some 20 %), "
        "Moon: its altitude and distance; reach: faintest usable Gaia G with your exposure; angles: share of all "
        f"camera angles that find a star then.{seen}"
    )


def stars(night: TargetNight) -> str:
    """Say how far the catalogue is complete, against the reach in these hours."""
    used = night.sides[0].check.stars
    deepest = max(moment.faintest_mag for moment in night.moments)
    reach, complete = (w.magnitude(value, used.band) for value in (deepest, used.complete_to_mag))
    if deepest <= used.complete_to_mag:
        meaning = "no star that matters is missing from it"
    else:
        meaning = "stars between the two may be missing from it, so there may be more stars than said here, not fewer"
    how = f"the guide camera reaches {reach} at best in these hours"
    if night.sides[0].check.exposure_s is None:
        how = f"every star down to {reach} counts"
    return f"STARS  {used.source} is complete to about {complete}; {how}: {meaning}."
