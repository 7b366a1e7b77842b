# Two commands: `make demo` runs the whole job on the sample day, `make test` runs every test. `make bench-read` times
# the reading of notes.
# All set up what they need first: a virtual environment, the locked packages and, with them, the speech model.

PYTHON ?= python3
BIN := .venv/bin
READY := .venv/ready
INSTALL := $(BIN)/python -m pip install --quiet --disable-pip-version-check

.PHONY: demo test check bench-read bench-report bench-page bench-speech bench-spanish bench-talk bench-phrases bench-library endure teach lock clean

demo: $(READY)
	$(BIN)/python sample_logs/demo.py

test: $(READY) check
	$(BIN)/python -m pytest --numprocesses auto --maxprocesses 4 --dist loadfile --no-loadscope-reorder

check: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

# How fast notes are read on this machine.
bench-read: $(READY)
	$(BIN)/python tests/bench/read_speed.py

# How long the reports of a job of 25 runs and 60 photos take, in how much memory, and how large they are. Two minutes.
bench-report: $(READY)
	PYTHONPATH=.:tests $(BIN)/python tests/bench/large_report.py

# How soon a spoken note is on the page and a tap answered; needs Debian's chromium. Ten minutes or so.
bench-page: $(READY)
	PYTHONPATH=.:tests $(BIN)/python tests/bench/page_speed.py

# How well talk is heard on this machine, by voice and noise: half an hour or so. JOBS="job-b job-k" for other jobs.
bench-speech: $(READY)
	PYTHONPATH=.:tests $(BIN)/python tests/bench/hear_talk.py $(JOBS)

# How far Spanish carries; needs the package ttspico beside Debian's espeak-ng. Ten minutes or so.
bench-spanish: $(READY)
	PYTHONPATH=.:tests $(BIN)/python tests/bench/hear_spanish.py $(JOBS)

# What it is worth to say things as the README tells: the same facts spoken both ways, ten minutes or so.
bench-talk: $(READY)
	PYTHONPATH=.:tests $(BIN)/python tests/bench/talk_ways.py

# How the reader takes every way of saying a measure, in plain sentences: two minutes or so.
bench-phrases: $(READY)
	PYTHONPATH=.:tests $(BIN)/python tests/bench/phrases.py

# Endurance: every command that writes, killed 300 times each at random points; full disks, flipped bits, clocks and many
# at once; 2,000 damaged files; then every test whole (five phones for a day, the pages of reports of every size, all of
# the measure grid ...), with new examples where a test draws them. Hours on a busy machine.
endure: $(READY)
	PYTHONPATH=.:tests $(BIN)/python tests/endurance/kills.py
	PYTHONPATH=.:tests $(BIN)/python tests/endurance/faults.py
	PYTHONPATH=.:tests $(BIN)/python tests/endurance/strangers.py 2000 21
	FALLBOOK_WHOLE=1 $(BIN)/python -m pytest --hypothesis-profile new

# How long commands take in a library of 5,000 jobs and 500,000 notes, and how large it is. Half an hour or so to build,
# once if FOLDER names where to keep it.
bench-library: $(READY)
	PYTHONPATH=.:tests $(BIN)/python tests/bench/large_library.py $(if $(FOLDER),--folder $(FOLDER))

# Teach the speech model the talk of the trade anew, from code alone: an hour and a quarter. Needs the packages torch and
# ttspico beside the Debian packages espeak-ng, flite, festival, festvox-kallpc16k, festvox-kdlpc16k
# and fortunes.
teach: $(READY)
	PYTHONPATH=. $(BIN)/python tests/bench/teach.py

$(READY): requirements.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "fallbook needs Python 3.11 or newer; set PYTHON=..., for example make demo PYTHON=python3.12"; exit 1; }
	@test -x $(BIN)/python || $(PYTHON) -m venv .venv || { rm -rf .venv; echo "no virtual environment could be made; on Debian: apt install python3-venv, then run make again"; exit 1; }
	@echo "installing the locked packages and the speech model (once, a few minutes) ..."
	@said=$$({ $(INSTALL) --require-hashes -r requirements.lock && $(INSTALL) --no-deps --no-build-isolation -e .; } 2>&1) \
	|| { echo "$$said" >&2; echo "the packages could not be installed: see above; then run make again" >&2; exit 1; }
	@touch $(READY)

# Write the lock anew from pyproject.toml. Needs the package uv.
lock:
	uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-annotate --no-header --extra test pyproject.toml -o requirements.lock

clean:
	rm -rf .venv demo
