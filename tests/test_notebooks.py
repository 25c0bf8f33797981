"""Every notebook runs from top to bottom, and is kept without what running it leaves behind."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest

ROOT = Path(__file__).resolve().parents[1]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))

# In a process of its own: a notebook's kernel is spoken to through sockets, which the tests may not open.
RUN = """
import sys, nbformat
from nbclient import NotebookClient
notebook = nbformat.read(sys.argv[1], as_version=4)
NotebookClient(notebook, timeout=300, kernel_name="python3").execute(cwd=sys.argv[2])
for cell in notebook.cells:
    if ".plot_" in cell.source:
        assert any("image/png" in output.get("data", {}) for output in cell.outputs), "no picture: " + cell.source
print(sum(bool(cell.get("outputs")) for cell in notebook.cells))
"""


def is_notebook(path: Path) -> str:
    return path.name


@pytest.mark.slow
@pytest.mark.timeout(300)
@pytest.mark.parametrize("path", NOTEBOOKS, ids=is_notebook)
def test_a_notebook_runs(path: Path, tmp_path: Path) -> None:
    own = {name: str(tmp_path / name) for name in ("IPYTHONDIR", "JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR")}
    done = subprocess.run(
        [sys.executable, "-c", RUN, str(path), str(tmp_path)],
        cwd=tmp_path,
        env={**os.environ, **own, "JUPYTER_PREFER_ENV_PATH": "1", "JUPYTER_PLATFORM_DIRS": "1"},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert int(done.stdout.splitlines()[-1]) > 0


@pytest.mark.parametrize("path", NOTEBOOKS, ids=is_notebook)
def test_a_notebook_is_kept_without_outputs(path: Path) -> None:
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert code
    assert [cell.id for cell in code if cell.outputs or cell.execution_count is not None] == []
    assert [cell.id for cell in notebook.cells if cell.metadata] == []
    assert set(notebook.metadata) <= {"kernelspec", "language_info"}
    assert notebook.metadata.kernelspec.name == "python3"


def test_there_are_notebooks() -> None:
    assert NOTEBOOKS
