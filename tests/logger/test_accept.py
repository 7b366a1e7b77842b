"""A failed check that a person accepts: it stays failed and says so, and holds to what it was given for."""

import io
from contextlib import redirect_stdout

import pytest
from typed import say

from extract.errors import UsageError
from logger import changes, show
from logger.accept import accept
from logger.book import Book
from logger.printing import print_blocks
from logger.ready import ready
from logger.undo import undo

BUILT = (
    "10:00 Basin one is set. Basin two is set. Run one is in, 34 feet, four inch SDR 35, from basin one to basin two.",
    "10:05 Slope on run one is 0.3 percent.",
)
AGREED = "left as is, agreed with the owner"


def record(store):
    return Book(store, "j").record


def printed(blocks) -> str:
    with redirect_stdout(io.StringIO()) as out:
        print_blocks(blocks)
    return out.getvalue()


def failed(store) -> dict[tuple[str, str], str]:
    return {(each.subject, each.check): each.message for each in Book(store, "j").findings if each.outcome == "fail"}


def test_a_failed_check_is_accepted_and_stays_failed(store):
    say(store, *BUILT)
    before = failed(store)[("R-1", "min_slope")]
    assert accept(store, "j", "run one", AGREED).words == f'R-1 min slope is now accepted, "{AGREED}"'
    (given,) = record(store).acceptances
    assert (given.finding, given.about, given.text, given.evidence[0].quote) == ("min_slope", "R-1", AGREED, before)
    assert failed(store)[("R-1", "min_slope")] == f'{before} Accepted: "{AGREED}".'
    answer = ready(store, "j").of("1")
    assert (answer.fails, answer.accepted) == ([], [f"steep enough for its pipe (“{AGREED}”)"])
    assert f"R-1, steep enough for its pipe: {AGREED}" in printed(show.job(Book(store, "j")))
    assert undo(store, "j") == f'taken back: R-1 min slope accepted, "{AGREED}"'
    assert (record(store).acceptances, failed(store)[("R-1", "min_slope")]) == ([], before)


def test_a_check_is_named_as_it_is_listed(store):
    """`CB-3 in above out` is no thing called `CB-3 in`."""
    say(store, "10:00 Basin three is set, invert in is 97.79, invert out is 97.84.")
    assert accept(store, "j", "CB-3 in above out", AGREED).words.endswith(f'is now accepted, "{AGREED}"')
    assert [each.about for each in record(store).acceptances] == ["CB-3"]


def test_a_second_answer_takes_the_place_of_the_first(store):
    say(store, *BUILT)
    accept(store, "j", "R-1", "left as is")
    accept(store, "j", "R-1 min slope", AGREED)
    assert [each.text for each in record(store).acceptances] == [AGREED]
    assert failed(store)[("R-1", "min_slope")].count("Accepted") == 1


def test_an_acceptance_says_so_where_the_figures_are_others_by_now(store):
    say(store, *BUILT)
    accept(store, "j", "R-1", AGREED)
    changes.amend(store, "j", "R-1", "slope", "0.2")
    assert failed(store)[("R-1", "min_slope")].endswith(f'Accepted when it read otherwise: "{AGREED}".')
    assert ready(store, "j").of("1").fails == ["steep enough for its pipe"]
    changes.amend(store, "j", "R-1", "slope", "2")
    assert ("R-1", "min_slope") not in failed(store)


def test_an_acceptance_holds_to_the_thing_and_not_to_its_label(store):
    say(store, "10:00 Pipe from the channel to the pop-up is in. 34 feet of four inch SDR 35. Slope is 0.3 percent.")
    accept(store, "j", "R-1 min slope", AGREED)
    say(
        store,
        "09:00 Pipe from the area drain to the dry well is in. 20 feet of four inch SDR 35. Slope is 0.3 percent.",
    )
    assert [each.label for each in record(store).runs] == ["R-1", "R-2"]
    assert record(store).acceptances == []
    assert [each.about for each in record(store).questions if each.heard and "accepted" in each.heard] == ["R-2"]


@pytest.mark.parametrize(
    ("what", "words", "why"),
    [
        ("R-1 cover", AGREED, 'no check of R-1 cover fails in j; those that fail: "R-1 min slope" .steep enough'),
        ("R-9", AGREED, "there is no R-9 in j; checks that fail: "),
        ("R-1", " ", "say why it is accepted, in a sentence"),
    ],
)
def test_what_does_not_fail_cannot_be_accepted(store, what, words, why):
    say(store, *BUILT)
    with pytest.raises(UsageError, match=why):
        accept(store, "j", what, words)


def test_of_several_checks_the_one_that_is_meant_is_named(store):
    say(store, *BUILT, "10:10 Truck traffic over run one. Cover on run one is 2 inches.")
    with pytest.raises(UsageError, match='R-1 fails 2 checks; say which: "R-1 min slope" .*, "R-1 cover" '):
        accept(store, "j", "R-1", AGREED)
    accept(store, "j", "run one cover", AGREED)
    assert [each.finding for each in record(store).acceptances] == ["cover"]
