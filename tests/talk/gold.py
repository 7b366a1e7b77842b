"""The record that a marked day means, computed from its marks alone by the contract's rules.

It shares no code with the reader, so that the reader's assembly can be tested against it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from talk.markup import OTHERS, Day, MarkupError, Meaning, Span

KINDS = {
    "CD": "channel_drain", "CB": "catch_basin", "AD": "area_drain", "DS": "downspout", "CO": "cleanout",
    "JB": "junction_box", "DW": "dry_well",
}  # fmt: skip
OUTLETS = {"popup_outlet", "daylight_outlet", "curb_outlet"}
STATES = {"planned", "installed", "existing", "abandoned", "removed"}
STRUCTURE_NUMBERS = {"length_ft", "rim_ft", "invert_in_ft", "invert_out_ft", "invert_depth_in"}
RUN_NUMBERS = {"nominal_in", "length_ft", "drop_in", "slope_pct", "cover_in"}
PIPES = {"SDR 35", "Schedule 40", "D2729", "corrugated", "dual-wall"}
SURFACES = {"roof", "patio", "driveway", "walk", "gravel", "lawn"}
TRAFFIC = {"foot", "cart", "car", "truck"}
FITTINGS = set(
    "elbow long_sweep wye tee coupling adapter reducer increaser cap cleanout backwater_valve sleeve".split()
)
ENTRIES = {
    "I": set(
        "roots utility existing_line blockage standing_water reverse_slope rock damage erosion access other".split()
    ),
    "T": {"hose", "flood", "camera", "air"},
    "K": {"buy", "do", "ask", "photo"},
    "D": {"open", "decided"},
}
ACTIONS = set("cleared rerouted capped left repaired replaced reported".split())
AS_BUILT = set("length_ft drop_in slope_pct cover_in rim_ft invert_in_ft invert_out_ft pieces_ft stations_ft".split())
"""Fields whose planned value does not stand for the thing as built."""
SHOWS_BUILT = AS_BUILT | {"invert_depth_in", "fitting"}
LISTS = {"area": "areas", "tie": "ties", "crossing": "crossings"}
NO_FACT = {"hypothetical", "required", "asked", "denied", "hearsay"}
HEAVIEST = ["foot", "cart", "car", "truck"]


@dataclass
class Held:
    """A value as it stands: who said it, and how."""

    value: Any
    flags: frozenset[str]
    note: int


@dataclass
class Thing:
    name: str
    number: int | None = None
    label: str = ""
    state: str | None = None
    kind: str | None = None
    fields: dict[str, Held] = field(default_factory=dict)
    fittings: list[tuple[dict[str, Any], int]] = field(default_factory=list)
    lists: dict[str, list[tuple[dict[str, Any], int]]] = field(default_factory=dict)
    built: bool = False
    gone: bool = False


@dataclass
class Entry:
    name: str
    note: int
    text: str
    fields: dict[str, Any] = field(default_factory=dict)
    gone: bool = False


class Gold:
    """Walks the notes once and keeps what holds."""

    def __init__(self) -> None:
        self.things: dict[str, Thing] = {}
        self.entries: dict[str, Entry] = {}
        self.questions: dict[tuple[str, str | None, str], None] = {}

    def thing(self, name: str, number: int | None = None) -> Thing:
        thing = self.things.get(name)
        if thing is None:
            thing = self.things[name] = Thing(name, kind=KINDS.get(name.split(".")[0]))
        if thing.gone:
            thing.gone = False
        if number:
            thing.number = number
        if not thing.label:
            thing.label = self._free(name.split(".")[0], number)
        return thing

    def _free(self, prefix: str, number: int | None) -> str:
        taken = {thing.label for thing in self.things.values() if thing.label and not thing.gone}
        if number:
            return f"{prefix}-{number}"
        return next(f"{prefix}-{n}" for n in range(1, 1000) if f"{prefix}-{n}" not in taken)

    def settle_labels(self) -> None:
        """A spoken number wins; who stood in its place takes the lowest that is free."""
        live = [thing for thing in self.things.values() if not thing.gone]
        taken = {f"{thing.name.split('.')[0]}-{thing.number}" for thing in live if thing.number}
        for thing in live:
            prefix = thing.name.split(".")[0]
            if thing.number:
                thing.label = f"{prefix}-{thing.number}"
            elif thing.label in taken:
                thing.label = next(f"{prefix}-{n}" for n in range(1, 1000) if f"{prefix}-{n}" not in taken)
                taken.add(thing.label)
            else:
                taken.add(thing.label)


def number(said: str | None) -> float:
    try:
        return round(float(said or ""), 4)
    except ValueError:
        raise MarkupError(f"{said!r} is no number") from None


def read_fitting(said: str) -> dict[str, Any]:
    """As in `2 elbow 45`, `1 coupling 4in`, `1 reducer 4>3`, `1 wye 45 at 12 left`."""
    words = said.split()
    if len(words) < 2 or words[1] not in FITTINGS:
        raise MarkupError(f"no fitting: {said!r}")
    out: dict[str, Any] = {"count": int(number(words[0])), "kind": words[1]}
    rest = iter(words[2:])
    for word in rest:
        if word == "at":
            out["at_ft"] = number(next(rest, None))
        elif word in ("left", "right"):
            out["turn"] = word
        elif ">" in word:
            out["nominal_in"], out["to_nominal_in"] = map(number, word.replace("in", "").split(">"))
        elif word.endswith("in"):
            out["nominal_in"] = number(word[:-2])
        else:
            out["angle_deg"] = number(word)
    return out


def read_crossing(said: str) -> dict[str, Any]:
    found = re.fullmatch(r"(.+?)(?: at ([\d.]+))?(?: depth ([\d.]+))?", said)
    if not found:
        raise MarkupError(f"no crossing: {said!r}")
    out: dict[str, Any] = {"what": found[1]}
    if found[2]:
        out["at_ft"] = number(found[2])
    if found[3]:
        out["depth_in"] = number(found[3])
    return out


def read_tie(said: str) -> dict[str, Any]:
    found = re.fullmatch(r"([\d.]+) from (.+?)(?: side (.+))?", said)
    if not found:
        raise MarkupError(f"no tie: {said!r} (write `18.5 from garage corner`)")
    return {"from": found[2], "distance_ft": number(found[1])} | ({"side": found[3]} if found[3] else {})


def read_value(meaning: Meaning, words: str) -> Any:
    """The value of a field, checked for its kind. Raises MarkupError."""
    name, said, prefix = meaning.field or "", meaning.value, (meaning.thing or "").split(".")[0]
    run = prefix == "R"
    if name in (RUN_NUMBERS if run else STRUCTURE_NUMBERS):
        return number(said)
    if name == "size_in" and not run:
        return [number(part) for part in (said or "").split("x")]
    if name in ("pieces_ft", "stations_ft") and run:
        return [number(part) for part in (said or "").split()]
    if name == "pipe" and run and said in PIPES:
        return said
    if name in ("bedding", "backfill") and run:
        return said or words
    if name == "traffic" and said in TRAFFIC:
        return said
    if name == "kind" and prefix == "OUT" and said in OUTLETS:
        return said
    if name == "state" and said in STATES:
        return said
    if name in ("from", "to") and run:
        return None
    if name == "area" and not run:
        size, _, surface = (said or "").partition(" ")
        if surface and surface not in SURFACES:
            raise MarkupError(f"unknown surface {surface!r}")
        return {"sqft": number(size)} | ({"surface": surface} if surface else {})
    if name == "tie" and not run:
        return read_tie(said or "")
    if name == "crossing" and run:
        return read_crossing(said or "")
    if name == "fitting" and run:
        return read_fitting(said or "")
    raise MarkupError(f"{meaning.thing}.{name}={said}: no such field or value")


def compute(day: Day) -> dict[str, Any]:
    """The record of a day. Raises MarkupError on marks that contradict the guide."""
    gold = Gold()
    for index, note in enumerate(day.notes):
        for span in sorted(note.spans, key=_turn):
            try:
                _take(gold, index, span, note.words(span), day)
            except MarkupError as error:
                raise MarkupError(f"line {note.line}: {error}") from None
    gold.settle_labels()
    return _record(gold)


def _turn(span: Span) -> tuple[bool, int, int]:
    """Entries are begun before they are filled; an order takes effect where its words end."""
    order = any(each.kind == "order" for each in span.meanings)
    begins = any(each.kind == "entry" for each in span.meanings)
    return not begins, span.end if order else span.start, span.depth


def _take(gold: Gold, index: int, span: Span, words: str, day: Day) -> None:
    for meaning in span.meanings:
        if meaning.kind == "mention":
            gold.thing(meaning.thing or "", meaning.number)
        elif meaning.kind == "entry":
            _begin(gold, index, meaning, words)
        elif meaning.kind == "order":
            _order(gold, index, span, meaning, day)
    others = {meaning.thing for meaning in span.meanings if meaning.kind == "mention"}
    for meaning in span.meanings:
        if meaning.kind != "value":
            continue
        if (meaning.thing or "").split(".")[0] in OTHERS:
            _fill(gold, index, meaning, words)
        else:
            _put(gold, index, meaning, words, others - {meaning.thing})


def _begin(gold: Gold, index: int, meaning: Meaning, words: str) -> None:
    """An entry is met for the first time, or again."""
    name = meaning.thing or ""
    prefix = name.split(".")[0]
    entry = gold.entries.get(name)
    if entry is None:
        entry = gold.entries[name] = Entry(name, index, words)
    if prefix == "L":
        point, _, kind = (meaning.value or "").strip().rpartition(" ")
        if kind not in ("backsight", "foresight", "intermediate"):
            point = (meaning.value or "").strip()
            kind = "backsight" if point == "benchmark" else "foresight"
        if point:
            entry.fields.update(point=point, kind=kind)
    elif prefix == "X":
        if meaning.value:
            entry.fields["about"] = meaning.value
    elif meaning.value is not None:
        if meaning.value.strip() not in ENTRIES[prefix]:
            raise MarkupError(f"{name}={meaning.value}: no such kind")
        if prefix == "D":
            entry.fields["state"] = meaning.value.strip()
        else:
            entry.fields.setdefault("kind", meaning.value.strip())
    if prefix == "D" and meaning.value and index != entry.note:
        entry.text = words


def _fill(gold: Gold, index: int, meaning: Meaning, words: str) -> None:
    name, prefix, what = meaning.thing or "", (meaning.thing or "").split(".")[0], meaning.field or ""
    entry = gold.entries.get(name)
    if entry is None:
        raise MarkupError(f"{name} was not begun: mark its words with {name}=... first")
    if meaning.flags & NO_FACT:
        return
    value = (meaning.value or "").strip()
    allowed = {
        "L": {"rod_ft", "elevation_ft", "point", "kind"}, "I": {"at", "action"}, "K": {"count", "item"},
        "T": {"at", "duration_s", "flow_gpm", "result"}, "X": {"about"},
    }.get(prefix, set())  # fmt: skip
    if what not in allowed:
        raise MarkupError(f"{name} has no field {what}")
    if what in ("rod_ft", "elevation_ft", "duration_s", "flow_gpm", "count"):
        if "implausible" in meaning.flags:
            gold.questions[name, what, "implausible"] = None
            return
        old = entry.fields.get(what)
        if old is not None and old != number(value) and not meaning.flags & {"corrects", "again"}:
            gold.questions[name, what, "conflict"] = None
        entry.fields[what] = number(value)
        for why in ("hedged", "implausible"):
            gold.questions.pop((name, what, why), None)
        if "hedged" in meaning.flags:
            gold.questions[name, what, "hedged"] = None
    elif what == "action" and value not in ACTIONS:
        raise MarkupError(f"unknown action {value!r}")
    elif what == "result" and value not in ("pass", "fail", "unclear"):
        raise MarkupError(f"unknown result {value!r}")
    else:
        entry.fields[what] = value or words


def _put(gold: Gold, index: int, meaning: Meaning, words: str, mentioned: set[str | None]) -> None:
    value, what, flags = read_value(meaning, words), meaning.field or "", meaning.flags
    if what in ("from", "to"):
        run = gold.thing(meaning.thing or "")
        end = (meaning.value or "").strip() or next((name for name in mentioned if name), "")
        if not end:
            raise MarkupError(f"{meaning.thing}.{what}: mark the structure on the same words too")
        if not flags & (NO_FACT - {"hearsay"}):
            run.fields[what] = Held(gold.thing(end).name, flags, index)
        return
    thing = gold.thing(meaning.thing or "", meaning.number)
    if flags & NO_FACT and not (flags == {"hearsay"} and what in ("state", "kind")):
        return
    if what == "state":
        if not (value == "planned" and (thing.state not in (None, "planned") or thing.built)):
            thing.state = value
        return
    if what == "kind":
        thing.kind = value
        return
    if "planned" not in flags and what in SHOWS_BUILT and "implausible" not in flags:
        thing.built = True
    if what == "fitting":
        _fit(thing, value, index, flags)
        if "hedged" in flags:
            gold.questions[thing.name, "fittings", "hedged"] = None
        return
    if what in LISTS:
        _list(thing, what, value, index, flags)
        if "hedged" in flags and "planned" not in flags:
            gold.questions[thing.name, LISTS[what], "hedged"] = None
        else:
            gold.questions.pop((thing.name, LISTS[what], "hedged"), None)
        return
    if "implausible" in flags:
        gold.questions[thing.name, what, "implausible"] = None
        thing.fields.pop(what, None)
        return
    old = thing.fields.get(what)
    if old and "planned" in flags and "planned" not in old.flags:
        return
    if what == "traffic" and old and HEAVIEST.index(old.value) > HEAVIEST.index(value) and "corrects" not in flags:
        return
    if what == "cover_in" and old and old.value < value and not flags & {"corrects"} and "planned" not in old.flags:
        return
    _question(gold, thing, what, value, flags, old)
    thing.fields[what] = Held(value, flags, index)


def _question(gold: Gold, thing: Thing, what: str, value: Any, flags: frozenset[str], old: Held | None) -> None:
    """What the new value leaves open, and what it closes."""
    measured = not isinstance(value, str)
    for why in ("conflict", "hedged", "implausible"):
        if "hedged" not in flags:
            gold.questions.pop((thing.name, what, why), None)
    differs = old and old.value != value and not (old.flags | flags) & {"planned", "hedged"}
    if differs and measured and "corrects" not in flags and what not in ("cover_in", "pieces_ft", "stations_ft"):
        gold.questions[thing.name, what, "conflict"] = None
    if "hedged" in flags and measured:
        gold.questions[thing.name, what, "hedged"] = None


def _fit(thing: Thing, fitting: dict[str, Any], index: int, flags: frozenset[str]) -> None:
    def key(one: dict[str, Any]) -> tuple[Any, ...]:
        return one["kind"], one.get("angle_deg"), one.get("nominal_in"), one.get("to_nominal_in")

    if "planned" in flags:
        return
    alike = [row for row in thing.fittings if key(row[0]) == key(fitting)]
    if "corrects" in flags:
        alike = alike or [row for row in thing.fittings if row[0]["kind"] == fitting["kind"]]
        for row in alike[-1:]:
            thing.fittings.remove(row)
    elif "again" in flags and alike:
        alike[-1][0].update(fitting)
        return
    if fitting["count"]:
        thing.fittings.append((fitting, index))


def _totalled(fittings: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The fittings with those alike as one."""
    out: list[dict[str, Any]] = []
    for one in fittings:
        same = next((each for each in out if each | {"count": 0} == one | {"count": 0}), None)
        if same is None:
            out.append(dict(one))
        else:
            same["count"] += one["count"]
    return out


