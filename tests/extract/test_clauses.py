"""Where one breath holds two things."""

from extract.assemble import assemble
from extract.record import Note


def read(*texts):
    return assemble([Note(text=text) for text in texts])


def entries(record):
    return [(t.kind, t.at, t.duration_s, t.result) for t in record.tests]


def test_two_tests_in_one_breath_are_two():
    record = read(
        "air test on run two held it twelve minutes pass and hose test on run three nine gallons a minute "
        "for twenty minutes that is a pass too"
    )
    assert entries(record) == [("air", "R-2", 720, "pass"), ("hose", "R-3", 1200, "pass")]


def test_a_test_made_again_is_a_second_entry():
    for said in ("Hose test on run one failed, redid it, passed.", "Hose test on run one failed. Redid it, passed."):
        assert [t.result for t in read(said).tests] == ["fail", "pass"]


def test_a_test_made_again_in_a_later_note_is_of_the_same_run():
    record = read("Hose test on run one, ten minutes, failed.", "Cleared the grate. Ran it again, ten minutes, pass.")
    assert entries(record) == [("hose", "R-1", 600, "fail"), ("hose", "R-1", 600, "pass")]


def test_a_decision_leaves_the_facts_before_it():
    record = read(
        "Run six will be three-inch from downspout two to basin three, and I haven't decided yet if we seed the trench."
    )
    assert [(r.label, r.state, r.nominal_in) for r in record.runs] == [("R-6", "planned", 3)]
    assert [(d.state, "seed" in d.text) for d in record.decisions] == [("open", True)]


def test_things_to_buy_are_told_apart_by_their_counts():
    record = read("need to buy two four inch couplings one tube of sealant and three rolls of fabric")
    assert [(t.count, t.text) for t in record.tasks] == [
        (2, "need to buy two four inch couplings"),
        (1, "one tube of sealant"),
        (3, "three rolls of fabric"),
    ]


def test_what_we_only_need_to_buy_is_bought_and_not_built_in():
    record = read("run two is in, four inch SDR 35", "only need to buy two couplings")
    assert [(t.kind, t.count) for t in record.tasks] == [("buy", 2)]
    assert not record.runs[0].fittings


def test_the_fitting_that_is_there_is_no_other():
    said = "Run two goes from basin one to outlet one, laid, 20 feet, one wye."
    for after in ("The cap on outlet one is damaged. We replaced the cap.", "Glued the wye on.", "The wye is cracked."):
        assert [(f.kind, f.count) for f in read(said, after).runs[0].fittings] == [("wye", 1)]


def test_a_fitting_asked_after_is_none():
    record = read("Run two is laid, 30 feet.", "Two 45s on run two, any wyes, no wye on that one.")
    assert [(f.kind, f.count) for f in record.runs[0].fittings] == [("elbow", 2)]


def test_a_pipe_like_the_last_one_between_two_others_is_a_run_of_its_own():
    record = read(
        "Pipe from the channel to basin two is in, four-inch SDR 35, 24 feet.",
        "And from basin one to basin two, that's same size and same pipe as the last one.",
        "17 foot nine on that one.",
    )
    assert [(run.from_, run.length_ft, run.pipe) for run in record.runs] == [
        ("CD-1", 24, "SDR 35"),
        ("CB-1", 17.75, "SDR 35"),
    ]


def test_a_correction_that_names_its_run_again_takes_the_value_s_place():
    record = read("Cover on run one is 15 inches, correction, the cover on run one is 17 inches.")
    assert [run.cover_in for run in record.runs] == [17]
