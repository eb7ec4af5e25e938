# Two commands: `make run` does all set-up and runs the main job on the shipped example, `make test` does all set-up
# and passes every test. Nothing is installed outside .venv, except Debian packages that are missing and named here.

PYTHON ?= $(shell command -v python3.11 || command -v python3)
VENV := .venv
BIN := $(VENV)/bin
DEMO := build/tipper
# A verdict is told by the exit code (3 tight, 4 unknown, 5 broken): that is an answer, not a failed command.
VERDICT_IS_FINE := || test $$? -ge 3

.PHONY: run open test coverage check-style setup benchmarks screens chromium lock clean

run: setup
	@rm -rf $(DEMO) && mkdir -p build
	@$(BIN)/loomwright new $(DEMO) --from tipper
	@echo; echo "== Planning the tipper's lines anew, for show: what differs from the lines as decided?"; $(BIN)/loomwright arrange $(DEMO) --seconds 10 $(VERDICT_IS_FINE)
	@echo; echo "== Checking the tipper as decided"; $(BIN)/loomwright check $(DEMO) $(VERDICT_IS_FINE)
	@echo; echo "== Drawings, open them in a browser:"; $(BIN)/loomwright draw $(DEMO)
	@test -n "$(TERMINAL)" || { echo; echo "== The same truck in the browser:"; $(BIN)/loomwright open $(DEMO); }

# The workbench in the browser, with a copy of the tipper truck under build/.
open: setup
	@mkdir -p build
	$(BIN)/loomwright open --in build --example tipper

test: setup chromium check-style
	$(BIN)/pytest -q -n 2 --dist loadfile

# The same with the lines that no test runs; counting them takes half as long again.
coverage: setup chromium
	$(BIN)/pytest --cov --cov-report=term:skip-covered -q -n 2 --dist loadfile

check-style: setup
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

benchmarks: setup
	@for script in benchmarks/*.py; do echo "== $$script"; $(BIN)/python $$script || exit 1; done

# A picture of every page, light and dark, on a screen and on a tablet.
screens: setup chromium
	$(BIN)/python -m tests.web.pages build/screens

# The browser that the workbench's tests drive.
chromium:
	@test -x /usr/bin/chromium || { apt-get update -q && apt-get install -qy chromium; }

setup: $(VENV)/.ready

# The lock names every package, so nothing is resolved here: a newer release of one that another
# asks for with an extra would otherwise be looked at first, and refused for want of a hash.
$(VENV)/.ready: requirements.lock pyproject.toml
	@test -n "$(PYTHON)" || { echo "Python 3.11 or newer is needed: apt-get install python3 python3-venv"; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Python 3.11 or newer is needed"; exit 1; }
	@$(PYTHON) -c 'import ensurepip' 2>/dev/null || { apt-get update -q && apt-get install -qy python3-venv; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps --require-hashes -r requirements.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	@touch $@

# Writes the lock anew, with hashes and without any index address. Needs uv.
lock:
	uv pip compile pyproject.toml --group dev --generate-hashes --universal --python-version 3.11 \
	    --no-header --no-annotate --no-emit-index-url --output-file requirements.lock
	@! grep -n '://' requirements.lock

clean:
	rm -rf $(VENV) build
