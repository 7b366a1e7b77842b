"""What a client is handed in Spanish: every word of it from the Spanish tables, the crew's own words, or names."""

from __future__ import annotations

import io
import random
import re
import string
import zipfile
from collections.abc import Iterator
from datetime import date
from html import unescape
from pathlib import Path
from typing import Any, get_args

import pytest
import textstat
from docx import Document
from icalendar import Calendar
from pydantic import ValidationError
from test_report_scaled import yard

from extract import record as shapes
from extract.assemble import assemble
from extract.check import check
from extract.check.accepted import with_acceptances
from extract.check.policy import load_policy
from extract.check.safety import caution_of, client_cautions, for_the_crew
from extract.check.ties import POINTS
from extract.notes import parse_log
from extract.record import (
    Acceptance,
    Crossing,
    Decision,
    Departure,
    Evidence,
    Finding,
    Fitting,
    Issue,
    Note,
    Question,
    Record,
    Run,
    Structure,
    Test,
    Tie,
)
from extract.spanish import english as in_english
from reports import client, locate, words
from reports.canvas import Drawing, Sheet
from reports.closeout import shown
from reports.drawings import draw
from reports.facts import gather
from reports.ics import calendar
from reports.job import Closeout, Exclusion, Photo, Warranty, WarrantyText
from reports.settled import LOCATED, unsettled
from reports.warranty import terms
from sample_logs.script import load_day

TABLES = ("words", "papers", "care", "warranty")
RECORD_ALONE = {"fitting", "test", "outcome", "level", "unit", "limit"}
"""Groups of words.toml that nothing but the record's report prints, which is in English."""
EXAMPLES = Path(__file__).parent.parent / "examples"
LOGO = Path(__file__).parents[2] / "sample_logs" / "logo.png"
SHARED = {"label", "no", "n"}
"""Words that both languages write alike and one may meet in a name; and north on a plan."""
MOST_WORDS = 200
LEAST_EASE = 70
"""Of Fernández Huerta's scale, where 70 to 80 is fairly easy (from memory)."""
CAUTIOUS = re.compile(r"segur|correct|está bien", re.I)


def in_spanish(closeout: Closeout, **other: Any) -> Closeout:
    return closeout.model_copy(update={"language": "es", **other})


