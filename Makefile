# The same words on a laptop and in CI. PYTHON: any Python 3.11 or later with venv.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.built

.PHONY: env demo test check bench lock schemas golden

env: $(STAMP)

$(STAMP): requirements-dev.txt pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit("Python 3.11 or later is needed: make PYTHON=python3.11" if sys.version_info < (3, 11) else 0)'
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements-dev.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $@

demo: env
	$(BIN)/shipworthy demo --into records

test: env
	$(BIN)/python -m pytest -n 2 --dist loadfile

check: env
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python tools/check_links.py
	$(BIN)/python tools/write_schemas.py --check
	$(BIN)/python tools/write_codes.py --check

bench: env
	$(BIN)/python bench/all.py

schemas: env
	$(BIN)/python tools/write_schemas.py
	$(BIN)/python tools/write_codes.py

golden: env
	$(BIN)/python -m pytest tests/machine -q --update-golden

lock:
	uv pip compile -q pyproject.toml --universal --python-version 3.11 --generate-hashes --no-annotate --no-header -o requirements.txt
	uv pip compile -q pyproject.toml --group dev --universal --python-version 3.11 --generate-hashes --no-annotate --no-header -o requirements-dev.txt
