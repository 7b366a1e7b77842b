"""Talk by writers who knew nothing of the reader (see tests/talk/README.md): what is right, asked, lost or wrong."""

import json
from collections import Counter
from pathlib import Path

import pytest

from extract.assemble import assemble
from extract.record import Note

TALK = Path(__file__).parent.parent / "talk"
ALSO = {"rod_ft": ("elevation_ft",), "rim_ft": ("elevation_ft",)}


def rows(name):
    return json.loads((TALK / f"{name}.json").read_text(encoding="utf-8"))


def record_of(row):
    texts = row.get("notes") or row["text"]
    return assemble([Note(text=text) for text in ([texts] if isinstance(texts, str) else texts)])


def parted(path):
    """What a path is about, and its field: `levels.CB-1 rim.rod_ft`, `tests.R-1.duration_s`, `R-1.fittings.22.5`."""
    for group in ("levels.", "tests."):
        if path.startswith(group):
            return (group[:-1], *path.removeprefix(group).rsplit(".", 1))
    return ("things", *path.split(".", 1))


def value_at(record, path):
    group, about, name = parted(path)
    if group == "things":
        return _of_thing(record.subject(about), name)
    listed = record.levels if group == "levels" else record.tests
    here = [each for each in listed if (each.point if group == "levels" else each.at) == about]
    return next((getattr(each, name) for each in reversed(here) if getattr(each, name) is not None), None)


def _of_thing(entry, name):
    if entry is None or not name.startswith("fittings"):
        return getattr(entry, name, None)
    kind = name.removeprefix("fittings").removeprefix(".")
    if not kind:
        return sum(each.count for each in entry.fittings) or None
    found = [each for each in entry.fittings if kind in (each.kind, f"{each.angle_deg or 0:g}")]
    return sum(each.count for each in found) or None


def is_asked(record, path):
    _, about, name = parted(path)
    name = name.split(".")[0]
    subjects = (about, about.split(" ")[0])
    return any(each.about in subjects and each.field in (name, None, *ALSO.get(name, ())) for each in record.questions)


def alike(one, other):
    if isinstance(one, list) and not isinstance(other, list):
        one = one[0] if len(one) == 1 else None
    if one is None or other is None:
        return one is other
    return one == other or (not isinstance(one, str | list) and abs(one - other) < 0.006)


@pytest.fixture(scope="module")
def hedged():
    found = Counter()
    for row in rows("hedged"):
        record, path = record_of(row), f"{row['about']}.{row['field']}"
        stands = value_at(record, path) is not None
        found["asked" if is_asked(record, path) else "silent" if stands else "empty"] += 1
    return found


def test_few_hedged_figures_stand_unasked(hedged):
    assert hedged["silent"] <= 3, hedged


def exchange(row):
    record = record_of(row)
    wrong = [path for path, value in row["expect"].items() if not alike(value_at(record, path), value)]
    if not wrong:
        return "right" if not any(is_asked(record, path) for path in row.get("closed", ())) else "still asked"
    return "asked" if all(is_asked(record, path) for path in wrong) else "silent"


def test_corrections_are_taken_or_asked_about():
    found = Counter(exchange(row) for row in rows("corrections"))
    assert found["right"] >= 313, found
    assert found["silent"] <= 17, found


def test_answers_settle_what_was_asked():
    found = Counter(exchange(row) for row in rows("answers"))
    assert found["right"] >= 177, found
    assert found["silent"] <= 2, found


def figures(name):
    """What became of each figure of a set: right, asked about, lost or wrong."""
    found = Counter()
    for row in rows(name):
        record = record_of(row)
        for path, value in row["expect"].items():
            stands = value_at(record, path)
            right, asked = alike(stands, value), is_asked(record, path)
            found["right" if right else "asked" if asked else "lost" if stands is None else "wrong"] += 1
    return found


def test_nearly_no_plain_figure_is_wrong_and_unasked():
    found = figures("plain")
    assert found["wrong"] == 0, found
    assert found["right"] >= 575, found
    assert found["lost"] <= 6, found


def test_of_short_jobs_hardly_a_figure_is_wrong_or_lost_unasked():
    found = figures("jobs")
    assert found["right"] >= 314, found
    assert found["wrong"] <= 3, found
    assert found["lost"] <= 1, found
