"""The client's copy: plain, settled, and of nothing that a client need not see."""

import io
import re
import zipfile
from pathlib import Path

import pytest
import textstat
from docx import Document
from PIL import Image
from test_report_scaled import WIDE, a_photo, basin, yard

from extract.check import check
from extract.check.accepted import with_acceptances
from extract.record import Acceptance, Evidence, Finding, FixedPoint, Issue, Note, Question, Run, Structure, Test, Tie
from reports.client import _caption, choice, document, for_client, summary
from reports.closeout import shown, write_closeout
from reports.drawings import draw
from reports.facts import gather
from reports.front import best_photo
from reports.job import Photo
from reports.settled import LOCATED, SHOWN, unsettled
from reports.words import load

LOGO = (Path(__file__).parents[2] / "sample_logs" / "logo.png").read_bytes()
MOST_WORDS = 200
HIGHEST_GRADE = 8


def text_of(content: bytes) -> str:
    made = Document(io.BytesIO(content))
    cells = [cell.text for table in made.tables for row in table.rows for cell in row.cells]
    running = [each.text for part in made.sections for each in (*part.header.paragraphs, *part.footer.paragraphs)]
    return "\n".join([*(each.text for each in made.paragraphs), *cells, *running])


def made(closeout, unsettled=()):
    closeout = for_client(closeout)
    return document(closeout, draw(gather(closeout)), unsettled)


def test_it_bears_no_mark_no_number_of_a_note_and_no_command(closeout):
    text = text_of(made(closeout))
    assert "Your new drain" in text
    for sign in ("†", "‡", "fallbook", "photo:", "Open point"):
        assert sign not in text
    assert not re.search(r"\bnotes? \d", text)


def test_it_tells_north_by_photos_and_not_where_they_were_taken(closeout):
    """Not in its text, its picture descriptions, nor in anything else that the file holds."""
    record = yard().model_copy(update={"structures": [basin(label, at) for label, at in WIDE.items()], "runs": []})
    photos = [a_photo(n, label, (-y, x), 2.0) for n, (label, (x, y)) in enumerate(WIDE.items(), 1)]
    closeout = closeout.model_copy(update={"record": record, "findings": check(record), "photos": photos})
    assert gather(closeout).closeout.photos[0].lat
    content = made(closeout)
    with zipfile.ZipFile(io.BytesIO(content)) as whole:
        parts = b"\n".join(whole.read(name) for name in whole.namelist() if name.endswith((".xml", ".rels")))
    for each in photos:
        for degrees in (each.lat, each.lon):
            assert f"{degrees:.2f}".encode() not in parts


def test_its_summary_is_short_and_plain(closeout):
    facts = gather(for_client(closeout))
    words = " ".join(line for _, lines in summary(facts) for line in lines)
    assert len(words.split()) <= MOST_WORDS
    assert textstat.flesch_kincaid_grade(words) <= HIGHEST_GRADE


@pytest.mark.parametrize(
    ("lengths", "told"),
    [
        ([40.33, 40.0], "in all 80 ft 4 in"),
        ([14.666667, 34.67, 31.0], "in all 80 ft 4 in"),
        ([73.5], "in all 73 ft 6 in"),
        ([12.4], "in all 12 ft 4 3/4 in"),
        ([40.0], "in all 40 ft"),
        ([1e308, 1e308], "in all not recorded"),
    ],
)
def test_the_length_of_all_pipe_is_in_feet_and_inches(closeout, lengths, told):
    runs = [
        Run(label=f"R-{number}", state="installed", length_ft=length, evidence=[])
        for number, length in enumerate(lengths, 1)
    ]
    record = closeout.record.model_copy(update={"runs": runs})
    built = dict(summary(gather(for_client(closeout.model_copy(update={"record": record})))))["What we built"][0]
    assert f"{told}." in built


def test_what_is_counted_and_explained_is_english(closeout):
    kinds = ["junction_box", "junction_box", "area_drain"]
    structures = [
        Structure(label=f"S-{number}", kind=kind, state="installed", evidence=[]) for number, kind in enumerate(kinds)
    ]
    record = closeout.record.model_copy(update={"structures": structures, "runs": []})
    built = dict(summary(gather(for_client(closeout.model_copy(update={"record": record})))))["What we built"][0]
    assert built.startswith("We put in 2 junction boxes and 1 area drain. A junction box is")
    assert "An area drain is" in built


