"""The built-in catalogue opens with `hats`, the reference implementation of the layout (test-time only)."""

import json
import subprocess
import sys

import pytest

from guidestar.stars.hats import Partition
from guidestar.stars.tycho2 import Tycho2

pytestmark = pytest.mark.slow

# In a process of its own: the import takes seconds and brings warnings of other packages with it.
SCRIPT = """
import json, sys
import hats
from hats.io.validation import is_valid_catalog
folder = sys.argv[1]
catalogue = hats.read_hats(folder)
pixels = catalogue.filter_by_cone(10.0, 10.0, 3600.0).get_healpix_pixels()
first = catalogue.read_pixel_to_pandas(pixels[0])
print(json.dumps({
    "rows": len(catalogue), "files": len(catalogue.get_healpix_pixels()),
    "valid": is_valid_catalog(folder, strict=True), "columns": list(first.columns),
    "cone": [int(pixel.pixel) for pixel in pixels], "first": int(pixels[0].pixel), "name": catalogue.catalog_name,
    "mean_g": float(first["g"].mean()), "stars": len(first), "missing_hip": int(first["hip"].isna().sum()),
}))
"""


def test_hats_opens_it_and_finds_it_valid(catalogue: Tycho2) -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(catalogue.folder.path)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout.splitlines()[-1])
    assert (answer["rows"], answer["files"], answer["name"]) == (2_557_501, 192, "tycho2")
    assert answer["valid"] is True
    assert answer["columns"][:4] == ["_healpix_29", "ra_deg", "dec_deg", "epoch"]
    ours = catalogue.folder.partitions_touching(10.0, 10.0, 1.0)
    assert {part.pixel for part in ours} <= set(answer["cone"])  # hats takes a few more
    columns = catalogue.folder.read([Partition(2, answer["first"])], ("g", "hip"))
    assert len(columns["g"]) == answer["stars"]
    assert columns["g"].mean() == pytest.approx(answer["mean_g"])
    assert int((columns["hip"] == 0).sum()) == answer["missing_hip"]
