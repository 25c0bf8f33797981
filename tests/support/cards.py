"""Cards for tests: made-up nights of every kind, drawn once each, and what can be asked of a drawn card."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
from matplotlib.patches import Polygon
from matplotlib.text import Annotation

from guidestar.night.result import Span, Window
from guidestar.night.safety import NEVER
from guidestar.report import card_sheet
from guidestar.report.card_page import Contents, paper_card, phone_card
from guidestar.rig import Site
from guidestar.train.build import train
from support import nights
from support.rigs import COMPOUND, FAST, NEWTONIAN, REFRACTOR, rig
from support.trains import train_rig

SUN = f"This plan runs into dawn, and the Sun rises 31° from where the telescope then points: stop in time. {NEVER}"
LONG = "A target with a name that somebody typed into a list, Nebelhaufen-und-noch-etwas-mehr-davon " * 2
GUIDE_SIDE = {"train__stalk_mm": 20.0, "train__guide_flange_mm": 12.5, "train__focuser_travel_mm": 12.0}
OWN_SPACERS = {"train__spacers_mm": (3.0, 7.0)}
LAYOUTS = ("a4", "letter", "phone")


def two_windows(result):
    (night,) = result.targets
    both = (Window(nights.DUSK, nights.at(2), "dusk", "sets"), Window(nights.at(6), nights.DAWN, "rises", "dawn"))
    return replace(result, targets=(replace(night, windows=both, flip=None),))


def turning_back(result):
    (night,) = result.targets
    first, second = night.sides
    sides = (first, replace(second, end=nights.at(9)), replace(first, start=nights.at(9), end=nights.DAWN))
    runs = tuple(run for side in sides for run in nights.runs_of(side, 1))
    return replace(result, targets=(replace(night, sides=sides, runs=runs),))


def with_train(**changes):
    own = train_rig(**changes)
    return nights.night(rig=own, sky=nights.sky_of(own, stars=300), flip_hour=None), train(own)


def plain(make, *args, **more):
    return lambda: (make(*args, **more), None)


CASES = {
    "sure, with a flip": plain(nights.night),
    "no flip, a train": lambda: with_train(**GUIDE_SIDE, **OWN_SPACERS),
    "a train without its guide side": with_train,
    "a train at odds with its rig": lambda: with_train(prism__ahead_mm=40.0),
    "a train too long": lambda: with_train(train__back_focus_mm=40.0),
    "the Sun, and nothing sure": plain(
        nights.night, holds="usable", warnings=(SUN,), stretches=5, notes=(SUN[:90],) * 4
    ),
    "only partly": plain(nights.night, holds="partly", stretches=3, rig=rig(NEWTONIAN)),
    "no star at all": plain(nights.night, holds="never", sky=nights.sky_of(rig(), stars=3, faintest=14.5)),
    "no star at the angle asked for": plain(nights.night, holds="never", asked=True, angle_deg=10.0),
    "not tonight": plain(nights.no_hours, warnings=(SUN,)),
    "polar day": plain(nights.no_hours, "It does not get dark in this night.", dark=nights.dark_of(kind="none")),
    "a long name, many stars": plain(
        nights.night,
        name=LONG,
        rig=rig(REFRACTOR),
        stretches=9,
        sky=nights.sky_of(rig(REFRACTOR), stars=400),
    ),
    "an alt-azimuth mount": plain(nights.turning_night, stretches=9, holds="partly"),
    "mirrored, prism left, sensor turned": plain(
        nights.night, rig=rig(NEWTONIAN), sky=nights.sky_of(rig(NEWTONIAN), stars=300)
    ),
    "guide picture not mirrored": plain(nights.night, rig=rig(FAST, guide_camera__picture_mirrored=False)),
    "two windows, nautical": lambda: (
        two_windows(nights.night(dark=nights.dark_of(kind="nautical"), holds="usable")),
        None,
    ),
    "turning back below the pole": lambda: (turning_back(nights.night()), None),
    "far south, half an hour off": plain(
        nights.night,
        site=Site(latitude_deg=-43.0, longitude_deg=-176.5, time_zone="Pacific/Chatham"),
        rig=rig(COMPOUND, guiding__min_stars=2),
    ),
    "clocks change": plain(
        nights.night,
        dark=replace(
            nights.dark_of(),
            whole=Span(nights.at(-32 * 24.0 - 6), nights.at(-32 * 24.0 + 18)),
            notes=("The clocks change in this night, from UTC+2 to UTC+1: hours are counted as they pass.",),
        ),
    ),
}


@functools.cache
def made(name):
    """A night and its train; results are frozen, so each is made once."""
    return CASES[name]()


@functools.cache
def drawn(name, layout):
    result, built = made(name)
    return card_of(result, built, layout)


def card_of(result, built, layout):
    contents = Contents(result, result.targets[0], built)
    with card_sheet.style():
        return phone_card(contents) if layout == "phone" else paper_card(contents, layout)


def texts(figure):
    (axes,) = figure.axes
    return [text for text in axes.texts if text.get_text()]


def words(figure, gid):
    return [text.get_text() for text in texts(figure) if text.get_gid() == gid]


def everything(figure):
    return "\n".join(text.get_text() for text in texts(figure))


def boxes(figure):
    """Each text's box in points, y downward, with the words."""
    with card_sheet.style():
        figure.set_dpi(72.0)
        renderer = figure.canvas.get_renderer()
        found = []
        for text in texts(figure):
            box = text.get_window_extent(renderer)
            found.append((box.x0, figure.bbox.height - box.y1, box.x1, figure.bbox.height - box.y0, text))
    return found


def patches(figure, gid):
    (axes,) = figure.axes
    return [patch for patch in axes.patches if (patch.get_gid() or "").startswith(gid)]


def bounds(patch):
    points = patch.get_xy() if isinstance(patch, Polygon) else patch.get_path().vertices
    return (*points.min(axis=0), *points.max(axis=0))


def arrow(figure, gid):
    (axes,) = figure.axes
    (found,) = [text for text in axes.texts if isinstance(text, Annotation) and text.get_gid() == gid]
    right, down = np.subtract(found.xy, found.xyann)
    return np.array([right, -down]) / np.hypot(right, down)
