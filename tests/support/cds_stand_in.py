"""A STAND-IN for a TAP service that names its table and columns as the CDS does. Not the CDS's server.

It holds a few invented stars and knows only the handful of questions that are put to it: the columns of a table,
a count, rows by ranges of numbers, and counts by pixel and magnitude. Those it takes apart strictly; anything else
is an error, in a VOTable with HTTP 200 as real services send it.
"""

from __future__ import annotations

import io
import re
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs

import numpy as np
from astropy.io.votable import from_table, writeto
from astropy.io.votable.tree import Info
from astropy.table import Table

NAMES = ("Source", "RA_ICRS", "DE_ICRS", "pmRA", "pmDE", "Gmag", "BPmag", "RPmag", "RUWE")
TABLE = '"I/355/gaiadr3"'
_WHERE = r'FROM "I/355/gaiadr3" WHERE \((?P<spans>Source BETWEEN .*)\) AND Gmag <= (?P<mag>[\d.]+)'

_GROUPS = r"SELECT FLOOR\(Source/(?P<width>\d+)\) AS pixel, FLOOR\(Gmag\*2\) AS step, COUNT\(\*\) AS stars "

_CAPABILITIES = """<?xml version="1.0"?>
<vosi:capabilities xmlns:vosi="http://www.ivoa.net/xml/VOSICapabilities/v1.0"
    xmlns:tr="http://www.ivoa.net/xml/TAPRegExt/v1.0" xmlns:vs="http://www.ivoa.net/xml/VODataService/v1.1"
    xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
  <capability standardID="ivo://ivoa.net/std/TAP" xsi:type="tr:TableAccess">
    <interface role="std" xsi:type="vs:ParamHTTP"><accessURL use="base">http://stand-in/</accessURL></interface>
    <language><name>ADQL</name><version ivo-id="ivo://ivoa.net/std/ADQL#v2.0">2.0</version></language>
    <outputFormat><mime>application/x-votable+xml</mime></outputFormat>
    <outputLimit><default unit="row">100</default><hard unit="row">LIMIT</hard></outputLimit>
  </capability>
</vosi:capabilities>
"""


class CdsStandIn:
    """Use it in a `with` statement; `url` is its address, `queries` what it was asked."""

    def __init__(self, stars: dict[str, np.ndarray]) -> None:
        self.stars = stars
        self.queries: list[str] = []
        self.most_rows = 1000

    def __enter__(self) -> CdsStandIn:
        stand_in = self

        class Handler(BaseHTTPRequestHandler):
            def log_message(self, *_: object) -> None:
                pass

            def do_GET(self) -> None:
                if not self.path.endswith("/capabilities"):
                    self.send_error(404)
                    return
                body = _CAPABILITIES.replace("LIMIT", str(stand_in.most_rows)).encode()
                self.send_response(200)
                self.send_header("Content-Type", "text/xml")
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def do_POST(self) -> None:
                form = parse_qs(self.rfile.read(int(self.headers["Content-Length"])).decode())
                body = stand_in.answer(form["QUERY"][0], int(form["MAXREC"][0]))
                self.send_response(200)
                self.send_header("Content-Type", "application/x-votable+xml")
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}/TAPVizieR/tap"
        threading.Thread(target=self._server.serve_forever, daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._server.server_close()

    def answer(self, query: str, most: int) -> bytes:
        self.queries.append(query)
        if "tap_schema.columns" in query:
            return _votable(Table({"column_name": list(NAMES)}), most)
        if "tap_schema.tables" in query:
            return _votable(Table({"table_name": [TABLE] if TABLE in query else []}, dtype=[str]), most)
        groups = re.fullmatch(rf"{_GROUPS}{_WHERE} GROUP BY pixel, step", query)
        if groups is not None:
            return _votable(self._grouped(self._chosen(groups), int(groups["width"])), most)
        form = re.fullmatch(rf"SELECT (?P<what>.*?) {_WHERE}", query)
        if form is None:
            return _error(f"Unexpected question: {query}")
        chosen = self._chosen(form)
        if form["what"] == "COUNT(*) AS stars":
            return _votable(Table({"stars": [int(chosen.sum())]}), most)
        names = form["what"].split(", ")
        unknown = set(names) - set(NAMES)
        if unknown:
            return _error(f"Unknown columns: {unknown}")
        return _votable(Table({name: self.stars[name][chosen] for name in names}), most)

    def _chosen(self, form: re.Match[str]) -> np.ndarray:
        """Which stars a question's condition allows."""
        chosen = self.stars["Gmag"] <= float(form["mag"])
        spans = [span.split(" ")[2::2] for span in form["spans"].split(" OR ")]
        chosen &= np.any(
            [(self.stars["Source"] >= int(a)) & (self.stars["Source"] <= int(b)) for a, b in spans], axis=0
        )
        return np.asarray(chosen)

    def _grouped(self, chosen: np.ndarray, width: int) -> Table:
        groups: dict[tuple[int, int], int] = {}
        for number, g_mag in zip(
            self.stars["Source"][chosen].tolist(), self.stars["Gmag"][chosen].tolist(), strict=True
        ):
            key = (number // width, int(g_mag * 2 // 1))
            groups[key] = groups.get(key, 0) + 1
        pixel, step = np.array(sorted(groups), dtype=np.int64).reshape(-1, 2).T
        return Table({"pixel": pixel, "step": step.astype(float), "stars": [groups[key] for key in sorted(groups)]})


def _votable(table: Table, most: int) -> bytes:
    whole = from_table(table[:most])
    status = Info(name="QUERY_STATUS", value="OVERFLOW" if len(table) > most else "OK")
    whole.resources[0].type = "results"
    whole.resources[0].infos.append(status)
    out = io.BytesIO()
    writeto(whole, out)
    return out.getvalue()


def _error(message: str) -> bytes:
    return (
        '<VOTABLE version="1.3" xmlns="http://www.ivoa.net/xml/VOTable/v1.3"><RESOURCE type="results">'
        f'<INFO name="QUERY_STATUS" value="ERROR">{message.replace("<", "&lt;")}</INFO></RESOURCE></VOTABLE>'
    ).encode()
