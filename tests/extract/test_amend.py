"""A person's changes hold to the thing that they were given for, whatever the reader calls it by then."""

from pathlib import Path

import pytest

from extract.amend import Amendment, Removal, Witness, with_changes
from extract.assemble import assemble
from extract.listed import as_read
from extract.notes import parse_log
from extract.record import Note, Record

JOBS = sorted((Path(__file__).parent.parent / "examples").glob("job-*.notes.txt"))


def things(record: Record):
    return [*record.structures, *record.runs]


def rests_on(notes: list[Note], entry) -> list[Witness]:
    return [
        Witness(source=f"log:{item.note}", words=notes[item.note].text, field=item.field, note=item.note)
        for item in entry.evidence
    ]


def renumbered(record: Record) -> Record:
    """The record as a reader would make it that numbers each series from the other end."""
    changed = record.model_copy(deep=True)
    series: dict[str, list[str]] = {}
    for entry in things(record):
        series.setdefault(entry.label.rsplit("-", 1)[0], []).append(entry.label)
    new = {old: other for labels in series.values() for old, other in zip(labels, reversed(labels), strict=True)}
    for entry in things(changed):
        entry.label = new[entry.label]
    for run in changed.runs:
        run.from_, run.to = new.get(run.from_, run.from_), new.get(run.to, run.to)
    for each in [*changed.issues, *changed.tests]:
        each.at = new.get(each.at, each.at)
    return changed


def field_of(entry) -> str:
    return "cover_in" if entry.label.startswith("R-") else "rim_ft"


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.name.partition(".")[0])
def test_a_reader_that_numbers_things_otherwise_moves_no_correction_to_another_thing(path):
    notes = parse_log(path.read_text(encoding="utf-8"))
    read = assemble(notes)
    given = {
        entry.label: Amendment(
            subject=entry.label,
            field=field_of(entry),
            value=round(500 + n / 7, 4),
            rests_on=rests_on(notes, entry),
            was=as_read(entry),
        )
        for n, entry in enumerate(things(read))
    }
    other = renumbered(read)
    changed = with_changes(other, list(given.values()), len(notes))
    evidence = {entry.label: entry.evidence for entry in things(read)}
    for before, after in zip(things(other), things(changed), strict=True):
        value = getattr(after, field_of(after))
        amended = [each for each in given.values() if each.value == value]
        for each in amended:
            assert evidence[each.subject] == before.evidence, f"{each.subject} went to {after.label}"
    stands = {getattr(entry, field_of(entry)) for entry in things(changed)}
    for amendment in given.values():
        asked = [
            q for q in changed.questions if q.choices and amendment.value in q.choices or amendment.subject == q.about
        ]
        assert amendment.value in stands or asked, f"{amendment.subject} was lost without a word"


def test_an_earlier_note_about_another_basin_moves_no_invert():
    late = [Note(text="Basin by the gate is set. Invert out 97.20.")]
    (basin,) = assemble(late).structures
    amendment = Amendment(subject="CB-1", field="invert_out_ft", value=97.25, rests_on=rests_on(late, basin))
    assert with_changes(assemble(late), [amendment], 1).structures[0].invert_out_ft == 97.25

    notes = [Note(text="Basin by the shed is set. Invert out 98.10."), *late]
    there = amendment.model_copy(
        update={"rests_on": [each.model_copy(update={"note": 1}) for each in amendment.rests_on]}
    )
    record = with_changes(assemble(notes), [there], 2)
    assert [each.invert_out_ft for each in record.structures] == [98.1, 97.2]
    (question,) = [each for each in record.questions if each.field == "invert_out_ft"]
    assert (question.about, question.choices) == ("CB-2", [97.2, 97.25])
    assert "when it was called CB-1" in question.heard
    answer = Amendment(
        subject="CB-2", field="invert_out_ft", value=97.25, rests_on=rests_on(notes, assemble(notes).structures[1])
    )
    settled = with_changes(assemble(notes), [there, answer], 2)
    assert [each.invert_out_ft for each in settled.structures] == [98.1, 97.25]
    assert not [each for each in settled.questions if each.field == "invert_out_ft"]


def test_words_that_are_others_by_now_are_asked_about():
    notes = [Note(text="Run one is in, 43 feet.")]
    gone = [Witness(source="log:1", words="Run one is in, 34 feet.", note=None)]
    record = with_changes(assemble(notes), [Amendment(subject="R-1", field="length_ft", value=34, rests_on=gone)], 1)
    assert record.runs[0].length_ft == 43
    assert [(q.about, q.field, q.choices) for q in record.questions] == [("R-1", "length_ft", [43, 34])]


def test_an_end_holds_to_the_structure_that_was_meant():
    notes = [Note(text="Basin one is set."), Note(text="Run one is in, 20 feet.")]
    read = assemble(notes)
    amendment = Amendment(
        subject="R-1",
        field="from",
        value="CB-1",
        rests_on=rests_on(notes, read.runs[0]),
        value_rests_on=rests_on(notes, read.structures[0]),
    )
    assert with_changes(read, [amendment], 2).runs[0].from_ == "CB-1"
    other = read.model_copy(deep=True)
    other.structures[0].evidence = []
    record = with_changes(other, [amendment], 2)
    assert record.runs[0].from_ is None
    assert [(q.about, q.field) for q in record.questions if q.field == "from"] == [("R-1", "from")]


def test_a_removed_thing_drops_out_of_whatever_named_it():
    notes = [Note(text="Basin one is set."), Note(text="Run one is in, 20 feet, from basin one to basin two.")]
    read = assemble(notes)
    record = with_changes(read, [Removal(subject="CB-1", rests_on=rests_on(notes, read.structures[0]))], 2)
    assert [each.label for each in record.structures] == ["CB-2"]
    assert (record.runs[0].from_, record.runs[0].to) == (None, "CB-2")


def test_a_removal_is_no_removal_of_what_bears_the_label_now():
    notes = [Note(text="Basin by the shed is set."), Note(text="Basin by the gate is set.")]
    read = assemble(notes)
    gone = rests_on(notes, read.structures[1])
    record = with_changes(read, [Removal(subject="CB-1", rests_on=gone)], 2)
    assert [each.label for each in record.structures] == ["CB-1", "CB-2"]
    assert [(q.about, q.heard) for q in record.questions] == [("CB-2", "removed by hand, when it was called CB-1")]
