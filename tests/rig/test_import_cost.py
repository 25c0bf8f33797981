"""Reading a rig must not load what only other commands need."""

import subprocess
import sys


def test_a_rig_is_read_without_arrays_plots_or_star_tables():
    code = (
        "import sys, guidestar.rig as r\n"
        "r.preset('compound-2000-f10').with_values({'site.latitude_deg': 1, 'site.longitude_deg': 2})\n"
        "heavy = ('numpy', 'pyarrow', 'matplotlib', 'rich', 'astropy', 'erfa', 'click', 'pandas')\n"
        "print([name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
