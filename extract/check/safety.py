"""The usual cautions where what was said calls for one: depth, cutting, buried lines, vehicles.

They flag, they never certify: only a competent person on the spot can judge a trench, and local rules come first.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Any, NamedTuple

from extract.check.levels import Height
from extract.check.policy import Policy
from extract.check.saying import evidence, feet, finding, inches, known, listed, name
from extract.record import Evidence, Finding, Language, Model, Note, Record, Run, Structure
from extract.spelling import normalise

TABLES: dict[Language, str] = {"en": "cautions.toml", "es": "cautions_es.toml"}
DUG = ("planned", "installed", None)
"""States of what is dug for on this job."""
OURS = re.compile(r"\b(?:runs?|basins?|drains?|cleanout|box|well|pipe|line)\b", re.I)
DIGGING = re.compile(r"\b(?:trench|ditch|hole|dig|digging|dug|excavation|excavated)\b", re.I)
LONGEST_READ = 2_000
"""Characters of one note that are read for words of caution; nobody says more in a breath."""
JOB = "job"
"""Subject of a caution that is about no one thing."""


class Limit(Model):
    """A limit of the safety rules, in the unit that ends its name, and where it stands."""

    value: float
    source: str
    read: str


class Caution(Model):
    """One entry of cautions.toml; its head explains the fields."""

    title: str
    text: str
    phones: str | None = None
    source: str | None = None
    read: str | None = None
    quoted: str | None = None
    name: str | None = None
    crew: str | None = None
    exit: str | None = None
    words: list[str] = []


HOLES = frozenset({"trench", "ditch", "hole", "excavation"})
ALONG = frozenset(
    {"long", "of", "off", "wide", "across", "from", "away", "over", "along", "further", "farther", "north", "south"}
)
"""Words after a measure by which it is none of depth."""
MAYBE_DEEP_FT = 15.0
"""A measure of a trench that nobody called its depth may be one up to here; longer ones are lengths."""


class Depth(NamedTuple):
    """How deep a trench is, or must be for what lies in it, feet."""

    ft: float
    subject: str
    words: str
    evidence: list[Evidence]
    sure: bool = True
    """False for a measure of a trench that nobody called its depth."""


@lru_cache(maxsize=2)
def _table(language: Language) -> dict[str, Any]:
    return tomllib.loads(files("extract.check").joinpath(TABLES[language]).read_text(encoding="utf-8"))


@lru_cache(maxsize=1)
def safety_limits() -> dict[str, Limit]:
    """The limits of the safety rules by name, each with its section."""
    return {key: Limit.model_validate(entry) for key, entry in _table("en")["limit"].items()}


@lru_cache(maxsize=2)
def client_cautions(language: Language = "en") -> list[Caution]:
    """All cautions, in the order in which a report prints them."""
    return [Caution.model_validate(entry) for entry in _table(language)["caution"]]


def caution_named(which: str, language: Language = "en") -> Caution:
    """The caution of that name: `walls`, `silica`, `utilities`, `vehicles`."""
    return next(each for each in client_cautions(language) if each.name == which)


def caution_of(found: Finding) -> str:
    """The name of the caution that a finding gives. One about a depth has a limit; the source of any other begins with
    its caution's."""
    if found.limit is not None:
        return "walls"
    named = (each for each in client_cautions() if each.name and each.source)
    return next(str(each.name) for each in named if (found.source or "").startswith(str(each.source)))


def for_the_crew(
    which: str, policy: Policy, language: Language = "en", *, way_out: bool = False, what: str = ""
) -> str:
    """What a crew is told of a danger, filled in: of a trench about its walls or about the `way_out`, of vehicles with
    `what` they go over."""
    values = {key: f"{limit.value:g}" for key, limit in safety_limits().items()}
    caution = caution_named(which, language)
    words = caution.exit if way_out else caution.crew
    zone = f"{policy['utility_zone_in']:g}"
    return (words or "").format(what=what, zone=zone, depth_ft=values["walls_depth_ft"], **values)


