"""`python -m guidestar`."""

from guidestar.cli.main import run

run()
