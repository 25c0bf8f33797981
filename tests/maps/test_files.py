"""Files of a folder: all or none, whatever goes wrong."""

import errno
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from guidestar.errors import InputError
from guidestar.maps.files import output_folder, write_all

FULL = OSError(errno.ENOSPC, "No space left on device")


def holding(text):
    return lambda path: path.write_text(text, encoding="utf-8")


def failing(error):
    def write(path):
        path.write_text("half", encoding="utf-8")
        raise error

    return write


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_all_files_arrive(tmp_path):
    found = write_all(tmp_path, {"a": holding("1"), "b": holding("2")})
    assert [path.name for path in found] == ["a", "b"]
    assert names(tmp_path) == ["a", "b"]
    assert (tmp_path / "b").read_text() == "2"


@pytest.mark.parametrize("error", [FULL, KeyboardInterrupt(), InputError("no"), ValueError("a fault")])
def test_one_that_fails_leaves_everything_as_it_was(tmp_path, error):
    (tmp_path / "a").write_text("old")
    expected = InputError if isinstance(error, OSError | InputError) else type(error)
    with pytest.raises(expected):
        write_all(tmp_path, {"a": holding("new"), "b": failing(error)})
    assert names(tmp_path) == ["a"]
    assert (tmp_path / "a").read_text() == "old"


def test_a_full_disk_is_a_sentence(tmp_path):
    with pytest.raises(InputError, match=r"cannot be written to \(No space left on device\); choose another folder"):
        write_all(tmp_path, {"b": failing(FULL)})


def test_a_folder_is_made_with_its_parents_and_stays(tmp_path):
    with output_folder(tmp_path / "x" / "y") as folder:
        write_all(folder, {"a": holding("1")})
    assert names(tmp_path / "x" / "y") == ["a"]


@pytest.mark.parametrize("error", [KeyboardInterrupt, ValueError])
def test_work_that_fails_leaves_no_folder_behind(tmp_path, error):
    with pytest.raises(error), output_folder(tmp_path / "x" / "y"):
        raise error
    assert names(tmp_path) == []


def test_a_folder_that_was_there_stays_whatever_happens(tmp_path):
    (tmp_path / "mine").mkdir()
    with pytest.raises(ValueError, match="no"), output_folder(tmp_path / "mine"):
        raise ValueError("no")
    assert names(tmp_path) == ["mine"]


def test_a_file_is_no_folder(tmp_path):
    (tmp_path / "f").write_text("mine")
    for path in (tmp_path / "f", tmp_path / "f" / "x"):
        with pytest.raises(InputError, match="--out"), output_folder(path):
            pytest.fail("the work has begun")
    assert (tmp_path / "f").read_text() == "mine"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="whoever may write anywhere is not refused")
def test_a_folder_that_may_not_be_written_to(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(InputError, match="Permission denied"), output_folder(tmp_path):
        pytest.fail("the work has begun")


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs a folder that nobody can write to")
def test_a_place_where_nothing_can_be_made():
    for path in (Path("/proc/self/x"), Path("/proc/self")):
        with pytest.raises(InputError, match="--out /proc/self"), output_folder(path):
            pytest.fail("the work has begun")


SCRIPT = """
import os, signal, sys
from pathlib import Path
from guidestar.maps.files import write_all
folder, name = Path(sys.argv[1]), sys.argv[2]
moved = []
real = Path.replace
def replace(self, target):
    moved.append(target)
    os.kill(os.getpid(), signal.SIGINT)  # the worst moment
    return real(self, target)
Path.replace = replace
write = lambda path: path.write_text(name)
try:
    write_all(folder, {"a": write, "b": write})
except KeyboardInterrupt:
    print("stopped after", len(moved))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals are sent differently there")
def test_ctrl_c_while_files_are_moved_waits_for_the_last_one(tmp_path):
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    done = subprocess.run([sys.executable, "-c", SCRIPT, tmp_path, "new"], capture_output=True, text=True, check=True)
    assert done.stdout == "stopped after 2\n"
    assert names(tmp_path) == ["a", "b"]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


LIMITED = """
import resource, sys
from pathlib import Path
from guidestar.errors import InputError
from guidestar.maps.files import write_all
resource.setrlimit(resource.RLIMIT_FSIZE, (5000, 5000))
try:
    write_all(Path(sys.argv[1]), {"small": lambda p: p.write_text("x"), "large": lambda p: p.write_bytes(bytes(9000))})
except InputError as error:
    print(error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no such limit there")
def test_a_real_limit_of_size_is_a_sentence_and_leaves_nothing(tmp_path):
    done = subprocess.run([sys.executable, "-c", LIMITED, tmp_path], capture_output=True, text=True, check=True)
    assert "cannot be written to (File too large)" in done.stdout
    assert names(tmp_path) == []
