"""Kill a fetch at 50 random moments: is the store whole each time, and the resumed content that of a whole fetch?

Usage: python tests/benchmarks/store_kills.py [times] [seed], with GUIDESTAR_TEST_TAP set to a TAP server's address
(tests/tap/setup_server.sh all starts one).
"""

import os
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[2]))

from support.kill_fetch import kill_many


def main(times: int = 50, seed: int = 7) -> None:
    url = os.environ.get("GUIDESTAR_TEST_TAP")
    if not url:
        print("no TAP server: set GUIDESTAR_TEST_TAP to the address that tests/tap/setup_server.sh all prints")
        return
    with tempfile.TemporaryDirectory() as folder:
        outcomes = kill_many(Path(folder), url, times, seed)
    for one in outcomes:
        print(f"{one.after_s:6.2f} s: {one.stars_before:5d} stars, whole {one.whole}, same content {one.same_content}")
    print(f"killed while running {sum(one.killed for one in outcomes)} of {times}")
    print(f"with part of the stars there {sum(one.stars_before > 0 for one in outcomes)} of {times}")
    print(f"whole {sum(one.whole for one in outcomes)} of {times}")
    print(f"same content when resumed {sum(one.same_content for one in outcomes)} of {times}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