def leaves(table: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Each text or number of a table with the way to it."""
    pairs = table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else None
    if pairs is None:
        yield path, table
        return
    for key, value in pairs:
        yield from leaves(value, f"{path}.{key}")


def gaps(text: str) -> list[str]:
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


# -- the tables


@pytest.mark.parametrize("name", TABLES)
def test_both_languages_have_the_same_keys_and_the_same_gaps(name: str) -> None:
    english = {key: each for key, each in words.load(name).items() if name != "words" or key not in RECORD_ALONE}
    english, spanish = dict(leaves(english)), dict(leaves(words.load(name, "es")))
    assert set(spanish) == set(english)
    for key, text in english.items():
        if isinstance(text, str):
            assert gaps(spanish[key]) == gaps(text), key


def test_both_languages_have_the_same_cautions_with_the_same_gaps() -> None:
    for english, spanish in zip(client_cautions(), client_cautions("es"), strict=True):
        assert english.name == spanish.name
        for name in ("title", "text", "phones", "source", "quoted", "crew", "exit"):
            assert gaps(getattr(spanish, name) or "") == gaps(getattr(english, name) or "")
            assert bool(getattr(spanish, name)) == bool(getattr(english, name))


def test_both_languages_cite_the_same_sections_and_figures() -> None:
    for english, spanish in zip(client_cautions(), client_cautions("es"), strict=True):
        for name in ("text", "phones", "source"):
            figures = [re.findall(r"\d[\d.()a-z]*", getattr(each, name) or "") for each in (english, spanish)]
            assert figures[0] == figures[1], english.title


def test_care_is_due_on_the_same_days_for_the_same_kinds() -> None:
    def days(language: shapes.Language) -> list[Any]:
        season = words.load("care", language)["season"]
        kinds = [[item.get("kinds") for item in each["items"]] for each in season]
        return [[each.get("begins") for each in season], kinds]

    assert days("es") == days("en")


def test_no_spanish_word_says_that_the_work_is_right_or_a_trench_safe() -> None:
    texts = [str(text) for name in TABLES for _, text in leaves(words.load(name, "es"))]
    texts += [each.text for each in client_cautions("es")]
    assert not [each for each in texts if CAUTIOUS.search(each)]


# -- figures and days


def test_days_and_measures_are_written_as_they_are_said() -> None:
    assert words.day(date(2026, 5, 1), "es") == "1 de mayo de 2026"
    assert words.short_length(34 + 8 / 12, "es") == "34 pies 8 pulg"
    assert words.short_length(1.0, "es") == "1 pie"
    assert words.short_length(1250.37, "es") == "1,250.37 pies"
    assert words.short_length(None, "es") == "no se anotó"
    assert words.inches(4.25, "es") == "4 1/4 pulg"
    assert words.slope(12.5 / 12, "es") == "1.04% (1/8 pulg por pie)"
    assert words.fall(-0.5, "es") == "0.50% de subida"
    assert words.pipe(Run(label="R-1", nominal_in=4, pipe="dual-wall"), "es") == "doble pared de 4 pulg"
    assert words.size(Structure(label="CB-1", kind="catch_basin", size_in=[9]), "es") == "9 pulg de diámetro"
    assert words.value("state", "existing", "es") == "ya estaba, sigue en uso"
    assert words.joined(["a", "b", "c"], "es") == "a, b y c"


# -- no English remains


def vocabulary() -> set[str]:
    texts = [str(text) for name in TABLES for _, text in leaves(words.load(name, "es"))]
    texts += [str(text) for each in client_cautions("es") for text in each.model_dump().values()]
    return set(re.findall(r"[^\W\d_]+", " ".join(texts).lower()))


def names_of(closeout: Closeout) -> set[str]:
    """Words of names, of the firm's own text, and of labels."""
    texts = [str(text) for _, text in leaves(closeout.job.model_dump(mode="json"))]
    texts += re.findall(r"\b[A-Z]+-\d+", closeout.record.model_dump_json())
    return set(re.findall(r"[^\W\d_]+", " ".join(texts).lower()))


def strange(texts: list[str], closeout: Closeout) -> dict[str, list[str]]:
    """Each text with those of its words that are neither Spanish of ours, nor quoted, nor names."""
    known = vocabulary() | names_of(closeout) | SHARED
    found = {}
    for text in texts:
        bare = re.sub(r"“[^”]*”", " ", text)
        if other := [each for each in re.findall(r"[^\W\d_]+", bare.lower()) if each not in known]:
            found[text] = other
        assert "{" not in text
    return found


def texts_of(content: bytes) -> list[str]:
    """Every paragraph, in cells and at the head and foot of pages too, every text for a reader who cannot see a
    picture, and what the file says of itself."""
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        pages = [
            parts.read(name).decode() for name in parts.namelist() if re.match(r"word/(doc|head|foot)\w+.xml", name)
        ]
    found = []
    for page in pages:
        for paragraph in re.findall(r"<w:p[ >].*?</w:p>", page, re.S):
            runs = re.findall(r"<w:t(?: [^>]*)?>(.*?)</w:t>|<w:(tab)/>", paragraph)
            found.append(unescape("".join(text or " " for text, _ in runs)))
        found += re.findall(r'descr="([^"]*)"', page) + re.findall(r'<w:tblCaption w:val="([^"]*)"', page)
    about = Document(io.BytesIO(content)).core_properties
    return [each for each in (*found, about.title, about.subject, about.category) if each.strip()]


def papers(closeout: Closeout) -> Iterator[list[str]]:
    """The texts of all that is handed over: both documents, as drafts too, the plan, and the calendar."""
    handed = shown(closeout, "client")
    drawings, drawn = drawings_of(handed)
    for fields, document in ((None, client.document), (LOCATED, locate.document)):
        lines = unsettled(closeout, *([fields] if fields else []))
        yield texts_of(document(handed, drawings))
        yield texts_of(document(handed, drawings, lines or ["borrador"]))
    yield drawn
    events = Calendar.from_ical(calendar(closeout)).walk("VEVENT")
    yield [str(each[name]) for each in events for name in ("summary", "description")]


def drawings_of(closeout: Closeout) -> tuple[list[Drawing], list[str]]:
    """The plan, and all that is lettered on it."""
    drawn: list[str] = []
    write = Sheet.text

    def kept(self: Sheet, at: Any, text: str, *rest: Any, **more: Any) -> None:
        drawn.append(text)
        write(self, at, text, *rest, **more)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Sheet, "text", kept)
        patch.setattr("reports.drawings.profiles", lambda facts: [])  # for those who build on it
        drawings = draw(gather(closeout))
    return drawings, drawn


