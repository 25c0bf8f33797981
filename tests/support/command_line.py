"""What every command's output has to be."""

from __future__ import annotations

import json
import signal
from typing import Any

import pytest


def one_sentence(err: str) -> str:
    """Return what stands on standard error, which must be one sentence that says whose it is."""
    assert err.count("\n") == 1
    assert err.startswith("guidestar: ")
    assert "Traceback" not in err
    return err


def heeding_ctrl_c() -> None:
    """Let a new process heed Ctrl-C although the tests themselves may run in the background, where it is ignored."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def strict(text: str) -> Any:
    """Return the values of JSON as the standard has it: no NaN, no Infinity."""
    return json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
