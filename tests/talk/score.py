"""How a record is held against the true one: facts and numbers paired by what they are, and what went wrong unasked.

facts: each field of each entry; numbers: the numeric ones; silent: a numeric value that is wrong, or that nobody said,
with no question about that field; lost: one that was said and stands nowhere, with no question. Structures and runs are
paired by what they are before they are compared, so that one invented thing costs itself and not every label after it.
"""

import json
import re
from collections import Counter

NUMERIC = {
    "size_in",
    "length_ft",
    "rim_ft",
    "invert_in_ft",
    "invert_out_ft",
    "invert_depth_in",
    "nominal_in",
    "drop_in",
    "slope_pct",
    "cover_in",
    "rod_ft",
    "elevation_ft",
    "duration_s",
    "flow_gpm",
    "fitting",
}
STRUCTURE = ["kind", "state", "size_in", "length_ft", "rim_ft", "invert_in_ft", "invert_out_ft", "invert_depth_in"]
RUN = ["from", "to", "state", "nominal_in", "pipe", "length_ft", "drop_in", "slope_pct", "cover_in"]


def canon(v):
    if isinstance(v, bool) or v is None:
        return v
    if isinstance(v, (int, float)):
        return round(float(v), 2)
    if isinstance(v, (list, tuple)):
        return tuple(canon(x) for x in v)
    return str(v).strip().lower()


def fitting_facts(key, fittings):
    c = Counter()
    for f in fittings or []:
        c[(f.get("kind"), canon(f.get("angle_deg")), canon(f.get("nominal_in")), canon(f.get("to_nominal_in")))] += (
            f.get("count") or 1
        )
    return {(*key, "fitting", k): canon(n) for k, n in c.items()}


def entry_facts(group, key, entry, fields):
    return {(group, key, f): canon(entry[f]) for f in fields if entry.get(f) is not None}


def prefix(label):
    return str(label).split("-")[0]


def pair(gold, pred, fields):
    """{pred label: gold label}: of one prefix, the pairs with most equal facts first (an equal label breaks ties)."""
    rank = []
    for i, p in enumerate(pred):
        for j, g in enumerate(gold):
            if prefix(p.get("label")) == prefix(g.get("label")):
                same = sum(p.get(f) is not None and canon(p.get(f)) == canon(g.get(f)) for f in fields if f != "kind")
                rank.append((-(same + 0.5 * (p.get("label") == g.get("label"))), i, j))
    out, left, used = {}, set(range(len(gold))), set()
    for _, i, j in sorted(rank):
        if i not in used and j in left:
            out[pred[i]["label"]] = gold[j]["label"]
            used.add(i)
            left.discard(j)
    return out


def relabel(record, names):
    """The record with its labels put into the gold record's; what has no partner is `extra LABEL`."""

    def new(v):
        return names.get(v, f"extra {v}" if re.fullmatch(r"[A-Z]+-\d+", str(v)) else v)

    def point(v):
        return " ".join([new(str(v).split(" ")[0]), *str(v).split(" ")[1:]])

    record = json.loads(json.dumps(record))
    for group in ("structures", "runs"):
        for e in record.get(group) or []:
            e["label"] = new(e.get("label"))
            for f in ("from", "to"):
                if e.get(f):
                    e[f] = new(e[f])
    for group, f in (("issues", "at"), ("tests", "at"), ("levels", "point"), ("questions", "about")):
        for e in record.get(group) or []:
            if e.get(f):
                e[f] = point(e[f])
    return record


