"""What exists while a day is read, and how a span lies to it."""

from extract.read.labels import RELATIONS
from extract.read.scene import FEATURES, LONGEST_NAME, TOLD, About, Scene, bucket, content


def scene(*met):
    """A scene in which each (name, note, words, number) was met."""
    out = Scene()
    for name, note, words, number in met:
        out.begin(note)
        out.meet(name, 0, 0, len(words), words, number)
    return out


def test_content_words_leave_out_the_plain_ones():
    assert content("the Basin, that shed, 2") == {"basin", "shed", "2"}


def test_a_bucket_is_the_first_bound_that_is_not_exceeded():
    assert [bucket(n, (1, 3)) for n in (0, 1, 2, 3, 4)] == [0, 0, 1, 1, 2]


def test_a_thing_is_told_by_its_kind_number_state_and_names():
    one = scene(("CB.1", 0, "the corner box", 2), ("CB.1", 1, "the low one by the shed", None))
    one.known["CB.1"].state = "installed"
    assert one.told() == ["basin 2 installed: the corner box / the low one by the shed"]
    assert one.slots == {"CB.1": 0}


def test_only_the_last_things_are_told_and_long_names_are_cut():
    one = scene(*((f"CB.{i}", i, f"box {i} " + "x" * 100, None) for i in range(TOLD + 3)))
    told = one.told()
    assert len(told) == TOLD
    assert told[0].startswith("basin : box 3 ")
    assert all(len(each) <= LONGEST_NAME + len("basin : ") for each in told)


def test_candidates_are_those_that_can_be_meant_the_last_spoken_of_first():
    one = scene(("R.1", 0, "the pipe", None), ("CB.1", 1, "the box", None), ("R.2", 2, "the other run", None))

    def names(what, relation="main", name=""):
        return [each.name for each in one.candidates(About(2, 20, 25, what, name, relation))[0]]

    assert names("nominal_in") == ["R.2", "R.1"]
    assert names("rod_ft") == ["CB.1"]
    assert names("mention", name="CB") == ["R.2", "CB.1", "R.1"]
    assert names("issue", "at") == ["R.2", "CB.1", "R.1"]
    assert names("mention", "from_of", "CB") == ["R.2", "R.1"]


def test_a_row_of_features_has_its_length_and_tells_equal_numbers_apart():
    one = scene(("CB.1", 0, "box", 1), ("CB.2", 0, "box", 2))
    known, rows = one.candidates(About(1, 0, 3, "mention", "CB", "main", "box two", 2))
    assert all(len(row) == FEATURES for row in rows)
    assert len({tuple(row) for row in rows}) == len(known) == 2
    assert all(row[-2 - len(RELATIONS)] == 1 for row in rows)


def test_a_new_note_forgets_where_the_last_named_things():
    one = scene(("CB.1", 0, "the box", None))
    assert one.known["CB.1"].here
    one.begin(1)
    assert (one.known["CB.1"].here, one.known["CB.1"].span) == ([], -1)


def test_what_is_told_again_is_the_same_or_another_by_its_number_or_its_words():
    one = scene(("R.1", 0, "the pipe", None))
    assert one.held("R.1", "pipe", "", "SDR 35") == [1, 0, 0, 0]
    one.hold("R.1", "pipe", "", "SDR 35")
    one.begin(1)
    assert one.held("R.1", "pipe", "", "SDR 35") == [0, 1, 0, 0]
    assert one.held("R.1", "pipe", "", "corrugated") == [0, 0, 1, 0]


def test_a_count_of_fittings_is_no_other_kind_of_them():
    one = scene(("R.1", 0, "the pipe", None))
    one.hold("R.1", "fitting", "elbow", "elbow")
    assert one.held("R.1", "fitting", "elbow", 2.0) == [1, 0, 0, 0]
    one.hold("R.1", "fitting", "elbow", 2.0)
    assert one.held("R.1", "fitting", "elbow", 2.0) == [0, 1, 0, 1]
    assert one.held("R.1", "fitting", "elbow", 3.0) == [0, 0, 1, 1]


def test_what_may_be_spoken_of_is_told_whole():
    one, other = (scene(("R.1", 0, "the pipe", None)) for _ in range(2))
    assert one.state() == other.state()
    one.hold("R.1", "length_ft", "", 34.0)
    other.hold("R.1", "length_ft", "", 43.0)
    assert one.state() != other.state()
