"""Both languages say all that there is to say: every kind of lack, field, state, check and form."""

import math
import string
from typing import get_args

import pytest

from extract.check.evidence import Lack, What
from extract.check.saying import IN_WORDS
from extract.record import (
    Area,
    Crossing,
    Fitting,
    FittingKind,
    IssueAction,
    Level,
    Question,
    Run,
    State,
    Structure,
    Surface,
    Test,
    Tie,
    Traffic,
)
from logger import in_spanish
from logger.ask import table as asking
from logger.wording import LANGUAGES, table, wording
from reports.words import load

BOTH = [wording(each) for each in LANGUAGES]
CAREFUL = ("segur", "correct", "está bien")


def values(form: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(form) if name}


def phrases(group) -> list[str]:
    if isinstance(group, dict):
        return [each for value in group.values() for each in phrases(value)]
    return [str(group)]


@pytest.mark.parametrize("group", ["says", "ready"])
def test_every_form_of_an_answer_has_its_spanish(group):
    english, spanish = table("en")[group], table("es")[group]
    assert set(english) == set(spanish)
    names = {"thing": "thing", "title": "thing", "of": "thing", "the_field": "field"}  # other forms of the same
    for key, form in english.items():
        assert {names.get(each, each) for each in values(spanish[key])} == values(form), key


@pytest.mark.parametrize(
    ("group", "kind"),
    [
        ("state", State),
        ("traffic", Traffic),
        ("fitting", FittingKind),
        ("action", IssueAction),
        ("lack", What),
    ],
)
def test_every_word_of_the_record_has_its_spanish(group, kind):
    assert set(table("es")[group]) == set(get_args(kind))


def test_every_surface_and_way_to_work_out_has_its_spanish():
    spanish = table("es")
    assert set(spanish["surface"]) == {*get_args(Surface), "unsaid"}
    assert set(spanish["how"]) == set(asking()["how"]) >= set(asking()["worked_out"])


def test_every_field_that_can_be_read_back_or_asked_about_has_its_spanish():
    known = set(table("es")["field"])
    own = {name.rstrip("_") for kind in (Run, Structure, Level, Test) for name in kind.model_fields}
    assert own - {"label", "evidence", "point"} <= known
    assert set(load("words")["field"]) <= known
    assert all(set(forms) == {"bare", "its", "the"} for forms in table("es")["field"].values())


def test_every_letter_of_a_label_has_its_spanish_name():
    assert set(IN_WORDS) - {"TP"} <= set(in_spanish.asking()["things"])
    assert {each for every in table("es")["named"].values() for each in every} == set(IN_WORDS) - {"TP"}


def test_every_question_has_its_spanish():
    assert set(in_spanish.asking()["question"]) == set(asking()["question"])
    assert set(in_spanish.asking()["why"]) == set(asking()["why"])


@pytest.mark.parametrize("what", get_args(What))
@pytest.mark.parametrize("of", [(), ("CB-1",), ("CB-1", "OUT-2")])
def test_every_lack_is_worded_in_both_languages(what, of):
    english, spanish = (say.lack(Lack(what, of, (4, 7))) for say in BOTH)
    assert english != spanish
    assert "  " not in spanish
    assert " de el " not in spanish
    if "{of}" in table("es")["lack"][what]:
        assert ("del registro 1" in spanish) == bool(of)