def flatten(record):
    facts = {}
    for s in record.get("structures") or []:
        facts.update(entry_facts("structure", s.get("label"), s, STRUCTURE))
    for r in record.get("runs") or []:
        facts.update(entry_facts("run", r.get("label"), r, RUN))
        facts.update(fitting_facts(("run", r.get("label")), r.get("fittings")))
    for level in record.get("levels") or []:
        facts.update(
            entry_facts(
                "level", (canon(level.get("point")), canon(level.get("kind"))), level, ["rod_ft", "elevation_ft"]
            )
        )
    for group, fields in (("issues", ["action"]), ("tests", ["duration_s", "flow_gpm", "result"])):
        seen = Counter()
        for e in sorted(
            record.get(group) or [], key=lambda e: json.dumps([e.get(f) for f in ("kind", "at", *fields)], default=str)
        ):
            key = (canon(e.get("kind")), canon(e.get("at")))
            seen[key] += 1
            facts[(group, (*key, seen[key]), "entry")] = True
            facts.update(entry_facts(group, (*key, seen[key]), e, fields))
    return facts


def worded(gold, pred, fields):
    """Tasks and decisions: a gold entry is met by one of the same kind or state that bears its `match` word."""
    hit, left = 0, list(pred)
    for g in gold:
        for p in left:
            if all(canon(p.get(f)) == canon(g.get(f)) for f in fields) and g["match"].lower() in json.dumps(p).lower():
                left.remove(p)
                hit += 1
                break
    return hit, len(left)


def partners(gold, pred):
    """{pred label: gold label} of all structures and runs that have a partner."""
    names = pair(gold.get("structures") or [], pred.get("structures") or [], STRUCTURE)
    half = relabel(
        {"runs": pred.get("runs") or []}, {**names, **{r.get("label"): r.get("label") for r in pred.get("runs") or []}}
    )
    names.update(pair(gold.get("runs") or [], half["runs"], [*RUN, "from", "to"]))
    return names


def score(gold, pred):
    names = partners(gold, pred)
    pred = relabel(pred, names)
    g, p = flatten(gold), flatten(pred)
    asked = {(q.get("about"), q.get("field")) for q in pred.get("questions") or []}
    hedged = {(q.get("about"), q.get("field")) for q in pred.get("questions") or [] if q.get("why") == "hedged"}
    same = {
        "rod_ft": "elevation_ft",
        "invert_out_ft": "elevation_ft",
        "invert_in_ft": "elevation_ft",
        "rim_ft": "elevation_ft",
    }

    def is_asked(k):
        about = k[1][1] if k[0] in ("issues", "tests") else k[1][0] if k[0] == "level" else k[1]
        field = "fittings" if k[2] == "fitting" else k[2]
        return any(
            str(a).lower() in (str(about).lower(), str(about).lower().split(" ")[0]) and field in (f, same.get(f))
            for a, f in asked
        )

    tp = [k for k in p if g.get(k) == p[k]]

    def num(ks):
        return [k for k in ks if k[2] in NUMERIC]

    silent = [k for k in num(p) if g.get(k) != p[k] and not is_asked(k)]
    lost = [k for k in num(g) if k not in p and not is_asked(k)]
    th, tx = worded(gold.get("tasks") or [], pred.get("tasks") or [], ["kind"])
    dh, dx = worded(gold.get("decisions") or [], pred.get("decisions") or [], ["state"])
    need = {(q["about"], q.get("field")) for q in gold.get("questions") or []}
    got = {q for q in need if q in asked}
    return {
        "tp": len(tp) + th + dh,
        "gold": len(g) + len(gold.get("tasks") or []) + len(gold.get("decisions") or []),
        "pred": len(p) + th + tx + dh + dx,
        "num_tp": len(num(tp)),
        "num_gold": len(num(g)),
        "num_pred": len(num(p)),
        "silent": len(silent),
        "lost": len(lost),
        "need": len(need),
        "met": len(got),
        "extra_asked": max(0, len(asked - hedged) - len(got - hedged)),
        "hedged": len(hedged),
        "missed": sorted(f"{k} = {g[k]} (got {p.get(k)})" for k in g if p.get(k) != g[k]),
        "wrong": sorted(f"{k} = {p[k]}" for k in p if k not in g),
        "lost_list": sorted(f"{k} = {g[k]}" for k in lost),
        "silent_list": sorted(f"{k} = {p[k]} (gold {g.get(k)})" for k in silent),
    }
