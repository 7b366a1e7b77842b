"""The site as the talk builds it up: what exists, what is spoken of, who "it" is, and each value with its witness."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from extract.dispositions import Ledger, Span
from extract.limits import limits, plausible
from extract.record import ELEVATIONS, Evidence, Fitting, Issue, Level, Question, Record, Run, Structure, Test, Why
from extract.statements import Mention

Entry = Structure | Run
ADDS_UP_FT = 0.05
"""Pieces that add up to a length within so much tell the same."""
ESTIMATES = {
    "length_ft",
    "drop_in",
    "slope_pct",
    "cover_in",
    "rim_ft",
    "invert_in_ft",
    "invert_out_ft",
    "invert_depth_in",
}
"""Fields whose planned value is an estimate: it does not stand for the thing as built."""


class Said(NamedTuple):
    """One value as one note gives it."""

    value: Any
    evidence: Evidence
    planned: bool = False
    corrected: bool = False
    span: Span | None = None
    doubt: Why | None = None
    """Why the value is asked about: heard badly, or hedged by whoever said it."""

    named: bool = True
    """False where the words name neither the thing nor the field."""
    expected: bool = False
    """Said as in "should be forty": a correction where something stands already, else a hedge."""

    @property
    def doubted(self) -> bool:
        return self.doubt is not None


@dataclass
class Site:
    record: Record = field(default_factory=Record)
    run: str | None = None
    """Label of the run last spoken of."""
    structure: str | None = None
    last: str | None = None
    """Label of whichever of the two was spoken of last."""
    history: dict[tuple[str, str], None] = field(default_factory=dict)
    """(label, field) of every value set, newest last: what a correction with no name may mean."""
    said: dict[tuple[str, str], Said] = field(default_factory=dict)
    taken: int = 0
    """How many values were set or asked about."""
    fitting_last: Fitting | None = None
    """The fitting that the last number was a count of, if it was: what a bare correction then means."""
    level_last: Level | None = None
    """The level that the last number was taken for, if it was: what a bare correction then means."""
    listed: list[str] = field(default_factory=list)
    """The runs last named together: "runs one through three"."""
    places: dict[str, set[str]] = field(default_factory=dict)
    touched: dict[str, int] = field(default_factory=dict)
    clock: int = 0
    ledger: Ledger = field(default_factory=Ledger)

    # -- who it is

    def entry(self, label: str | None) -> Entry | None:
        return self._by_label.get(label) if label else None

    def __post_init__(self) -> None:
        self._by_label: dict[str, Entry] = {}
        self._series: dict[str, dict[str, Entry]] = {}
        """The same entries by prefix, in order of first mention."""
        self._lowest: dict[str, int] = {}
        """By prefix, a number below which none is free."""
        self._questions: dict[tuple[str, str | None], Question] = {}
        self._asked_in: dict[int, dict[tuple[str, str | None], None]] = {}
        self.cited: set[int] = set()
        """INDEX of each note that bears witness to a thing or a question."""

    def focus(self, label: str) -> None:
        self.clock += 1
        self.touched[label] = self.clock
        self.last = label
        if label.startswith("R-"):
            self.run = label
        else:
            self.structure = label

    def labels(self, prefix: str) -> list[str]:
        return list(self._series.get(prefix, ()))

    def free_label(self, prefix: str) -> str:
        n = self._lowest.get(prefix, 1)
        while f"{prefix}-{n}" in self._by_label:
            n += 1
        self._lowest[prefix] = n
        return f"{prefix}-{n}"

    def add(self, label: str, kind: str | None = None) -> Entry:
        entry: Entry
        if label.startswith("R-"):
            entry = Run(label=label)
            self.record.runs.append(entry)
        else:
            entry = Structure.model_validate({"label": label, "kind": None if kind == "outlet" else kind})
            self.record.structures.append(entry)
        self._enter(label, entry)
        return entry

    def _enter(self, label: str, entry: Entry) -> None:
        self._by_label[label] = entry
        self._series.setdefault(_prefix(label), {})[label] = entry

    def _strike(self, label: str) -> Entry | None:
        self._series.get(_prefix(label), {}).pop(label, None)
        self._lowest.pop(_prefix(label), None)
        return self._by_label.pop(label, None)

    def drop(self, label: str) -> None:
        """Take out what was only planned and is called off; its label is free again."""
        self._strike(label)
        self.record.structures = [each for each in self.record.structures if each.label != label]
        self.record.runs = [each for each in self.record.runs if each.label != label]
        self._questions = {key: each for key, each in self._questions.items() if key[0] != label}
        self.history = {pair: None for pair in self.history if pair[0] != label}
        self.said = {pair: said for pair, said in self.said.items() if pair[0] != label}
        for focus in ("run", "structure", "last"):
            if getattr(self, focus) == label:
                setattr(self, focus, None)

    def resolve(self, mention: Mention, installed: bool = False) -> list[str]:
        """The labels a mention means, made where they are new."""
        if mention.how == "many":
            many = self._resolve_many(mention)
            mention.label = many[0]
            return many
        like = self.entry(self.structure)
        if mention.what == "one" and mention.how == "indefinite" and isinstance(like, Structure) and like.kind:
            mention.what = like.kind  # "a new one by the shed" is one more of what was spoken of
        if mention.what == "one" and mention.number is not None:
            # "The first one": of what was spoken of last
            label = f"{_prefix(self.last or '')}-{mention.number}"
            mention.label = label if label in self._by_label else None
            return [label] if mention.label else []
        if mention.what == "one":
            mention.label = self.at_place(mention.place) or self._known_one(mention.how) or self.structure
            return [mention.label] if mention.label else []
        if mention.number is not None:
            last = mention.through or mention.number
            found = [f"{mention.prefix}-{n}" for n in range(mention.number, last + 1)]
        else:
            found = [self._unnumbered(mention, installed)]
        for label in found:
            self._meet(label, mention)
        mention.label = found[0]
        return found

    def _known_one(self, how: str) -> str | None:
        """The structure that "the old one" or "the new one" means: of that kind the last spoken of."""
        states = {"old": ("existing", "abandoned"), "existing": ("existing",), "new": ("planned", "installed")}.get(how)
        known = [each for each in self.record.structures if states and each.state in states]
        return max(known, key=lambda each: self.touched.get(each.label, 0)).label if known else None

    def _meet(self, label: str, mention: Mention) -> None:
        if label not in self._by_label:
            self.add(label, mention.what)
        self.places.setdefault(label, set()).update(mention.place)
        self.touched.setdefault(label, 0)
        entry = self._by_label[label]
        if isinstance(entry, Structure) and mention.what not in ("outlet", entry.kind):
            entry.kind = mention.what  # type: ignore[assignment]

    def at_place(self, words: frozenset[str] | set[str], prefix: str | None = None) -> str | None:
        """The structure (or, with prefix R, the run) whose place shares most words with those, or None."""
        shared = {
            label: len(words & place)
            for label, place in self.places.items()
            if label in self._by_label and words & place and (label.startswith("R-") == (prefix == "R"))
        }
        return max(shared, key=lambda label: shared[label]) if shared else None

    def rename(self, old: str, new: str) -> None:
        """A number that was given late: every trace of the old label becomes the new one."""
        entry = self._strike(old)
        if entry is None:
            return
        entry.label = new
        self._enter(new, entry)
        self.ledger.rename(old, new)
        for note, asked in self._asked_in.items():
            self._asked_in[note] = {(new if about == old else about, name): None for about, name in asked}
        for run in self.record.runs:
            run.from_, run.to = (new if end == old else end for end in (run.from_, run.to))
        happenings: list[Issue | Test] = [*self.record.issues, *self.record.tests]
        for each in happenings:
            each.at = new if each.at == old else each.at
        for question in self._questions.values():
            question.about = new if question.about == old else question.about
        self._questions = {(each.about, each.field): each for each in self._questions.values()}
        for level in self.record.levels:
            level.point = (
                level.point.replace(f"{old} ", f"{new} ") if level.point.startswith(f"{old} ") else level.point
            )
        self.said = {(new if label == old else label, name): said for (label, name), said in self.said.items()}
        self.history = {(new if label == old else label, name): None for label, name in self.history}
        self.places[new] = self.places.pop(old, set())
        self.touched[new] = self.touched.pop(old, 0)
        self.run, self.structure, self.last = (new if f == old else f for f in (self.run, self.structure, self.last))

    def _resolve_many(self, mention: Mention) -> list[str]:
        known, new = self.labels(mention.prefix), 0
        standing = [label for label in known if self._state(label) not in (None, "planned")]
        wanted = (mention.number or 0) + (len(standing) if mention.places or mention.fresh else 0)
        while len(known) < wanted:
            known.append(self.free_label(mention.prefix))
            self.add(known[-1], mention.what)
            new += 1
            if new <= len(mention.places):
                self.places[known[-1]] = set(mention.places[new - 1])
        if new:
            return known[-new:]
        return known[: mention.number]

    def _unnumbered(self, mention: Mention, installed: bool) -> str:
        if mention.what == "run":
            others = [label for label in self.labels("R") if label != self.run] if mention.how == "other" else []
            if others:
                return max(others, key=lambda label: self.touched.get(label, 0))
            named = self.at_place(mention.place, "R") if mention.place else None
            if named:
                return named
            return self.run if self.run and mention.how != "indefinite" else self.free_label("R")
        series = self._series.get(mention.prefix, {})
        if mention.how == "indefinite":
            planned = [label for label, entry in series.items() if installed and entry.state == "planned"]
            planned = [label for label in planned if self._possible(label, mention)]
            same = len(planned) == 1 and self._same_place(planned[0], mention)
            return planned[0] if same else self.free_label(mention.prefix)
        known = [label for label in series if self._possible(label, mention)]
        if mention.old:
            known = [label for label in known if self._state(label) in ("existing", "abandoned", None)] or known
        placed = [label for label in known if mention.place & self.places.get(label, set())]
        if placed:
            return max(placed, key=lambda label: len(mention.place & self.places[label]))
        known = [label for label in known if self._same_place(label, mention)]
        planned = [label for label in known if installed and self._state(label) == "planned"]
        known = planned or known
        return max(known, key=lambda label: self.touched.get(label, 0)) if known else self.free_label(mention.prefix)

    def _possible(self, label: str, mention: Mention) -> bool:
        """A new pop-up is not the old one that was abandoned, nor a curb outlet that stands."""
        entry = self._by_label[label]
        if not isinstance(entry, Structure) or mention.what == "outlet" or entry.kind in (None, mention.what):
            return self._state(label) not in ("removed",) or mention.how == "definite"
        return entry.state in (None, "planned")

    def _same_place(self, label: str, mention: Mention) -> bool:
        """Whether nothing that was said tells the two apart."""
        return not mention.place or not self.places.get(label) or bool(mention.place & self.places[label])

    def _state(self, label: str) -> str | None:
        entry = self.entry(label)
        return entry.state if entry else None

    def measured(self, label: str) -> bool:
        """Whether something of it was said as built: what was once planned is no news then."""
        fields = type(self._by_label[label]).model_fields
        said = (self.said.get((label, name)) for name in ("from", *fields) if name != "state")
        return any(each is not None and not each.planned for each in said)

    def knows(self, mention: Mention) -> bool:
        """Whether an unnumbered mention means something already met."""
        return mention.number is None and self._unnumbered(mention, False) in self._by_label

    def run_between(self, start: str | None, end: str | None) -> str | None:
        """The run with those ends; one end may be unsaid on either side."""
        exact = [run.label for run in self.record.runs if (run.from_, run.to) == (start, end)]
        if exact:
            return exact[-1]
        half = [
            run.label
            for run in self.record.runs
            if (run.from_ or run.to) and run.from_ in (start, None) and run.to in (end, None)
        ]
        return half[-1] if half else None

    # -- what it is

    def put(self, label: str, name: str, said: Said) -> None:
        """Set one field, or ask: implausible leaves it empty, two values that differ are a conflict."""
        entry = self.entry(label)
        if entry is None:
            return
        self.taken += 1
        self.ledger.enter(label, name, said)
        attribute = "from_" if name == "from" else name
        before = self.said.get((label, name))
        if before and said.planned and not before.planned and not said.corrected:
            return  # what was meant to be is no news once it is told as built
        off = name in ELEVATIONS and self._off_the_site(label, name, said.value)
        if off or not plausible(name, said.value) or (name == "size_in" and _no_basin(entry, said.value)):
            self.ask(label, name, "implausible", evidence=[said.evidence], heard=said.evidence.quote)
            return
        heard = said._replace(doubt=said.doubt or "hedged") if said.expected and before is None else said
        if name == "cover_in" and before and not said.corrected and not before.planned:
            if said.value <= before.value and self.answers(label, name, said):
                self.settle(label, name)  # a greater one may be of another place along the run
            said = before if before.value < said.value else said
        elif self.answers(label, name, said):
            self.settle(label, name)
        elif before and before.value != said.value and not self._replaces(label, name, before, said):
            return
        if heard.doubt:  # after a correction has settled what was asked before
            self.ask(label, name, heard.doubt, evidence=[heard.evidence], heard=heard.evidence.quote)
        self.level_last = None
        if name != "state":
            self.history.pop((label, name), None)
            self.history[(label, name)] = None
        self.said[(label, name)] = said
        setattr(entry, attribute, said.value)
        if name == "length_ft" and said.corrected and isinstance(entry, Run):
            if abs(sum(entry.pieces_ft) - said.value) > ADDS_UP_FT:  # they told the length that was wrong
                entry.pieces_ft = []
            entry.stations_ft = []
        self.witness(entry, said.evidence, name, corrects=said.corrected and said.named)

    def _off_the_site(self, label: str, name: str, value: float) -> bool:
        """Whether an elevation lies farther from all others than a yard is high."""
        reach, others = limits()["range"]["elevation_apart_ft"]["high"], 0
        for pair, said in reversed(self.said.items()):
            if pair[1] not in ELEVATIONS or pair == (label, name) or not isinstance(said.value, float):
                continue
            if abs(value - said.value) <= reach:
                return False
            others += 1
        shot = any(level.rod_ft is not None for level in self.record.levels)
        if not others and shot and value < limits()["range"]["rod_ft"]["high"]:
            return True  # a rod reading said as if it were a height
        levelled = [level.elevation_ft for level in self.record.levels if level.elevation_ft is not None]
        return bool(others or levelled) and all(abs(value - other) > reach for other in levelled)

    def answers(self, label: str, name: str, said: Said) -> bool:
        """Whether a later note answers what was asked of a field: it says what was asked again, or of a number that
        was in doubt another. Of two values in conflict only one of those two does."""
        question = self._questions.get((label, name))
        if question is None or said.doubted or said.planned:
            return False
        if any(witness.note >= said.evidence.note for witness in question.evidence):
            return False  # a note bears no witness to itself
        return question.why != "conflict" or said.value in (question.choices or [])

    def _replaces(self, label: str, name: str, before: Said, said: Said) -> bool:
        """Whether a differing value takes the place of the one before; asks where both claim to be as built."""
        if said.corrected:
            self.settle(label, name)
            return True
        if not before.planned and not said.planned and name != "state":
            self.ask(
                label,
                name,
                "conflict",
                evidence=[before.evidence, said.evidence],
                choices=[before.value, said.value],
            )
        return True

    def witness(self, entry: Any, evidence: Evidence, name: str | None = None, *, corrects: bool = False) -> None:
        self.cited.add(evidence.note)
        for said in reversed(entry.evidence):
            if said.note != evidence.note:
                break  # notes come in order, so what this note said before stands at the end of the list
            if said.field == name and said.quote == evidence.quote:
                return
        entry.evidence.append(
            Evidence.model_construct(  # each part was checked when the evidence was made
                note=evidence.note,
                quote=evidence.quote,
                confidence=evidence.confidence,
                field=name,
                corrects=corrects,
            )
        )

    def ask(
        self,
        about: str,
        name: str | None,
        why: Why,
        *,
        evidence: Iterable[Evidence] = (),
        heard: str | None = None,
        choices: list[Any] | None = None,
    ) -> None:
        """One question a field; a conflict gathers all its choices."""
        self.taken += 1
        question = self._questions.get((about, name))
        if question is None:
            question = Question(about=about, field=name, heard=heard, choices=choices, why=why)
            self._questions[about, name] = question
        elif choices:
            question.why = why
            known = question.choices or []
            question.choices = known + [choice for choice in choices if choice not in known]
        for each in evidence:
            self.witness(question, each, name)
            self._asked_in.setdefault(each.note, {})[about, name] = None

    def questions(self) -> list[Question]:
        """Those asked so far."""
        return list(self._questions.values())

    def question(self, about: str | None, name: str | None) -> Question | None:
        """What is asked of that field, or None."""
        return self._questions.get((about, name)) if about else None

    def is_asked(self, about: str, name: str | None) -> bool:
        return (about, name) in self._questions

    def asked_in(self, note: int) -> list[tuple[str, str | None]]:
        """What the questions are about that a note gave rise to."""
        return list(self._asked_in.get(note, ()))

    def dropped(self, label: str, name: str) -> bool:
        """Whether a planned value left its field because the thing is built."""
        return getattr(self.entry(label), name, None) is None

    def settle(self, about: str, name: str | None, by: Said | None = None) -> None:
        """A correction answers the question about its field, and makes another where it was badly heard itself."""
        self._questions.pop((about, name), None)
        if by and by.doubt:
            self.ask(about, name, by.doubt, evidence=[by.evidence], heard=by.evidence.quote)

    def correctable(
        self, fields: Iterable[str], prefer: list[str], old: float | None = None, *, only: bool = False
    ) -> tuple[str, str] | None:
        """The (label, field) that a correction means: same kind of number, last said, on `prefer` first (or `only`)."""
        wanted = set(fields)
        # Newest first; a field set often counts once.
        recent = [pair for pair in reversed(self.history) if pair[1] in wanted]
        if old is not None:
            recent = [pair for pair in recent if _holds(self.said[pair].value, old)] or recent
        preferred = [pair for pair in recent if pair[0] in prefer]
        return next(iter(preferred if only else preferred or recent), None)

    def holding(self, labels: list[str], value: float | None) -> tuple[str, str] | None:
        """The (label, field) last said to be that value, among those labels."""
        pairs = (pair for pair in reversed(self.history) if pair[0] in labels) if value is not None else ()
        return next((pair for pair in pairs if _holds(self.said[pair].value, value or 0)), None)

    def last_reading(self, kind: str) -> Level | None:
        levels = [level for level in self.record.levels if level.kind == kind and level.rod_ft is not None]
        return levels[-1] if levels else None

    def unread(self) -> Level | None:
        """The benchmark's elevation that was said with no rod, until one is read on it."""
        return next((level for level in self.record.levels if level.rod_ft is None), None)

    # -- at the end of the log

    def finish(self) -> Record:
        """Close the book: estimates of what is now built drop out, and what must be known is asked."""
        built = {
            label
            for (label, name), said in self.said.items()
            if name in (*ESTIMATES, "nominal_in", "pipe") and not said.planned
        }
        for run in self.record.runs:
            if run.state is None and run.label in built:
                run.state = "installed"
        for (label, name), said in self.said.items():
            entry = self.entry(label)
            if entry and said.planned and name in ESTIMATES and entry.state == "installed":
                setattr(entry, name, None)
        for run in self.record.runs:
            if run.state == "installed" and run.length_ft is None and not run.stations_ft:
                self.ask(run.label, "length_ft", "missing")
        self.record.numbers = self.ledger.numbers(self)
        if unread := self.unread():
            heard = unread.evidence[-1].quote
            self.ask(unread.point, "rod_ft", "missing", evidence=unread.evidence, heard=heard)
        self.record.questions = self.questions()
        return self.record


def _no_basin(entry: Entry, size_in: list[float]) -> bool:
    box = isinstance(entry, Structure) and entry.kind in ("catch_basin", "junction_box")
    return box and not plausible("basin_in", size_in)


def _prefix(label: str) -> str:
    return label.rsplit("-", 1)[0]


def _holds(value: Any, old: float) -> bool:
    if isinstance(value, list):
        return old in value
    return isinstance(value, (int, float)) and (abs(value - old) < 1e-6 or abs(int(value) - old) < 1e-6)
