"""One TAP service, asked so that a cut or cut-short answer is never taken for a whole one.

What servers really do is met here: errors that come as a good answer (HTTP 200), a mark after the table that says
that rows were left out, bodies that end early, servers that accept a connection and then say nothing. Each answer
has a time limit, each question is asked again a few times, and the rows are counted against a count asked before.
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable, Sequence
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from guidestar.errors import DataError
from guidestar.sky import healpix, regions
from guidestar.sky.regions import Region
from guidestar.stars import pieces
from guidestar.stars.gaia import rows_of
from guidestar.stars.services import COLUMNS, KNOWN_TABLES, OPTIONAL, Service
from guidestar.stars.store import Rows
from guidestar.stars.tap_network import (
    NO_TABLE,
    Manners,
    Temporary,
    TooMuch,
    need_pyvo,
    network_reason,
    session,
    sorted_out,
    told,
)

Answer = TypeVar("Answer")

IntArray = NDArray[np.int64]
Groups = tuple[IntArray, IntArray, IntArray]

_CHUNK: Final = 16384


class Client:
    """A service, ready to be asked; for use by one thread at a time."""

    def __init__(self, service: Service, manners: Manners) -> None:
        self.service = service
        self.manners = manners
        pyvo = need_pyvo()  # first: what a session needs comes with it
        self._session = session(manners)
        self._tap = pyvo.dal.TAPService(service.url, session=self._session)

    def close(self) -> None:
        """Drop the connections."""
        self._session.close()

    def most_rows(self) -> int | None:
        """Return how many rows the service gives at most, as its capabilities say; None if they do not."""
        try:
            limit = self._network(lambda: self._tap.hardlimit)
        except (Temporary, DataError):
            return None  # a limit that is not known shows when an answer says that rows were left out
        return int(limit) if limit else None

    def prepare(self) -> Service:
        """Find out which table and columns of Gaia DR3 the service has, and return it so completed.

        Raises
        ------
        DataError
            It does not answer, or has no Gaia DR3.
        """
        self.service = self._with_table()
        listed = self._names("column_name", "columns", f"table_name IN ({_quoted(self.service)})")
        known = {name.strip('"').lower() for name in listed}
        if known:
            gone = {name for name in OPTIONAL if self.service.columns.get(name, "").lower() not in known}
            self.service = self.service.without(gone)
        return self.service

    def _with_table(self) -> Service:
        if self.service.table:
            return self.service
        for table, columns in KNOWN_TABLES:
            candidate = Service(self.service.name, self.service.title, self.service.url, table, dict(columns))
            if self._names("table_name", "tables", f"table_name IN ({_quoted(candidate)})"):
                return candidate
        names = ", ".join(table for table, _ in KNOWN_TABLES)
        raise DataError(
            f"{self.service.shown} has no Gaia DR3 (none of the tables {names}): name another service with --service."
        )

    def _names(self, column: str, table: str, condition: str) -> list[str]:
        query = f"SELECT {column} FROM tap_schema.{table} WHERE {condition}"
        results = self._again(lambda: self._once(query, 5000, "sync"))
        return [str(name) for name in results.to_table().columns[0]]

    def count(self, region: Region, faintest_mag: float) -> int:
        """Return how many stars a region holds down to a magnitude.

        Raises
        ------
        TooMuch
            The service's time limit is too short to count so many.
        DataError
            It does not answer.
        """
        query = pieces.count_query(self.service, region, faintest_mag)
        results = self._again(lambda: self._once(query, 10, "sync"))
        try:
            (number,) = results.to_table().columns[0]
            return int(number)
        except (ValueError, TypeError):
            raise self._failed("it does not answer a count with a number") from None

    def rows(self, region: Region, faintest_mag: float, expected: int) -> tuple[Rows, int]:
        """Return a region's stars, which were counted before, and the size of the answer in bytes.

        Raises
        ------
        TooMuch
            The service gave fewer than it has.
        DataError
            It does not answer, or not with the stars that were asked for.
        """
        columns: list[str] = [name for name in COLUMNS if name in self.service.columns]
        query = pieces.rows_query(self.service, region, faintest_mag, columns)
        results = self._again(lambda: self._counted(query, expected))
        rows = to_rows(results.to_table(), columns)
        strange = ~regions.contains(region, rows["source_id"] // 2) | (rows["g"] > np.float32(faintest_mag))
        if np.any(strange) or len(np.unique(rows["source_id"])) != expected:
            raise self._failed("it sent other stars than were asked for")
        return rows, results.size_bytes

    def groups(self, region: Region, faintest_mag: float, order: int, expected: int, most: int) -> tuple[Groups, int]:
        """Return how many stars each pixel of an order holds by half magnitudes, and the answer's size in bytes.

        Parameters
        ----------
        region, faintest_mag, order
            Which stars, by which pixels; the region is of whole pixels.
        expected : int
            How many stars there are in all, as counted before.
        most : int
            More rows than there can be.

        Returns
        -------
        (pixel, step, stars), size
            Whole numbers, shape (n,) each; `step` is twice the magnitude, rounded down.

        Raises
        ------
        TooMuch
            The service gave fewer rows than it has, or its time limit is too short.
        DataError
            It does not answer, or not with what was asked for.
        """
        query = pieces.groups_query(self.service, region, faintest_mag, order)
        results = self._again(lambda: self._added_up(query, expected, most))
        pixel, step, stars = (_whole(column) for column in results.to_table().columns.values())
        shift = 2 * (healpix.INDEX_ORDER - order)
        if not np.all(regions.contains(region, pixel << shift)) or np.any(step > 2 * faintest_mag):
            raise self._failed("it sent other counts than were asked for")
        return (pixel, step, stars), results.size_bytes

    def _added_up(self, query: str, expected: int, most: int) -> Any:
        results = self._once(query, most, self.service.mode)
        if results.query_status == "OVERFLOW":
            raise TooMuch(0)
        columns = list(results.to_table().columns.values())
        try:
            found = int(np.sum(_whole(columns[2]))) if len(columns) == 3 and len(results) else 0
        except (ValueError, TypeError):
            raise self._failed("it does not answer a count with numbers") from None
        if found != expected:
            raise Temporary(f"it counted {found:,} of {expected:,} stars")
        return results

    def _counted(self, query: str, expected: int) -> Any:
        # One row more than expected, because a full answer is called cut off by some services.
        results = self._once(query, expected + 1, self.service.mode)
        if results.query_status == "OVERFLOW" and len(results) < expected:
            raise TooMuch(len(results))
        if len(results) != expected or results.query_status == "OVERFLOW":
            raise Temporary(f"it sent {len(results):,} of {expected:,} stars")
        return results

    # ------------------------------------------------------------------------------------ one question, one answer

    def _again(self, ask: Callable[[], Answer]) -> Answer:
        """Ask until there is an answer or the attempts are used up."""
        import tenacity

        manners = self.manners
        retrying = tenacity.Retrying(
            stop=tenacity.stop_after_attempt(manners.attempts),
            wait=tenacity.wait_random_exponential(multiplier=manners.first_wait_s, max=manners.longest_wait_s),
            retry=tenacity.retry_if_exception_type(Temporary),
            reraise=True,
        )
        try:
            return retrying(ask)
        except Temporary as reason:
            raise self._failed(f"{reason} (tried {manners.attempts} times)") from reason

    def _failed(self, reason: str) -> DataError:
        return DataError(
            f"{self.service.shown} cannot be used: {reason}. What was fetched before is kept, and "
            "the same command goes on from there; --service names another service."
        )

    def _once(self, query: str, most: int, mode: str) -> Any:
        body = self._network(lambda: self._job(query, most) if mode == "async" else self._direct(query, most))
        return self._network(lambda: self._parsed(body))

    def _network(self, ask: Callable[[], Answer]) -> Answer:
        """Do something on the network, and sort what can go wrong there into what passes and what does not."""
        import requests
        import urllib3

        dal = need_pyvo().dal
        try:
            return ask()
        except dal.DALQueryError as error:
            raise self._answered(told(str(error))) from error
        except (
            dal.DALServiceError,
            dal.DALFormatError,
            requests.RequestException,
            urllib3.exceptions.HTTPError,
        ) as error:
            raise self._answered(sorted_out(error, self.manners.silence_s)) from error
        except OSError as error:
            raise Temporary(network_reason(repr(error)) or f"the connection failed ({error})") from error

    def _answered(self, reason: tuple[str, bool] | None) -> Exception:
        """Return the exception for a failure that was sorted: too much, one that may pass, or one that lasts."""
        if reason is None:
            return TooMuch(0)
        sentence, passes = reason
        return Temporary(sentence) if passes else self._failed(sentence)

    def _direct(self, query: str, most: int) -> bytes:
        return self._body(self._tap.create_query(query, maxrec=most).submit())

    def _job(self, query: str, most: int) -> bytes:
        """Have the answer made as a job and collect it."""
        job = self._tap.submit_job(query, maxrec=most)
        try:
            job.run()
            deadline, pause = time.monotonic() + self.manners.whole_s, 0.2
            while (phase := job.phase) not in ("COMPLETED", "ERROR", "ABORTED"):
                if time.monotonic() > deadline:
                    raise Temporary(f"its job did not end within {self.manners.whole_s:g} s")
                time.sleep(pause)
                pause = min(pause * 1.5, 10.0)
            if phase != "COMPLETED":
                job.raise_if_error()
                raise Temporary("it gave up the job")
            return self._body(self._session.get(job.result_uri, stream=True))
        finally:
            self._forget(job)

    def _forget(self, job: Any) -> None:
        """Delete a job at the service: polite, but no reason to fail."""
        import contextlib

        import requests

        with contextlib.suppress(need_pyvo().dal.DALServiceError, requests.RequestException):
            job.delete()

    def _body(self, response: Any) -> bytes:
        """Read an answer to its end, within the time limit for the whole."""
        deadline, parts = time.monotonic() + self.manners.whole_s, []
        with response:
            if response.status_code >= 500 or response.status_code == 429:
                raise Temporary(f"it is busy or broken (HTTP {response.status_code})")
            if response.status_code >= 400 and "xml" not in response.headers.get("Content-Type", ""):
                response.raise_for_status()
            for part in response.iter_content(_CHUNK):
                parts.append(part)
                if time.monotonic() > deadline:
                    raise Temporary(f"it had not sent its whole answer after {self.manners.whole_s:g} s")
        return b"".join(parts)

    def _parsed(self, body: bytes) -> Any:
        from astropy.io.votable import parse

        try:
            results = need_pyvo().dal.TAPResults(parse(io.BytesIO(body), verify="ignore"), url=self.service.url)
        except (ValueError, IndexError, KeyError, TypeError, AttributeError, EOFError) as error:
            raise Temporary(NO_TABLE) from error
        results.size_bytes = len(body)
        return results


def _whole(column: Any) -> IntArray:
    """Return a column of whole numbers, which some services send as decimals.

    Raises
    ------
    ValueError
        They are no whole numbers.
    """
    values = np.ma.filled(np.ma.asarray(column).astype(np.float64), np.nan)
    if not np.all(values == np.floor(values)):
        raise ValueError("no whole numbers")
    return values.astype(np.int64)


def to_rows(table: Any, columns: Sequence[str]) -> Rows:
    """Return an answer's table, whose columns stand in the order of `columns`, as the store's columns."""
    got = {name: table.columns[i] for i, name in enumerate(columns)}
    number = np.asarray(got["source_id"], dtype=np.int64)
    floats = {
        name: _floats(got.get(name), len(number)) for name in ("ra", "dec", "pmra", "pmdec", "g", "bp", "rp", "ruwe")
    }
    galaxy = np.zeros(len(number), dtype=bool) if "galaxy" not in got else _truths(got["galaxy"])
    return rows_of(number, floats, galaxy)


def _floats(column: Any, length: int) -> Any:
    if column is None:
        return np.full(length, np.nan)
    return np.ma.filled(np.ma.asarray(column, dtype=np.float64), np.nan)


def _truths(column: Any) -> Any:
    """Return a column of truth values, which services send as such, as numbers or as letters."""
    values = np.ma.filled(np.ma.asarray(column), 0 if np.asarray(column).dtype.kind in "bif" else "")
    if values.dtype.kind in "bif":
        return values.astype(np.float64) > 0
    return np.isin(np.char.lower(values.astype(str)), ("t", "true", "1"))


def _quoted(service: Service) -> str:
    """Return the table's name as TAP_SCHEMA may list it, for an IN (...)."""
    return ", ".join(f"'{name}'" for name in dict.fromkeys((service.plain_table, service.table)))