@pytest.mark.parametrize(("kept", "logo", "inches"), [(0, b"", 2.3), (40, b"", 1.7), (0, LOGO, 1.45), (40, LOGO, 0.85)])
def test_a_long_summary_and_a_logo_stay_on_the_first_page_with_a_lower_photo(closeout, kept, logo, inches):
    company = closeout.job.company.model_copy(update={"logo_png": logo})
    old = [Structure(label=f"CO-{number}", kind="cleanout", state="existing", evidence=[]) for number in range(kept)]
    record = closeout.record.model_copy(update={"structures": [*closeout.record.structures, *old]})
    picture = io.BytesIO()
    Image.new("RGB", (640, 480)).save(picture, "JPEG")
    banner = photo(1, "CB-1").model_copy(update={"jpeg": picture.getvalue()})
    job = closeout.job.model_copy(update={"company": company})
    content = made(closeout.model_copy(update={"job": job, "record": record, "photos": [banner]}))
    height = Document(io.BytesIO(content)).inline_shapes[1 if logo else 0].height.inches
    assert height == pytest.approx(inches, abs=0.01)


def test_its_drawing_bears_no_mark_either(closeout):
    assert gather(closeout).doubts.all
    assert all(drawing.marks == [] for drawing in draw(gather(shown(closeout, "client"))))


@pytest.mark.parametrize(
    ("field", "stands"),
    [("length_ft", True), ("nominal_in", True), ("state", True), ("rod_ft", False), ("cover_in", False)],
)
def test_a_question_stands_in_its_way_where_it_shows_the_figure(closeout, field, stands):
    asked = Question(about="R-1", field=field, why="low_confidence", evidence=[])
    record = closeout.record.model_copy(update={"questions": [asked]})
    lines = unsettled(closeout.model_copy(update={"record": record, "findings": []}))
    assert bool(lines) is stands


@pytest.mark.parametrize(
    ("about", "field"),
    [
        *[("CB-1", "ties"), ("R-1", "crossings"), ("R-1", "fittings"), ("R-1", "stations_ft"), ("R-1", "pieces_ft")],
        *[("meter post", "to"), ("meter post", "x_ft")],
    ],
)
@pytest.mark.parametrize("fields", [SHOWN, LOCATED])
def test_a_question_stands_in_the_way_of_a_plan_to_scale_that_rests_on_it(closeout, about, field, fields):
    record = yard()
    record.questions = [Question(about=about, field=field, why="low_confidence")]
    assert len(unsettled(closeout.model_copy(update={"record": record, "findings": []}), fields)) == 1


def test_a_schematic_waits_for_no_tape(closeout):
    record = yard()
    record.points = []
    record.questions = [Question(about="CB-1", field="ties", why="low_confidence")]
    assert unsettled(closeout.model_copy(update={"record": record, "findings": []})) == []


def test_a_failed_check_stands_in_its_way_until_the_firm_answers_it(closeout):
    failed = Finding(check="min_slope", subject="R-1", outcome="fail", message="Run 1 is too flat.", evidence=[])
    record = closeout.record.model_copy(update={"questions": []})
    closeout = closeout.model_copy(update={"record": record, "findings": [failed]})
    assert unsettled(closeout) == ["R-1, steep enough for its pipe: Run 1 is too flat."]
    given = [Acceptance(finding="min_slope", about="R-1", text="agreed.", evidence=[])]
    record = record.model_copy(update={"acceptances": given})
    answered = with_acceptances(record, [failed])
    assert unsettled(closeout.model_copy(update={"record": record, "findings": answered})) == []


