# Two commands do everything: make demo, make test. Each installs what it needs into .venv.

PYTHON ?= python3
BIN := .venv/bin
CONSTRAINTS := --constraint .ci/constraints.txt
PIP := $(BIN)/python -m pip --disable-pip-version-check --no-input install --progress-bar off

.DEFAULT_GOAL := help
.PHONY: help demo test check format coverage fuzz references constraints clean

help: ## list the targets
	@grep -hE '^[a-z]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z]+):.*## (.*)/  make \1|\2/' | column -t -s '|' 2>/dev/null \
	|| grep -hE '^[a-z]+:.*## ' $(MAKEFILE_LIST)

demo: .venv/installed ## install, then run the main job on an invented bench (in .demo/)
	@rm -rf .demo
	@echo "== an invented bench of raw files"
	@$(BIN)/spectralbench demo .demo/bench
	@echo "== from raw counts to the sources at the bond line"
	@$(BIN)/spectralbench compare .demo/bench --report .demo/report.html

test: .venv/installed-for-tests check ## install, then run every check and test
	@echo "== pytest"
	@$(BIN)/pytest --numprocesses 2

check: .venv/installed-for-tests ## run the checks that need no tests: style, types, floors
	@echo "== ruff"
	@$(BIN)/ruff check --quiet .
	@$(BIN)/ruff format --check --quiet .
	@echo "== mypy"
	@$(BIN)/mypy
	@echo "== import-linter"
	@$(BIN)/lint-imports --no-cache

format: .venv/installed-for-tests ## format the code
	@$(BIN)/ruff check --quiet --fix .
	@$(BIN)/ruff format .

BENCHES ?= 1000
coverage: .venv/installed-for-tests ## prove that intervals cover the truth, on 1,000 virtual benches (5 minutes)
	@$(BIN)/python tests/coverage/virtual_benches.py $(BENCHES)

RUNS ?= 100000
fuzz: .venv/installed-for-tests ## feed every reader with damaged files (RUNS=100000 for each)
	@for reader in delimited jcamp tm27; do \
	echo "== $$reader"; $(BIN)/python tests/fuzzing/fuzz.py $$reader --runs $(RUNS) || exit 1; done

references: .venv/installed-for-tests ## print every value from outside that the tests hold the project against
	@$(BIN)/pytest tests/references --references --quiet -p no:randomly

constraints: .venv/installed-for-tests ## write down the versions that are installed now
	@$(BIN)/python -m pip freeze --exclude-editable --exclude pip > .ci/constraints.txt

clean: ## remove everything that the other targets made
	rm -rf .venv .demo .cache .hypothesis .mypy_cache .pytest_cache .ruff_cache .import_linter_cache build dist
	find . -name __pycache__ -type d -prune -exec rm -rf {} +

.venv/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	{ echo "Python 3.11 or newer is needed; this is $$($(PYTHON) --version 2>&1). Say which: make PYTHON=python3.12 …"; exit 1; }
	@echo "== making a virtual environment in .venv"
	@$(PYTHON) -m venv .venv || { rm -rf .venv; echo "This Python cannot make one: install its venv package (python3-venv on Debian)."; exit 1; }
	@$(PIP) --quiet --upgrade 'pip>=25.1'

.venv/installed: .venv/bin/python pyproject.toml .ci/constraints.txt
	@echo "== installing spectralbench and what it needs (a minute or so)"
	@$(PIP) $(CONSTRAINTS) --editable .
	@touch $@

.venv/installed-for-tests: .venv/installed
	@echo "== installing what the tests need (a minute or two)"
	@$(PIP) $(CONSTRAINTS) --editable . --group test
	@touch $@
