"""The public services that hold Gaia DR3, and what each calls its table and columns.

Addresses and names as the services' own pages and clients give them; row limits are read from the service each
time. All speak TAP (IVOA TAP 1.1) and ADQL.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from typing import Final, Literal

from guidestar.errors import InputError

COLUMNS: Final = ("source_id", "ra", "dec", "pmra", "pmdec", "g", "bp", "rp", "ruwe", "galaxy")
"""What is asked for, by our names; the last two only where a service has them."""

OPTIONAL: Final = ("ruwe", "galaxy")

_GAIA_NAMES: Final = {
    "source_id": "source_id", "ra": "ra", "dec": "dec", "pmra": "pmra", "pmdec": "pmdec", "g": "phot_g_mean_mag",
    "bp": "phot_bp_mean_mag", "rp": "phot_rp_mean_mag", "ruwe": "ruwe", "galaxy": "in_galaxy_candidates",
}  # fmt: skip

_CDS_NAMES: Final = {
    "source_id": "Source", "ra": "RA_ICRS", "dec": "DE_ICRS", "pmra": "pmRA", "pmdec": "pmDE", "g": "Gmag",
    "bp": "BPmag", "rp": "RPmag", "ruwe": "RUWE",
}  # fmt: skip


@dataclass(frozen=True)
class Service:
    """One TAP service.

    `table` as ADQL needs it, quoted where it must be; `columns` from our names to the service's. `mode`: whether an
    answer is waited for on the connection ("sync") or made as a job and then collected ("async").
    """

    name: str
    title: str
    url: str
    table: str
    columns: dict[str, str] = field(default_factory=lambda: dict(_GAIA_NAMES))
    mode: Literal["sync", "async"] = "sync"

    @property
    def shown(self) -> str:
        """The service as a sentence begins with it."""
        return f"The service {self.url}" if self.title == self.url else f"{self.title} ({self.url})"

    @property
    def plain_table(self) -> str:
        """The table's name without quotation marks, as TAP_SCHEMA may list it."""
        return self.table.strip('"')

    def without(self, missing: set[str]) -> Service:
        """Return the service with some optional columns left out, by our names."""
        return replace(self, columns={name: theirs for name, theirs in self.columns.items() if name not in missing})


SERVICES: Final = (
    # ESA answers at most 2,000 rows on the connection, so its answers are made as jobs.
    Service(
        "esa", "ESA's Gaia archive", "https://gea.esac.esa.int/tap-server/tap", "gaiadr3.gaia_source", mode="async"
    ),
    Service("ari", "ARI Heidelberg", "https://gaia.ari.uni-heidelberg.de/tap", "gaiadr3.gaia_source"),
    Service("gavo", "GAVO data centre", "https://dc.g-vo.org/tap", "gaia.dr3lite"),
    Service("vizier", "VizieR", "https://tapvizier.cds.unistra.fr/TAPVizieR/tap", '"I/355/gaiadr3"', dict(_CDS_NAMES)),
)
"""In the order in which they are tried."""

KNOWN_TABLES: Final = tuple(dict.fromkeys((service.table, tuple(service.columns.items())) for service in SERVICES))
"""Tables, with their columns, that are looked for at an address that is none of the known ones."""


def services_for(asked: str | None) -> tuple[Service, ...]:
    """Return the services to try in turn: the one that was asked for by name or address, or all known ones.

    A service at an unknown address has an empty `table` until it was asked what it holds.

    Raises
    ------
    InputError
        The name is not known and it is no address.
    """
    if asked is None:
        return SERVICES
    by_name = {service.name: service for service in SERVICES}
    if asked.lower() in by_name:
        return (by_name[asked.lower()],)
    if re.match(r"https?://[^\s/]", asked):
        url = re.sub(r"/(sync|async)?/*$", "", asked)
        known = [service for service in SERVICES if service.url == url]
        return tuple(known) or (Service("other", url, url, ""),)
    near = get_close_matches(asked.lower(), by_name, 1)
    hint = f'; did you mean "{near[0]}"?' if near else ""
    raise InputError(
        f'The service "{asked}" is not known: use {", ".join(by_name)}, or the address of a TAP service that begins '
        f"with https://{hint}"
    )
