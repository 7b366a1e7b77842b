"""Levels, tests, issues and tasks changed by hand: known by their words, and never by their number."""

import pytest

from extract import listed
from extract.amend import Amendment, Dismissal, Removal, Witness, with_changes
from extract.assemble import assemble
from extract.record import Note, Record

TALK = [
    "Hose test on run one, eight minutes. It passed.",
    "Hose test on run two, ten minutes. It passed.",
    "Roots in run one.",
    "Need to buy two couplings.",
    "Benchmark elevation 100. Backsight 4.32.",
]


def notes(*texts: str) -> list[Note]:
    return [Note(text=text) for text in texts]


def given(said: list[Note], subject: str, make=Amendment, **change):
    """A change of an entry, as it would be given when the log held those notes."""
    read = assemble(said)
    entry = listed.listed(read, subject)
    rests_on = [Witness(source=f"log:{e.note}", words=said[e.note].text, note=e.note) for e in entry.evidence]
    anchor = {"rests_on": rests_on, "was": listed.as_read(entry), "place": listed.place_of(read, entry)}
    return make(subject=subject, **anchor, **change)


def moved(change, by: int):
    """The change once `by` notes stand before those that it was given for."""
    rests_on = [each.model_copy(update={"note": each.note + by}) for each in change.rests_on]
    return change.model_copy(update={"rests_on": rests_on})


def durations(record: Record) -> list[float | None]:
    return [each.duration_s for each in record.tests]


@pytest.mark.parametrize(
    ("subject", "field", "value"),
    [
        ("test:1", "duration_s", 540),
        ("test:2", "result", "fail"),
        ("issue:1", "action", "cleared"),
        ("task:1", "count", 3),
        ("level:1", "rod_ft", 4.33),
    ],
)
def test_a_field_is_amended(subject, field, value):
    said = notes(*TALK)
    record = with_changes(assemble(said), [given(said, subject, field=field, value=value)], len(said))
    entry = listed.listed(record, subject)
    assert getattr(entry, field) == value
    assert entry.evidence[-1].note == len(said)


def test_an_earlier_note_about_another_test_takes_no_amendment_with_the_number():
    said = notes(*TALK[:2])
    change = given(said, "test:1", field="duration_s", value=540)
    more = notes("Hose test on run three, two minutes. It passed.", *TALK[:2])
    assert durations(with_changes(assemble(more), [moved(change, 1)], len(more))) == [120, 540, 600]


def test_words_that_are_gone_are_asked_about():
    said = notes(*TALK[:2])
    change = given(said, "test:1", field="duration_s", value=540)
    gone = change.model_copy(update={"rests_on": [each.model_copy(update={"note": None}) for each in change.rests_on]})
    record = with_changes(assemble(said), [gone], len(said))
    assert durations(record) == [480, 600]
    assert [(q.about, q.field, q.choices) for q in record.questions if q.about == "test:1"] == [
        ("test:1", "duration_s", [540])
    ]


def test_of_two_tests_of_one_note_the_right_one_is_amended():
    said = notes("Hose test on run one, ten minutes, it passed. Hose test on run two, ten minutes, it passed.")
    read = assemble(said)
    assert len(read.tests) == 2
    record = with_changes(read, [given(said, "test:2", field="duration_s", value=660)], 1)
    assert durations(record) == [600, 660]


def test_a_removed_test_is_gone_and_the_next_keeps_its_own_amendment():
    said = notes(*TALK[:2])
    changes = [given(said, "test:1", Removal), given(said, "test:2", field="duration_s", value=660)]
    record = with_changes(assemble(said), changes, len(said))
    assert [(each.at, each.duration_s) for each in record.tests] == [("R-2", 660)]


def test_an_elevation_of_a_level_fills_the_structure_too():
    said = notes("Basin one is set.", "Benchmark elevation 100. Backsight 4.32.",
                 "Foresight on basin one rim 4.92 elevation 99.4.")  # fmt: skip
    record = with_changes(assemble(said), [given(said, "level:2", field="elevation_ft", value=99.41)], len(said))
    assert (record.levels[1].elevation_ft, record.structures[0].rim_ft) == (99.41, 99.41)


