# Every target makes .venv first if it is not there.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.ready

.PHONY: venv demo test check bench docs report lock vendor browser clean

venv: $(STAMP)

$(STAMP): requirements.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "blockwright needs Python 3.11 or newer; set PYTHON=python3.11" >&2; exit 2; }
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check uv 2>/dev/null || echo "uv is not to be had; going on with pip"
	@if test -x $(BIN)/uv; then \
		VIRTUAL_ENV=$(abspath $(VENV)) $(BIN)/uv pip install --quiet --compile-bytecode --require-hashes -r requirements.lock; \
	else \
		$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock; \
	fi
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-build-isolation --no-deps --editable .
	@$(BIN)/python -m compileall -q src
	@touch $(STAMP)

demo: $(STAMP)
	$(BIN)/blockwright demo tide-mill

test: check
	$(BIN)/python -m pytest

check: $(STAMP)
	$(BIN)/ruff check src tests bench docs
	$(BIN)/ruff format --check src tests bench docs
	$(BIN)/mypy

bench: $(STAMP)
	$(BIN)/python -m bench.speed

report: $(STAMP)
	$(BIN)/python -m bench.pictures

docs: $(STAMP)
	$(BIN)/python docs/build.py

# The fonts and their manifest, made again from the package registry.
vendor: $(STAMP)
	$(BIN)/python vendor/fonts.py

# Made anew only when pyproject.toml changes; needs the package registry.
lock: $(STAMP)
	$(BIN)/uv pip compile --quiet --universal --generate-hashes --no-header --python-version 3.11 \
		pyproject.toml --group dev --output-file requirements.lock

clean:
	rm -rf $(VENV) tide-mill build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis
