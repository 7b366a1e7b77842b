"""What lies on a site before the first note of a visit: taken from the record of the job before, and told to the reader
and to the assembly, so that "run two" said on the visit is the old R-2."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, TypeVar

from extract.check.saying import name as in_words
from extract.read.scene import Scene
from extract.read.things import Held, Thing
from extract.record import BENCHMARK, Acceptance, Evidence, Record, Run, State, Structure

Some = TypeVar("Some", Structure, Run)
LIES: dict[str, State] = {"installed": "existing", "existing": "existing", "abandoned": "abandoned"}
"""The states of what lies there, each with the state that it has for the visit."""
HEIGHTS = ("rim_ft", "invert_in_ft", "invert_out_ft")
NOT_FIELDS = {"label", "kind", "state", "evidence"}
LISTS = ("fittings", "areas", "ties", "crossings")
"""What a thing holds of several entries each."""
LONG_AGO = -100
"""The INDEX of the note that these things were last spoken of in, for the reader: so long ago that what is said of
nothing by name is not taken to be of them."""
SURE_OF_KIND = 1e6
"""More than all mentions of a visit together: by whatever name a thing is called then, its kind and label stand."""


def lying_there(record: Record, words: str = "", note: int = 0) -> Record:
    """What of a job's record lies there for a visit after it: its structures and runs that are installed, existing or
    abandoned, the first two as existing, and what the firm accepted of them. Nothing else comes over: what was
    planned, removed or of no known state, rod readings, issues, tests and tasks stay that job's own, and so does a
    field that is asked about.

    `note` is the INDEX of the visit's note that bears witness to all of it, in those `words`.
    """
    doubted = {_field_asked(each.about, each.field) for each in record.questions}
    datum = {BENCHMARK, *(level.point for level in record.levels if level.kind == "backsight")}
    if any(each.about in datum for each in record.questions):  # every height rests on it
        doubted |= {(each.label, field) for each in record.structures for field in HEIGHTS}
    witness = Evidence(note=note, quote=words, confidence=1)
    found = Record(
        structures=[_brought(each, doubted, witness) for each in record.structures if each.state in LIES],
        runs=[_brought(each, doubted, witness) for each in record.runs if each.state in LIES],
    )
    there = {each.label for each in found.structures}
    for run in found.runs:
        run.from_, run.to = (end if end in there else None for end in (run.from_, run.to))
    there |= {run.label for run in found.runs}
    found.acceptances = [_moved(each, note) for each in record.acceptances if each.about.split(" ")[0] in there]
    return found


def _moved(given: Acceptance, note: int) -> Acceptance:
    """The same, which still quotes the finding that it was given for."""
    evidence = [each.model_copy(update={"note": note}) for each in given.evidence]
    return given.model_copy(update={"evidence": evidence})


def _brought(entry: Some, doubted: set[tuple[str, str | None]], witness: Evidence) -> Some:
    """The entry without the fields in doubt, each other with the witness."""
    asked = {field for label, field in doubted if label == entry.label}
    left: set[str] = set(_held(entry)) if None in asked else {field for field in asked if field}
    new: Some = type(entry).model_validate(entry.model_dump(exclude={*left, "evidence"}))
    new.state = LIES[str(entry.state)]
    told = [None, "state", *(name.rstrip("_") for name in _held(new))]
    new.evidence = [witness.model_copy(update={"field": each}) for each in told]
    return new


def _field_asked(about: str, field: str | None) -> tuple[str, str | None]:
    """The thing and the field that a question is about; one about a rod reading at a rim leaves the rim in doubt."""
    label, _, side = about.partition(" ")
    return label, f"{side}_ft" if side else "from_" if field == "from" else field


def _held(entry: Structure | Run) -> list[str]:
    """The fields that hold something."""
    names = (name for name in type(entry).model_fields if name not in NOT_FIELDS)
    return [name for name in names if getattr(entry, name) not in (None, [])]


def things_of(known: Record) -> dict[str, Thing]:
    """The same as the assembly has things, by name."""
    return {_name(entry): _thing(entry) for entry in _entries(known)}


def _thing(entry: Structure | Run) -> Thing:
    prefix, _, number = entry.label.rpartition("-")
    thing = Thing(_name(entry), getattr(entry, "kind", None), entry.label, int(number), entry.state)
    thing.votes = {prefix: SURE_OF_KIND}
    thing.evidence = list(entry.evidence)
    for field in _held(entry):
        value = getattr(entry, field)
        if field in LISTS:
            setattr(thing, field, list(value))
            continue
        witness = next(each for each in entry.evidence if each.field == field.rstrip("_"))
        end = field in ("from_", "to")
        thing.fields[field.rstrip("_")] = Held(_name_of(value) if end else value, frozenset(), witness)
    return thing


def scene_of(known: Record) -> Scene:
    """The same as the reader has what exists so far."""
    scene = Scene()
    scene.note = LONG_AGO
    for place, entry in enumerate(_entries(known)):
        name, number = _name(entry), int(entry.label.rpartition("-")[2])
        scene.meet(name, place, 0, 0, in_words(entry.label), number)
        scene.trust(name, 1.0)
        scene.stand(name, str(entry.state))
        for what, sort, value in _told(entry):
            scene.hold(name, what, sort, value)
    for run in known.runs:
        for end in filter(None, (run.from_, run.to)):
            scene.end(_name_of(end), _name(run))
    return scene


def _told(entry: Structure | Run) -> Iterator[tuple[str, str, Any]]:
    """Each single value of a thing as the reader tells it: what it is, of which sort, and the value."""
    for field in _held(entry):
        value = getattr(entry, field)
        if isinstance(value, int | float) or field == "pipe":
            yield field, "", value
    for fitting in entry.fittings if isinstance(entry, Run) else ():
        yield "fitting", fitting.kind, fitting.kind
        yield "fitting", fitting.kind, fitting.count


def _entries(known: Record) -> list[Structure | Run]:
    return [*known.structures, *known.runs]


def _name(entry: Structure | Run) -> str:
    return _name_of(entry.label)


def _name_of(label: str) -> str:
    """`R.2`: no name that the reader gives a new thing, which ends in six figures and letters."""
    return label.replace("-", ".")