@pytest.mark.parametrize(
    ("check", "subject", "amounts", "language", "told"),
    [
        ("min_slope", "R-1", {"computed": 0.42, "limit": 0.5, "unit": "percent"}, "en",
         "Run R-1: it falls 0.42%, less than the 0.5% asked for, so grit may settle in it. "
         "Our answer: left as is, agreed with the owner."),
        ("min_slope", "R-1", {"computed": 0.42, "limit": 0.5, "unit": "percent"}, "es",
         "Tramo R-1: cae 0.42%, menos del 0.5% que se pide, así que se le puede asentar la arena. "
         "Nuestra respuesta: “left as is, agreed with the owner”."),
        ("in_above_out", "CB-1", {"computed": -0.05, "limit": 0.0, "unit": "ft"}, "en",
         "Catch basin CB-1: the incoming pipe lies lower than the outgoing one, so some water stays in it. "
         "Our answer: left as is, agreed with the owner."),
        ("level_closure", "benchmark", {}, "en",
         "Our level readings do not come back to the height that they start from. "
         "Our answer: left as is, agreed with the owner."),
        ("label", "CB-1", {}, "en", "Catch basin CB-1: one of our own checks did not come out as it should. "
         "Our answer: left as is, agreed with the owner."),
    ],
)  # fmt: skip
def test_what_the_firm_accepted_stands_there_with_what_was_found_while_it_fails(
    closeout, check, subject, amounts, language, told
):
    given = Acceptance(finding=check, about=subject, text="left as is, agreed with the owner", evidence=[])
    record = closeout.record.model_copy(update={"acceptances": [given]})
    failed = Finding(check=check, subject=subject, outcome="fail", message="It is wrong.", evidence=[], **amounts)
    for findings, stands in ((with_acceptances(record, [failed]), True), ([], False)):
        found = closeout.model_copy(update={"record": record, "findings": findings, "language": language})
        assert (told in text_of(made(found))) is stands


def test_every_check_that_a_sentence_is_kept_for_is_one(closeout):
    checks = "".join(path.read_text("utf-8") for path in (Path(__file__).parents[2] / "extract" / "check").glob("*.py"))
    assert [each for each in load("words")["failed"] if each != "other" and f'"{each}"' not in checks] == []


def test_a_slope_that_rests_on_a_doubtful_invert_stands_in_its_way(closeout):
    run = next(each for each in closeout.record.runs if each.from_ and each.to)
    asked = Question(about=run.from_, field="invert_out_ft", why="hedged", evidence=[])
    record = closeout.record.model_copy(update={"questions": [asked]})
    assert unsettled(closeout.model_copy(update={"record": record, "findings": []}))


def test_the_sheet_to_find_it_waits_for_its_depths_too(closeout):
    asked = Question(about="R-1", field="cover_in", why="hedged", evidence=[])
    record = closeout.record.model_copy(update={"questions": [asked]})
    closeout = closeout.model_copy(update={"record": record, "findings": []})
    assert unsettled(closeout) == []
    assert len(unsettled(closeout, LOCATED)) == 1


def test_its_cautions_name_what_this_job_called_for(closeout):
    words = "Trucks pass over run 1."
    caution = Finding(check="caution", subject="R-1", outcome="attention", message=words, evidence=[])
    assert words in text_of(made(closeout.model_copy(update={"findings": [caution]})))


@pytest.mark.parametrize(
    ("tests", "told"),
    [
        ([("hose", "fail"), ("hose", "pass")], "We ran water through it. It passed 1 test."),
        ([("camera", "pass")], "It passed 1 test."),
        ([("hose", "pass"), ("camera", "fail")], "1 test did not pass."),
        ([], "No water test was recorded."),
    ],
)
def test_the_last_test_of_each_place_counts(closeout, tests, told):
    found = [Test(kind=kind, at="R-1", result=result, evidence=[]) for kind, result in tests]
    record = closeout.record.model_copy(update={"tests": found, "decisions": []})
    facts = gather(for_client(closeout.model_copy(update={"record": record})))
    assert dict(summary(facts))["What it carries"][-1] == told


def test_every_page_of_a_draft_says_so(closeout):
    content = made(closeout, ["Run R-1, length: not said"])
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        running = [parts.read(name) for name in parts.namelist() if "header" in name or "footer" in name]
    text = text_of(content)
    assert "Not settled yet" in text
    assert "Run R-1, length: not said" in text
    assert Document(io.BytesIO(content)).paragraphs[1].text.startswith("DRAFT, not settled")
    assert sum(b"DRAFT" in each for each in running) >= 4
    assert "DRAFT" not in text_of(made(closeout))


