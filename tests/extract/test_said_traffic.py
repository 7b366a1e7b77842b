"""What goes over it, as said; a driveway that only tells where a thing stands is no traffic."""

import pytest

from extract.assemble import assemble
from extract.notes import parse_log

START = "Basin one is set. Basin two is set.\nRun one is laid from basin one to basin two, four-inch SDR 35, 30 feet.\n"


def traffic(text: str, label: str = "R-1") -> str | None:
    entry = assemble(parse_log(START + text)).subject(label)
    assert entry is not None
    return entry.traffic


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Run one goes under the driveway.", "car"),
        ("Run one crosses the driveway, cover is 14 inches.", "car"),
        ("Cover on run one is twenty inches under the cars.", "car"),
        ("Carts cross it.", "cart"),
        ("Cover on run one is fourteen inches where the mower goes.", "cart"),
        ("Cars park on it.", "car"),
        ("Run one gets truck traffic.", "truck"),
        ("Run one is foot traffic only.", "foot"),
        ("Cover on run one is ten inches, nobody drives there.", "foot"),
    ],
)
def test_what_goes_over_a_run(text, kind):
    assert traffic(text) == kind


@pytest.mark.parametrize(
    "text",
    [
        "The driveway basin is set.",
        "Run one starts at the basin by the driveway.",
        "The basin across the driveway is full of leaves.",
        "Basin two is across the driveway from the porch.",
        "No cars park on it.",
        "Run one gets no truck traffic.",
        "Truck is loaded.",
        "Need to hose the mud off the driveway.",
        "Put the tee back in the truck.",
    ],
)
def test_what_is_no_traffic(text):
    record = assemble(parse_log(START + text))
    assert [each.label for each in [*record.structures, *record.runs] if each.traffic] == []


def test_it_belongs_to_the_structure_named():
    text = "Channel drain one is set, cars drive over it."
    assert traffic(text, "CD-1") == "car"
    assert traffic(text) is None


def test_the_heaviest_said_stands_and_nobody_is_asked():
    record = assemble(parse_log(START + "Carts cross it.\nTrucks cross it.\nFoot traffic.\n"))
    assert record.runs[0].traffic == "truck"
    assert [each for each in record.questions if each.field == "traffic"] == []


def test_the_words_are_kept_as_evidence():
    run = assemble(parse_log(START + "Carts cross it.\n")).runs[0]
    assert [each.quote for each in run.evidence if each.field == "traffic"] == ["Carts cross it."]


def test_no_number_is_lost_beside_it():
    run = assemble(
        parse_log(START + "Run one goes under the driveway at 18 inches of cover, drop is 4 inches.\n")
    ).runs[0]
    assert (run.cover_in, run.drop_in, run.length_ft) == (18, 4, 30)
