"""In what state the things spoken of are: planned, installed, existing, abandoned or removed."""

from __future__ import annotations

from extract.context import Context
from extract.naming import opens_at
from extract.site import Site
from extract.statements import Mention, Sentence

STRENGTH = {"planned": 0, "installed": 1, "existing": 2, "removed": 3, "abandoned": 4}


def read_states(site: Site, context: Context, sentence: Sentence, subjects: list[str]) -> None:
    """Which of the subjects are planned, installed, existing, abandoned or removed by this sentence."""
    strongest: dict[str, str] = {}
    planned = context.planned
    if not (planned or context.asked_of or "in" in sentence.words or sentence.speaks_of("state", "attribute")):
        return
    for low, high in sentence.segments:
        cues = [
            term.value
            for term in sentence.find("state", within=(low, high))
            if sentence.tokens[term.start] != "stays" or not any(p.start == term.end for p in sentence.find("pipe"))
        ]
        cues += ["installed"] * sentence.has("attribute", "bedding", within=(low, high))
        bare = sentence.tokens == ["in"] or any(m.end == high - 1 for m in sentence.mentions)
        if sentence.word(high - 1) == "in" and bare:
            cues.append("installed")
        if "planned" in cues:
            planned = True
        elif cues and _starts_anew(sentence, low, high):
            planned = context.planned_note
        for label in _who(site, context, sentence, subjects, (low, high)) if cues or context.asked_of else ():
            for cue in cues:
                state = "planned" if planned and cue == "installed" else cue
                if STRENGTH[state] >= STRENGTH[strongest.get(label, "planned")]:
                    strongest[label] = state
    if planned:
        ends = [m.label for m in sentence.mentions if m.role in ("from", "to") and m.label]
        for label in [*subjects, *ends]:
            strongest.setdefault(label, "planned")
    for label, state in strongest.items():
        _set_state(site, context, sentence, label, state)


def _starts_anew(sentence: Sentence, low: int, high: int) -> bool:
    """A segment with its own subject and "is in" leaves the plan of the segment before."""
    return any(low <= m.start < high and m.role == "subject" for m in sentence.mentions)


def _who(site: Site, context: Context, sentence: Sentence, subjects: list[str], within: tuple[int, int]) -> list[str]:
    """Whom a state in that segment belongs to."""
    low, high = within
    here = [m for m in sentence.mentions if low <= m.start < high and m.role == "subject" and m.label]
    runs = [label for label in subjects if label.startswith("R-")]
    if here:
        labels = list(dict.fromkeys(label for m in here for label in _labels(site, m)))
        has_ends = any(low <= m.start < high and m.role in ("from", "to") for m in sentence.mentions)
        return [*runs, *labels] if has_ends else labels
    if runs and any(low <= m.start < high and m.role in ("from", "to") for m in sentence.mentions):
        return runs
    if opened := opens_at(sentence):
        return [opened]
    earlier = [m for m in sentence.mentions if m.start < low and m.role == "subject" and m.label]
    if context.asked_of is not None and not earlier and _opens_with_that(sentence, low):
        return site.resolve(context.asked_of)
    if subjects:
        return _together(sentence, earlier) if earlier else runs or subjects[:1]
    if sentence.has("pronoun", "it", within=within) or _opens_with_cue(sentence, low):
        if context.asked_of is not None:
            labels = site.resolve(context.asked_of)
            if labels:
                site.focus(labels[0])
            return labels
        return [site.last] if site.last else []
    return []


def _opens_with_that(sentence: Sentence, low: int) -> bool:
    return sentence.word(low) in ("that", "it", "they") and sentence.word(low + 1) in ("'s", "is", "are")


def _together(sentence: Sentence, earlier: list[Mention]) -> list[str]:
    """The last thing named, with the one that was joined to it: "run one and outlet one both stay, abandoned"."""
    labels = list(dict.fromkeys(m.label for m in reversed(earlier) if m.label))
    return labels[: 2 if "both" in sentence.words else 1]


def _labels(site: Site, mention: Mention) -> list[str]:
    if mention.how == "many":
        return site.labels(mention.prefix)[: mention.number]
    if mention.through and mention.number:
        return [f"{mention.prefix}-{n}" for n in range(mention.number, mention.through + 1)]
    return [mention.label] if mention.label else []


def _opens_with_cue(sentence: Sentence, low: int) -> bool:
    return sentence.tokens == ["in"] or any(
        term.start <= low + 1 and term.start >= low for term in sentence.find("state")
    )


def _set_state(site: Site, context: Context, sentence: Sentence, label: str, state: str) -> None:
    entry = site.entry(label)
    if entry is None or entry.state == state:
        return
    if entry.state in ("existing", "abandoned", "removed") and state == "installed" and "new" not in sentence.words:
        return
    if state == "planned" and (entry.state is not None or site.measured(label)):
        return
    said = context.said(state, sentence)
    entry.state = state  # type: ignore[assignment]
    site.said[(label, "state")] = said
    site.witness(entry, said.evidence, "state")
