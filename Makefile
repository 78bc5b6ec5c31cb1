# voicecheck: everything a new machine needs is "make demo" or "make test".

VENV := .venv
BIN := $(VENV)/bin
PYTHON_STAMP := $(VENV)/.created
LOCK_STAMP := $(VENV)/.locked
READY := $(VENV)/.ready
PIP := $(BIN)/python -m pip --disable-pip-version-check --no-input --retries 5 --timeout 120
UV_VERSION := 0.13.9
MUTMUT_VERSION := 3.8.1
PIP_AUDIT_VERSION := 2.10.1
FUZZ_SECONDS := 600

.DEFAULT_GOAL := help
.PHONY: help setup demo test lint bench docs pictures fuzz audit mutation lock clean system-run system-test

help:
	@echo "make demo    run the demo session on the shipped recordings"
	@echo "make test    run the tests"
	@echo "make lint    check style, types, import rules and the limits of a function"
	@echo "make bench   measure recognition and timing"
	@echo "make docs    write again the pages that come from the code (docs/)"
	@echo "make pictures  take the pictures of the README again"
	@echo "make fuzz    ten minutes of spoilt input for each reader of input (long)"
	@echo "make audit   look for known weaknesses of the pinned packages (needs the network)"
	@echo "make mutation  put small faults into the engine, to see whether its tests notice (long)"
	@echo "make setup   only install (the targets above do it by themselves)"
	@echo "make lock    resolve requirements.lock anew"
	@echo "make clean   remove the environment and everything built"

setup: system-test $(READY)

demo: $(READY) | system-run
	@# Exit status 1 means that findings were called: the demo's expected end, and no other. Python
	@# ends so after an error, too; so a report must have been written meanwhile.
	@mkdir -p .build; touch .build/demo
	@$(BIN)/voicecheck demo; status=$$?; \
	if [ $$status -ne 1 ] || [ -z "$$(find out/log -name report.html -newer .build/demo)" ]; then \
		echo "voicecheck: the demo ended with status $$status, not with its findings" >&2; exit 2; \
	fi

test: $(READY) | system-test
	@# The order of the tests is that of tests/conftest.py. The programs that they start compile
	@# this package once, also where the machine says that Python shall not keep what it compiled.
	PYTHONDONTWRITEBYTECODE= $(BIN)/python -m pytest -n auto --dist loadscope --no-loadscope-reorder

lint: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy --strict voicecheck docs/making
	$(BIN)/lint-imports --no-logo
	$(BIN)/lizard -l python -L 80 -a 8 -C 12 -w voicecheck docs/making

bench: $(READY) | system-test
	$(BIN)/voicecheck measure
	$(BIN)/voicecheck measure latency
	$(BIN)/voicecheck measure soak --hours 1
	$(BIN)/voicecheck measure speaker
	$(BIN)/voicecheck measure page

docs: $(READY)
	$(BIN)/python docs/making/phase_picture.py docs/phases.md
	$(BIN)/python docs/making/rules_page.py docs/rules.md
	$(BIN)/python docs/making/command_page.py docs/commands.md
	$(BIN)/python docs/making/licence_page.py docs/licences.md

pictures: $(READY) | system-test
	rm -rf .build/pictures
	$(BIN)/voicecheck demo --out .build/pictures; test $$? -le 1
	cd tests && ../$(BIN)/python pictures.py ../docs/pictures ../.build/pictures/log

# Ten minutes for each test; what is found is kept in .hypothesis and tried again next time.
fuzz: $(READY)
	HYPOTHESIS_PROFILE=fuzz FUZZ_SECONDS=$(FUZZ_SECONDS) \
		nice -n 15 $(BIN)/python -m pytest tests/fuzz

# The advisories are looked up over the network.
audit: $(READY)
	@$(PIP) install --quiet pip-audit==$(PIP_AUDIT_VERSION)
	$(BIN)/pip-audit --requirement requirements.lock --disable-pip --require-hashes

# What was found stays in mutants/, so that an interrupted run goes on where it stopped.
mutation: $(READY)
	@$(PIP) install --quiet mutmut==$(MUTMUT_VERSION)
	HYPOTHESIS_PROFILE=mutation $(BIN)/mutmut run --max-children 1
	$(BIN)/python docs/making/mutation_page.py docs/mutation.md

system-run:
	@.ci/system-packages run

system-test:
	@.ci/system-packages test

$(PYTHON_STAMP):
	@PYTHON="$(PYTHON)" .ci/create-venv
	@touch $@

$(LOCK_STAMP): requirements.lock $(PYTHON_STAMP)
	@echo "voicecheck: installing the pinned packages (about 430 MB to fetch the first time)"
	@# Nothing is installed that the lock does not name byte for byte. srt is published as source
	@# alone: setuptools, from the lock too, comes first and builds it.
	@awk '/^[a-z]/ { on = /^setuptools==/ } on' requirements.lock >$(VENV)/build.lock
	@$(PIP) install --quiet --require-hashes --no-deps -r $(VENV)/build.lock
	@$(PIP) install --quiet --require-hashes --no-deps --no-build-isolation --use-pep517 \
		--only-binary :all: --no-binary srt -r requirements.lock
	@touch $@

$(READY): pyproject.toml $(LOCK_STAMP)
	@$(PIP) install --quiet --no-deps --no-build-isolation -e .
	@touch $@

# One file for Python 3.11 to 3.13; it names no place to fetch from.
lock:
	python3 -m venv .build/uv
	.build/uv/bin/python -m pip install --quiet --disable-pip-version-check uv==$(UV_VERSION)
	.build/uv/bin/uv pip compile pyproject.toml --extra second-listener --extra whisper --extra postgresql \
		--extra measure --group dev \
		--universal --fork-strategy fewest --generate-hashes --no-annotate \
		--no-emit-index-url --no-emit-find-links --custom-compile-command "make lock" \
		--upgrade --quiet --output-file requirements.lock

clean:
	rm -rf $(VENV) .build build dist out mutants .mypy_cache .ruff_cache .pytest_cache \
		.import_linter_cache .hypothesis
	find voicecheck tests -name __pycache__ -type d -prune -exec rm -rf {} +
