"""Which field a measure that found no place is most likely of, so that the question about it names one."""

from __future__ import annotations

from collections.abc import Iterable

from extract.statements import Sentence
from extract.text.quantities import Quantity

OF_CUE = {
    "R": {"cover": "cover_in", "drop": "drop_in", "slope": "slope_pct", "length": "length_ft"},
    "CD": {"length": "length_ft", "width": "size_in", "rim": "rim_ft", "invert": "invert_out_ft"},
    "": {
        "rim": "rim_ft",
        "invert": "invert_out_ft",
        "invert_in": "invert_in_ft",
        "invert_out": "invert_out_ft",
        "width": "size_in",
    },
}
"""By the kind of thing and the word that was said with the measure."""
OF_UNIT = {
    "R": {"ft": "length_ft", "pct": "slope_pct", "angle": "fittings", "deg": "fittings"},
    "CD": {"ft": "length_ft", "in": "size_in"},
    "DS": {"sqft": "areas"},
    "": {"in": "size_in", "size": "size_in", "sqft": "areas"},
}
"""By its unit, where no such word was said."""
UNITS = {"cover_in": "in ft", "drop_in": "in ft", "slope_pct": "pct", "length_ft": "ft in m", "size_in": "in size"}


def field_meant(label: str, quantity: Quantity, sentence: Sentence) -> str | None:
    """The field of the thing of that label, or None where nothing tells it."""
    kind = label.rsplit("-", 1)[0]
    if quantity.attributive and quantity.unit == "in":
        return "nominal_in" if kind == "R" else OF_UNIT.get(kind, OF_UNIT[""]).get("in")
    cues = OF_CUE.get(kind, OF_CUE[""])
    terms = [term for term in sentence.find("attribute") if term.value in cues]
    terms.sort(key=lambda term: max(term.start - quantity.end, quantity.start - term.end))
    said = [cues[term.value] for term in terms]
    fitting = [name for name in said if quantity.unit is None or quantity.unit in UNITS.get(name, "ft in").split()]
    if fitting:
        depth = fitting[0].startswith("invert") and quantity.unit == "in"
        return "invert_depth_in" if depth else fitting[0]
    return OF_UNIT.get(kind, OF_UNIT[""]).get(quantity.unit or "")


def thing_meant(labels: Iterable[str], quantity: Quantity, sentence: Sentence) -> tuple[str, str] | None:
    """The first of those things that has a field for such a measure, with that field."""
    pairs = ((label, field_meant(label, quantity, sentence)) for label in labels)
    return next(((label, name) for label, name in pairs if name), None)
