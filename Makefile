# The two commands are `make demo` and `make test`; the rest is for working on Kerfwright.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
SOURCES := pyproject.toml requirements

.PHONY: demo test lint format benchmarks clean

demo: $(VENV)/.demo
	$(BIN)/kerfwright plan examples/regatta/order.toml --out out

test: $(VENV)/.test chromium postgresql
	$(BIN)/python -m pytest --numprocesses auto --dist loadfile

lint: $(VENV)/.test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

format: $(VENV)/.test
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

# Nesting is left out: it needs instance files (python -m benchmarks nesting --instances DIR).
benchmarks: $(VENV)/.test
	for name in drawing overlaps motion sequence shared_edges engraving; do $(BIN)/python -m benchmarks $$name; done

# Pinned versions, checked by hash; then Kerfwright itself without looking for anything more.
$(VENV)/.demo: pyproject.toml requirements/run.txt
	test -d $(VENV) || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/run.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $@

$(VENV)/.test: $(VENV)/.demo requirements/test.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/test.txt
	touch $@

# The browser tests need Chromium; any installed one will do.
.PHONY: chromium
chromium:
	@command -v chromium >/dev/null || command -v chromium-browser >/dev/null || \
	command -v google-chrome >/dev/null || \
	{ command -v apt-get >/dev/null && { apt-get update -qq && apt-get install -y -qq chromium >/dev/null; }; } || \
	{ echo "The browser tests need Chromium: install it with your system's package manager." >&2; exit 1; }

# Records are also tested on PostgreSQL. Where it cannot be installed those tests are skipped and say
# so; KERFWRIGHT_TEST_NEEDS=postgresql makes them fail instead.
.PHONY: postgresql
postgresql:
	@command -v initdb >/dev/null || ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || \
	{ command -v apt-get >/dev/null && { apt-get update -qq && apt-get install -y -qq postgresql >/dev/null; }; } || \
	echo "Without PostgreSQL (Debian's package postgresql) the tests on it are skipped." >&2

clean:
	rm -rf $(VENV) out build dist
