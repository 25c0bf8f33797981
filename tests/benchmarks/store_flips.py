"""Change one random byte of a random store file, 200 times: does `stars verify` find it and name the file?

Usage: python tests/benchmarks/store_flips.py [times] [seed] [STORE_FOLDER]; a store of invented stars without a folder,
else a copy of that one.
"""

import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[2]))

from support.gaia_rows import claim, stars_in

from guidestar.sky import regions
from guidestar.stars import store_check, store_write
from guidestar.stars.counted import EDGES_G, CountTable
from guidestar.stars.store import Store


def made(folder: Path) -> Store:
    region = regions.around(83.0, -5.0, 4.0)
    store_write.put(Store(folder), stars_in(region, 20000), claim(region, 16.0))
    counted = regions.rounded_out(region, 5)
    pixels = regions.pixels_of(counted, 5)
    numbers = np.cumsum(np.random.default_rng(2).poisson(np.full((len(pixels), len(EDGES_G)), 90.0)), axis=1)
    store_write.put_counts(Store(folder), CountTable(pixels, numbers, (claim(counted, 18.0),)))
    return Store(folder)


def main(times: str = "200", seed: str = "3", given: str = "") -> None:
    rng = np.random.default_rng(int(seed))
    with tempfile.TemporaryDirectory() as work:
        folder = Path(work) / "store"
        store = Store(Path(shutil.copytree(given, folder))) if given else made(folder)
        files = sorted(file for file in store.path.rglob("*") if file.is_file() and file.name != ".lock")
        found = named = 0
        for _ in range(int(times)):
            # Small files as often as large ones: the lists and the description matter as much as the stars.
            file = files[int(rng.integers(len(files)))]
            content = file.read_bytes()
            at, change = int(rng.integers(len(content))), int(rng.integers(1, 256))
            file.write_bytes(content[:at] + bytes([content[at] ^ change]) + content[at + 1 :])
            faults = store_check.faults(store)
            found += bool(faults)
            named += [fault.file for fault in faults] == [file]
            file.write_bytes(content)
        assert store_check.faults(store) == ()
    print(f"{len(files)} files: found {found} of {times}, the right file named {named} of {times}")


if __name__ == "__main__":
    main(*sys.argv[1:4])
