# Two commands matter: make demo, make test. DEVELOPERS.md says more.

SHELL := /bin/bash
.ONESHELL:
.SHELLFLAGS := -euo pipefail -c
.NOTPARALLEL:
.DEFAULT_GOAL := help

export PYTHONTZPATH :=
export PIP_DISABLE_PIP_VERSION_CHECK := 1

PY := .venv/bin/python
RUNTIME := .venv/runtime.stamp
TOOLS := .venv/tools.stamp

.PHONY: help setup demo serve test measure lint format types imports migrations \
	deploy-check lock lock-check system tests browser tour

help:
	@echo "make setup    .venv in this checkout, with everything installed"
	@echo "make demo     a worked job, planned and served"
	@echo "make test     every check and test, with real services and a browser"
	@echo "make measure  the long measurements"

setup: $(RUNTIME) $(TOOLS)

$(RUNTIME): requirements.txt
	@python=$$(.ci/find-python)
	echo "Installing what the service needs into .venv (a minute the first time)"
	"$$python" -m venv .venv
	$(PY) -m pip install --quiet --require-hashes -r requirements.txt
	touch $@

$(TOOLS): tests/requirements.txt $(RUNTIME)
	@echo "Installing what the tests need into .venv (a minute the first time)"
	$(PY) -m pip install --quiet --require-hashes -r tests/requirements.txt
	touch $@

demo: $(RUNTIME)
	$(PY) manage.py demo

serve: $(RUNTIME)
	$(PY) manage.py serve

# In the order that fails fastest.
test: setup system lint types imports migrations deploy-check lock-check tests browser

system:
	.ci/system-packages

lint: setup
	.venv/bin/ruff check .
	.venv/bin/ruff format --check .

format: setup
	.venv/bin/ruff check --fix .
	.venv/bin/ruff format .

types: setup
	.venv/bin/mypy

imports: setup
	.venv/bin/lint-imports --no-cache

migrations: setup
	@folder=$$(mktemp -d)
	trap 'rm -rf "$$folder"' EXIT
	DATA_DIR="$$folder" $(PY) manage.py makemigrations --check --dry-run

# Values like a real host's, so that Django's own deployment checks have to pass.
deploy-check: setup
	@folder=$$(mktemp -d)
	trap 'rm -rf "$$folder"' EXIT
	env DATA_DIR="$$folder" SITE_URL=https://plans.example.com TRUSTED_PROXIES=1 \
		HSTS_SECONDS=31536000 $(PY) manage.py check --deploy --fail-level WARNING

lock: setup
	.ci/lock

lock-check: setup
	.ci/lock --check

tests: setup
	.venv/bin/pytest -n 2 --dist loadfile

browser: setup
	@if compgen -G 'tests/browser/test_*.py' > /dev/null; then
		.venv/bin/pytest -n 2 --dist loadfile tests/browser
	else
		echo "tests/browser holds no test" >&2
		exit 1
	fi

tour: setup system
	$(PY) -m tests.browser.tour

measure: setup system
	HYPOTHESIS_PROFILE=wide .venv/bin/pytest -m measure -s tests