@pytest.mark.parametrize(
    ("lack", "words"),
    [
        (Lack("photo_open"), "una foto con la zanja abierta"),
        (Lack("photo_open", ("OUT-1",)), "una foto de la salida 1 con la zanja abierta"),
        (
            Lack("photo_known_before", ("CB-1",), (4, 7)),
            "una foto del registro 1 que se sepa de antes de tapar (la hora de la foto 4 y 7 está en duda)",
        ),
        (Lack("inverts_at", ("CD-1", "OUT-1")), "el fondo del tubo en el canal 1 y en la salida 1"),
        (Lack("invert_in", ("CB-2",)), "el fondo de entrada del registro 2"),
        (Lack("end"), "dónde termina"),
    ],
)
def test_what_is_missing_is_said_in_plain_spanish(lack, words):
    assert in_spanish.lack(lack) == words


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("length_ft", 34 + 8 / 12, "34 pies 8 pulg"),
        ("length_ft", 1.0, "1 pie"),
        ("length_ft", 12.37, "12.37 pies"),
        ("length_ft", 0.5, "6 pulg"),
        ("drop_in", 4.25, "4 1/4 pulg"),
        ("slope_pct", 12.5 / 12, "1.04% (1/8 pulg por pie)"),
        ("slope_pct", 1.2, "1.20%"),
        ("rim_ft", 98.4, "98.40 pies"),
        ("rod_ft", 5.0, "5.00 pies"),
        ("size_in", [12.0, 12.0], "12 pulg × 12 pulg"),
        ("pieces_ft", [10.0, 4.5], "10 pies, 4 pies 6 pulg"),
        ("state", "installed", "puesto"),
        ("kind", "dry_well", "pozo seco"),
        ("pipe", "dual-wall", "doble pared"),
        ("traffic", "truck", "camiones"),
        ("from", "DS-1", "la bajada 1"),
        ("to", "the {0} ditch", "the {0} ditch"),
        ("point", "CB-1 rim", "la tapa del registro 1"),
        ("action", "capped", "taponado"),
        ("length_ft", math.inf, "no se anotó"),
        ("bedding", "three inches of gravel", "“three inches of gravel”"),
        ("areas", [Area(sqft=600, surface="roof"), Area(sqft=80)],
         "600 pies cuadrados de techo, 80 pies cuadrados de superficie que no se dijo"),
        ("areas", 600.0, "600 pies cuadrados"),
        ("fittings", [Fitting(kind="elbow", count=2, angle_deg=45), Fitting(kind="wye")], "2 codos de 45°, 1 ye"),
        ("fittings", [Fitting(kind="reducer", nominal_in=6, to_nominal_in=4, at_ft=12, turn="left")],
         "1 reducción (6 pulg a 4 pulg) a 12 pies, a la izquierda"),
        ("fittings", [{"kind": "wye", "count": 2}], "2 yes"),
        ("fittings", [{"kind": "saddle", "count": 2}], "saddle 2"),
        ("ties", [Tie.model_validate({"from": "gate post", "distance_ft": 18.5})], "18.5 pies desde “gate post”"),
        ("crossings", [Crossing(what="unnamed", at_ft=12)], "algo sin nombre todavía a 12 pies"),
        ("crossings", [Crossing(what="gas line", at_ft=12, depth_in=18)], "“gas line” a 12 pies, a 18 pulg de hondo"),
    ],
)  # fmt: skip
def test_a_value_is_told_in_spanish(name, value, words):
    assert in_spanish.value(name, value) == words


@pytest.mark.parametrize(
    ("about", "field", "words"),
    [
        ("R-1", "length_ft", "su largo"),
        ("R-1", "fittings", "sus conexiones"),
        ("R-1", "from", "dónde empieza"),
        ("R-1", None, "lo que se dijo de él"),
        ("CB-1", "invert_out_ft", "el fondo de salida del registro 1"),
        ("CB-1 invert_out", "rod_ft", "la lectura del estadal del registro 1"),
        ("OUT-1", None, "lo que se dijo de la salida 1"),
    ],
)
def test_what_is_asked_is_named_in_plain_spanish(about, field, words):
    assert in_spanish.asked(Question(about=about, field=field, why="missing"), "R-1") == words


def test_a_question_for_a_field_without_a_form_of_its_own_names_the_field_in_spanish():
    assert in_spanish.question_text("R-1", "bedding") == "¿Qué se anota del tramo 1: cama?"
    assert (
        in_spanish.question_text("CB-1 invert_out", "rod_ft") == "¿Cuánto marcó el estadal en la salida del registro 1?"
    )


def test_no_spanish_word_says_that_the_work_is_right_or_a_trench_safe():
    every = [each for group in ("says", "ready", "lack", "field") for each in phrases(table("es")[group])]
    every += phrases(load("words", "es"))
    assert not [each for each in every if any(word in each.lower() for word in CAREFUL)]
