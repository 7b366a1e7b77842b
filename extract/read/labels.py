"""What the learned reader can say of words: types of spans, their classes, roles of quantities, standings, relations.

The order of each list is the order of the model's outputs: a change here needs a new training.
"""

from __future__ import annotations

PREFIXES = ("CD", "CB", "AD", "DS", "CO", "JB", "DW", "OUT", "R")
"""Of things: structures and runs."""
ENTRIES = ("I", "T", "D")
"""Of entries that are met again later: issues, tests, decisions."""

CLASSES: dict[str, tuple[str, ...]] = {
    "mention": PREFIXES,
    "state": ("planned", "installed", "existing", "abandoned", "removed"),
    "pipe": ("SDR 35", "Schedule 40", "D2729", "corrugated", "dual-wall"),
    "kind": ("popup_outlet", "daylight_outlet", "curb_outlet"),
    "traffic": ("foot", "cart", "car", "truck"),
    "bedding": (),
    "backfill": (),
    "fitting": (
        "elbow", "long_sweep", "wye", "tee", "coupling", "adapter", "reducer", "increaser", "cap", "cleanout",
        "backwater_valve", "sleeve",
    ),
    "same": (),
    "tie": (),
    "crossing": (),
    "issue": (
        "roots", "utility", "existing_line", "blockage", "standing_water", "reverse_slope", "rock", "damage", "erosion",
        "access", "other",
    ),
    "action": ("cleared", "rerouted", "capped", "left", "repaired", "replaced", "reported"),
    "test": ("hose", "flood", "camera", "air"),
    "result": ("pass", "fail", "unclear"),
    "task": ("buy", "do", "ask", "photo"),
    "item": (),
    "decision": ("open", "decided"),
    "change": (),
    "order": ("drop", "clear", "withdraw_note", "withdraw_said"),
}  # fmt: skip
"""Each type of span that is tagged in the words, and the classes of such a span."""
TYPES = tuple(CLASSES)

ROLES = (
    "none", "length_ft", "nominal_in", "drop_in", "slope_pct", "cover_in", "size_in", "rim_ft", "invert_in_ft",
    "invert_out_ft", "invert_depth_in", "area", "tie", "crossing", "pieces_ft", "stations_ft", "rod_ft", "elevation_ft",
    "duration_s", "flow_gpm", "count", "fitting", "text", "name", "money", "clock", "people", "weather", "sport",
    "tool", "name_of", "other",
)  # fmt: skip
"""What a quantity can be. `none`: part of another span, such as a pipe's name; `name_of`: an irrelevant name."""
SIDES = ("benchmark", "rim", "invert_in", "invert_out")
"""Of a structure, or the benchmark: where the rod stood."""
SIGHTS = ("backsight", "foresight", "intermediate")
STANDINGS = (
    "planned",
    "hedged",
    "hearsay",
    "hypothetical",
    "required",
    "asked",
    "denied",
    "corrects",
    "again",
    "implausible",
    "numbered",
)
"""Of spans and quantities; `numbered` of a mention whose words bear the thing's number."""
NO_FACT = {"hearsay", "hypothetical", "required", "asked", "denied"}
"""Standings of what is no fact, not even a plan."""
RELATIONS = ("main", "at", "from_of", "to_of")
"""main: the thing or entry that a span speaks of; at: where an issue, test or change is; from_of and to_of: the run
that a structure named is the upper or lower end of."""
OF_RUN = {"nominal_in", "drop_in", "slope_pct", "cover_in", "pieces_ft", "stations_ft", "crossing", "fitting"}
OF_STRUCTURE = {
    "size_in",
    "rim_ft",
    "invert_in_ft",
    "invert_out_ft",
    "invert_depth_in",
    "area",
    "tie",
    "rod_ft",
    "elevation_ft",
}
OF_THINGS = OF_RUN | OF_STRUCTURE | {"length_ft"}
MEASURED = OF_THINGS - {"crossing", "fitting", "area", "tie", "rod_ft", "elevation_ft"}
"""Fields of things that hold one measure."""
SPAN_OF_RUN = {"pipe", "bedding", "backfill", "fitting", "same", "crossing"}


def possible(what: str, name: str, prefix: str) -> bool:
    """Whether a span of type or role `what` (with class `name`) can speak of a thing or entry of that prefix."""
    if what == "mention":  # a basin today may be called a box tomorrow, and "the shed one" may be a run
        return prefix not in ENTRIES
    if what == "same":
        return prefix in ("R", "CB", "AD", "JB", "DW")
    if what in OF_RUN or what in SPAN_OF_RUN:
        return prefix == "R"
    if what in OF_STRUCTURE or what == "tie":
        return prefix not in ("R", *ENTRIES)
    if what == "kind":
        return prefix == "OUT"
    if what == "length_ft":
        return prefix in ("R", "CD")
    if what in ("issue", "action"):
        return prefix == "I"
    if what in ("test", "result", "duration_s", "flow_gpm"):
        return prefix == "T"
    if what == "decision":
        return prefix == "D"
    return prefix not in ENTRIES
