"""The online resolver against a stand-in server on this machine (invented answers in the service's format)."""

import contextlib
import gc
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from guidestar.errors import DataError, InputError
from guidestar.sky.online import resolve_online

KNOWN = (
    "# Some Star\t#Q1\n#=S=Simbad (a stand-in)\n%J 123.4560000 -12.3400000 = 08 13 49.44 -12 20 24.0\n#====Done====\n"
)
UNKNOWN = "# Nothing\t#Q1\n#!SIMBAD: No known catalog could be found\n#====Done====\n"


@contextlib.contextmanager
def stand_in(body, *, status=200, delay_s=0.0):
    """Serve one answer to every request and collect the paths asked for."""
    asked = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self):
            asked.append(self.path)
            time.sleep(delay_s)
            with contextlib.suppress(OSError):  # the client may have gone
                self.send_response(status)
                self.end_headers()
                self.wfile.write(body.encode())

        def log_message(self, *_):
            """Keep quiet."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    from astropy.coordinates.name_resolve import sesame_url

    try:
        with sesame_url.set([f"http://127.0.0.1:{server.server_port}/"]):
            yield asked
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@pytest.mark.enable_socket
def test_a_known_name():
    with stand_in(KNOWN) as asked:
        place = resolve_online("some star")
    assert (place.name, place.ra_deg, place.dec_deg) == ("some star", 123.456, -12.34)
    assert asked == ["/SNV?some%20star"]  # the name and nothing else is sent


@pytest.mark.enable_socket
def test_an_unknown_name_is_bad_input():
    with stand_in(UNKNOWN), pytest.raises(InputError, match='No object named "nothing"'):
        resolve_online("nothing")


@pytest.mark.enable_socket
@pytest.mark.parametrize(
    ("body", "status"), [("busy", 503), ("%J 10.0 99.0 = a declination that cannot be\n", 200), ("%J .. .. =", 200)]
)
def test_a_failing_or_senseless_service_is_a_data_failure(body, status):
    with stand_in(body, status=status), pytest.raises(DataError, match="did not answer") as caught:
        resolve_online("some star")
    assert '"some star"' in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.enable_socket
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_slow_service_is_given_up():
    """Urllib leaves the socket of a request that timed out to the garbage collector, which is called here."""
    start = time.monotonic()
    with stand_in(KNOWN, delay_s=2.0), pytest.raises(DataError, match="did not answer"):
        resolve_online("some star", time_limit_s=0.2)
    assert time.monotonic() - start < 10.0
    gc.collect()


@pytest.mark.enable_socket
def test_no_server_at_all():
    from astropy.coordinates.name_resolve import sesame_url

    with (
        sesame_url.set(["http://127.0.0.1:9/"]),  # the discard port, where nothing listens
        pytest.raises(DataError, match="did not answer"),
    ):
        resolve_online("some star")
