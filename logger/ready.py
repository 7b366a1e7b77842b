"""May I backfill? What the book still lacks of each run, in one breath.

Answered while somebody stands at an open trench: so the answers are worked out when something comes in, and kept.
They are known by the log's state and by the program's own text, and whatever they were made from, they can be thrown
away. This module loads nothing slow until it has to work them out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING

from extract.errors import UsageError
from logger.program import program

if TYPE_CHECKING:
    from extract.check.evidence import Held, Lack
    from extract.record import Finding, Language, Question, Record, Run
    from logger.book import Book
    from logger.store import Store
    from logger.wording import Wording

NUMBER = re.compile(r"(?:r(?:un)?[ -]?)?(\d{1,6})", re.I)


@dataclass(frozen=True)
class Answer:
    """What the book holds of one run, in the words of a language. It says nothing of whether the work is right or the
    trench safe."""

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
    accepted: list[str]
    """The same of those that the firm accepted, each with the sentence that it gave: they fail, and hold nothing up."""
    asked: dict[str, str]
    """The ID of the question behind each of `missing` and `questions` that was asked about."""

    verdict: str
    """The answer without what is missing: `not yet.`"""
    words: str
    """The answer as one would say it."""


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


def ready(store: Store, name: str, language: Language = "en") -> Answers:
    """What the book lacks of each run, in that language. Raises FallbookError where there is no such job, or its log is
    damaged."""
    store.job_row(name)  # which says what there is
    before = store.state(name)
    kept = store.cached(name, "ready", f"{before}/{program()}")
    if kept is None:
        from logger.book import Book

        return work_out(store, Book(store, name))[language]
    return Answers([Answer(**each) for each in kept[language]["runs"]], kept[language]["unheard"])


def work_out(store: Store, book: Book) -> dict[Language, Answers]:
    """The answers in each language, kept for whoever asks next."""
    from logger.wording import LANGUAGES, wording

    answers = {language: _answers(book, wording(language)) for language in LANGUAGES}
    if book.whole:
        shape = {language: asdict(each) for language, each in answers.items()}
        store.cache(book.job.name, "ready", f"{book.state}/{program()}", shape)
    return answers


# -- working it out


def _answers(book: Book, say: Wording) -> Answers:
    from extract.check.evidence import held_of
    from extract.check.levels import heights

    held = {each.entry.label: each for each in held_of(book.record, heights(book.record), book.evidence_photos)}
    return Answers([_answer(run, book, held, say) for run in book.record.runs], book.unheard)


def _answer(run: Run, book: Book, held: dict[str, Held], say: Wording) -> Answer:
    own = held.get(run.label)
    lacks = [*own.missing, *_ends_not_said(run), *_of_ends(run, held)] if own else []
    missing = list(map(say.lack, lacks))
    empty = {((lack.of or (run.label,))[0], lack.field): words for lack, words in zip(lacks, missing, strict=True)}
    asked = {
        empty.get((ask.about.split(" ")[0], ask.field or "")) or say.asked(ask, run.label): ask.id or ""
        for ask in _asked(run, book.record)
    }
    fails, accepted = _fails(run, book.record, book.findings, say)
    answer = Answer(
        run=run.label,
        name=say.title(run.label),
        state=say.words("state", run.state) if run.state else say.words("ready", "no_state"),
        built=own is not None,
        covered=run.label in book.covered,
        missing=missing,
        questions=[words for words in asked if words not in missing],
        fails=fails,
        accepted=accepted,
        asked=asked,
        verdict="",
        words="",
    )
    return _in_words(answer, say)


def _in_words(answer: Answer, say: Wording) -> Answer:
    """The answer with its verdict, and as one would say it."""
    lacks = {"missing": answer.missing, "asked": answer.questions, "fails": answer.fails} if answer.built else {}
    told = [_list(what, things, say) for what, things in lacks.items() if things]
    if not answer.built:
        form = "not_built"
    elif answer.covered:
        form = "covered" if told else "covered_whole"
    else:
        form = "lacking" if told else "whole"
    verdict = say.words("ready", form).format(state=answer.state)
    accepted = [_list("accepted", answer.accepted, say)] if answer.built and answer.accepted else []
    return replace(answer, verdict=verdict, words=" ".join([f"{answer.name}: {verdict}", *told, *accepted]))


def _list(what: str, things: list[str], say: Wording) -> str:
    return say.words("ready", what).format(things=", ".join(things))


def _ends_not_said(run: Run) -> list[Lack]:
    """What nobody can see once it is covered: what the run comes from, and what it goes to."""
    from extract.check.evidence import Lack

    return [lack for end, lack in ((run.from_, Lack("start")), (run.to, Lack("end"))) if end is None]


def _of_ends(run: Run, held: dict[str, Held]) -> list[Lack]:
    """The photos missing of the structures at its ends, which are covered with it; their inverts count as its fall."""
    from extract.check.evidence import PHOTOS

    ends = [held[label] for label in (run.from_, run.to) if label in held]
    return [replace(lack, of=(each.entry.label,)) for each in ends for lack in each.missing if lack.what in PHOTOS]


def _asked(run: Run, record: Record) -> Iterator[Question]:
    """Each open question about the run, or about an elevation at its ends."""
    from reports.doubts import OF_A_TEST

    for ask in record.questions:
        label = ask.about.split(" ")[0]
        at_an_end = label in (run.from_, run.to) and _of_height(ask.about, ask.field)
        if ask.field not in OF_A_TEST and (label == run.label or at_an_end):
            yield ask


def _of_height(about: str, field: str | None) -> bool:
    return "invert" in about or (field or "").startswith(("invert", "rod", "elevation"))


def _fails(run: Run, record: Record, findings: list[Finding], say: Wording) -> tuple[list[str], list[str]]:
    """The checks that fail and nobody accepted, and those that somebody did, with what was said."""
    from extract.check.accepted import acceptance_of

    ends = {(run.from_, "in_above_out"), (run.to, "in_above_out")}
    bad = [each for each in findings if each.outcome == "fail"]
    own = [each for each in bad if each.subject == run.label or (each.subject, each.check) in ends]
    fails, accepted = [], []
    for each in own:
        name, given = say.words("check", each.check), acceptance_of(record, each)
        if given is None:
            fails.append(name)
        else:
            accepted.append(say.words("ready", "accepted_check").format(check=name, words=given.text))
    return list(dict.fromkeys(fails)), list(dict.fromkeys(accepted))
