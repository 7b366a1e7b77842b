import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from extract.repair import repair

PUT_RIGHT = {
    # runs and basins
    "Run tube is in, eleven feet.": "Run two is in, eleven feet.",
    "Run to is laid.": "Run two is laid.",
    "Run to drops three inches.": "Run two drops three inches.",
    "Eleven inches of cover on run to.": "Eleven inches of cover on run two.",
    "1-2 is laid, thirty feet.": "Run two is laid, thirty feet.",
    "Run for is six-inch.": "Run four is six-inch.",
    "Run free has one cap.": "Run three has one cap.",
    "Standing water in base and one.": "Standing water in basin one.",
    "The cash basin is set.": "The catch basin is set.",
    "From base in two to the curb.": "From basin two to the curb.",
    "Cleanout wye is in.": "Cleanout one is in.",
    "Slope on run to quarter inch per foot.": "Slope on run two quarter inch per foot.",
    "Drop on run to 10 inches.": "Drop on run two 10 inches.",
    "Utility crossing run to somebody's wire.": "Utility crossing run two somebody's wire.",
    "One run to one four inch wye.": "On run two, one four inch wye.",
    "Covered on run three is 30 inches.": "Cover on run three is 30 inches.",
    "Run three is laid to 20 foot sticks and a seven foot piece.": (
        "Run three is laid, two 20 foot sticks and a seven foot piece."
    ),
    "Downspout one is tied, and then run 3 is 11 feet.": "Downspout one is tied in, and run 3 is 11 feet.",
    "The curve outlet isn't it is a four inch.": "The curb outlet is in, it is a four inch.",
    "Basin to his for next week.": "Basin two is for next week.",
    "It's interesting catch basin by the hose bib.": "It's existing catch basin by the hose bib.",
    "Standing water in basin to, we left it.": "Standing water in basin two, we left it.",
    "Need a photo of downspout to before we cover it.": "Need a photo of downspout two before we cover it.",
    "Run for goes from basin free to daylight.": "Run four goes from basin three to daylight.",
    "Run for his laid.": "Run four is laid.",
    "The drop is free quarters of an inch.": "The drop is three quarters of an inch.",
    "From basin two two outlet one.": "From basin two to outlet one.",
    "Run one isn't from the cleanout to basin one.": "Run one is in from the cleanout to basin one.",
    "320 foot sticks on run two.": "3 20-foot sticks on run two.",
    "The pop-ups in, four-inch.": "The pop-up is in, four-inch.",
    "Those test on run two, pass.": "Hose test on run two, pass.",
    "A dry wall behind the garage.": "A dry well behind the garage.",
    "That first run. I said 38. That's 36.": "That first run, I said 38, it's 36.",
    "That first run, I set 38, it's 36.": "That first run, I said 38, it's 36.",
    "It's got 3.22s on it, not 3.4.22s.": "It's got 3 22s on it, not 3, 4 22s.",
    "The mail box basin is set.": "The mailbox basin is set.",
    "Make 10 34 foot 8.": "Make that 34 foot 8.",
    "Flood test on the drive wall, 20 minutes.": "Flood test on the dry well, 20 minutes.",
    "Change a plan on outlet one.": "change of plan on outlet one.",
    "Scratch net, it is a planter.": "Scratch that, it is a planter.",
    "Plant channel drain across the walk.": "Plan. channel drain across the walk.",
    "Cover's 11 inches at the walk, mine at the bed.": "Cover's 11 inches at the walk, nine at the bed.",
    "Slope's an eight-foot drop, is four inches.": "Slope's an eighth per foot. Drop is four inches.",
    "Run two falls 3.16s of an inch per foot.": "Run two falls 3/16 of an inch per foot.",
    "It has 190 and two couplings.": "It has one 90 and two couplings.",
    "Catch basin, for invert out, 9.56.": "Catch basin four invert out, 9.56.",
    "Drop on run five is free, and a quarter inches.": "Drop on run five is three and a quarter inches.",
    "A 4-6 increaser at the box.": "A 4 to 6 increaser at the box.",
    # levels
    "Backsight is five point to one.": "Backsight is five point two one.",
    "Right on basin one, 6.10 on the rim, 7.4 on the invert end.": (
        "Rod on basin one, 6.10 on the rim, 7.4 on the invert in."
    ),
    "Foresight on basin one out going invert. 6.34 elevation 97.98.": (
        "Foresight on basin one outgoing invert, 6.34 elevation 97.98."
    ),
    "Rod on it 7.64, that makes it 96-92.": "Rod on it 7.64, that makes it 96.92.",
    "Invert 14, and a half inches now.": "Invert 14 and a half inches down.",
    "In bird on basin one is 95.20.": "Invert on basin one is 95.20.",
    "Endvert out is 95.2.": "Invert out is 95.2.",
    "Inverting is 95.5, invert out is 95.4.": "Invert in is 95.5, invert out is 95.4.",
    "For sight on the rim, 6.31.": "Foresight on the rim, 6.31.",
    "Bunchmark is the step.": "Benchmark is the step.",
    "Back site on the benchmark 3.20.": "Backsight on the benchmark 3.20.",
    "Ender immediate side on the rim, 4.1.": "Intermediate sight on the rim, 4.1.",
    # slope and pipe
    "Slope is 8-inch per foot.": "Slope is an eighth inch per foot.",
    "It runs an 8th per foot to the curb.": "It runs an eighth per foot to the curb.",
    "6 in Chess DR 35, forty feet.": "6 inch SDR 35, forty feet.",
    "Four-inch STR 35.": "Four-inch SDR 35.",
    "SDR 35.26 feet of it.": "SDR 35, 26 feet of it.",
    "Run four is do a wall, six-inch.": "Run four is dual wall, six-inch.",
    "60, 27, 29, four-inch.": "D 2729, four-inch.",
    "Free-inch outlet on it.": "Three-inch outlet on it.",
    "Two 10-foot sticks in a six-foot piece.": "Two 10-foot sticks and a six-foot piece.",
    "SDR 35.19 and a half feet.": "SDR 35, 19 and a half feet.",
    "Four 10-foot sticks in at 7 foot piece.": "Four 10-foot sticks and a 7 foot piece.",
    "A 12-foot piece in a 3-foot piece.": "A 12-foot piece and a 3-foot piece.",
    "Free 20-foot sticks.": "Three 20-foot sticks.",
    "Run one, 15-foot forward.": "Run one, 15-foot four.",
    "30 inches of cover overrun three.": "30 inches of cover over run three.",
    # fittings
    "Two 222s and a cap.": "Two 22s and a cap.",
    "240 fives on run one.": "Two 45s on run one.",
    "It took 245s and a cap.": "It took two 45s and a cap.",
    "Put a four-inch why at the corner.": "Put a four-inch wye at the corner.",
    "A three-inch white on run two.": "A three-inch wye on run two.",
    "One wipe and two 45s.": "One wye and two 45s.",
    "Note wye on this one, just a T.": "No wye on this one, just a tee.",
    "A six-to-four increaseer there.": "A six-to-four increaser there.",
    "Two 90 elbows and afforded five.": "Two 90 elbows and a 45.",
    "Drop and run two is four and the quarter inches.": "Drop on run two is four and a quarter inches.",
    "Grape on the channel drain is off.": "Grate on the channel drain is off.",
    "Put the pop up the miter by the walk.": "Put the pop-up emitter by the walk.",
    # ground, tests, corrections
    "It goes out to the whale.": "It goes out to the swale.",
    "Daylight at the swell by the fence.": "Daylight at the swale by the fence.",
    "The wrench is 30 inches deep.": "The trench is 30 inches deep.",
    "We put down rip wrap below it.": "We put down riprap below it.",
    "So we were routed around it.": "So we rerouted around it.",
    "Photo of basin one before back field.": "Photo of basin one before backfill.",
    "Held for PSI for ten minutes.": "Held 4 psi for ten minutes.",
    "Track that, run one is square.": "Strike that, run one is square.",
    "Believe the last note.": "Delete the last note.",
    "Crash mat, basin two is square.": "Scratch that, basin two is square.",
}

