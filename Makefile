# Every target makes .venv first if it is not there.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.ready

.PHONY: venv demo test compiled compiled-print compiled-router check bench docs report screens lock vendor browser clean

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

# The tests are shared by as many processes as there are processors, each with one thread for linear algebra;
# what they want compiled is compiled while the types are checked.
test: browser
	$(MAKE) --no-print-directory -j 3 check compiled-print compiled-router
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest --numprocesses auto --maxprocesses 4 --dist worksteal

# The tests of the app need Chromium. It is installed where that is allowed; otherwise they are left out.
browser:
	@command -v chromium >/dev/null || command -v chromium-browser >/dev/null || command -v google-chrome >/dev/null || { \
		if test "$$(id -u)" = 0 && command -v apt-get >/dev/null; then \
			echo "installing Chromium for the tests of the app ..."; \
			{ apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium; } >/dev/null 2>&1 \
				|| echo "Chromium could not be installed; the tests in the browser are left out."; \
		else \
			echo "No Chromium here; the tests in the browser are left out. Install it with the system's packages, such as: sudo apt-get install chromium"; \
		fi; }

# A small print is made, so that tests do not wait, each process by itself, until its loops are machine code.
compiled: compiled-print compiled-router

compiled-print compiled-router: compiled-%: $(STAMP)
	$(BIN)/python -m bench.compiled $*

check: $(STAMP)
	$(BIN)/ruff check src tests bench docs
	$(BIN)/ruff format --check src tests bench docs
	$(BIN)/mypy

bench: $(STAMP)
	$(BIN)/python -m bench.speed

# Pictures of every station of the app, light and dark, in a folder that is named at the end.
screens: $(STAMP) browser
	$(BIN)/python -m bench.screens

report: $(STAMP)
	$(BIN)/python -m bench.pictures

docs: $(STAMP)
	$(BIN)/python docs/build.py

# The fonts, the app's scripts and their manifest, made again from the package registry; the weights of the lights; the
# optics of the pigments.
vendor: $(STAMP)
	$(BIN)/python vendor/fonts.py
	$(BIN)/python vendor/scripts.py
	$(BIN)/python vendor/spectra.py
	$(BIN)/python vendor/pigments.py

# Made anew only when pyproject.toml changes; needs the package registry.
lock: $(STAMP)
	$(BIN)/uv pip compile --quiet --universal --generate-hashes --no-header --python-version 3.11 \
		pyproject.toml --group dev --output-file requirements.lock

clean:
	rm -rf $(VENV) tide-mill build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis
