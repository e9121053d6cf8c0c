# Two targets do everything on a fresh machine: `make demo` and `make test`.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
# Most tests wait for a daemon or a page: four at a time take much less long, on two processors too.
WORKERS ?= 4

.PHONY: help demo docs test suite test-long test-vm test-package lintian faults fuzz simulate coverage mutants \
	mutants-sample deb container try-pipx man sbom pictures looks lint audit lock clean

help:
	@echo "make demo   install into $(VENV) and run the demonstration"
	@echo "make docs   the documentation as a site, into site/; broken links fail"
	@echo "make test   install what the tests need and pass them all"
	@echo "make test-long  the tests that have a longer form, in it (some minutes)"
	@echo "make test-vm  USB and serial scales on a real USB stack, in a virtual machine (Linux)"
	@echo "make test-package  the Debian package under a real systemd, in a virtual machine (a quarter of an hour or more)"
	@echo "make deb    build the Debian package into build/deb"
	@echo "make lintian  the package held to Debian's rules (some minutes; apt install lintian)"
	@echo "make container  build the container image (buildah, podman or docker)"
	@echo "make try-pipx  install the wheel by Debian's pipx, and weigh a batch with it"
	@echo "make sbom   list the parts: build/weighd.cdx.json (CycloneDX), docs/reference/licences.md"
	@echo "make man    write the manual page, build/weighd.1"
	@echo "make faults  200 kills, every call to the disk and thousands of power cuts (some minutes)"
	@echo "make fuzz   every fuzzer for FUZZ_MINUTES in turn (some two hours; Linux on x86 for all)"
	@echo "make simulate  100,000 simulated batches with everything that can go wrong (an hour or two)"
	@echo "make coverage  every line and branch of the domain that tests do not reach; there may be none"
	@echo "make mutants-sample  how many of MUTANTS changes to the domain the tests notice (half an hour)"
	@echo "make mutants  the same with every change there is (most of a day)"
	@echo "make pictures  take the pictures of docs/ anew, from the demonstration (some minutes)"
	@echo "make looks   keep how every screen looks now, for the tests (look first: DEVELOPERS.md)"
	@echo "make lint   style, types and import contracts only"
	@echo "make audit  whether a hole is known of a package that is used"
	@echo "make lock   renew the lock files"
	@echo "make clean  remove everything that can be made again"

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
		|| { echo "weighd needs Python 3.11 or newer; name one with PYTHON=..."; exit 1; }
	$(PYTHON) -m venv $(VENV) \
		|| { echo "Python's venv is missing; on Debian: apt install python3-venv"; exit 1; }

# The marks say what is installed; a changed lock or build file installs again.
$(VENV)/run.mark: $(BIN)/python requirements.lock pyproject.toml web/hatch_build.py
	$(BIN)/python -m pip install --quiet --require-hashes --requirement requirements.lock
	$(BIN)/python -m pip install --quiet --no-deps --editable .
	@touch $@

$(VENV)/docs.mark: $(BIN)/python requirements-docs.lock pyproject.toml web/hatch_build.py
	$(BIN)/python -m pip install --quiet --require-hashes --requirement requirements-docs.lock
	$(BIN)/python -m pip install --quiet --no-deps --editable .
	@touch $@

# Uncompiled: most of it is never asked for, and what is, is compiled by whoever asks first.
$(VENV)/test.mark: $(BIN)/python requirements-test.lock pyproject.toml web/hatch_build.py
	$(BIN)/python -m pip install --quiet --no-compile --require-hashes --requirement requirements-test.lock
	$(BIN)/python -m pip install --quiet --no-deps --editable .
	@touch $@ $(VENV)/run.mark $(VENV)/docs.mark

demo: $(VENV)/run.mark
	$(BIN)/weighd demo

# The tests and what checks the code side by side: each leaves a processor idle at times.
test: $(VENV)/test.mark
	@.ci/browser $(BIN)/python
	@$(MAKE) --no-print-directory --jobs=2 suite lint

# Every worker reads every test; on a new machine one compiles them first for all.
$(VENV)/compiled.mark: $(VENV)/test.mark
	@$(BIN)/python -m pytest --collect-only --quiet >/dev/null 2>&1 || true
	@touch $@

suite: $(VENV)/compiled.mark
	$(BIN)/python -m pytest -n $(WORKERS) --no-loadscope-reorder

docs: $(VENV)/docs.mark
	NO_MKDOCS_2_WARNING=1 $(BIN)/mkdocs build --strict
	@echo "site/index.html"

# What takes a shorter dose in `make test` (tests/dose.py).
test-long: $(VENV)/test.mark
	@.ci/browser $(BIN)/python
	WEIGHD_LONG=1 $(BIN)/python -m pytest -n $(WORKERS) --no-loadscope-reorder \
		$$(grep -rlE "from tests.dose|import .*TAKEN" tests --include="test_*.py")

test-vm: $(VENV)/run.mark
	$(BIN)/python tests/vm/run.py

faults: $(VENV)/test.mark
	WEIGHD_LONG=1 WEIGHD_KILLS=200 WEIGHD_EVERY=1 WEIGHD_CUTS=25 $(BIN)/python -m pytest -s \
		tests/fault/test_killed_anywhere.py tests/fault/test_killed_sending.py \
		tests/fault/test_storage_killed.py tests/fault/test_daemon_kill.py

# Coverage-guided ones need atheris; without it they run on random damage alone.
FUZZ_MINUTES ?= 20
fuzz: $(VENV)/test.mark
	-$(BIN)/python -m pip install --quiet ".[fuzz]"
	$(BIN)/python -m tests.fuzz --minutes $(FUZZ_MINUTES)

# The tests that reach the domain in their own process; daemons and commands go the same ways.
REACHING = tests/domain tests/sessions tests/solver tests/config tests/reports tests/station \
	tests/http tests/storage --ignore-glob="*daemon*" --ignore-glob="*/test_doctor.py" \
	--ignore-glob="*/test_first_start.py" --ignore-glob="*/test_postgres.py"
coverage: $(VENV)/test.mark
	@rm -rf build/coverage
	$(BIN)/python -m coverage run -m pytest -q -n $(WORKERS) --no-loadscope-reorder $(REACHING)
	$(BIN)/python -m coverage combine --quiet
	$(BIN)/python -m coverage report

# mutmut makes the mutants (benchmarks/mutants.py runs them); it is no part of the lock.
MUTANTS ?= 400
mutants mutants-sample: $(VENV)/test.mark
	$(BIN)/python -m pip install --quiet ".[mutants]"
	$(BIN)/python -m benchmarks.mutants $(if $(filter mutants,$@),--all,--number $(MUTANTS))

# Two packages, the second a revision higher: it is installed over the first in mid-batch.
test-package: $(VENV)/test.mark
	$(BIN)/python packaging/deb.py build/vm --level 3
	$(BIN)/python packaging/deb.py build/vm --level 3 --again --revision 2
	$(BIN)/python tests/vm/package.py build/vm/weighd_*-1_*.deb build/vm/weighd_*-2_*.deb

# The Debian package, from the system's Python and packaging/requirements.lock; with its parts beside.
deb: $(VENV)/test.mark
	$(BIN)/python packaging/deb.py build/deb
	$(BIN)/python packaging/sbom.py build/deb/weighd.cdx.json

# What is let pass, and why: packaging/debian/lintian-overrides.
lintian: deb
	lintian --fail-on error,warning --tag-display-limit 0 build/deb/weighd_*.deb

# By whichever of these is here; BASE names another base image, of Debian 12. What OCI calls an image
# has no health check, so the first two are asked for the other format.
container: $(VENV)/test.mark
	@rm -rf build/wheel
	$(BIN)/python -m build --wheel --outdir build/wheel .
	@for one in buildah podman docker; do command -v $$one >/dev/null && break; done; \
	command -v $$one >/dev/null || { echo "install buildah, podman or docker"; exit 1; }; \
	[ $$one = docker ] || format="--format docker"; \
	$$one build $$format --tag weighd $(if $(BASE),--build-arg BASE=$(BASE)) $(CONTAINER_FLAGS) \
		--file packaging/Containerfile .

# The wheel, installed by Debian's own pipx into a home of its own, and run from there.
try-pipx: $(VENV)/test.mark
	@rm -rf build/wheel build/pipx
	$(BIN)/python -m build --wheel --outdir build/wheel .
	HOME=$(CURDIR)/build/pipx PIPX_HOME=$(CURDIR)/build/pipx/.local/pipx \
		PIPX_BIN_DIR=$(CURDIR)/build/pipx/.local/bin \
		pipx install --python /usr/bin/python3 "$$(echo $(CURDIR)/build/wheel/*.whl)[floor]"
	cd build/pipx && HOME=$(CURDIR)/build/pipx .local/bin/weighd demo --once --speed 40 \
		--formula lemon-sorbet > record.json
	cd build/pipx && HOME=$(CURDIR)/build/pipx .local/bin/weighd verify record.json

man: $(VENV)/test.mark
	@mkdir -p build
	$(BIN)/python packaging/manpage.py > build/weighd.1

sbom: $(VENV)/test.mark
	@mkdir -p build
	$(BIN)/python packaging/sbom.py build/weighd.cdx.json docs/reference/licences.md

# BATCHES, FROM (the first seed) and JOBS can be given.
BATCHES ?= 100000
FROM ?= 0
JOBS ?= 2
simulate: $(VENV)/test.mark
	$(BIN)/python -m tests.simulation --batches $(BATCHES) --from $(FROM) --jobs $(JOBS)

pictures: $(VENV)/test.mark
	$(BIN)/python -m docs.tour
	$(BIN)/python -m docs.tour.pictures

looks: $(VENV)/test.mark
	$(BIN)/python -m tests.browser.looked

lint: $(VENV)/test.mark
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy
	$(BIN)/lint-imports

# In an environment of its own: nothing is to be installed beside the locks.
audit:
	$(PYTHON) -m venv $(VENV)-audit
	$(VENV)-audit/bin/python -m pip install --quiet pip-audit
	$(VENV)-audit/bin/python packaging/audit.py

lock: $(BIN)/python
	$(BIN)/python -m pip install --quiet pip-tools
	$(BIN)/pip-compile --quiet --generate-hashes --strip-extras --no-header \
		--no-emit-index-url --no-emit-find-links --no-emit-trusted-host \
		--output-file requirements.lock pyproject.toml
	$(BIN)/pip-compile --quiet --generate-hashes --strip-extras --no-header \
		--no-emit-index-url --no-emit-find-links --no-emit-trusted-host \
		--extra docs --output-file requirements-docs.lock pyproject.toml
	$(BIN)/pip-compile --quiet --generate-hashes --strip-extras --no-header \
		--no-emit-index-url --no-emit-find-links --no-emit-trusted-host \
		--extra docs --extra test --output-file requirements-test.lock pyproject.toml
	$(BIN)/pip-compile --quiet --generate-hashes --strip-extras --no-header \
		--no-emit-index-url --no-emit-find-links --no-emit-trusted-host \
		--extra floor --output-file packaging/requirements.lock pyproject.toml

clean:
	rm -rf $(VENV) $(VENV)-audit build site web/node_modules web/weighd_web/dist .mypy_cache .ruff_cache .pytest_cache \
		.hypothesis .import_linter_cache
