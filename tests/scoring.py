"""A record as a set of facts, to hold one against another: every field of every entry counts once."""

import json

STRUCTURE = ("kind", "state", "size_in", "length_ft", "rim_ft", "invert_in_ft", "invert_out_ft", "invert_depth_in")
RUN = ("from", "to", "state", "nominal_in", "pipe", "length_ft", "drop_in", "slope_pct", "cover_in")


def facts(record):
    """Structures, runs and levels as a set of (label, field, value)."""
    found = set()
    for group, fields in (("structures", STRUCTURE), ("runs", RUN)):
        for entry in record.get(group, []):
            found |= {(entry["label"], f, json.dumps(_round(entry[f]))) for f in fields if entry.get(f) is not None}
    for level in record.get("levels", []):
        found.add((level["point"], level["kind"], json.dumps(_round(level["rod_ft"]))))
    return found


def _round(value):
    if isinstance(value, list):
        return [_round(each) for each in value]
    return round(float(value), 3) if isinstance(value, int | float) else value


def f1(said, right):
    """Harmonic mean of how much of what was said is right and how much of what is right was said."""
    return 2 * len(said & right) / (len(said) + len(right))
