"""Every way in which a server or a disk fails: one sentence, a store that is whole, and a fetch that then goes on."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from support.command_line import heeding_ctrl_c
from support.fault_proxy import BUSY, Fault, FaultProxy

from guidestar.errors import DataError
from guidestar.sky.regions import Region
from guidestar.stars import store_check
from guidestar.stars.fetch import fetch
from guidestar.stars.services import Service, services_for
from guidestar.stars.store import Store
from guidestar.stars.tap_network import Manners

HURRIED = Manners(silence_s=1.5, whole_s=1.0, attempts=3, first_wait_s=0.05, longest_wait_s=0.2)
ROWS = b"SELECT+source_id"
LOGIN = b"HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nContent-Length: 13\r\n\r\n<p>Log in</p>"

FATAL = {
    "busy": (Fault(say=BUSY), "busy or broken .HTTP 503. .tried 3 times"),
    "no answer": (Fault(delay_s=60, only=ROWS), "sent nothing for 1.5 s"),
    "stalled": (Fault(stall=8000, only=ROWS), "sent nothing for 1.5 s"),
    "slow": (Fault(rate=8000, only=ROWS), "not sent its whole answer after 1 s"),
    "cut in the head": (Fault(head=40, only=ROWS), "cut off or is no VOTable"),
    "cut in the body": (Fault(body=8000, only=ROWS), "connection to it was cut"),
    "cut in a body without length": (Fault(body=8000, plain=True, only=ROWS), "cut off or is no VOTable"),
    "cut with a reset": (Fault(body=8000, reset=True, only=ROWS), "connection to it was cut"),
    "cut at the last byte": (Fault(body=-1, plain=True, only=ROWS), "cut off or is no VOTable"),
    "error in a good answer": (Fault(swap=(rb"gaia_source", b"gaia_nought"), only=ROWS), "reports .*gaia_nought"),
    "error instead of a count": (Fault(swap=(rb"gaia_source", b"gaia_nought"), only=b"COUNT"), "reports .*gaia_nought"),
    "a page instead of a table": (Fault(say=LOGIN, only=ROWS), "cut off or is no VOTable"),
    "fewer rows, called whole": (Fault(swap=(rb"%3C%3D\+9", b"%3C%3D+8"), only=ROWS), "sent [0-9,]+ of [0-9,]+ stars"),
    "no such page": (Fault(say=b"HTTP/1.1 404 Not Found\r\nContent-Length: 0\r\n\r\n"), "no open TAP service"),
    "nothing": (Fault(say=b""), "connection to it was cut"),
}

PASSING = {
    "busy twice": Fault(say=BUSY, times=2),
    "stalled once": Fault(stall=8000, only=ROWS, times=1),
    "cut twice": Fault(body=8000, only=ROWS, times=2),
    "late": Fault(delay_s=0.7, only=ROWS, times=1),
    "rows left out": Fault(swap=(rb"MAXREC=\d+", b"MAXREC=200"), only=ROWS),
}


@pytest.mark.parametrize("kind", FATAL)
def test_a_lasting_fault_is_told_and_harms_nothing(kind: str, store: Store, proxy: FaultProxy, field: Region) -> None:
    proxy.fault, reason = FATAL[kind]
    with pytest.raises(DataError, match=reason) as told:
        fetch(store, services_for(proxy.url), field, 9.0, manners=HURRIED)
    assert proxy.url in str(told.value)
    assert "\n" not in str(told.value)
    assert store_check.faults(store) == ()
    assert store.complete_to_mag(field) is None
    proxy.fault = None
    again = fetch(store, services_for(proxy.url), field, 9.0, manners=HURRIED)
    assert again.stars == len(store.read(store.pixels(), ["g"])["g"]) > 250
    assert store.complete_to_mag(field) == 9.0


@pytest.mark.parametrize("kind", PASSING)
def test_a_passing_fault_is_overcome(
    kind: str, store: Store, proxy: FaultProxy, field: Region, server_url: str, tmp_path: Path
) -> None:
    proxy.fault = PASSING[kind]
    done = fetch(store, services_for(proxy.url), field, 9.0, manners=HURRIED)
    plain = fetch(Store(tmp_path / "plain"), services_for(server_url), field, 9.0)
    assert done.stars == plain.stars
    assert store.complete_to_mag(field) == 9.0


def test_refused(store: Store, proxy: FaultProxy, field: Region) -> None:
    proxy.refuse()
    with pytest.raises(DataError, match="refuses the connection"):
        fetch(store, services_for(proxy.url), field, 9.0, manners=HURRIED)


def test_no_such_address(store: Store, field: Region, monkeypatch: pytest.MonkeyPatch) -> None:
    import socket

    def unknown(*_: object, **__: object) -> None:
        raise socket.gaierror(-2, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    with pytest.raises(DataError, match="its address cannot be found; is there a network"):
        fetch(store, services_for("https://stars.example/tap"), field, 9.0, manners=HURRIED)


def test_the_server_is_killed_and_comes_back(
    store: Store, services: tuple[Service, ...], field: Region, server_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The whole server process, not its connection; the fetch only waits for it."""
    if os.geteuid() != 0:
        pytest.skip("only root can start the server again")
    monkeypatch.setattr("guidestar.stars.fetch.ROWS_PER_PIECE", 100)
    script = Path(__file__).parent / "setup_server.sh"
    killed = threading.Event()

    def kill_and_restart() -> None:
        os.kill(int((server_home / "server.pid").read_text()), signal.SIGKILL)
        killed.set()
        subprocess.run([script, "start"], check=True, capture_output=True, timeout=100)

    pieces: list[int] = []

    def after_the_third(progress: object) -> None:
        pieces.append(1)
        if len(pieces) == 3:
            threads.append(threading.Thread(target=kill_and_restart))
            threads[0].start()
            killed.wait()

    threads: list[threading.Thread] = []
    patient = Manners(silence_s=20.0, attempts=30, first_wait_s=0.5, longest_wait_s=2.0)
    done = fetch(store, services, field, 9.5, manners=patient, on_progress=after_the_third)
    threads[0].join()
    assert killed.is_set()
    assert done.stars == len(store.read(store.pixels(), ["g"])["g"])
    assert store.complete_to_mag(field) == 9.5