def photo(number, about, backfill="unknown", note=None):
    return Photo(
        number=number, sha256=f"{number:064}", name=f"{number}.jpg", taken_at=None, time_source="", about=about,
        backfill=backfill, note=note, jpeg=b"a picture",
    )  # fmt: skip


def test_of_each_thing_it_shows_one_photo_open_and_one_done(closeout):
    photos = [photo(1, "R-1", "before"), photo(2, "R-1", "before"), photo(3, "R-1", "after"), photo(4, "R-1", "after")]
    photos += [photo(5, None), photo(6, "gone-1")]
    facts = gather(for_client(closeout.model_copy(update={"photos": photos})))
    assert [each.number for each in choice(facts)] == [1, 4]


@pytest.mark.parametrize(("language", "told"), [("en", "before the work."), ("es", "antes del trabajo.")])
def test_a_photo_from_before_the_work_stands_where_none_shows_the_thing_open(closeout, language, told):
    early = [photo(number, "R-1").model_copy(update={"before_work": True}) for number in (1, 2)]
    for photos, number in ((early, 2), ([*early, photo(3, "R-1")], 3)):
        facts = gather(for_client(closeout.model_copy(update={"photos": photos, "language": language})))
        assert [each.number for each in choice(facts)] == [number]
        assert _caption(facts, choice(facts)[0]).endswith(told) is (number == 2)


def test_a_photo_of_the_rod_is_left_out_where_another_shows_the_thing(closeout):
    level = next(each for each in closeout.record.levels if closeout.record.subject(each.point.split(" ")[0]))
    label = level.point.split(" ")[0]
    at_the_rod = photo(1, label, note=level.evidence[0].note)
    other = photo(2, label, note=999)

    def chosen(*photos):
        return [each.number for each in choice(gather(for_client(closeout.model_copy(update={"photos": [*photos]}))))]

    assert chosen(at_the_rod, other) == [2]
    assert chosen(at_the_rod) == [1]


def test_a_job_of_which_nothing_is_known_still_makes_one(closeout):
    record = closeout.record.model_copy(
        update={name: [] for name in type(closeout.record).model_fields if name != "numbers"}
    )
    bare = closeout.model_copy(update={"record": record, "photos": [], "findings": []})
    assert "Nothing was recorded that could be drawn." in text_of(made(bare))


def test_a_trouble_of_no_kind_is_told_by_its_words(closeout):
    issue = Issue(kind="other", at="R-1", action="repaired", text="a drip at the wye", evidence=[])
    record = closeout.record.model_copy(update={"issues": [issue]})
    text = text_of(made(closeout.model_copy(update={"record": record})))
    assert "A drip at the wye, run R-1: repaired." in text
    assert "Other, run" not in text


def test_the_sheet_to_find_it_again_has_depths_and_the_call_before_digging(closeout, tmp_path):
    record = closeout.record.model_copy(
        update={
            "runs": [
                Run(label="R-1", from_="CB-1", to="CB-2", state="installed", length_ft=20, cover_in=14,
                    nominal_in=4, pipe="SDR 35", evidence=[Evidence(note=1, quote="so", confidence=1)])
            ],
            "issues": [Issue(kind="utility", at="R-1", action="left", text="a gas line", evidence=[])],
            "structures": [
                Structure(label="CB-1", kind="catch_basin", state="installed", invert_depth_in=18, evidence=[]),
                Structure(
                    label="CB-2", kind="catch_basin", state="installed", rim_ft=99.5, invert_in_ft=98.2,
                    invert_out_ft=98.05, evidence=[],
                ),
            ],
        }
    )  # fmt: skip
    paths = write_closeout(closeout.model_copy(update={"record": record}), tmp_path / "it.docx", reader="locate")
    text = text_of(paths[0].read_bytes())
    assert "about 11.5 in over the pipe at CB-2 by the levels; 14 in told" in text
    assert "pipe bottom 18 in below the rim" in text
    assert "pipe bottom 17.4 in below the rim, by the levels" in text
    assert "buried utility, left in place" in text
    assert "811" in text
    assert [path.name for path in paths] == ["it.docx", "it-plan.png"]


