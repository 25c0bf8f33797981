"""The network below TAP: time limits, a name in every question, and what each failure means in words."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Final

from guidestar import __version__
from guidestar.errors import MissingPackageError

NO_TABLE: Final = "its answer was cut off or is no VOTable"

USER_AGENT: Final = f"guidestar/{__version__} (guide stars for off-axis guiding; python-requests)"

_TIRED: Final = re.compile(r"tim(ed|e) ?(out|limit)|took too long|cancell?ed", re.IGNORECASE)
_PASSING: Final = re.compile(r"database|unavailable|overload|busy|too many|try (it )?again|temporar", re.IGNORECASE)
_NETWORK: Final = {
    "refused": "it refuses the connection",
    "resolve|resolution|Name or service not known|getaddrinfo": "its address cannot be found; is there a network?",
    "CERTIFICATE|certificate": "its certificate is not accepted; is this computer's clock right?",
    "unreachable": "there is no way to it; is there a network?",
    "RemoteDisconnected|Connection ?[Rr]eset|Connection (broken|aborted)|IncompleteRead|BrokenPipe": (
        "the connection to it was cut"
    ),
    "SSL|TLS": "the secure connection to it cannot be made",
}


@dataclass(frozen=True)
class Manners:
    """How a service is asked: seconds to wait for a sign of life and for a whole answer, and how often to try."""

    silence_s: float = 60.0
    whole_s: float = 900.0
    attempts: int = 5
    first_wait_s: float = 1.0
    longest_wait_s: float = 30.0


class Temporary(Exception):  # noqa: N818 - it is no error yet: the question is asked again
    """An answer failed in a way that may pass; `str()` says how, as part of a sentence."""


class TooMuch(Exception):  # noqa: N818 - an answer like the others: ask for less
    """The service cannot give so many stars at once; `limit` is how many it gave, 0 if that is not known."""

    def __init__(self, limit: int) -> None:
        self.limit = limit
        super().__init__(f"no more than {limit} stars at once")


def told(message: str) -> tuple[str, bool] | None:
    """Sort an error that a service itself reports: what to say and whether it may pass; None if it was too much."""
    text = " ".join(message.split())[:160].rstrip(".")
    if _TIRED.search(text):
        return None
    return f'it reports "{text}"', bool(_PASSING.search(text))


def sorted_out(error: Exception, silence_s: float) -> tuple[str, bool]:
    """Sort an error of the connection or of the answer's form: what to say, and whether it may pass."""
    import requests
    import urllib3

    chain = _chain(error)
    # The reason first: urllib3 counts a refused connection among the time-outs.
    known = network_reason(" ".join(repr(e) for e in chain))
    if known:
        return known, True
    if any(isinstance(e, (requests.Timeout, urllib3.exceptions.TimeoutError, TimeoutError)) for e in chain):
        return f"it sent nothing for {silence_s:g} s", True
    status = re.search(r"\b([45]\d\d)\b (Client|Server) Error", str(error))
    if status and status[1] in ("404", "410", "401", "403"):
        return f"there is no open TAP service at this address (HTTP {status[1]})", False
    return (f"it answers with HTTP {status[1]}" if status else NO_TABLE), True


def _chain(error: BaseException) -> list[BaseException]:
    """Return an error and all that it came from."""
    found: list[BaseException] = []
    waiting: list[object] = [error]
    while waiting:
        this = waiting.pop()
        if isinstance(this, BaseException) and this not in found:
            found.append(this)
            waiting += [this.__cause__, this.__context__, getattr(this, "cause", None), *this.args]
    return found


def network_reason(text: str) -> str | None:
    """Return what an error of the network means, as part of a sentence; None if it is none of the known ones."""
    for pattern, reason in _NETWORK.items():
        if re.search(pattern, text):
            return reason
    return None


def session(manners: Manners) -> Any:
    """Return a session that names the tool and in which no wait is without end."""
    import requests
    from requests.adapters import HTTPAdapter

    class Adapter(HTTPAdapter):
        def __init__(self) -> None:
            self.unread: list[Any] = []
            super().__init__()

        def send(self, request: Any, *given: Any, **options: Any) -> Any:
            options["timeout"] = options.get("timeout") or (min(10.0, manners.silence_s), manners.silence_s)
            answer = super().send(request, *given, **options)
            self.unread = [answer, *(other for other in self.unread if not other.raw.closed)]
            return answer

        def close(self) -> None:
            # pyvo reads some answers only as far as it needs, and leaves their connections open.
            for answer in self.unread:
                answer.close()
            super().close()

    made = requests.Session()
    made.headers["User-Agent"] = USER_AGENT
    for scheme in ("http://", "https://"):
        made.mount(scheme, Adapter())
    return made


def need_pyvo() -> Any:
    """Return pyvo, which is loaded for fetching only; a MissingPackageError says how to install it."""
    try:
        import pyvo
        import tenacity  # noqa: F401 - missing together with pyvo, and then said at once
    except ImportError as error:
        raise MissingPackageError("Fetching stars", ["pyvo", "tenacity"], "fetch") from error
    return pyvo