def is_way_out(found: Finding) -> bool:
    """Whether a caution about a depth is the one that asks for a way out, and not the one about walls."""
    return found.limit == safety_limits()["exit_depth_ft"].value


def check_safety(
    record: Record, points: Mapping[str, Height], policy: Policy, notes: Sequence[Note] | None = None
) -> list[Finding]:
    """A caution for each danger that was spoken of or measured, once a job, at the worst place of it. `attention` each.

    With no `notes` the words are those that the record quotes. `points` are the heights [ft] of `levels.heights`.
    """
    said = _quotes(record) if notes is None else _all_said(notes)
    return [
        *_trenches([*_measured(record, points, policy["bedding_in"]), *_told(said)], policy),
        *_spoken("silica", said, policy),
        *_buried_lines(record, said, policy),
        *_vehicles(record, policy),
    ]


def _all_said(notes: Sequence[Note]) -> list[Evidence]:
    return [
        Evidence(note=index, quote=note.text[:LONGEST_READ], confidence=note.confidence)
        for index, note in enumerate(notes)
    ]


def _quotes(record: Record) -> list[Evidence]:
    entries = [*record.structures, *record.runs, *record.levels, *record.issues, *record.tests, *record.tasks]
    quotes = {(item.note, item.quote): item for entry in [*entries, *record.decisions] for item in entry.evidence}
    return list(quotes.values())


# -- depth


def _measured(record: Record, points: Mapping[str, Height], bedding_in: float) -> Iterator[Depth]:
    """What lies in the ground, and the trench that it takes: as much deeper as its bedding."""
    for depth in _lying(record, points):
        words = (
            f"{depth.words}, and with {inches(bedding_in)} of bedding its trench is {feet(depth.ft + bedding_in / 12)}"
        )
        yield depth._replace(ft=depth.ft + bedding_in / 12, words=f"{words} deep or more")


def _lying(record: Record, points: Mapping[str, Height]) -> Iterator[Depth]:
    for structure in record.structures:
        if structure.state in DUG:
            yield from _of_structure(structure, points)
    for run in record.runs:
        cover, size = known(run.cover_in), known(run.nominal_in)
        if run.state in DUG and cover is not None:
            words = f"{name(run.label)} lies under {feet(cover / 12)} of cover"
            yield Depth((cover + (size or 0.0)) / 12, run.label, words, evidence(run, "cover_in", "nominal_in"))


def _of_structure(structure: Structure, points: Mapping[str, Height]) -> Iterator[Depth]:
    depth, label = known(structure.invert_depth_in), structure.label
    if depth is not None:
        words = f"the invert of {name(label)} is {feet(depth / 12)} down"
        yield Depth(depth / 12, label, words, evidence(structure, "invert_depth_in"))
    rim = points.get(f"{label} rim")
    for side in ("invert_in", "invert_out"):
        invert = points.get(f"{label} {side}")
        if rim is not None and invert is not None and rim.chain == invert.chain:
            words = f"the invert of {name(label)} is {feet(rim.ft - invert.ft)} below its rim"
            yield Depth(rim.ft - invert.ft, label, words, rim.evidence + invert.evidence)


def _told(said: list[Evidence]) -> Iterator[Depth]:
    """A depth said: "basin two is six feet deep", "dug the trench to six feet", "dug down 66 inches"."""
    from extract.text.quantities import find_quantities  # slow to load, and a report of a kept book does without

    for item in said:
        if not (digging := bool(DIGGING.search(item.quote))) and not OURS.search(item.quote):
            continue
        tokens = normalise(item.quote)
        for quantity in find_quantities(tokens):
            value = {"ft": quantity.value, "in": quantity.value / 12}.get(quantity.unit or "")
            if value is None or known(value) is None:
                continue
            behind = tokens[quantity.end : quantity.end + 2]
            before = tokens[max(0, quantity.start - 3) : quantity.start]
            if "deep" in behind or (digging and _called_depth(before, behind)):
                yield Depth(value, JOB, f"a trench {feet(value)} deep was spoken of", [item])
            elif value <= MAYBE_DEEP_FT and _maybe_depth(before, behind):
                yield Depth(
                    value, JOB, f"a trench of {feet(value)} was spoken of, which may be its depth", [item], sure=False
                )


