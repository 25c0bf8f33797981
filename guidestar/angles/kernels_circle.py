"""Compiled angle kernels, the circle: which turns are covered, roughly by bits and exactly by sorted ends.

The rough answer: the circle in `CELLS` cells, a bit each, in four 64-bit words. `bits[k]` holds the cells that at least
k arcs cover *wholly*, so that a set bit is certain and a clear one is not; `bits[0]` is all ones. The exact answer
sorts the arcs' ends. Radians; as in `guidestar.angles.circular` an arc may lie anywhere on the real line.

Arcs and what is made from them stand in the rows of two arrays, `arcs` of floats and `marks` of whole numbers, as the
constants below say, made by `room_for_arcs`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.circular import SLIVER_DEG
from guidestar.angles.kernels import TURN, compiled, inlined

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CELLS = 256
WORDS = CELLS // 64
CELL = TURN / CELLS
_SLIVER = math.radians(SLIVER_DEG)
"""Gaps nearer to each other than this are one: what lies between is rounding noise."""
_ALL = -1
"""Every bit of a word (two's complement)."""

_PRIME = 67
_PLACE = np.array([next((i for i in range(64) if (1 << i) % _PRIME == left), 0) for left in range(_PRIME)])
"""Which bit is set, by what a word of one bit leaves over divided by the prime."""

START, END, MARK, GAP_START, GAP_END, RUN_START, RUN_END = range(7)
"""Rows of floats: the arcs; their ends in order; the turns that too few of them cover, in pieces, and joined to
runs."""
STEP, MISSING = range(2)
"""Rows of whole numbers: +1 where an arc begins and −1 where it ends, in order; how many arcs each gap lacks."""


@compiled
def room_for_arcs(number: int) -> tuple[FloatArray, IntArray]:
    """Return the two arrays for up to so many arcs."""
    return np.empty((7, 2 * number + 2)), np.empty((2, 2 * number + 2), np.int64)


@inlined
def empty_bits(count: int) -> IntArray:
    """Return the words of a circle on which up to `count` arcs are counted."""
    return np.zeros((count + 1, WORDS), np.int64)


@inlined
def clear(bits: IntArray) -> None:
    """Start anew: nothing is covered."""
    bits[0, :] = _ALL
    bits[1:, :] = 0


@inlined
def cover(bits: IntArray, start: int, length: int) -> None:
    """Count up to 62 whole cells from `start` on, wrapping round, as covered once more.

    Two words hold them, and none but the words' bits depend on where they lie: no branch.
    """
    mask = (1 << length) - 1
    word, shift = start >> 6, start & 63
    here, beyond = mask << shift, (mask >> (63 - shift)) >> 1
    following = (word + 1) & (WORDS - 1)
    for k in range(bits.shape[0] - 1, 0, -1):
        bits[k, word] |= bits[k - 1, word] & here
        bits[k, following] |= bits[k - 1, following] & beyond


@inlined
def all_covered(bits: IntArray) -> bool:
    """Return whether every cell is covered as often as is counted."""
    last = bits.shape[0] - 1
    return bool(bits[last, 0] & bits[last, 1] & bits[last, 2] & bits[last, 3] == _ALL)


@inlined
def range_covered(bits: IntArray, start: int, length: int) -> bool:
    """Return whether `length` cells from `start` on are all covered as often as is counted."""
    last = bits.shape[0] - 1
    cell, left = start, length
    while left > 0:
        word, shift = cell >> 6, cell & 63
        take = min(64 - shift, left)
        mask = _ALL if take == 64 else ((1 << take) - 1) << shift
        if bits[last, word] & mask != mask:
            return False
        cell = (cell + take) & (CELLS - 1)
        left -= take
    return True


@inlined
def add_covered(bits: IntArray, arcs: FloatArray, n: int) -> int:
    """Append the runs of cells that are covered as often as is counted, each as often; return the new number of arcs.

    With them, arcs that touch no other cell can be left out of `wanting`.
    """
    count = bits.shape[0] - 1
    begin, before = -1, 0
    for word in range(WORDS + 1):
        here = bits[count, word] if word < WORDS else 0
        changes = here ^ ((here << 1) | before)
        before = (here >> 63) & 1
        while changes != 0:
            lowest = changes & -changes
            changes ^= lowest
            cell = 64 * word + _PLACE[np.uint64(lowest) % np.uint64(_PRIME)]
            if begin < 0:
                begin = cell
            else:
                for _ in range(count):
                    arcs[START, n], arcs[END, n] = begin * CELL, cell * CELL
                    n += 1
                begin = -1
    return n


@compiled
def wanting(arcs: FloatArray, marks: IntArray, n: int, count: int) -> int:
    """Find the turns that fewer than `count` of n arcs cover, and enter them as gaps; return their number.

    Gaps lie between 0 and 2π, in order; one that crosses 0 is two, and so is one where the number of arcs changes.
    """
    if count == 1:
        return _wanting_once(arcs, marks, n)
    depth = _sorted_ends(arcs, marks, n)
    found, before = 0, 0.0
    for i in range(2 * n + 1):
        here = TURN if i == 2 * n else arcs[MARK, i]
        if depth < count and here > before:
            arcs[GAP_START, found], arcs[GAP_END, found], marks[MISSING, found] = before, here, count - depth
            found += 1
        before = max(before, here)
        if i < 2 * n:
            depth += marks[STEP, i]
    return found


@inlined
def _wanting_once(arcs: FloatArray, marks: IntArray, n: int) -> int:
    """Do as `wanting` where one arc is enough: going through the arcs in the order of their starts.

    Starts in order and their ends are held in the rows of marks and, as they are free yet, of the runs' starts.
    """
    reach = 0.0
    for i in range(n):
        start = arcs[START, i] - math.floor(arcs[START, i] / TURN) * TURN
        arcs[MARK, i], arcs[RUN_START, i] = start, start + min(arcs[END, i] - arcs[START, i], TURN)
        reach = max(reach, arcs[RUN_START, i] - TURN)
    _sort_starts(arcs, n)
    found = 0
    for i in range(n + 1):
        here = TURN if i == n else min(arcs[MARK, i], TURN)
        if here > reach:
            arcs[GAP_START, found], arcs[GAP_END, found], marks[MISSING, found] = reach, here, 1
            found += 1
        if i < n:
            reach = max(reach, arcs[RUN_START, i])
    return found


@inlined
def _sort_starts(arcs: FloatArray, n: int) -> None:
    """Sort starts with their ends (shell sort)."""
    gap = 1
    while gap < n // 3:
        gap = 3 * gap + 1
    while gap > 0:
        for i in range(gap, n):
            start, end, j = arcs[MARK, i], arcs[RUN_START, i], i
            while j >= gap and arcs[MARK, j - gap] > start:
                arcs[MARK, j], arcs[RUN_START, j] = arcs[MARK, j - gap], arcs[RUN_START, j - gap]
                j -= gap
            arcs[MARK, j], arcs[RUN_START, j] = start, end
        gap //= 3


@inlined
def _sorted_ends(arcs: FloatArray, marks: IntArray, n: int) -> int:
    """Enter the arcs' ends in [0, 2π], ascending, and their steps; return the depth at 0.

    At one place beginnings come first, so that arcs that touch leave no gap.
    """
    depth = 0
    for i in range(n):
        width = min(arcs[END, i] - arcs[START, i], TURN)
        start = arcs[START, i] - math.floor(arcs[START, i] / TURN) * TURN
        if start >= TURN:  # what a tiny negative angle rounds to
            start = 0.0
        end = start + width
        if end >= TURN:
            depth += 1
            end -= TURN
        arcs[MARK, 2 * i], marks[STEP, 2 * i] = start, 1
        arcs[MARK, 2 * i + 1], marks[STEP, 2 * i + 1] = end, -1
    sort_marks(arcs, marks, 2 * n)
    return depth


@compiled
def sort_marks(arcs: FloatArray, marks: IntArray, n: int) -> None:
    """Sort marks, at one place greatest step first (shell sort: few elements, nearly always below a hundred)."""
    gap = 1
    while gap < n // 3:
        gap = 3 * gap + 1
    while gap > 0:
        for i in range(gap, n):
            mark, step, j = arcs[MARK, i], marks[STEP, i], i
            while j >= gap and (
                arcs[MARK, j - gap] > mark or (arcs[MARK, j - gap] == mark and marks[STEP, j - gap] < step)
            ):
                arcs[MARK, j], marks[STEP, j] = arcs[MARK, j - gap], marks[STEP, j - gap]
                j -= gap
            arcs[MARK, j], marks[STEP, j] = mark, step
        gap //= 3


@inlined
def joined(arcs: FloatArray, gaps: int) -> int:
    """Join gaps that touch, also across 0, to runs; the first may begin before 0. Return their number."""
    found = 0
    for i in range(gaps):
        if found and arcs[GAP_START, i] - arcs[RUN_END, found - 1] <= _SLIVER:
            arcs[RUN_END, found - 1] = arcs[GAP_END, i]
        else:
            arcs[RUN_START, found], arcs[RUN_END, found] = arcs[GAP_START, i], arcs[GAP_END, i]
            found += 1
    if found > 1 and arcs[RUN_START, 0] + TURN - arcs[RUN_END, found - 1] <= _SLIVER:
        found -= 1
        arcs[RUN_START, 0], arcs[RUN_END, 0] = arcs[RUN_START, found] - TURN, arcs[RUN_END, 0]
    return found


@inlined
def total(arcs: FloatArray, row: int, n: int) -> float:
    """Return the total width of gaps or runs, from the row of their starts."""
    width = 0.0
    for i in range(n):
        width += arcs[row + 1, i] - arcs[row, i]
    return width


@inlined
def widest(arcs: FloatArray, row: int, n: int) -> float:
    """Return the width of the widest gap or run, 0 without any."""
    width = 0.0
    for i in range(n):
        width = max(width, arcs[row + 1, i] - arcs[row, i])
    return width


@inlined
def shared_half_a_turn_away(arcs: FloatArray, n: int) -> float:
    """Return how much of the gaps lies in the gaps turned by half a turn, radians."""
    shared = 0.0
    for i in range(n):
        for j in range(i):
            # A gap and another, half a turn on or back: counted once from either side.
            for turned in (-math.pi, math.pi):
                low = max(arcs[GAP_START, i], arcs[GAP_START, j] + turned)
                high = min(arcs[GAP_END, i], arcs[GAP_END, j] + turned)
                shared += 2.0 * max(high - low, 0.0)
        own = arcs[GAP_END, i] - arcs[GAP_START, i] - math.pi
        shared += 2.0 * max(own, 0.0)
    return shared