def check_all(closeout: Closeout) -> None:
    for texts in papers(closeout):
        assert strange(texts, closeout) == {}


def read(closeout: Closeout, notes: list[Note]) -> Closeout:
    record = assemble(notes)
    return in_spanish(closeout, notes=notes, record=record, findings=check(record, notes=notes))


@pytest.fixture(scope="module")
def sample_day(closeout: Closeout) -> Closeout:
    return read(closeout, [Note(text=line.text) for each in load_day().recording for line in each.say])


def test_nothing_of_the_made_up_job_stays_english(closeout: Closeout) -> None:
    check_all(in_spanish(closeout))


def test_english_would_be_found(closeout: Closeout) -> None:
    for texts in papers(closeout):
        assert strange(texts, closeout)


def test_nothing_of_the_sample_day_stays_english(sample_day: Closeout) -> None:
    check_all(sample_day)


@pytest.mark.parametrize("name", ["job-a", "job-m", "job-w", "es/job-c"])
def test_nothing_of_a_job_as_told_stays_english(closeout: Closeout, name: str) -> None:
    check_all(read(closeout, parse_log((EXAMPLES / f"{name}.notes.txt").read_text())))


def any_job(closeout: Closeout, chance: random.Random) -> Closeout:
    """A job put together by chance from all that a record can hold."""

    def one(kind: Any) -> Any:
        return chance.choice(get_args(kind))

    def maybe(value: Any) -> Any:
        return value if chance.random() < 0.7 else None

    evidence = [Evidence(note=0, quote="so it was said", confidence=1)]
    structures = [
        Structure(
            label=f"S-{number}", kind=maybe(one(shapes.StructureKind)) or None, state=maybe(one(shapes.State)),
            size_in=maybe([9.0, 12.0][: chance.randint(1, 2)]), rim_ft=maybe(100.25), invert_in_ft=maybe(98.5),
            invert_depth_in=maybe(80.0), traffic=one(shapes.Traffic), evidence=evidence,
            ties=[Tie.model_validate({"from": "gate post", "distance_ft": 18.5, "side": maybe("left")})],
        )
        for number in range(1, 12)
    ]  # fmt: skip
    labels = [each.label for each in structures]
    runs = [
        Run(
            label=f"R-{number}", from_=maybe(chance.choice(labels)),
            to=maybe(chance.choice([*labels, "the old ditch"])),
            state=maybe(one(shapes.State)), nominal_in=maybe(4.0), pipe=maybe(one(shapes.Pipe)),
            length_ft=maybe(chance.uniform(1, 90)), drop_in=maybe(chance.uniform(-2, 5)), cover_in=maybe(65.0),
            traffic=one(shapes.Traffic), evidence=evidence,
            crossings=[Crossing(what="gas line", at_ft=maybe(12.0), depth_in=maybe(18.0))],
        )
        for number in range(1, 9)
    ]  # fmt: skip
    about = [*labels, *(each.label for each in runs), "the back gate", None]
    record = Record(
        structures=structures,
        runs=runs,
        issues=[
            Issue(kind=kind, at=chance.choice(about), action=maybe(one(shapes.IssueAction)), text="met")
            for kind in get_args(shapes.IssueKind)
        ],
        tests=[
            Test(kind=one(Test.model_fields["kind"].annotation), at="R-1", result=chance.choice(["pass", "fail", None]))
            for _ in range(2)
        ],
        decisions=[Decision(text="whether to reuse the old basin", state="open", evidence=evidence)],
        changes=[Departure(about=chance.choice(about), text="moved it a foot west", evidence=evidence)],
        questions=[
            Question(about=chance.choice(labels), field=field, heard=maybe("forty"), choices=maybe(choices), why=why)
            for why in get_args(shapes.Why)
            for field, choices in (("length_ft", [43, 45.5]), ("state", ["installed", "existing"]), (None, None),
                                   ("size_in", [[9.0], [12.0, 12.0]]), ("kind", ["dry_well"]), ("rim_ft", [99, None]))
        ] + [
            Question(about=about, field="shows", why="missing")
            for about in ("S-1 invert_in", "benchmark", "levels", "tests", "photo 7", "note 3", "the old basin", "R-99")
        ],
    )  # fmt: skip
    findings = check(record, notes=[Note(text="Saw cut the walk by the gas line. The trench is six feet deep.")])
    record.acceptances = [
        Acceptance(finding=each.check, about=each.subject, text="agreed with the owner", evidence=evidence)
        for each in findings
        if each.outcome == "fail" and chance.random() < 0.5
    ]
    photos = [
        Photo(number=number, sha256=f"{number:064}", name="a.jpg", taken_at=None, time_source="", about=label,
              backfill=chance.choice(["before", "after", "unknown"]))
        for number, label in enumerate(about[:-2], 1)
    ]  # fmt: skip
    return in_spanish(closeout, record=record, findings=with_acceptances(record, findings), photos=photos)


