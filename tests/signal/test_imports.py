import subprocess
import sys
from pathlib import Path

MODULES = [
    f"guidestar.{name}"
    for name in (
        "optics.footprint",
        "optics.transmission",
        "optics.vignetting",
        "signal.setup",
        "signal.flux",
        "signal.sky",
        "signal.noise",
        "signal.snr",
        "signal.saturation",
        "signal.centroid",
        "signal.scintillation",
        "signal.seeing",
        "signal.guidescope",
    )
]


def test_kernels_load_nothing_but_numpy():
    root = Path(__file__).resolve().parents[2]
    script = (
        "import sys\n"
        + "".join(f"import {module}\n" for module in MODULES)
        + "print(*sorted({n.split('.')[0] for n in sys.modules} - sys.stdlib_module_names))"
    )
    done = subprocess.run([sys.executable, "-c", script], cwd=root, capture_output=True, text=True, check=True)
    loaded = {name for name in done.stdout.split() if not name.startswith("_")}
    assert "numpy" in loaded
    heavy = {"scipy", "astropy", "pandas", "pyarrow", "matplotlib", "rich", "click", "pydantic", "erfa"}
    assert not loaded & heavy