def mounted(folder: Path, options: str) -> None:
    folder.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)], capture_output=True, check=False
    )
    if done.returncode:
        pytest.skip("this computer does not let the test mount a small file system")


@pytest.mark.parametrize("size", ["16k", "48k"])
def test_disk_full(size: str, tmp_path: Path, services: tuple[Service, ...], field: Region) -> None:
    disk = tmp_path / "disk"
    mounted(disk, f"size={size}")
    try:
        store = Store(disk / "store")
        with pytest.raises(DataError, match=r"cannot be written .No space left on device.*--store"):
            fetch(store, services, field, 10.0)
        assert store_check.faults(store) == ()
        subprocess.run(["mount", "-o", "remount,size=8m", str(disk)], check=True)
        fetch(store, services, field, 10.0)
        assert store.complete_to_mag(field) == 10.0
        assert store_check.faults(store) == ()
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=True)


def test_read_only_store(tmp_path: Path, services: tuple[Service, ...], field: Region) -> None:
    disk = tmp_path / "disk"
    mounted(disk, "size=8m")
    try:
        store = Store(disk / "store")
        fetch(store, services, field, 7.0)
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        with pytest.raises(DataError, match=r"cannot be written .Read-only file system"):
            fetch(store, services, field, 8.0)
        assert store.complete_to_mag(field) == 7.0
        assert store_check.faults(store) == ()
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=True)


def test_a_wrong_clock_does_not_matter(
    store: Store, services: tuple[Service, ...], field: Region, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A clock that jumps back by years while it runs: waits are measured by another one; the store says the date."""
    from datetime import UTC, datetime

    from guidestar.stars.overview import overview

    class Clock(datetime):
        @classmethod
        def now(cls, tz: object = None) -> datetime:
            return datetime(2093, 1, 1, tzinfo=UTC)

    monkeypatch.setattr("guidestar.stars.piecework.datetime", Clock)
    monkeypatch.setattr(time, "time", lambda: 0.0)
    fetch(store, services, field, 8.0)
    assert store.complete_to_mag(field) == 8.0
    shown = overview(store)
    assert [part.date for part in shown.parts] == ["2093-01-01"]
    assert "clock is wrong" in shown.notes[0]


def test_two_fetches_at_once(tmp_path: Path, services: tuple[Service, ...], field: Region) -> None:
    stores = [Store(tmp_path / "store") for _ in range(2)]
    threads = [threading.Thread(target=fetch, args=(one, services, field, 9.0)) for one in stores]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    alone = Store(tmp_path / "alone")
    expected = fetch(alone, services, field, 9.0).stars
    assert len(stores[0].read(stores[0].pixels(), ["g"])["g"]) == expected
    assert store_check.faults(stores[0]) == ()


@pytest.mark.skipif(os.name == "nt", reason="Windows has no SIGINT for one process")
@pytest.mark.parametrize("what", [[], ["--counts"]], ids=["stars", "counts"])
def test_ctrl_c_ends_it_although_the_service_is_silent(what: list[str], tmp_path: Path, proxy: FaultProxy) -> None:
    proxy.fault = Fault(delay_s=300, only=b"COUNT")
    command = [sys.executable, "-m", "guidestar", "stars", "fetch", "M31", *what, "--faintest-mag", "10"]
    command += ["--service", proxy.url, "--store", str(tmp_path / "store")]
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=heeding_ctrl_c,
    ) as process:
        deadline = time.monotonic() + 60
        while not any(b"COUNT" in question for question in proxy.questions) and time.monotonic() < deadline:
            time.sleep(0.1)
        process.send_signal(signal.SIGINT)
        begin = time.monotonic()
        _, err = process.communicate(timeout=60)
        assert time.monotonic() - begin < 20  # a busy computer; silence would be waited for 60 s, five times
    assert process.returncode not in (0, None)
    assert "Traceback" not in err
    assert store_check.faults(Store(tmp_path / "store")) == ()