def locate_text(closeout, tmp_path, cover, language="en", **basin):
    """The sheet of one run of 4 in pipe from basin CB-1 to an outlet, with that cover told."""
    run = Run(label="R-1", from_="CB-1", to="OUT-1", state="installed", nominal_in=4, cover_in=cover, evidence=[])
    structures = [
        Structure(label="CB-1", kind="catch_basin", state="installed", evidence=[], **basin),
        Structure(
            label="OUT-1", kind="daylight_outlet", state="installed", rim_ft=98.0, invert_in_ft=98.0, evidence=[]
        ),
    ]
    record = closeout.record.model_copy(update={"runs": [run], "structures": structures, "levels": []})
    made = closeout.model_copy(update={"record": record, "language": language})
    return text_of(write_closeout(made, tmp_path / "it.docx", reader="locate")[0].read_bytes())


@pytest.mark.parametrize(
    ("cover", "invert", "language", "told"),
    [
        (18, 98.9, "en", "about 9.2 in over the pipe at CB-1 by the levels; 18 in told"),
        (18, 98.9, "es", "unas 9.2 pulg de tierra sobre el tubo en CB-1, según la nivelación; se dijo 18 pulg"),
        (None, 98.9, "en", "about 9.2 in over the pipe at CB-1 by the levels"),
        (6, 98.9, "en", "at least 6 in over the pipe"),
        (18, 99.9, "en", "no cover over the pipe at CB-1 by the levels; 18 in told"),
    ],
)
def test_the_sheet_tells_the_least_cover_of_what_was_told_and_what_the_levels_give(
    closeout, tmp_path, cover, invert, language, told
):
    text = locate_text(closeout, tmp_path, cover, language, rim_ft=100.0, invert_out_ft=invert)
    assert told in text.split("\n")


@pytest.mark.parametrize(
    ("language", "told"),
    [
        ("en", "about 12 in over the pipe at CB-1 by its depth; 14 in told"),
        ("es", "unas 12 pulg de tierra sobre el tubo en CB-1, según su profundidad; se dijo 14 pulg"),
    ],
)
def test_the_sheet_tells_the_cover_that_a_depth_told_leaves(closeout, tmp_path, language, told):
    assert told in locate_text(closeout, tmp_path, 14, language, invert_depth_in=16).split("\n")


def test_the_sheet_takes_the_way_out_for_an_upper_bound_at_the_lower_end(closeout, tmp_path):
    run = Run(label="R-1", from_="CO-1", to="CB-1", state="installed", nominal_in=4, cover_in=18, evidence=[])
    basin = Structure(
        label="CB-1", kind="catch_basin", state="installed", rim_ft=100.0, invert_out_ft=98.9, evidence=[]
    )
    record = closeout.record.model_copy(update={"runs": [run], "structures": [basin], "levels": []})
    made = closeout.model_copy(update={"record": record})
    text = text_of(write_closeout(made, tmp_path / "it.docx", reader="locate")[0].read_bytes())
    assert "at the most 9.2 in over the pipe at CB-1 by the levels; 18 in told" in text


def test_the_sheet_tells_the_lesser_depth_of_a_structure_too(closeout, tmp_path):
    text = locate_text(closeout, tmp_path, None, rim_ft=100.0, invert_out_ft=98.9, invert_depth_in=18)
    assert "pipe bottom 13.2 in below the rim, by the levels; 18 in told" in text


@pytest.mark.parametrize(
    ("language", "told"),
    [
        ("en", "of gas, electric, water or other lines it shows only those that the crew met and told of"),
        ("es", "de las líneas de gas, luz, agua u otras muestra solo las que la cuadrilla encontró y dijo"),
    ],
)
def test_the_sheet_says_that_it_shows_only_the_lines_that_were_met(closeout, tmp_path, language, told):
    text = locate_text(closeout, tmp_path, 18, language, rim_ft=100.0, invert_out_ft=98.9)
    assert told in text
    assert "811" in text


