"""A `Wording` in a crew's Spanish. Words: answering_es.toml, ask_es.toml, reports/words_es.toml.

Free words of a note stand as they were said, in quotes.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Sequence
from contextlib import suppress
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from extract.crossing_names import UNNAMED
from extract.record import Area, Crossing, Fitting, Question, Record, Tie
from logger.clean import clean
from logger.wording import table
from reports.words import fall_per_foot, feet_and_inches, form, known, number, plain, sentence, sixteenths

if TYPE_CHECKING:
    from extract.check.evidence import Lack

LABELLED = ("from", "to", "at", "point")
IN_WORDS = ("state", "traffic", "action")
FOR_CLIENTS_TOO = {"kind": "structure", "pipe": "pipe", "result": "result"}
"""Fields whose words a client reads as well, by their group in reports/words_es.toml."""
AS_SAID = ("bedding", "backfill", "text")
MANY: dict[str, type[Fitting | Area]] = {"fittings": Fitting, "areas": Area}
"""Fields whose choices are entries, as dicts."""


@cache
def asking() -> dict[str, Any]:
    """What logger/ask_es.toml holds."""
    return tomllib.loads(resources.files("logger").joinpath("ask_es.toml").read_text(encoding="utf-8"))


def words(group: str, key: str) -> str:
    """Fixed words: `words("check", "slope")`."""
    return str(table("es")[group][key]) if group in table("es") else plain(group, key, "es")


# -- names


def thing(about: str) -> str:
    """`R-2` as `el tramo 2`, `CB-1 invert_out` as `la salida del registro 1`; what is unknown as it stands."""
    label, _, side = about.partition(" ")
    prefix, _, count = label.rpartition("-")
    things = asking()["things"]
    form = things.get(prefix) or things.get(label)
    if form is None:
        return about
    named = form.format(side if label in ("photo", "note") else count)
    return contracted(asking()["sides"].get(side, "{}").format(named))


def title(label: str) -> str:
    """`Tramo 2`."""
    named = thing(label)
    return sentence(named if named == label else named.partition(" ")[2])


def of(label: str) -> str:
    """`del tramo 2`, `de la salida 1`."""
    return contracted(f" de {thing(label)}").strip()


def field(name: str, how: str = "bare") -> str:
    """A field as it stands beside its value (`bare`), as a thing's own (`its`), or as one speaks of it (`the`)."""
    return str(table("es")["field"].get(name, {}).get(how, name.replace("_", " ")))


def contracted(text: str) -> str:
    """`de el` is `del`, `a el` is `al`."""
    return text.replace(" de el ", " del ").replace(" a el ", " al ")


# -- values


def value(name: str, amount: Any) -> str:
    """A field's value, or a choice of a question about it: `34 pies 8 pulg`, `2 codos de 45°`, `el registro 1`."""
    if isinstance(amount, list):
        rows = [_row(name, each) if isinstance(each, dict) else each for each in amount]
        return clean((" × " if name == "size_in" else ", ").join(value(name, each) for each in rows))
    if isinstance(amount, Fitting):
        return _fitting(amount)
    if isinstance(amount, Area):
        return _says("area", number(amount.sqft), words("surface", amount.surface or "unsaid"))
    if isinstance(amount, Tie):
        point = ", ".join(_says("quoted", each) for each in (amount.from_, amount.side) if each)
        return _says("tie", _feet(number(amount.distance_ft)), point)
    if isinstance(amount, Crossing):
        return _crossing(amount)
    if isinstance(amount, int | float) and not isinstance(amount, bool):
        return _figure(name, amount) if known(amount) else words("value", "none")
    return clean(_word(name, str(amount)))


def _row(name: str, row: dict[str, Any]) -> Any:
    with suppress(KeyError, ValidationError):  # kept by an earlier version, which allowed it
        return MANY[name].model_validate(row)
    return " ".join(str(each) for each in row.values() if each is not None)


def _word(name: str, word: str) -> str:
    if name in LABELLED:
        return thing(word)
    if name in AS_SAID:
        return _says("quoted", word)
    if name in FOR_CLIENTS_TOO:
        return plain(FOR_CLIENTS_TOO[name], word, "es")
    return str(table("es")[name].get(word, word)) if name in IN_WORDS else word