LEFT_ALONE = [
    "We run to the store at noon.",
    "Water can run for an hour.",
    "Tell me why the white pipe is here.",
    "It's the white stuff, schedule forty.",
    "A white fence along the bed.",
    "There was a whale of a rock.",
    "I had a wrench in the truck.",
    "The pump is facing south.",
    "Buy a pack of T posts.",
    "Four-inch pipe, eight feet, two per foot of trench.",
    "The 8-inch sleeve is under the drive.",
    "Rod reads 544.",
    "Elevation 9890.",
    "One two three, testing.",
    "The lines run to near the fence and we take out that one.",
    "The water isn't from the roof.",
    "Run one is 145 feet, and 190 on the other side.",
    "We need to get it right on the first try, the rim is high.",
    "Keep the outlet free of leaves and the run free of mud.",
    "Dig from basin to basin, then run to the gate and back for the truck.",
    "The basin for next week is here.",
    "Run the pipe to two feet, and increase the slope.",
    "R1 fittings: 1 wye, 2 45s, 3 90s, 1 coupling",
    "We're planting grass and grapes on Monday.",
    "We need to track that order.",
    "We scratched at the clay for an hour.",
    "My client waits in the forest with primary colors.",
    "The owner may swallow hard at the bill.",
    "Run one is in, four-inch SDR 35, twenty-six feet.",
    "Two forty-fives, one wye and a long sweep ninety on run two.",
    "Slope's an eighth per foot. Drop's four and a quarter inches.",
    "Invert in is 96.5, invert out is 96.4, rim 98.12.",
    "D 2729, four-inch, sixty-six feet. S D R thirty-five after that.",
    "Inverts are shot. The swales are dry. Basins and cleanouts are all in.",
    "",
]


@pytest.mark.parametrize(("heard", "meant"), PUT_RIGHT.items())
def test_a_misheard_word_is_put_right(heard, meant):
    assert repair(heard) == meant


@pytest.mark.parametrize("text", LEFT_ALONE)
def test_clean_text_and_other_talk_stay_as_they_are(text):
    assert repair(text) == text


@pytest.mark.parametrize("meant", PUT_RIGHT.values())
def test_what_was_put_right_needs_no_more(meant):
    assert repair(meant) == meant


def test_a_capital_and_the_points_around_it_are_kept():
    assert repair("Swail, then: (whale of the drain)\n") == "Swale, then: (whale of the drain)\n"


@given(st.text(max_size=300))
@settings(max_examples=200, deadline=None)
def test_any_text_at_all_comes_through(text):
    assert isinstance(repair(text), str)


@pytest.mark.parametrize("piece", ["run to is ", "in bird ", "base and ", "8 inch per ", "\x00\x1b\u202e", "why ", "."])
def test_a_note_of_a_hundred_thousand_characters_takes_little_time(piece):
    started = time.process_time()
    repair(piece * (100_000 // len(piece)))
    assert time.process_time() - started < 3
