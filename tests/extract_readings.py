"""Readings made by hand, and the record that they come to."""

from itertools import count

from extract.read.assembly import Assembly, taken_back
from extract.read.readings import Reading
from extract.read.words import quantities_of
from extract.record import Note


def say(text, *marks):
    """A note with its readings. A mark: the words, what they are, and what else the reading holds; where the words are
    a quantity of the note its reading has it."""
    quantities = {(start, end): quantity for start, end, quantity in quantities_of(text)}
    out = []
    for words, what, *rest in marks:
        more = dict(rest[0]) if rest else {}
        start = text.index(words)
        more["standing"] = frozenset(more.get("standing", "").split())
        role = what not in ("task", "issue", "test", "tie", "crossing", "order", "mention")
        quantity = quantities.get((start, start + len(words))) if role or more.pop("number_of", False) else None
        out.append(Reading(0, start, start + len(words), what, quantity=quantity, **more))
    return text, out


def record(*notes):
    """The record of notes made by `say`."""
    for index, (_, readings) in zip(count(), notes, strict=False):
        for one in readings:
            one.note = index
    assembly = Assembly(withdrawn=taken_back([readings for _, readings in notes]))
    for text, readings in notes:
        assembly.take(Note(text=text), readings)
    return assembly.record()


def asked(record):
    return {(each.about, each.field, each.why) for each in record.questions}


BASIN = ("the basin", "mention", {"name": "CB", "thing": "CB.1"})
ROD = {"thing": "CB.1", "side": "rim", "sight": "foresight"}
HOSE = ("ran the hose", "test", {"name": "hose", "thing": "T.1", "at": "R.1"})
PIPE = ("the pipe", "mention", {"name": "R", "thing": "R.1"})