def _figure(name: str, amount: float) -> str:
    """A figure in the unit at the end of its field's name, as `reports.words.value` writes it."""
    if name in ("length_ft", "pieces_ft", "stations_ft"):
        return _length(amount)
    if name == "areas":
        return _says("square_feet", number(amount))
    if name == "slope_pct":
        percent, inches = f"{amount:.2f}%", fall_per_foot(amount)
        return _says("per_foot", percent, inches) if inches else percent
    if name == "duration_s":
        return _says("minutes", number(amount / 60))
    if name == "flow_gpm":
        return _says("flow", number(amount))
    unit = name.rpartition("_")[2]
    return _feet(f"{amount:,.2f}") if unit == "ft" else _inches(amount) if unit == "in" else number(amount, 4)


def _length(amount: float) -> str:
    parts = feet_and_inches(amount)
    if parts is None:
        return _feet(number(amount))
    feet, over = parts
    told = [*([_feet(number(feet))] if feet or not over else []), *([_inches(over)] if over else [])]
    return " ".join(told)


def _feet(figure: str) -> str:
    return _says("foot" if figure == "1" else "feet", figure)


def _inches(amount: float) -> str:
    return _says("inches", sixteenths(amount) or number(amount))


def _fitting(item: Fitting) -> str:
    """`2 codos de 45° (4 pulg) a 12 pies, a la izquierda`."""
    told = f"{item.count} {table('es')['fitting'][item.kind][item.count != 1]}"
    if item.angle_deg is not None:
        told = _says("angle", told, number(item.angle_deg))
    sizes = [_inches(each) for each in (item.nominal_in, item.to_nominal_in) if each is not None]
    if sizes:
        told += f" ({_says('to', *sizes) if len(sizes) > 1 else sizes[0]})"
    if item.at_ft is not None:
        told = _says("at", told, _length(item.at_ft))
    return f"{told}, {words('turn', item.turn)}" if item.turn else told


def _crossing(item: Crossing) -> str:
    told = form("crossing_unnamed", "es") if item.what == UNNAMED else _says("quoted", item.what)
    if item.at_ft is not None:
        told = _says("at", told, _feet(number(item.at_ft)))
    return told if item.depth_in is None else _says("deep", told, _inches(item.depth_in))


def _says(form: str, *values: str) -> str:
    return words("value", form).format(*values)


def joined(parts: Iterable[str], how: str = "and") -> str:
    """`a, b y c`, or with another word between the last two."""
    *head, last = parts
    return _says(how, ", ".join(head), last) if head else last


# -- what is missing, and what is asked


def lack(lacks: Lack) -> str:
    """`una foto con la zanja abierta`, `el fondo del tubo en el registro 1`."""
    of_, at = (_each(word, lacks.of) for word in ("de", "en"))
    photos = joined(map(str, lacks.photos or [""]))
    return words("lack", lacks.what).format(of=of_, at=at, photos=photos)


def _each(word: str, labels: Sequence[str]) -> str:
    """` del registro 1 y del registro 2`; empty where none is named."""
    return contracted(f" {joined(f'{word} {thing(label)}' for label in labels)}") if labels else ""


def asked(question: Question, run: str) -> str:
    """What is asked, as one would say it of that run: `su largo (12 pies o 15 pies)`, `el fondo de salida del
    registro 1`."""
    label = question.about.split(" ")[0]
    name = "said" if question.field in (None, "text") else str(question.field)
    told = field(name, "its") if label == run else f"{field(name, 'the')} {of(label)}"
    choices = [value(name, each) for each in question.choices or [] if each is not None]
    return f"{told} ({joined(choices, 'or')})" if choices else told


def question(record: Record, asked: Question) -> str:
    """A question with what there is to choose from: `¿Cuánto mide de largo el tramo 2? ¿34 pies o 43 pies?`"""
    from logger.ask import choices_of, target

    name = target(record, asked)[1]
    choices = [value(name or "", each) for each in choices_of(record, asked, name)]
    text = question_text(asked.about, name)
    return f"{text} {_says('choice', joined(choices, 'or'))}" if len(choices) > 1 else text


def question_text(about: str, name: str | None) -> str:
    """The same without choices; `name` is the field that is asked about."""
    forms = asking()["question"]
    form = forms.get(about if about in ("levels", "tests", "job") else name or "unplaced", forms["other"])
    text = contracted(form.format(thing=clean(thing(about)), field=field(name or "")))
    return text[:1] + text[1:2].upper() + text[2:]