@pytest.mark.parametrize("seed", range(12))
def test_nothing_of_a_job_by_chance_stays_english(closeout: Closeout, seed: int) -> None:
    check_all(any_job(closeout, random.Random(seed)))


@pytest.mark.parametrize("day", [date(2026, 5, 20), date(2026, 5, 1), date(2029, 5, 1)])
@pytest.mark.parametrize("months", [None, 6])
def test_nothing_of_a_visit_stays_english(closeout: Closeout, day: date, months: int | None) -> None:
    warranty = closeout.job.company.warranty.model_copy(update={"callback_months": months})
    company = closeout.job.company.model_copy(update={"warranty": warranty})
    job = closeout.job.model_copy(update={"name": "back", "day": day, "callback_of": "old", "company": company})
    check_all(in_spanish(closeout, job=job, former=closeout))


def taped(closeout: Closeout, bearing: float | None, ties: bool, bends: int) -> Closeout:
    """A yard that can be drawn to scale; without all ties in part, with bends of which nobody told where."""
    record = yard(bearing)
    record.runs[0].crossings = [Crossing(what="gas line", at_ft=12, depth_in=18)]
    for run in record.runs[:bends]:
        run.fittings = [Fitting(kind="elbow", count=2, angle_deg=45)]
    if not ties:
        record.structures[2].ties, record.runs[1].length_ft = [], None
    return in_spanish(closeout, record=record, findings=check(record), photos=[])


@pytest.mark.parametrize("bearing", [None, 90])
@pytest.mark.parametrize("ties", [True, False])
@pytest.mark.parametrize("bends", [0, 1, 2])
def test_nothing_of_a_plan_to_scale_stays_english(
    closeout: Closeout, bearing: float | None, ties: bool, bends: int
) -> None:
    made = taped(closeout, bearing, ties, bends)
    drawings, drawn = drawings_of(shown(made, "client"))
    assert [each.name for each in drawings] == ["plan", *([] if ties else ["schematic"])]
    assert drawings[0].caption.startswith("Plano a escala")
    assert {"“garage corner”", "42", "“gas line” a 12 pies, a 18 pulg de hondo"} <= set(drawn)
    check_all(made)


def test_a_plan_to_scale_says_what_is_not_on_it(closeout: Closeout) -> None:
    (plan, _), _ = drawings_of(taped(closeout, None, ties=False, bends=1))
    assert "R-1 va recto en el dibujo" in plan.caption
    assert "Sin ubicar, porque se midió muy poco con cinta: OUT-1." in plan.caption
    assert "Medido con cinta: de “garage corner” a “meter post” 42 pies; " in plan.alt
    assert "de “garage corner” a registro pluvial CB-1 26.08 pies" in plan.alt


def test_what_fails_about_the_fixed_points_is_told_in_spanish(closeout: Closeout) -> None:
    failed = Finding(check="tie_fit", subject=POINTS, outcome="fail", message="It is out.", evidence=[])
    record = closeout.record.model_copy(update={"questions": []})
    (line,) = unsettled(in_spanish(closeout, record=record, findings=[failed]))
    assert line.startswith("puntos fijos, cintas y largos se juntan en un lugar: ")


