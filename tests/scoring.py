"""A record as a set of facts, to hold one against another: each field counts once; tasks and decisions are left out."""

import json
from collections import Counter

STRUCTURE = ("kind", "state", "size_in", "length_ft", "rim_ft", "invert_in_ft", "invert_out_ft", "invert_depth_in")
RUN = ("from", "to", "state", "nominal_in", "pipe", "length_ft", "drop_in", "slope_pct", "cover_in")


def facts(record):
    """Structures, runs with their fittings, levels, issues and tests as a set of (label, field, value)."""
    found = set()
    for group, fields in (("structures", STRUCTURE), ("runs", RUN)):
        for entry in record.get(group, []):
            found |= {(entry["label"], f, json.dumps(_round(entry[f]))) for f in fields if entry.get(f) is not None}
    for level in record.get("levels", []):
        found.add((level["point"], level["kind"], json.dumps(_round(level.get("rod_ft")))))
        if level.get("elevation_ft") is not None:
            found.add((level["point"], "elevation_ft", json.dumps(_round(level["elevation_ft"]))))
    for run in record.get("runs", []):
        for fitting in run.get("fittings", []):
            size = [_round(fitting.get(name)) for name in ("angle_deg", "nominal_in", "to_nominal_in")]
            found.add((run["label"], f"fitting {fitting['kind']} {size}", json.dumps(_round(fitting.get("count", 1)))))
    return found | _happened(record)


def _happened(record):
    """Issues and tests, each once for being there and once a field; the second of a kind at a place is another."""
    found = set()
    for group, fields in (("issues", ("action",)), ("tests", ("duration_s", "flow_gpm", "result"))):
        seen = Counter()
        for entry in record.get(group, []):
            key = f"{entry.get('at')} {group} {entry['kind']}"
            seen[key] += 1
            label = f"{key} {seen[key]}"
            found.add((label, "entry", "true"))
            found |= {(label, f, json.dumps(_round(entry[f]))) for f in fields if entry.get(f) is not None}
    return found


def _round(value):
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, list):
        return [_round(each) for each in value]
    return round(float(value), 3) if isinstance(value, int | float) else value


def numbers(found):
    """Those of a set of facts whose value is a number, or a list of numbers."""
    return {fact for fact in found if fact[2][:1] in "-0123456789["}


def silent(record, right):
    """The numbers of a record that are wrong, or that nobody said, and that it asks nothing about."""
    asked = {(question["about"], question.get("field")) for question in record.get("questions", [])}
    wrong = numbers(facts(record)) - numbers(facts(right))
    return {fact for fact in wrong if not asked & asks_about(fact[0], fact[1])}


def asks_about(about, name):
    """The questions that are about a fact; a reading is asked for as a rod, its elevation as its structure's own.

    A test's or an issue's stands under the place that it is at.
    """
    label, _, side = about.partition(" ")
    ways = {(about, name), (about, None), (label, name), (label, None), (label, name.split(" ")[0] + "s")}
    if name in ("backsight", "foresight", "intermediate"):
        ways |= {(about, "rod_ft"), (label, "rod_ft")}
    if name == "elevation_ft":
        ways.add((label, f"{side}_ft") if side else (label, "rod_ft"))
    return ways


def f1(said, right):
    """Harmonic mean of how much of what was said is right and how much of what is right was said."""
    return 2 * len(said & right) / (len(said) + len(right))
