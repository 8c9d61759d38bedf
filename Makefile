# `make help` lists what this file does.
.DEFAULT_GOAL := help
VENV := .venv
PY := $(VENV)/bin/python
READY := $(VENV)/.ready
# Where this is set every process compiles every library again, which is half of the time of a short command.
unexport PYTHONDONTWRITEBYTECODE
# The kernel of this environment, and no question to anybody on the network about news, newer versions or extensions.
LAB := JUPYTER_PREFER_ENV_PATH=1 $(VENV)/bin/jupyter lab --LabApp.news_url=None --LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate --LabApp.extension_manager=readonly
FIND_PYTHON := for p in python3 python3.13 python3.12 python3.14 python; do \
	if $$p -c 'import sys; sys.exit(not ((3, 12) <= sys.version_info[:2] < (3, 15)))' 2>/dev/null; then echo $$p; exit 0; fi; done; exit 1

.PHONY: help demo test check lab bench docs data zip lock clean

help:  ## show this list
	@grep -E '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed 's/:.*## /\t/' | expand -t 10

$(READY): requirements.lock pyproject.toml
	@python=$$($(FIND_PYTHON)) || { echo "lagwise needs Python 3.12, 3.13 or 3.14 on the PATH; none was found."; exit 1; }; \
	echo "Setting up $(VENV) with $$($$python --version)"; \
	$$python -m venv --clear $(VENV)
	@$(PY) -m pip install --quiet --disable-pip-version-check uv
	@$(PY) -m uv pip sync --quiet --python $(PY) --require-hashes requirements.lock
	@$(PY) -m uv pip install --quiet --python $(PY) --no-deps --editable .
	@mkdir -p $(VENV)/share/jupyter/lab/settings
	@echo '{"@jupyterlab/apputils-extension:notification": {"fetchNews": "false", "checkForUpdates": false}}' > $(VENV)/share/jupyter/lab/settings/overrides.json
	@touch $@

demo: $(READY)  ## analyse the synthetic clinic and write the case series to lagwise-demo/
	$(VENV)/bin/lagwise demo

# Matrices are small, and threads of linear algebra wait for each other: two on two cores take three times as long.
# The later a notebook, the longer it mostly takes: the last ones begin.
test: export OPENBLAS_NUM_THREADS := 1
test: $(READY) check  ## everything that must hold: lint, types, layers, tests, notebooks
	$(PY) -m pytest -n 2 --dist loadgroup --no-loadscope-reorder -p no:nbval
	$(PY) -m pytest -n 2 --dist loadfile --no-loadscope-reorder --nbval-lax --nbval-current-env $$(ls -r notebooks/*.ipynb)

check: $(READY)  ## lint, formatting, types and the one-way import of rooms
	$(VENV)/bin/ruff check src tests notebooks
	$(VENV)/bin/ruff format --check src tests
	$(VENV)/bin/mypy
	$(VENV)/bin/lint-imports

lab: $(READY)  ## open JupyterLab at the first notebook
	$(LAB) notebooks/00_start_here.ipynb

bench: $(READY)  ## the benchmarks and the long simulations; prints ratios and tables
	$(PY) tests/bench/run.py

docs: $(READY)  ## rebuild the generated pages of docs/ and the site in docs/_site/
	$(PY) docs/build.py
	$(PY) docs/site/build.py

data: $(READY)  ## write data_synthetic/ and the grid of lw.what_if again; the bytes must not change
	$(PY) -m lagwise.synthetic
	$(PY) -m lagwise.pages.what_if_grid

zip: $(READY)  ## write clinic.zip, the clinic as one file to hand out, and print its SHA-256
	$(PY) -m lagwise.synthetic --zip clinic.zip

lock:  ## resolve requirements.lock anew for every platform
	$(PY) -m uv pip compile --quiet --universal --generate-hashes --python-version 3.12 --all-extras pyproject.toml \
		--no-emit-index-url --no-emit-find-links --no-header --upgrade -o requirements.lock

clean:  ## remove the environment and everything built
	rm -rf $(VENV) build dist lagwise-demo artefacts clinic.zip docs/_site .pytest_cache .ruff_cache .mypy_cache .hypothesis
