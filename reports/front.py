"""The first pages: cover, summary in plain words, and the questions that are still open."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from extract.check.accepted import is_accepted
from extract.record import Language, Record, Run, Structure, Test
from reports import words
from reports.doubts import OF_A_TEST, marked, unique
from reports.facts import Facts
from reports.job import Photo
from reports.network import Chain, chains, connected
from reports.takeoff import takeoff
from reports.words import NOT_RECORDED, counted, joined, plain, sentence, thing, things

if TYPE_CHECKING:
    from reports.paper import Paper

PHOTO, LOGO_TAKES = 2.9, 0.85
"""Inches: the height of the cover's photo, and what a logo above takes from it. With these the contents stay on that
page, with room for four lines more than the shortest cover has."""
IN_SIGHT = ("popup_outlet", "channel_drain")
"""Kinds that mostly look finished in a photo of which nobody said when it was taken; the better looking one last."""


def cover(paper: Paper, facts: Facts, contents: list[tuple[str, str]]) -> None:
    """Firm, client, site and date, the job in one line, the best photo, and what is in the report."""
    job, company = facts.job, facts.job.company
    paper.logo(company.logo_png, company.name)
    paper.text(company.name, "Firm Name")
    licence = f"License {company.licence}" if company.licence else ""
    paper.text(
        " · ".join(part for part in (company.address, company.phone, company.email, licence) if part), "Firm Line"
    )
    paper.text("Drainage close-out report", "Title")
    paper.text(sentence(in_one_line(facts.record)), "Subtitle")
    paper.facts(
        [
            ("Client", job.client),
            ("Site", job.address),
            ("Day of the work", words.day(job.day)),
            ("Report prepared", words.day(facts.closeout.prepared)),
            ("Job name", job.name),
            *([("Crew", joined(company.crew))] if company.crew else []),
        ]
    )
    photo = best_photo(facts.closeout.photos, facts.record)
    if photo:
        what = f"Photo {photo.number}, shown again with the others in this report."
        paper.banner(
            photo.jpeg, alt=f"The work. {what}", caption=what, height=PHOTO - (LOGO_TAKES if company.logo_png else 0)
        )
    paper.text("In this report", "Box Title")
    paper.contents(contents)


def best_photo(photos: list[Photo], record: Record) -> Photo | None:
    """What the client will know when they see it: a structure when it was done, else one that lies in sight from the
    day it is set, else a run when it was done, else any; the last of those."""
    kinds = {each.label: each.kind for each in record.structures}

    def rank(photo: Photo) -> tuple[int, int]:
        kind, stage = kinds.get(photo.about or ""), photo.stage
        if kind in IN_SIGHT and stage == "unknown":
            return 2 + IN_SIGHT.index(kind), photo.number
        done = (2 + len(IN_SIGHT) if kind else 1) if stage == "after" else 0
        return done - (stage == "start"), photo.number

    return max((photo for photo in photos if photo.jpeg and photo.about), key=rank, default=None)


def in_one_line(record: Record, language: Language = "en") -> str:
    """`1 channel drain and 2 catch basins, with 3 runs of buried pipe`, of what was put in."""
    kinds: Counter[str] = Counter(item.kind or "outlet" for item in record.structures if item.state == "installed")
    parts = joined((counted(count, kind, language) for kind, count in kinds.items()), language)
    runs = sum(run.state == "installed" for run in record.runs)
    pipe = counted(runs, "run", language) if runs else ""
    if parts and pipe:
        return words.told("summary", "with_pipe", language, things=parts, runs=pipe)
    return parts or pipe or words.told("summary", "nothing", language)


def summary(paper: Paper, facts: Facts) -> None:
    """What a homeowner asks: what is in the ground, where the water goes, was it tested, what is still open."""
    record = facts.record
    paper.heading("What was installed", 2)
    for line in _installed(facts):
        paper.text(line)
    kinds = dict.fromkeys(
        item.kind for item in record.structures if item.kind and item.state in ("installed", "existing")
    )
    paper.bullets([(f"{sentence(plain('structure', kind))}:", f"{plain('meaning', kind)}.") for kind in kinds])
    paper.heading("Where the water goes", 2)
    paper.bullets(_ways(facts) or ["No run of pipe with both its ends was recorded, so this report cannot say."])
    paper.heading("Water tests", 2)
    paper.bullets(
        [f"{tell_test(facts, test)}." for test in record.tests] or ["No water test was recorded. Ask us for one."]
    )
    paper.heading("What remains open", 2)
    paper.bullets(_open(facts))
    if any(item.outcome in ("fail", "attention") for item in facts.open):
        paper.text(
            "A number marked ‡ does not agree with another figure or with a limit; "
            "the number after the sign is its open point.",
            "Small Note",
        )
    questions(paper, facts)


def _installed(facts: Facts) -> list[str]:
    record = facts.record
    lines = [f"{sentence(in_one_line(record))}."]
    totals = []
    for line in takeoff(record):
        if line.group == "Pipe":
            doubts = unique(d for label in line.labels for d in facts.marks(label, "length_ft", "nominal_in", "pipe"))
            totals.append(f"{line.item}: {marked(line.quantity, doubts)}")
    if totals:
        lines.append(f"Pipe in the ground: {'; '.join(totals)}.")
    for state, lead in (
        ("existing", "Kept from before"),
        ("abandoned", "Left in the ground, out of use"),
        ("removed", "Taken out"),
        ("planned", "Planned and not built"),
        (None, "Recorded, without saying whether it was built"),
    ):
        found = [thing(entry) for entry in things(record) if entry.state == state]
        if found:
            lines.append(f"{lead}: {joined(found)}.")
    return lines


def _ways(facts: Facts) -> list[str]:
    found = chains(facts.record)
    lines = [_way(facts, chain) for chain in found]
    _, loose = connected(facts.record)
    for run in loose:
        lines.append(f"{sentence(thing(run))}: where it starts or ends is {NOT_RECORDED}.")
    return lines


def _way(facts: Facts, chain: Chain) -> str:
    first, *rest = chain.labels
    steps = [
        f"through {_pipe_phrase(facts, run)} to {_named(facts.record, to)}"
        for run, to in zip(chain.runs, rest, strict=True)
    ]
    end = facts.record.subject(rest[-1])
    out = isinstance(end, Structure) and (end.kind or "outlet").endswith("outlet")
    tail = ", where it joins the way told above" if chain.joins else ", where it leaves the pipe" if out else ""
    return f"From {_named(facts.record, first)} {', then '.join(steps)}{tail}."


def _named(record: Record, label: str) -> str:
    entry = record.subject(label)
    return f"the {thing(entry)}" if entry else f"{label} (not described)"


def _pipe_phrase(facts: Facts, run: Run) -> str:
    length = words.short_length(run.length_ft) if words.known(run.length_ft) else f"length {NOT_RECORDED}"
    length = marked(length, facts.marks(run.label, "length_ft"))
    size = marked(words.pipe(run), facts.marks(run.label, "nominal_in", "pipe"))
    kept = ", kept from before" if run.state == "existing" else ""
    return f"run {run.label} ({length}, {size}{kept})"


def tell_test(facts: Facts, test: Test) -> str:
    """`Hose test on run R-2: passed, 10 minutes at 6 gallons a minute`."""
    result = f"result {NOT_RECORDED}" if test.result is None else plain("result", test.result)
    amounts = [words.duration(test.duration_s)] if test.duration_s is not None else []
    amounts += [f"at {words.flow(test.flow_gpm)}"] if test.flow_gpm is not None else []
    doubts = facts.entry_marks(test, test.at, *OF_A_TEST)
    return marked(
        sentence(f"{words.water_test(facts.record, test)}: {', '.join([result, ' '.join(amounts)]).rstrip(', ')}"),
        doubts,
    )


def _open(facts: Facts) -> list[str]:
    accepted = [item for item in facts.open if is_accepted(facts.record, item)]
    counts: Counter[str] = Counter(item.outcome for item in facts.open if item not in accepted)
    lines = []
    for outcome, lead in (
        ("fail", "not as it should be"),
        ("attention", "worth a look"),
        ("unknown", "could not be checked"),
    ):
        if counts[outcome]:
            if outcome == "fail" and counts[outcome] > 1:
                lead = "not as they should be"
            lines.append(f"{counted(counts[outcome], 'point')} {lead} (see the section on checks).")
    if accepted:
        lead = "not as it should be" if len(accepted) == 1 else "not as they should be"
        lines.append(f"{len(accepted)} accepted: {lead}, and left so for a reason (see the section on checks).")
    failed = [test for test in facts.record.tests if test.result == "fail"]
    if failed:
        lines.append(f"{counted(len(failed), 'water_test')} did not pass (see the section on water tests).")
    if facts.doubts.all:
        lines.append(f"{counted(len(facts.doubts.all), 'question')} about what we recorded (see the box below).")
    undecided = [item for item in facts.record.decisions if item.state == "open"]
    lines += [marked(f"Not decided yet: {item.text}", facts.entry_marks(item)) for item in undecided]
    if not facts.closeout.findings:
        lines.append("The record was not checked, so this report cannot say what is open.")
    return lines or ["Nothing that we know of."]


def questions(paper: Paper, facts: Facts) -> None:
    """The honest box: every number under question, with the mark it bears wherever it stands."""
    if not facts.doubts.all:
        return
    lines = [(f"{mark}", mark.words) for mark in map(facts.doubts.mark, facts.doubts.all)]
    paper.box(
        "Questions still open",
        [
            "Wherever one of these numbers stands in this report it bears the same mark. "
            "Do not build on it until we have confirmed it.",
            *lines,
        ],
        "ask",
    )
