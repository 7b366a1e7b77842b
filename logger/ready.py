"""May I backfill? What the book still lacks of each run, in one breath.

Answered while somebody stands at an open trench: so the answers are worked out when something comes in, and kept.
They are known by the log's state and by the program's own text, and whatever they were made from, they can be thrown
away. This module loads nothing slow until it has to work them out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from extract.errors import UsageError
from logger.program import program

if TYPE_CHECKING:
    from extract.check.evidence import Held
    from extract.record import Finding, Question, Record, Run
    from logger.book import Book
    from logger.store import Store

NUMBER = re.compile(r"(?:r(?:un)?[ -]?)?(\d{1,6})", re.I)


@dataclass(frozen=True)
class Answer:
    """What the book holds of one run. It says nothing of whether the work is right or the trench safe."""

    run: str
    name: str
    """`Run 2`."""
    state: str
    """In words: `installed`, `planned, not built`."""
    built: bool
    """It was put in on this job, so that its burial is this crew's to prove."""
    covered: bool
    """A note says that it is backfilled."""
    missing: list[str]
    questions: list[str]
    """What was asked about its numbers and not answered."""
    fails: list[str]
    """The checks that it or an end of it fails, by what they look for; `fallbook show` has the numbers."""
    asked: dict[str, str]
    """The ID of the question behind each of `missing` and `questions` that was asked about."""

    @property
    def words(self) -> str:
        """The answer as one would say it."""
        if not self.built:
            return f"{self.name}: {self.verdict}"
        parts = [f"Missing: {', '.join(self.missing)}."] if self.missing else []
        parts += [f"Asked and not answered: {', '.join(self.questions)}."] if self.questions else []
        parts += [f"Checks that fail: {', '.join(self.fails)}."] if self.fails else []
        return " ".join([f"{self.name}: {self.verdict}", *parts])

    @property
    def verdict(self) -> str:
        """The answer without what is missing: `not yet.`"""
        lacks = bool(self.missing or self.questions or self.fails)
        if not self.built:
            return f"nothing to cover, for it is {self.state}."
        if self.covered:
            return "covered, by the notes." if lacks else "covered, by the notes. Nothing is missing in the book."
        if lacks:
            return "not yet."
        return "nothing is missing in the book. Look at the pipe itself before you cover it."


@dataclass(frozen=True)
class Answers:
    runs: list[Answer]
    unheard: list[str]
    """Recordings that nobody has listened to yet: what they hold is not in the answers."""

    def of(self, run: str) -> Answer:
        """The answer for `R-2`, `2` or `run 2`. Raises UsageError with the runs there are."""
        match = NUMBER.fullmatch(run.strip())
        label = f"R-{int(match[1])}" if match else self._named(run)
        for answer in self.runs:
            if answer.run == label:
                return answer
        raise UsageError(
            f"no run {run.removeprefix('run ')}; there are: {', '.join(each.run for each in self.runs) or 'none yet'}"
        )

    def _named(self, words: str) -> str | None:
        """The label of the run that those words name, as `run one` does."""
        from extract.answers import label_said
        from extract.record import Record, Run

        return label_said(Record(runs=[Run(label=each.run) for each in self.runs]), words)


def ready(store: Store, name: str) -> Answers:
    """What the book lacks of each run. Raises FallbookError where there is no such job, or its log is damaged."""
    store.job_row(name)  # which says what there is
    before = store.state(name)
    kept = store.recall(f"job:{name}", "ready", f"{before}/{program()}")
    if kept is not None:
        return Answers([Answer(**each) for each in kept["runs"]], kept["unheard"])
    from logger.book import Book

    return work_out(store, Book(store, name))


def work_out(store: Store, book: Book) -> Answers:
    """The answers, kept for whoever asks next."""
    answers = _answers(book)
    if not book.passing:
        store.cache(f"job:{book.job.name}", "ready", f"{book.state}/{program()}", asdict(answers))
    return answers


# -- working it out


def _answers(book: Book) -> Answers:
    from extract.check.evidence import held_of
    from extract.check.levels import heights

    held = {each.entry.label: each for each in held_of(book.record, heights(book.record), book.evidence_photos)}
    return Answers([_answer(run, book, held) for run in book.record.runs], book.unheard)


def _answer(run: Run, book: Book, held: dict[str, Held]) -> Answer:
    from extract.check.saying import name as said
    from reports.words import plain, sentence

    own = held.get(run.label)
    missing = [*own.missing, *_ends_not_said(run), *_of_ends(run, held)] if own else []
    asked = {words if words in missing else whole: name for words, whole, name in _asked(run, book.record)}
    return Answer(
        run=run.label,
        name=sentence(said(run.label)),
        state=plain("state", run.state) if run.state else "put in, as far as the notes say",
        built=own is not None,
        covered=run.label in book.covered,
        missing=missing,
        questions=[words for words in asked if words not in missing],
        fails=_fails(run, book.record, book.findings),
        asked=asked,
    )


def _ends_not_said(run: Run) -> list[str]:
    """What nobody can see once it is covered: what the run comes from, and what it goes to."""
    return [words for end, words in ((run.from_, "where it starts"), (run.to, "where it ends")) if end is None]


def _of_ends(run: Run, held: dict[str, Held]) -> list[str]:
    """The photos missing of the structures at its ends, which are covered with it; their inverts count as its fall."""
    from extract.check.saying import name as said

    ends = [held[label] for label in (run.from_, run.to) if label in held]
    words = [(each.entry.label, lack) for each in ends for lack in each.missing if lack.startswith("a photo")]
    return [lack.replace(" of it ", f" of {said(label)} ", 1) for label, lack in words]


def _asked(run: Run, record: Record) -> Iterator[tuple[str, str, str]]:
    """Each open question about the run, or about an elevation at its ends: what is asked, the same with the values to
    choose from, and its ID."""
    from reports.doubts import OF_A_TEST
    from reports.words import value

    for ask in record.questions:
        label = ask.about.split(" ")[0]
        at_an_end = label in (run.from_, run.to) and _of_height(ask.about, ask.field)
        if ask.field in OF_A_TEST or (label != run.label and not at_an_end):
            continue
        words = asked_words(ask, run.label)
        choices = " or ".join(value(ask.field, choice) for choice in ask.choices or [] if choice is not None)
        yield words, f"{words} ({choices})" if choices else words, ask.id or ""


def asked_words(ask: Question, run: str) -> str:
    """What is asked, as one would say it of that run: `its length`, `the outgoing invert of catch basin 1`."""
    from extract.check.saying import name as said
    from reports.words import plain

    label = ask.about.split(" ")[0]
    of = "it" if label == run else said(label)
    if ask.field in (None, "text"):
        return f"what was said of {of}"
    what = plain("field", ask.field)
    if label != run:
        return f"the {what} of {of}"
    if what.startswith(("what ", "where ")):
        return what
    return f"the {what}" if what.endswith(" it") else f"its {what}"


def _of_height(about: str, field: str | None) -> bool:
    return "invert" in about or (field or "").startswith(("invert", "rod", "elevation"))


def _fails(run: Run, record: Record, findings: list[Finding]) -> list[str]:
    from extract.check.accepted import is_accepted
    from reports.words import plain

    ends = {(run.from_, "in_above_out"), (run.to, "in_above_out")}
    bad = [each for each in findings if each.outcome == "fail"]
    own = [each for each in bad if each.subject == run.label or (each.subject, each.check) in ends]
    words = (f"{plain('check', each.check)}{' (accepted)' if is_accepted(record, each) else ''}" for each in own)
    return list(dict.fromkeys(words))