@pytest.mark.parametrize(
    ("ties", "language", "told"),
    [
        ([], "en", "No structure was taped"),
        ([], "es", "Ninguna estructura se midió"),
        ([Tie(from_="garage corner", distance_ft=18.5)], "en", "Measures were taped"),
    ],
)
def test_the_sheet_says_whether_anything_was_taped(closeout, tmp_path, ties, language, told):
    assert told in locate_text(closeout, tmp_path, 18, language, rim_ft=100.0, invert_out_ft=98.9, ties=ties)


@pytest.mark.parametrize(
    ("language", "told"),
    [
        (
            "en",
            [
                "18.5 ft from garage corner, left; 30 ft from porch post",
                "36.9 ft from garage corner",
                "Left and right: seen from the point named, looking toward the other point that was taped from.",
            ],
        ),
        (
            "es",
            [
                "a 18.5 pies de “garage corner”, izquierda; a 30 pies de “porch post”",
                "a 36.9 pies de “garage corner”",
                "Izquierda y derecha: desde el punto nombrado",
            ],
        ),
    ],
)
def test_the_sheet_tells_how_ties_are_meant_and_how_far_their_points_lie_apart(closeout, tmp_path, language, told):
    points = [
        FixedPoint(name="garage corner"),
        FixedPoint.model_validate({"name": "porch post", "to": [{"point": "garage corner", "distance_ft": 36.9}]}),
    ]
    taped = closeout.model_copy(update={"record": closeout.record.model_copy(update={"points": points})})
    ties = [
        Tie(from_="garage corner", distance_ft=18.5, side="on the left"),
        Tie(from_="porch post", distance_ft=30),
    ]
    lines = locate_text(taped, tmp_path, 18, language, rim_ft=100.0, invert_out_ft=98.9, ties=ties)
    assert [each for each in told if each not in lines] == []


def test_the_sheet_explains_no_left_where_none_was_said(closeout, tmp_path):
    ties = [Tie(from_="garage corner", distance_ft=18.5)]
    assert "Left and right" not in locate_text(closeout, tmp_path, 18, ties=ties)


@pytest.mark.parametrize(
    ("language", "heard", "pictures", "told"),
    [
        ("en", "so", True, "made from spoken notes and photos and checked"),
        ("en", None, False, "made from typed notes and checked"),
        ("es", None, True, "hecho con notas escritas y fotos y revisado"),
    ],
)
def test_it_says_what_it_was_made_from_and_no_more(closeout, language, heard, pictures, told):
    notes = [Note(text="Run one is in.", heard=heard)]
    seen = closeout.photos if pictures else []
    given = closeout.model_copy(update={"notes": notes, "photos": seen, "language": language})
    assert told in text_of(made(given))


@pytest.mark.parametrize(("language", "told"), [("en", "Positions from phones"), ("es", "La posición de un teléfono")])
def test_it_speaks_of_phones_only_where_a_photo_tells_its_place_and_names_the_plain_source(closeout, language, told):
    def text(lat):
        photos = [each.model_copy(update={"lat": lat, "lon": lat}) for each in closeout.photos]
        return text_of(made(closeout.model_copy(update={"photos": photos, "language": language})))

    assert (told in text(None), "GPS.gov" in text(None)) == (False, False)
    assert (told in text(40.0), "GPS.gov" in text(40.0)) == (True, True)
    assert not [each for each in ("as quoted by others", "citado por otros") if each in text(40.0)]


def test_the_first_page_shows_a_structure_that_is_done_before_a_filled_trench(closeout):
    def first(*photos):
        given = closeout.model_copy(update={"record": record, "photos": [*photos]})
        found = best_photo(given.photos, given.record)
        return found and found.number

    kinds = {"CB-1": "catch_basin", "CD-1": "channel_drain", "OUT-1": "popup_outlet"}
    structures = [Structure.model_validate({"label": label, "kind": kind}) for label, kind in kinds.items()]
    record = closeout.record.model_copy(update={"structures": structures})
    trench, open_basin, channel = photo(1, "R-1", "after"), photo(2, "CB-1"), photo(3, "CD-1")
    early = photo(4, "CD-1").model_copy(update={"before_work": True})
    assert first(trench, open_basin, early) == 1
    assert first(trench, open_basin, channel, early, photo(5, "OUT-1")) == 3
    assert first(trench, photo(2, "CB-1", "after"), channel) == 2
    assert first(early, open_basin) == 2
    assert first() is None
