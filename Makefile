# Everything in one place: `make demo` and `make test` set up what they need in .venv and run.
# With another Python: make PYTHON=python3.12 test
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
DEMO := demo-output

.PHONY: demo test lint types contracts check-all readme bench clean

$(VENV)/.run: pyproject.toml
	@$(PYTHON) -c "import sys; sys.exit(sys.version_info < (3, 11) and 'guidestar needs Python 3.11 or newer: name one, such as: make PYTHON=python3.12 demo')"
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade pip
	$(BIN)/python -m pip install --quiet --editable ".[all]"
	@touch $@

$(VENV)/.test: $(VENV)/.run
	$(BIN)/python -m pip install --quiet --editable ".[test]"
	@touch $@

demo: $(VENV)/.run
	@mkdir -p $(DEMO)
	@test -f $(DEMO)/demo-rig.toml || $(BIN)/guidestar rig new $(DEMO)/demo-rig.toml --from compound-2000-f10-prism-14x8
	$(BIN)/guidestar check "NGC 7331" --rig $(DEMO)/demo-rig.toml --figure $(DEMO)/ngc7331.png

test: $(VENV)/.test
	$(BIN)/python -m pytest

lint: $(VENV)/.test
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .

types: $(VENV)/.test
	$(BIN)/mypy

contracts: $(VENV)/.test
	$(BIN)/lint-imports

check-all: lint types contracts test

# Runs the README's examples and puts what they print and draw into the page.
readme: $(VENV)/.test
	$(BIN)/python -m tests.support.readme_examples --write

bench: $(VENV)/.test
	@for bench in tests/benchmarks/bench_*.py; do echo "== $$bench"; $(BIN)/python $$bench || exit 1; done

clean:
	rm -rf $(VENV) $(DEMO) build dist
