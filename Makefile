# Everything is set up by the targets themselves: only Python >= 3.11, make and the registries are needed.
PYTHON ?= python3
BIN := .venv/bin
SET_UP := .venv/.set-up

.PHONY: demo test vulnerable fuzz bench format docs untranslated lock clean

demo: $(SET_UP)  ## write an invented trip, audit it, say where the report is
	$(BIN)/cornerstop demo

test: $(SET_UP) browser  ## lint, types, tests
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	env -u PYTHONDONTWRITEBYTECODE $(BIN)/python -m pytest -n 2 -q --dist worksteal

vulnerable: $(SET_UP)  ## known vulnerabilities of the locked packages, where they can be looked up
	$(BIN)/python .ci/vulnerable.py

fuzz: $(SET_UP)  ## hours: damaged files, random commands, and every command stopped at each of its steps
	$(BIN)/python tests/fuzz/run.py
	$(BIN)/python tests/fuzz/guided.py -max_total_time=600
	CORNERSTOP_FUZZ=500 $(BIN)/python -m pytest -n 2 -q tests/safety tests/optics/test_calibrate.py
	$(BIN)/python tests/safety/stepwise.py --all

bench: $(SET_UP)  ## an hour: what an audit costs, and how good the models are on worlds that the code does not know
	$(BIN)/python -m benchmarks.performance
	for each in archive calibration cast corner_pixels corners crew estimate maker_notes pairs season shelf strength; do \
	  echo "== $$each"; PYTHONPATH=. $(BIN)/python benchmarks/$$each.py || exit 1; done
	PYTHONPATH=. $(BIN)/python -m benchmarks.world
	for part in calibrations wrong verdicts; do PYTHONPATH=. $(BIN)/python -m benchmarks.lens_world $$part unseen; done

.PHONY: browser
browser:  # the tests that need a browser or pango skip, and say so, where we may not install them
	@command -v chromium >/dev/null 2>&1 || { \
	  [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1 && \
	  apt-get update -qq && apt-get install -y -qq --no-install-recommends chromium fonts-dejavu-core >/dev/null; \
	} || echo "no chromium: the browser tests will be skipped"
	@ldconfig -p 2>/dev/null | grep -q libpangoft2-1.0.so.0 || { \
	  [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1 && \
	  apt-get update -qq && apt-get install -y -qq --no-install-recommends \
	    libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 >/dev/null; \
	} || echo "no pango: the tests of the PDF will be skipped"

format: $(SET_UP)
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

docs: $(SET_UP)  ## write the generated pages of docs/ again, or PAGES="checks.md messages"
	$(BIN)/python docs/generate.py $(PAGES)

untranslated: $(SET_UP)  ## messages that a language of the report does not have yet
	$(BIN)/python docs/catalogue.py

lock: $(SET_UP)  ## resolve the dependencies again
	$(BIN)/python -m pip install -q uv
	$(BIN)/uv pip compile -q --upgrade --universal --python-version 3.11 --generate-hashes --no-header \
	  --extra dev pyproject.toml -o .lock/dev.txt

$(SET_UP): pyproject.toml .lock/dev.txt
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "Python 3.11 or newer is needed: make PYTHON=...")'
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install -q --disable-pip-version-check --require-hashes -r .lock/dev.txt
	$(BIN)/python -m pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

clean:
	rm -rf .venv dist build
