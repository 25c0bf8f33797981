"""How often a flat's shadow is found, on some hundreds of rendered flats; prints the table. Minutes, not seconds.

Run: PYTHONPATH=tests python tests/benchmarks/flat_detection.py [share of the full run, such as 0.1 [names of sets]]
"""

from __future__ import annotations

import sys

import numpy as np
from support.flat_sets import FULL, measure


def main(share=1.0, *kinds):
    """Print the table."""
    columns = ("flats", "rig", "number", "shadow", "possible", "other", "none", "place right", "depth within 20 %")
    print(f"| {' | '.join(columns)} | draw-out, median and worst mm |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for kind in kinds or FULL:
        count = max(4, round(FULL[kind] * share))
        for rig in (False, True):
            tally, draw_out = measure(kind, count, rig=rig)
            verdicts = " | ".join(str(tally[v]) for v in ("shadow", "possible", "other", "none"))
            right = "–" if kind in ("no shadow", "off-centre round stop") else f"{100 * tally['place'] / count:.1f} %"
            depth = "–" if right == "–" else f"{100 * tally['depth'] / max(tally['place'], 1):.1f} %"
            moves = f"{np.median(draw_out):.2f}, {np.max(draw_out):.2f}" if draw_out else "–"
            print(
                f"| {kind} | {'known' if rig else 'not'} | {count} | {verdicts} | {right} | {depth} | {moves} |",
                flush=True,
            )


if __name__ == "__main__":
    main(*(float(word) for word in sys.argv[1:2]), *sys.argv[2:])
