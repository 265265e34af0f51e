# make cards   the reference edition in build/reference/
# make test    everything that is tested
# make bench   speed, as ratios against peers in the same run
# make pictures the pictures of the README in pictures/, from the cards as they are now
# make fuzz    10,000 random edits to YAML files
# make schemas the JSON Schemas for editors, after a change to cardwright/models/
# make catalogue the list of checks in DEVELOPERS.md, after a change to a check

PYTHON ?= python3
BIN := .venv/bin

.PHONY: cards test bench pictures fuzz schemas catalogue clean

cards: .venv/installed
	$(BIN)/cardwright build --jobs 2

test: .venv/tests
	@.ci/system tests
	$(BIN)/ruff check -q cardwright tests
	$(BIN)/python -m pytest -n 2 --dist loadgroup

bench: .venv/tests
	@.ci/system tests
	$(BIN)/python tests/bench.py

pictures: .venv/tests
	@.ci/system tests
	$(BIN)/python tests/pictures.py

fuzz: .venv/tests
	CARDWRIGHT_FUZZ=10000 $(BIN)/python -m pytest -n 2 tests/test_fuzz.py

schemas: .venv/installed
	$(BIN)/cardwright schema --output cardwright/schemas

catalogue: .venv/installed
	$(BIN)/cardwright checks --format markdown > .venv/catalogue.md
	sed -i -e '/^<!-- checks/,/^<!-- end of checks/{//!d}' -e '/^<!-- checks/r .venv/catalogue.md' DEVELOPERS.md

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
