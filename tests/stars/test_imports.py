"""A search of the built-in catalogue loads nothing heavy: that is what keeps `check` quick."""

import subprocess
import sys

HEAVY = ("astropy", "healpy", "matplotlib", "pandas", "pyarrow.compute", "pyarrow.dataset", "scipy")
SCRIPT = f"""
import sys
from guidestar.stars.source import cone
from guidestar.stars.tycho2 import tycho2
assert len(cone(tycho2(), 10.0, 10.0, 1.0, faintest_mag=11.0, epoch_year=2026.0)) > 0
print([name for name in {HEAVY!r} if name in sys.modules])
"""


def test_a_search_imports_nothing_heavy() -> None:
    done = subprocess.run([sys.executable, "-c", SCRIPT], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"