def _list(thing: Thing, what: str, value: dict[str, Any], index: int, flags: frozenset[str]) -> None:
    rows = thing.lists.setdefault(LISTS[what], [])
    same = {"area": "surface", "tie": "from", "crossing": "what"}[what]
    if "planned" in flags:
        return
    if flags & {"again", "corrects"} or what != "area":
        for row, _ in rows:
            if row.get(same) == value.get(same):
                row.update(value)
                return
    rows.append((value, index))


def _order(gold: Gold, index: int, span: Span, meaning: Meaning, day: Day) -> None:
    if meaning.field == "drop":
        for name in (meaning.value or "").split():
            if name in gold.entries:
                gold.entries[name].gone = True
            elif name in gold.things:
                gold.things[name].gone = True
    elif meaning.field == "clear":
        name, _, what = (meaning.value or "").rpartition(".")
        if name in gold.things:
            gold.things[name].fields.pop(what, None)
            if what == "fitting":
                gold.things[name].fittings.clear()
        elif name in gold.entries:
            gold.entries[name].fields.pop(what, None)
        else:
            raise MarkupError(f"@clear={meaning.value}: no such field so far")
    else:
        begun = {name: entry for name, entry in gold.entries.items() if entry.note == index}
        _withdraw(gold, day, index - 1 if meaning.value == "note" else index)
        later = {name: entry for name, entry in begun.items() if day.notes[index].text.find(entry.text) >= span.start}
        gold.entries.update(begun if meaning.value == "note" else later)