def _called_depth(before: Sequence[str], behind: Sequence[str]) -> bool:
    return "down" in behind or before[-1:] in (["to"], ["down"]) or "depth" in before


def _maybe_depth(before: Sequence[str], behind: Sequence[str]) -> bool:
    """ "the trench is five feet", "dug five feet", "a five foot trench": depth or length, so the caution is given."""
    if ALONG & set(behind):
        return False
    is_so = before[-1:] in (["is"], ["was"], ["at"]) and bool(HOLES & set(before))
    return is_so or before[-1:] == ["dug"] or behind[:1] in [[hole] for hole in HOLES]


def _trenches(depths: list[Depth], policy: Policy) -> list[Finding]:
    way_out, walls = for_the_crew("walls", policy, way_out=True), for_the_crew("walls", policy)
    return [
        *_depth_finding(depths, way_out, policy, "exit_depth_ft", "setback_ft"),
        *_depth_finding(depths, walls, policy, "walls_depth_ft", "slope_h_per_v", "engineer_depth_ft"),
    ]


def _depth_finding(depths: list[Depth], caution: str, policy: Policy, *names: str) -> list[Finding]:
    """The caution at the worst place that reaches the first limit of those; a sure depth before a possible one."""
    limits = safety_limits()
    deep = [depth for depth in depths if depth.ft >= limits[names[0]].value - 1e-9]
    depth = max(deep, key=lambda depth: (depth.sure, depth.ft), default=None)
    if depth is None:
        return []
    bedding = "" if depth.subject == JOB else f"; bedding: {policy.source('bedding_in')}"
    source = "; ".join(dict.fromkeys(limits[each].source for each in names)) + bedding
    message, limit = f"{depth.words}. {caution}", limits[names[0]].value
    return [
        finding(
            "caution", depth.subject, "attention", message, computed=depth.ft, limit=limit, unit="ft", source=source,
            evidence=depth.evidence,
        )
    ]  # fmt: skip


# -- what was spoken of


@lru_cache(maxsize=8)
def _pattern(which: str) -> re.Pattern[str]:
    return re.compile("|".join(caution_named(which).words), re.I)


def _spoken(which: str, said: list[Evidence], policy: Policy, more: Sequence[Evidence] = ()) -> list[Finding]:
    pattern = _pattern(which)
    words = [*more, *(item for item in said if pattern.search(item.quote))]
    if not words:
        return []
    message, source = for_the_crew(which, policy), caution_named(which).source or "common practice"
    if which == "utilities":
        source = f"{source} Zone: {policy.source('utility_zone_in')}."
    return [finding("caution", JOB, "attention", message, source=source, evidence=words)]


def _buried_lines(record: Record, said: list[Evidence], policy: Policy) -> list[Finding]:
    met = [item for issue in record.issues if issue.kind == "utility" for item in issue.evidence]
    return _spoken("utilities", said, policy, met)


def driven_over(record: Record) -> list[Structure | Run]:
    """What is dug for on this job and vehicles go over."""
    entries: list[Structure | Run] = [*record.structures, *record.runs]
    return [each for each in entries if each.state in DUG and each.traffic in ("car", "truck")]


def _vehicles(record: Record, policy: Policy) -> list[Finding]:
    under = driven_over(record)
    if not under:
        return []
    shown = listed([*(name(each.label) for each in under[:6]), *(["more"] if len(under) > 6 else [])])
    words = [item for each in under for item in evidence(each, "traffic")]
    message, source = for_the_crew("vehicles", policy, what=shown), caution_named("vehicles").source
    return [finding("caution", JOB, "attention", message, source=source or "common practice", evidence=words)]
