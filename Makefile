# make demo     the main job on the demo week: tables, plan, papers, and where to look
# make test     style, types and the quick tests
# make test-all the same, then the slow tests: all that .ci/run runs, but for a short fuzz
# make timings  how long the commands take on this machine
# make timings-week  the planner beside its peers on generated weeks of WEEKS orders (40 300 1000), LIMITS seconds each,
#                    SUPPLY usual, short or tangled
# make fuzz     looks for bytes that break the readers of tables, for FUZZ_SECONDS (600)
# make mutants  MUTANTS (60) lines broken one at a time: which of them no quick test sees
# make crash    the ledger killed 10,000 times, audited after each

DEMO ?= demo
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --quiet --disable-pip-version-check
NEW_ENOUGH := import sys; sys.exit(sys.version_info < (3, 11))
PYTHON ?= $(shell for p in python3 python3.14 python3.13 python3.12 python3.11; do \
	if $$p -c '$(NEW_ENOUGH)' 2>/dev/null; then echo $$p; break; fi; done)

.PHONY: demo test test-slow test-all timings timings-week fuzz mutants crash
.DELETE_ON_ERROR:

demo: $(VENV)/.installed
	@if [ ! -f $(DEMO)/shelf/shelf.toml ]; then $(BIN)/spawnpost demo $(DEMO); else \
		today=$$(cat $(DEMO)/shelf/today.txt) && spawnpost="$(BIN)/spawnpost --shelf $(DEMO)/shelf --today $$today" && \
		$$spawnpost plan && $$spawnpost --quiet papers --to $(DEMO)/papers && \
		echo "Planned again from the tables in $(DEMO)/shelf. For a fresh one: make demo DEMO=another"; fi

# what was compiled once is not compiled again by each process that a test starts
test test-slow: export PYTHONDONTWRITEBYTECODE =

# neighbours run in one process, which reckons once what they share
SIDE_BY_SIDE := -n auto --dist worksteal

# mypy reads the program beside the tests, and what it found stands last
test: $(VENV)/.installed-dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy >$(VENV)/types.txt 2>&1 & mypy=$$!; $(BIN)/python -m pytest $(SIDE_BY_SIDE) -m "not slow"; tests=$$?; \
		wait $$mypy; types=$$?; cat $(VENV)/types.txt; exit $$((tests + types))

test-slow: $(VENV)/.installed-dev
	$(BIN)/python -m pytest $(SIDE_BY_SIDE) -m slow

test-all: test
	@$(MAKE) --no-print-directory test-slow

timings: $(VENV)/.installed
	@$(BIN)/python tests/timings/run_all.py

WEEKS ?= 40 300 1000
LIMITS ?=
SUPPLY ?= usual
timings-week: $(VENV)/.installed-dev
	@$(BIN)/python -m tests.timings.week_peers --supply $(SUPPLY) --orders $(WEEKS) $(if $(strip $(LIMITS)),--seconds $(LIMITS))

FUZZ_SECONDS ?= 600
fuzz: $(VENV)/.installed-dev
	$(BIN)/python -m tests.properties.fuzz_readers --seconds $(FUZZ_SECONDS)

MUTANTS ?= 60
mutants: $(VENV)/.installed-dev
	$(BIN)/python -m tests.mutants --count $(MUTANTS)

crash: $(VENV)/.installed-dev
	SPAWNPOST_CRASHES=10000 $(BIN)/python -m pytest tests/ledger/test_crash.py tests/ledger/test_audit.py

$(VENV)/.made:
	@if [ -z "$(strip $(PYTHON))" ] || ! $(PYTHON) -c '$(NEW_ENOUGH)'; then \
		echo "spawnpost needs Python 3.11 or newer, and found none (python3 is: $$(python3 --version 2>&1))." >&2; \
		echo "Install one, or name it: make PYTHON=/path/to/python3.11 $(MAKECMDGOALS)" >&2; exit 1; fi
	@$(PYTHON) -m venv $(VENV) || { \
		echo "No virtual environment could be made. On Debian and Ubuntu: apt-get install python3-venv" >&2; exit 1; }
	@touch $@

$(VENV)/.installed: $(VENV)/.made pyproject.toml constraints.txt
	@echo "Installing spawnpost and what it needs into $(VENV) (a minute or two, once) ..."
	@$(PIP) install -c constraints.txt -e .
	@touch $@

$(VENV)/.installed-dev: $(VENV)/.made pyproject.toml constraints.txt
	@echo "Installing spawnpost and its development tools into $(VENV) (a few minutes, once) ..."
	@$(PIP) install -c constraints.txt -e '.[dev]'
	@touch $@ $(VENV)/.installed
