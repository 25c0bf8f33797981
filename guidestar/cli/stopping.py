"""Ctrl-C, from the moment the program is loaded, ends it with one sentence and exit status 130.

Python raises KeyboardInterrupt wherever the program happens to be. Inside an import that can get lost: a class or an
extension module under way turns it into an error of its own, which a library may pass over, and the work goes on. So
there it waits until the import is over; pressed again, it does not.
"""

from __future__ import annotations

import _thread
import atexit
import os
import signal
import time
from types import FrameType

STOPPED = "Stopped."
STATUS = 130
"""What a shell calls a program that Ctrl-C ended: 128 and the signal's number."""

_IMPORTING = "<frozen importlib"
_PAUSE_S = 0.02


def heeded() -> bool:
    """Tell whether Ctrl-C is meant for this program: not where it runs in the background, or inside another one."""
    return signal.getsignal(signal.SIGINT) is signal.default_int_handler


def leave_at_once() -> None:
    """From now on leave without ado: for the moments before any work, when there is nothing to tidy up."""
    signal.signal(signal.SIGINT, _leave)


def interrupt() -> None:
    """From now on raise KeyboardInterrupt, so that the work under way tidies up; not inside an import."""
    signal.signal(signal.SIGINT, _Interrupt())


def end_with(status: int) -> None:
    """From now on end with a status at once: all is done, and Python may still wait for threads."""
    signal.signal(signal.SIGINT, lambda *_: os._exit(status))
    # The very last moments no function of ours would outlive.
    atexit.register(signal.signal, signal.SIGINT, signal.SIG_IGN)


def _leave(*_: object) -> None:
    try:
        os.write(2, f"\nguidestar: {STOPPED}\n".encode())  # after the ^C that the terminal shows
    finally:
        os._exit(STATUS)


class _Interrupt:
    """The handler of Ctrl-C while the program works."""

    def __init__(self) -> None:
        self._main = _thread.get_ident()
        self._waiting = self._repeated = False

    def __call__(self, _: int, frame: FrameType | None) -> None:
        pressed_again = self._waiting and not self._repeated
        self._repeated = False
        if _importing(frame) and not pressed_again:
            self._waiting = True
            _thread.start_new_thread(self._repeat, ())
            return
        self._waiting = False
        raise KeyboardInterrupt

    def _repeat(self) -> None:
        """Send the signal once more, from a thread of its own, unless it was heeded by then."""
        time.sleep(_PAUSE_S)
        if not self._waiting:
            return
        self._repeated = True
        if hasattr(signal, "pthread_kill"):  # this one also ends a wait for the network
            signal.pthread_kill(self._main, signal.SIGINT)
        else:
            _thread.interrupt_main()


def _importing(frame: FrameType | None) -> bool:
    while frame is not None:
        if frame.f_code.co_filename.startswith(_IMPORTING):
            return True
        frame = frame.f_back
    return False
