# make cards   the reference edition in build/reference/
# make test    everything that is tested
# make bench   speed, as ratios against peers in the same run
# make schemas the JSON Schemas for editors, after a change to cardwright/models.py

PYTHON ?= python3
BIN := .venv/bin

.PHONY: cards test bench schemas clean

cards: .venv/installed
	$(BIN)/cardwright build --jobs 2

test: .venv/tests
	@.ci/system tests
	$(BIN)/ruff check -q cardwright tests
	$(BIN)/python -m pytest -n 2 --dist loadgroup

bench: .venv/tests
	@.ci/system tests
	$(BIN)/python tests/bench.py

schemas: .venv/installed
	$(BIN)/cardwright schema --output cardwright/schemas

.venv/installed: pyproject.toml
	@.ci/system cards
	$(PYTHON) -c 'import sys; sys.exit("cardwright needs Python 3.11 or later" if sys.version_info < (3, 11) else 0)'
	test -x $(BIN)/python || $(PYTHON) -m venv .venv
	$(BIN)/python -m pip install -q --disable-pip-version-check -e .
	@touch $@

.venv/tests: .venv/installed
	$(BIN)/python -m pip install -q --disable-pip-version-check -e '.[test]'
	@touch $@

clean:
	rm -rf build dist .venv
