"""The package costs nothing to import, and every name that it promises is there."""

from __future__ import annotations

import importlib
import pkgutil
import re
import subprocess
import sys

import pytest

import guidestar

HEAVY = ("astropy", "click", "erfa", "hpgeom", "matplotlib", "numpy", "pandas", "pyarrow", "pydantic", "pyongc", "rich")
MODULES = sorted(module.name for module in pkgutil.walk_packages(guidestar.__path__, "guidestar."))


def loaded_after(code: str) -> set[str]:
    """Return which heavy packages a fresh interpreter has loaded after some code."""
    listing = f"import sys; print(*[name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", f"{code}\n{listing}"], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_the_package_itself_loads_nothing() -> None:
    assert loaded_after("import guidestar; guidestar.__version__; dir(guidestar)") == set()


def test_the_python_interface_leaves_plots_tables_and_terminals_alone() -> None:
    assert loaded_after("from guidestar import check") & {"astropy", "click", "matplotlib", "pandas", "rich"} == set()


@pytest.mark.parametrize("name", guidestar.__all__)
def test_a_public_name_is_there_and_documented(name: str) -> None:
    value = getattr(guidestar, name)
    assert name == "__version__" or value.__doc__


def test_an_unknown_name_is_refused_as_python_does() -> None:
    with pytest.raises(AttributeError, match=r"module 'guidestar' has no attribute 'chekc'"):
        _ = guidestar.chekc


def test_the_version_is_a_version() -> None:
    assert re.fullmatch(r"\d+\.\d+\.\d+", guidestar.__version__)


@pytest.mark.parametrize("name", [name for name in MODULES if name != "guidestar.__main__"])
def test_a_module_can_be_imported_and_says_what_it_is(name: str) -> None:
    assert importlib.import_module(name).__doc__