def test_the_logo_is_told_in_spanish(closeout: Closeout) -> None:
    company = closeout.job.company.model_copy(update={"logo_png": LOGO.read_bytes()})
    made = in_spanish(closeout, job=closeout.job.model_copy(update={"company": company}))
    for document in (client.document, locate.document):
        assert f"Logotipo de {company.name}" in map(unescape, texts_of(document(shown(made, "client"), [])))


def test_a_job_of_which_nothing_is_known_stays_spanish(closeout: Closeout) -> None:
    check_all(in_spanish(closeout, record=Record(), findings=[], photos=[]))


# -- what it says


@pytest.mark.parametrize("of", ["closeout", "sample_day"])
def test_its_summary_is_short_and_easy_to_read(of: str, request: pytest.FixtureRequest) -> None:
    answers = client.summary(gather(shown(in_spanish(request.getfixturevalue(of)), "client")))
    text = " ".join(line for _, lines in answers for line in lines)
    assert len(text.split()) <= MOST_WORDS
    textstat.set_lang("es")
    try:
        assert textstat.fernandez_huerta(text) >= LEAST_EASE
    finally:
        textstat.set_lang("en_US")


def test_it_says_which_language_it_is_in(closeout: Closeout) -> None:
    for copy, language in ((closeout, "en-US"), (in_spanish(closeout), "es-US")):
        content = client.document(shown(copy, "client"), [])
        assert Document(io.BytesIO(content)).core_properties.language == language
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            assert set(re.findall(r'<w:lang w:val="([^"]+)"', parts.read("word/styles.xml").decode())) == {language}


def test_the_crews_words_stay_in_their_own_language(closeout: Closeout) -> None:
    notes = [
        Note(text="Moved the basin a foot west."),
        Note(text="we laid the outlet by the fence.", heard="Pusimos la salida junto a la cerca.", language="es"),
    ]
    changes = [
        Departure(
            about="CB-1", text="moved the basin a foot west", evidence=[Evidence(note=0, quote="", confidence=1)]
        ),
        Departure(text="we laid the outlet by the fence", evidence=[Evidence(note=1, quote="", confidence=1)]),
    ]
    record = closeout.record.model_copy(update={"changes": changes})
    told = closeout.model_copy(update={"notes": notes, "record": record})
    spanish = texts_of(client.document(shown(in_spanish(told), "client"), []))
    assert "Registro pluvial CB-1: “moved the basin a foot west”." in spanish
    assert "“Pusimos la salida junto a la cerca”." in spanish
    assert "We laid the outlet by the fence." in texts_of(client.document(shown(told, "client"), []))


@pytest.mark.parametrize(
    ("text", "shown_as"),
    [
        ("we laid the outlet by the fence", "“Pusimos la salida junto a la cerca”."),
        ("laid the outlet beside the fence", "“laid the outlet beside the fence”."),
    ],
)
def test_no_more_of_a_note_is_shown_than_what_the_entry_says(closeout: Closeout, text: str, shown_as: str) -> None:
    heard = "Pusimos la salida junto a la cerca. Son 45 pies, no, 54 pies. Nos debe 300 dólares."
    note = Note(text=in_english(heard), heard=heard, language="es")
    evidence = [Evidence(note=0, quote=note.text, confidence=1)]
    changes = [Departure(text=text, evidence=evidence)]
    decisions = [Decision(text=text, state="open", evidence=evidence)]
    record = closeout.record.model_copy(update={"changes": changes, "decisions": decisions})
    told = in_spanish(closeout, notes=[note], record=record)
    texts = texts_of(client.document(shown(told, "client"), []))
    assert shown_as in texts
    assert not [each for each in texts if "45 pies" in each or "300" in each]


CAUTIONS = {
    "walls": [Note(text="The trench is six feet deep.")],
    "silica": [Note(text="We saw cut the walk.")],
    "utilities": [Note(text="There is a gas line by the walk.")],
}


