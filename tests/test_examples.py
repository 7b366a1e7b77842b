"""Whole jobs as talk, each with the record it should make: written before the reading was tuned on them.

Scored fact by fact, tasks and decisions left out. The bounds are what was measured, rounded down.
"""

import json
from collections import Counter
from functools import cache
from pathlib import Path

import pytest
from scoring import f1, facts
from talk.score import score

from extract.assemble import assemble
from extract.notes import parse_log
from extract.repair import repair

EXAMPLES = Path(__file__).parent / "examples"
JOBS = sorted(path.name.removesuffix(".gold.json") for path in EXAMPLES.glob("*.gold.json"))


@cache
def read(job):
    return assemble(parse_log((EXAMPLES / f"{job}.notes.txt").read_text())).as_json()


def gold(job):
    return json.loads((EXAMPLES / f"{job}.gold.json").read_text())


@pytest.mark.parametrize("job", JOBS)
def test_a_job_in_another_style_reads_well(job):
    assert f1(facts(read(job)), facts(gold(job))) >= 0.77


def test_all_jobs_together():
    pairs = [(facts(read(job)), facts(gold(job))) for job in JOBS]
    hits, told = sum(len(a & b) for a, b in pairs), sum(len(a) + len(b) for a, b in pairs)
    assert 2 * hits / told >= 0.96


def test_what_must_be_asked_is_asked():
    def asked(record):
        return {(q["about"], q.get("field")) for q in record["questions"]}

    left = [(job, each) for job in JOBS for each in asked(gold(job)) - asked(read(job))]
    assert len(left) <= 4, left


def test_few_numbers_are_wrong_or_lost_unasked():
    total = Counter()
    for job in JOBS:
        total.update({k: n for k, n in score(gold(job), read(job)).items() if isinstance(n, int)})
    assert 2 * total["tp"] / (total["gold"] + total["pred"]) >= 0.97, total
    assert total["silent"] <= 4, total
    assert total["lost"] <= 7, total
    assert total["extra_asked"] <= 50, total


@pytest.mark.parametrize("job", JOBS)
def test_what_was_heard_right_reads_the_same_once_repaired(job):
    notes = parse_log((EXAMPLES / f"{job}.notes.txt").read_text())
    repaired = [note.model_copy(update={"text": repair(note.text)}) for note in notes]
    if repaired != notes:
        assert facts(assemble(repaired).as_json()) == facts(read(job))
