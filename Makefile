# The two commands a newcomer needs are `make demo` and `make test`; everything else serves them.
UV_VERSION = 0.13.9
VENV = .venv
PYTHON = $(VENV)/bin/python
SERVE ?= yes
ADDRESS ?= 127.0.0.1:8420

.PHONY: demo test check audit bench soak evidence lock format

demo: $(VENV)/.runtime
	@SERVE=$(SERVE) ADDRESS=$(ADDRESS) LEASTWAYS_ADDRESS=$${LEASTWAYS_ADDRESS-http://$(ADDRESS)} LEASTWAYS_PLAIN_HTTP=1 \
		$(PYTHON) manage.py demo

# Asked first, so that a newcomer without root gets one list of all that is missing.
test:
	@python3 tools/need.py test
	@$(MAKE) --silent --no-print-directory $(VENV)/.dev
	@$(PYTHON) tools/run_tests.py

check: $(VENV)/.dev
	@$(PYTHON) tools/run_checks.py

audit: $(VENV)/.audit
	@$(VENV)/.audit/bin/python tools/audit.py

bench: $(VENV)/.dev
	@$(PYTHON) tools/bench.py
	@$(PYTHON) tools/bench_spaces.py
	@$(PYTHON) tools/bench_imports.py
	@$(PYTHON) tools/bench_papers.py
	@$(PYTHON) tools/bench_monday.py
	@$(PYTHON) tools/bench_durable.py

soak: $(VENV)/.dev
	@$(PYTHON) tools/soak.py
	@$(PYTHON) tools/soak_faults.py
	@LEASTWAYS_MOUTHS=2000 $(PYTHON) -m pytest -q tests/rules/test_fuzz_plan.py
	@LEASTWAYS_EVERY_SIZE=yes $(PYTHON) -m pytest -q -n 2 tests/letters/test_structure.py

evidence: $(VENV)/.runtime
	@$(PYTHON) -m planner.rules.register

format: $(VENV)/.dev
	@$(VENV)/bin/ruff format . && $(VENV)/bin/ruff check --fix .

# Locks name no host: they hold versions and hashes only.
lock: $(VENV)/.dev
	$(VENV)/bin/uv pip compile pyproject.toml --generate-hashes --no-header -q -o requirements.lock
	$(VENV)/bin/uv pip compile pyproject.toml --group dev --generate-hashes --no-header -q -o requirements-dev.lock
	$(VENV)/bin/uv pip compile --group pyproject.toml:audit --generate-hashes --no-header -q -o requirements-audit.lock

$(VENV)/bin/uv:
	@python3 tools/need.py run
	@echo "Making the environment in $(VENV) (once) ..."
	@python3 -m venv $(VENV)
	@$(VENV)/bin/pip install --quiet --disable-pip-version-check uv==$(UV_VERSION)

# The runtime environment is a part of the development one, so a later `make demo` never takes anything away.
$(VENV)/.runtime: requirements.lock $(VENV)/bin/uv
	@echo "Installing what the program needs (hash-checked) ..."
	@$(VENV)/bin/uv pip install --quiet --python $(PYTHON) --require-hashes -r requirements.lock
	@touch $@

$(VENV)/.dev: requirements-dev.lock requirements.lock $(VENV)/bin/uv
	@echo "Installing what the tests need (hash-checked) ..."
	@$(VENV)/bin/uv pip sync --quiet --python $(PYTHON) --require-hashes requirements-dev.lock
	@touch $@ $(VENV)/.runtime

$(VENV)/.audit: requirements-audit.lock $(VENV)/bin/uv
	@$(VENV)/bin/uv venv --quiet --clear --python $(PYTHON) $@
	@$(VENV)/bin/uv pip install --quiet --python $@/bin/python --require-hashes -r requirements-audit.lock
	@touch $@