def went(record: Record, path: str) -> list[tuple[float, str]]:
    return [(number.value, number.went) for number in record.numbers if number.to == path]


def test_the_numbers_follow_a_change():
    said = notes("Run one is in, 34 feet. Drop on run one is 3 inches.")
    read = assemble(said)
    assert went(read, "R-1.length_ft") == [(34, "field")]
    other = with_changes(read, [Amendment(subject="R-1", field="length_ft", value=36)], 1)
    assert went(other, "R-1.length_ft") == [(34, "withdrawn")]
    assert went(other, "R-1.drop_in") == [(3, "field")]
    gone = with_changes(read, [Removal(subject="R-1")], 1)
    assert {number.went for number in gone.numbers} == {"withdrawn"}


def test_of_two_values_in_conflict_the_one_chosen_stands_in_the_numbers():
    said = notes("Run one is in, 34 feet.", "Run one is 43 feet.")
    record = with_changes(assemble(said), [Amendment(subject="R-1", field="length_ft", value=34)], 2)
    assert went(record, "R-1.length_ft") == [(34, "field"), (43, "withdrawn")]


def test_a_dismissed_question_stays_closed_until_a_note_adds_to_it():
    said = notes("Run one is in, 34 feet.", "Run one is 43 feet.")
    asked = [Witness(source="log:0", words=said[n].text, note=n) for n in (0, 1)]
    closed = Dismissal(subject="R-1", field="length_ft", asked=asked)
    assert with_changes(assemble(said), [closed], 2).questions == []
    more = [*said, *notes("Run one is 38 feet.")]
    assert [q.choices for q in with_changes(assemble(more), [closed], 3).questions] == [[34, 43, 38]]


def test_ids_stay_while_the_log_grows():
    said = notes("Run one is in.", "Run two is in, 34 feet.", "Run two is 43 feet.")
    before = {question.id: question.about for question in assemble(said).questions}
    assert len(before) == 2
    after = assemble([*notes("Morning."), *said, *notes("Run three is in.")]).questions
    assert before.items() <= {question.id: question.about for question in after}.items()
    assert len({question.id for question in after}) == len(after) == 3


@pytest.mark.parametrize(("after", "duration_s"), [(1, 900), (2, 540)])
def test_the_last_word_counts_of_a_test_too(after, duration_s):
    said = notes("Hose test on run one, eight minutes. It passed.")
    change = given(said, "test:1", field="duration_s", value=540)
    more = [*said, *notes("Make that fifteen minutes.")]
    late = change.model_copy(update={"after": after})
    if after == 2:  # given when the correction stood already
        late = given(more, "test:1", field="duration_s", value=540).model_copy(update={"after": 2})
    assert durations(with_changes(assemble(more), [late], 2)) == [duration_s]


def test_a_benchmark_with_no_rod_is_told_by_its_elevation():
    (level,) = assemble(notes("Benchmark elevation 100.")).levels
    assert listed.in_words(level) == "benchmark backsight elevation 100"


def test_the_elevation_of_a_benchmark_is_amended_and_its_rod_read_in_talk():
    said = notes("Benchmark elevation 100.")
    change = given(said, "level:1", field="elevation_ft", value=101.0)
    more = [*said, *notes("Backsight 4.32.")]
    (level,) = with_changes(assemble(more), [change.model_copy(update={"after": 1})], len(more)).levels
    assert (level.rod_ft, level.elevation_ft) == (4.32, 101)


@pytest.mark.parametrize(("later", "asked"), [("Backsight 4.32.", []), ("Backsight 4.42.", [[4.32]])])
def test_a_rod_that_was_answered_and_is_then_said_is_asked_about_only_where_it_differs(later, asked):
    said = notes("Benchmark elevation 100.")
    change = given(said, "level:1", field="rod_ft", value=4.32).model_copy(update={"after": 1})
    more = [*said, *notes(later)]
    record = with_changes(assemble(more), [change], len(more))
    assert [question.choices for question in record.questions] == asked
    assert [level.elevation_ft for level in record.levels] == [100]