def _withdraw(gold: Gold, day: Day, index: int) -> None:
    """All that was put by one note so far drops out, and what stood there before it comes back."""
    if index < 0:
        return
    again = Gold()
    for place, note in enumerate(day.notes[:index]):
        for span in sorted(note.spans, key=_turn):
            _take(again, place, span, note.words(span), day)
    gold.things, gold.entries, gold.questions = again.things, again.entries, again.questions


def _record(gold: Gold) -> dict[str, Any]:
    names = {thing.name: thing.label for thing in gold.things.values() if not thing.gone}
    for entry in gold.entries.values():  # what was levelled or tested stands there
        name = str(entry.fields.get("point") if entry.name.startswith("L.") else entry.fields.get("at")).split(" ")[0]
        seen = "rod_ft" in entry.fields or entry.name.startswith("T.")
        if name in names and seen and not entry.gone:
            gold.things[name].built = True
    _connect(gold)
    record: dict[str, Any] = {group: [] for group in (
        "structures", "runs", "levels", "issues", "tests", "tasks", "decisions", "changes", "questions"
    )}  # fmt: skip
    for thing in gold.things.values():
        if thing.gone:
            continue
        shape = _shape(gold, thing, names)
        record["runs" if thing.name.startswith("R.") else "structures"].append(shape)
    for entry in gold.entries.values():
        if not entry.gone:
            _enter(record, entry, names)
    for name, what, why in gold.questions:
        about = names.get(name) or _entry_subject(gold, name, names)
        if about:
            record["questions"].append({"about": about, "why": why} | ({"field": what} if what else {}))
    return record


