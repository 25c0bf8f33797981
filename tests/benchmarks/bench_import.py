"""How much memory and time an import of many stars takes: invented stars all over the sky, as Parquet and as CSV.

Usage: python tests/benchmarks/bench_import.py [millions of stars]
"""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as pc
import pyarrow.parquet as pq

sys.path.insert(0, str(Path(__file__).parents[2]))

from guidestar.sky import healpix

MILLION = 1_000_000

_CODE = """
import resource, sys
from pathlib import Path
from guidestar.sky import regions
from guidestar.stars.importing import import_file
from guidestar.stars.store import Store
stars, _ = import_file(Store(Path(sys.argv[2])), sys.argv[1], regions.whole_sky(), 16.0)
print(stars, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def invented(count: int, seed: int) -> pa.Table:
    rng = np.random.default_rng(seed)
    ra, dec = rng.uniform(0, 360, count), np.degrees(np.arcsin(rng.uniform(-1, 1, count)))
    number = (healpix.pixel_of(ra, dec, 12) << 35) + (np.arange(count) + seed * count) * 2 + 2
    g = (16 - rng.exponential(1.1, count)).astype(np.float32)
    columns = {"source_id": number, "ra": ra, "dec": dec, "phot_g_mean_mag": g}
    columns |= {name: rng.normal(0, 10, count) for name in ("pmra", "pmdec", "parallax")}
    columns |= {"phot_bp_mean_mag": g + 0.4, "phot_rp_mean_mag": g - 0.5, "ruwe": np.ones(count)}
    return pa.table(columns)


def main(millions: int = 5) -> None:
    with tempfile.TemporaryDirectory() as folder:
        files = [Path(folder) / f"stars.{kind}" for kind in ("parquet", "csv")]
        schema = invented(1, 0).schema
        with pq.ParquetWriter(files[0], schema) as parquet, pc.CSVWriter(files[1], schema) as text:
            for seed in range(millions):
                table = invented(MILLION, seed)
                parquet.write_table(table)
                text.write_table(table)
        for file in files:
            begin = time.monotonic()
            store = f"{folder}/store-{file.suffix[1:]}"
            done = subprocess.run(
                [sys.executable, "-c", _CODE, str(file), store], check=True, capture_output=True, text=True
            )
            stars, peak_kb = map(int, done.stdout.split())
            size = file.stat().st_size / 1e6
            took = f"{time.monotonic() - begin:.1f} s, at most {peak_kb / 1e3:.0f} MB of memory"
            print(f"{file.name}: {size:,.0f} MB, {stars:,} stars in {took}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:2]))
