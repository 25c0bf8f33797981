"""How often a flat's shadow is found, on some hundreds of rendered flats; prints the table. Minutes, not seconds.

Run: python tests/benchmarks/flat_detection.py [share of the full run, such as 0.1]
The limits of the analysis were set on seeds below 1000; this run uses others.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

import numpy as np
from support import flats

from guidestar.flat.analyse import analyse
from guidestar.flat.frame import flat_frame
from guidestar.flat.result import Body, Sensor

FULL = {"edge, 10–60 %": 160, "corner, 20–60 %": 160, "edge, 3–10 %": 80, "corner, 3–20 %": 80, "no shadow": 200, "off-centre round stop": 120}  # fmt: skip
FIRST_SEED = 900_000  # tuning: another first seed
_SET_NUMBER = {name: k for k, name in enumerate(FULL)}


def make(kind, number):
    """One flat of a set; every third under a colour mosaic."""
    seed = FIRST_SEED + 10_000 * _SET_NUMBER[kind] + number
    colour = number % 3 == 0
    if kind == "no shadow":
        return flats.plain_flat(seed, colour=colour)
    if kind == "off-centre round stop":
        return flats.round_stop_flat(seed, colour=colour)
    low, high = (float(n) / 100 for n in kind.split()[1].split("–"))
    depth = float(np.exp(np.random.default_rng(seed).uniform(np.log(low), np.log(high))))
    places = list(flats.EDGES) if kind.startswith("edge") else flats.CORNERS
    return flats.shadowed_flat(seed, places[number % 4], depth, colour=colour)


def sensor_of(flat):
    """The rig that the flat was rendered for: the prism's width and beam known, as with --rig."""
    body = Body(1.0, flat.radius_mm or 3.0, flat.obstruction, flat.body_mm or 12.0, 8.0, 15.0)
    return Sensor(flat.width_mm, flat.height_mm, 1000 * flat.width_mm / flat.pixels.shape[1], 0.0, body)


def look(flat, *, rig):
    """Analyse one flat as the command would."""
    sensor = sensor_of(flat) if rig else None
    return analyse(flat_frame(flat.pixels, sensor=sensor), sensor)


def measure(kind, count, *, rig):
    """Return a set's tallies: verdicts, right places, depths within 20 %, and the errors of the draw-out in mm."""
    tally, draw_out = Counter(), []
    for number in range(count):
        flat = make(kind, number)
        found = look(flat, rig=rig)
        tally[found.verdict] += 1
        if flat.depth and found.verdict in ("shadow", "possible") and found.place == flat.place:
            tally["place"] += 1
            tally["depth"] += abs(found.depth / flat.depth - 1) <= 0.2
            if found.draw_out_mm is not None:
                draw_out.append(abs(found.draw_out_mm - flat.draw_out_mm))
    return tally, draw_out


def main(share=1.0):
    """Print the table."""
    print("| flats | rig | number | shadow | possible | other | none | place right | depth within 20 % | draw-out, median and worst mm |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for kind, full in FULL.items():
        count = max(4, round(full * share))
        for rig in (False, True):
            tally, draw_out = measure(kind, count, rig=rig)
            verdicts = " | ".join(str(tally[v]) for v in ("shadow", "possible", "other", "none"))
            right = "–" if kind in ("no shadow", "off-centre round stop") else f"{100 * tally['place'] / count:.1f} %"
            depth = "–" if right == "–" else f"{100 * tally['depth'] / max(tally['place'], 1):.1f} %"
            moves = f"{np.median(draw_out):.2f}, {np.max(draw_out):.2f}" if draw_out else "–"
            print(f"| {kind} | {'known' if rig else 'not'} | {count} | {verdicts} | {right} | {depth} | {moves} |", flush=True)


if __name__ == "__main__":
    main(*(float(word) for word in sys.argv[1:2]))