def _connect(gold: Gold) -> None:
    """What an installed run was laid from and to is connected as built, so installed where nothing else was said."""
    for run in gold.things.values():
        if run.gone or not run.name.startswith("R.") or not (run.state == "installed" or run.built):
            continue
        for end in (run.fields.get("from"), run.fields.get("to")):
            thing = gold.things.get(end.value) if end and "planned" not in end.flags else None
            if thing and thing.state is None:
                thing.built = True


def _shape(gold: Gold, thing: Thing, names: dict[str, str]) -> dict[str, Any]:
    run = thing.name.startswith("R.")
    state = thing.state
    if thing.built and state in (None, "planned"):
        state = "installed"
    shape: dict[str, Any] = {"label": thing.label} | ({} if run or not thing.kind else {"kind": thing.kind})
    if state:
        shape["state"] = state
    for what, held in thing.fields.items():
        if what in ("from", "to"):
            if held.value in names:
                shape[what] = names[held.value]
        elif not ("planned" in held.flags and what in AS_BUILT and state not in (None, "planned")):
            shape[what] = held.value
    if thing.fittings:
        shape["fittings"] = _totalled([fitting for fitting, _ in thing.fittings])
    for what, rows in thing.lists.items():
        if rows:
            shape[what] = [row for row, _ in rows]
    if not state:
        gold.questions[thing.name, "state", "missing"] = None
    asked = {what for name, what, _ in gold.questions if name == thing.name}
    stations = shape.get("stations_ft") or []
    if run and state == "installed" and "length_ft" not in shape and len(stations) < 2 and "length_ft" not in asked:
        gold.questions[thing.name, "length_ft", "missing"] = None
    return shape


def _point(said: str, names: dict[str, str]) -> str:
    name, _, side = said.partition(" ")
    return f"{names[name]} {side}".strip() if name in names else said


def _entry_subject(gold: Gold, name: str, names: dict[str, str]) -> str | None:
    entry = gold.entries.get(name)
    if entry is None or entry.gone:
        return None
    return _point(str(entry.fields.get("point") or entry.fields.get("at") or "job"), names)


def _enter(record: dict[str, Any], entry: Entry, names: dict[str, str]) -> None:
    prefix, fields = entry.name.split(".")[0], dict(entry.fields)
    if prefix == "L":
        point = _point(str(fields.pop("point", "")), names)
        record["levels"].append({"point": point, **fields})
        label, _, side = point.partition(" ")
        for shape in record["structures"]:
            if shape["label"] == label and side and "elevation_ft" in fields:
                shape.setdefault(f"{side}_ft", fields["elevation_ft"])
        return
    for what in ("at", "about"):
        if what in fields:
            fields[what] = names.get(str(fields[what]), fields[what])
    group = {"I": "issues", "T": "tests", "K": "tasks", "D": "decisions", "X": "changes"}[prefix]
    record[group].append(fields | ({} if prefix == "T" else {"text": entry.text}))
