# Two commands: `make demo` sets up and judges a demo recipe, `make check` passes every test.
PYTHON ?= python3
BIN := .venv/bin
RECIPE ?= kitchen/damson-spread.toml

.PHONY: demo check test lint types verify bench lock clean

demo: .venv/runtime
	@$(BIN)/stillroom assess $(RECIPE)

check: .venv/development lint types test

test: .venv/development
	$(BIN)/python -m pytest -n auto

lint: .venv/development
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: .venv/development
	$(BIN)/mypy

# the check cases, one line each
verify: .venv/development
	$(BIN)/python tests/verify.py tests/cases/*.csv

bench: .venv/development
	$(BIN)/python benchmarks/run.py

.venv/bin/python:
	$(PYTHON) -m venv .venv

.venv/runtime: requirements.lock pyproject.toml | .venv/bin/python
	@$(BIN)/python -m pip install --quiet --require-hashes -r requirements.lock
	@$(BIN)/python -m pip install --quiet --no-deps --no-build-isolation --editable .
	@touch $@

.venv/development: requirements-dev.lock pyproject.toml | .venv/bin/python
	@$(BIN)/python -m pip install --quiet --require-hashes -r requirements-dev.lock
	@$(BIN)/python -m pip install --quiet --no-deps --no-build-isolation --editable .
	@touch $@

# pins with hashes, for every platform and Python from 3.11 on
lock:
	uv pip compile pyproject.toml --extra build --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --output-file requirements.lock
	uv pip compile pyproject.toml --all-extras --constraint requirements.lock --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --output-file requirements-dev.lock

clean:
	rm -rf .venv .pytest_cache .mypy_cache .ruff_cache .hypothesis
