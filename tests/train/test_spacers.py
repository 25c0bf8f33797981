from itertools import combinations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from guidestar.train.spacers import nearest_combination

seeded = settings(derandomize=True, deadline=None, max_examples=150)


def brute_force(owned, wanted):
    """Every subset, the best by |residual|, then fewest spacers, then the shorter sum."""
    micrometres = [round(length * 1000) for length in owned]
    subsets = (c for k in range(len(owned) + 1) for c in combinations(micrometres, k))
    goal = round(wanted * 1000)
    return min(subsets, key=lambda c: (abs(sum(c) - goal), len(c), sum(c)))


@seeded
@given(
    st.lists(st.integers(1, 400).map(lambda n: n / 10), max_size=9),
    st.integers(-50, 900).map(lambda n: n / 10),
)
@example([5.0, 5.0, 0.5], 10.0)
@example([3.0, 2.0, 5.0], 5.0)
def test_search_equals_every_subset(owned, wanted):
    found, best = nearest_combination(owned, wanted), brute_force(owned, wanted)
    assert abs(found.residual_mm) == pytest.approx(abs(sum(best) / 1000 - wanted), abs=1e-9)
    assert len(found.lengths_mm) == len(best)
    assert sum(found.lengths_mm) - wanted == pytest.approx(found.residual_mm, abs=1e-9)
    left = list(owned)
    for length in found.lengths_mm:
        left.remove(length)


def test_by_hand():
    assert nearest_combination([2.0, 5.0, 7.5, 10.0, 0.5], 10.684).lengths_mm == (10.0, 0.5)
    assert nearest_combination([16.5, 21.0], 10.0).lengths_mm == (16.5,)
    assert nearest_combination([21.0], 10.0).lengths_mm == ()
    assert nearest_combination([5.0], -3.0).lengths_mm == ()


def test_forty_spacers_are_searched_exactly_too():
    """Lengths 0.1 + 0.113 k: n of them sum to 0.1 n + 0.113 K, which comes nearest to 55 for n = 20, K = 469."""
    owned = [0.1 + 0.113 * k for k in range(40)]
    found = nearest_combination(owned, 55.0)
    assert (len(found.lengths_mm), found.residual_mm) == (20, pytest.approx(-0.003, abs=1e-9))