@pytest.mark.parametrize("name", [*CAUTIONS, "vehicles"])
def test_a_caution_that_the_job_called_for_is_told_in_spanish(closeout: Closeout, name: str) -> None:
    record = Record(runs=[Run(label="R-1", state="installed", traffic="truck")] if name == "vehicles" else [])
    findings = [each for each in check(record, notes=CAUTIONS.get(name)) if each.check == "caution"]
    assert {caution_of(each) for each in findings} == {name}
    text = "\n".join(
        texts_of(client.document(shown(in_spanish(closeout, record=record, findings=findings), "client"), []))
    )
    assert for_the_crew(name, load_policy(), "es", what="tramo R-1") in text
    if name == "walls":
        assert len(findings) == 2
        assert for_the_crew(name, load_policy(), "es", way_out=True) in text
        assert "Se habló de una zanja y de 6 pies." in text


def test_a_measured_depth_is_told_of_its_thing(closeout: Closeout) -> None:
    record = Record(structures=[Structure(label="CB-1", kind="catch_basin", state="installed", invert_depth_in=60)])
    text = "\n".join(
        texts_of(client.document(shown(in_spanish(closeout, record=record, findings=check(record)), "client"), []))
    )
    assert "Registro pluvial CB-1: 5.33 pies de profundidad o más. De 5 pies en adelante" in text


def test_a_failed_check_stands_in_a_draft_by_what_it_looks_for(closeout: Closeout) -> None:
    failed = Finding(check="min_slope", subject="R-1", outcome="fail", message="Run 1 is too flat.", evidence=[])
    record = closeout.record.model_copy(update={"questions": []})
    (line,) = unsettled(in_spanish(closeout, record=record, findings=[failed]))
    assert line.startswith("R-1, pendiente que alcanza para su tubo: esta revisión no pasa")


# -- the firm's own terms


SPANISH = WarrantyText(
    covers=["las uniones que hicimos"],
    excludes=[Exclusion(what="Raíces que crezcan después", why="Vienen de lo que se planta.")],
    how_to_claim="Llame a la oficina con el nombre del trabajo.",
    materials="Se entregan los papeles de los fabricantes.",
)


def with_terms(closeout: Closeout, es: WarrantyText | None) -> Closeout:
    warranty = closeout.job.company.warranty.model_copy(update={"es": es})
    company = closeout.job.company.model_copy(update={"warranty": warranty})
    return in_spanish(closeout, job=closeout.job.model_copy(update={"company": company}))


def test_the_firms_spanish_terms_stand_where_it_gives_them(closeout: Closeout) -> None:
    text = "\n".join(texts_of(client.document(shown(with_terms(closeout, SPANISH), "client"), [])))
    for each in ("Las uniones que hicimos", "Vienen de lo que se planta.", SPANISH.how_to_claim, SPANISH.materials):
        assert each in text
    assert "joints that we made" not in text.lower()
    assert "inglés" not in text


def test_without_them_the_english_stands_and_is_said_to_bind(closeout: Closeout) -> None:
    text = "\n".join(texts_of(client.document(shown(with_terms(closeout, None), "client"), [])))
    assert "Joints that we made" in text
    assert text.count("El texto en inglés es el que obliga.") == 1
    assert terms(closeout).binding == ""


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"covers": []}, "has 1 entries in covers and 0 in es.covers; give both as many"),
        ({"materials": None}, "has materials in one language alone; give it in both"),
    ],
)
def test_terms_that_say_less_in_one_language_are_refused(
    closeout: Closeout, change: dict[str, Any], fault: str
) -> None:
    es = SPANISH.model_copy(update=change)
    with pytest.raises(ValidationError, match=fault):
        Warranty.model_validate(closeout.job.company.warranty.model_dump() | {"es": es.model_dump()})


# -- the calendar


def test_the_calendar_is_the_same_in_spanish(closeout: Closeout) -> None:
    english, spanish = (Calendar.from_ical(calendar(each)).walk("VEVENT") for each in (closeout, in_spanish(closeout)))
    assert [(str(each["uid"]), each.decoded("dtstart")) for each in spanish] == [
        (str(each["uid"]), each.decoded("dtstart")) for each in english
    ]
    assert [str(each["summary"]) for each in spanish] == [
        "Cuidado de su drenaje: Primavera",
        "Cuidado de su drenaje: Verano",
        "Cuidado de su drenaje: Otoño",
        "Cuidado de su drenaje: Invierno",
        "Último día de la garantía de su drenaje",
    ]
