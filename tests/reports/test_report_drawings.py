from __future__ import annotations

import io
import re
from collections.abc import Sequence
from typing import get_args
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.colors import to_hex
from PIL import Image

from extract.record import Question, Record, Run, State, Structure, StructureKind
from reports import canvas
from reports.canvas import CLAY, Area, Labels, Sheet, spread
from reports.drawings import draw
from reports.facts import Facts, gather
from reports.job import Closeout, Photo
from reports.layout import layout
from reports.plan import RADIUS, ROW, WIDTH, foot_of, keys, rows_of

DRAWN = {"svg", "g", "defs", "path", "use", "clipPath", "rect", "text"}
"""All that a drawing's SVG is made of: no style, script or image."""
SVG, HREF = "{http://www.w3.org/2000/svg}", "{http://www.w3.org/1999/xlink}href"


@given(
    st.lists(st.tuples(st.floats(0, 9), st.floats(0.1, 1.0)), min_size=1, max_size=8).map(
        lambda pairs: sorted(pairs, key=lambda pair: pair[0])
    )
)
def test_spread_labels_never_touch_and_keep_their_order(pairs: list[tuple[float, float]]) -> None:
    places, widths = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    found = spread(places, widths, 0.0, 9.0)
    for index in range(len(found) - 1):
        assert found[index + 1] - found[index] >= (widths[index] + widths[index + 1]) / 2 - 1e-9
    assert found[0] >= widths[0] / 2 - 1e-9
    assert found[-1] <= 9.0 - widths[-1] / 2 + 1e-9


def test_things_that_have_room_are_not_moved() -> None:
    assert spread([1.0, 3.0], [0.5, 0.5], 0.0, 9.0) == [1.0, 3.0]


def test_labels_do_not_lie_on_each_other_or_on_what_is_blocked() -> None:
    labels = Labels(Sheet(6, 4), Area(0, 0, 6, 4))
    labels.block(Area(2.9, 1.9, 3.1, 2.1))
    for _ in range(6):
        labels.place("R-2  4 in SDR 35\n34 ft 8 in", [(3.0, 2.0)])
    assert len(labels.written) == 6
    for index, one in enumerate(labels.written):
        assert all(one.overlap(other) == 0 for other in [*labels.written[:index], labels.taken[0]])


def test_a_label_goes_to_the_first_of_the_freest_places(monkeypatch: pytest.MonkeyPatch) -> None:
    labels, asked = Labels(Sheet(6, 4), Area(0, 0, 6, 4)), []
    freest = Labels._freest

    def listen(self: Labels, choices: Sequence[tuple[canvas.Point, Area]]) -> tuple[canvas.Point, Area]:
        asked.append((freest(self, choices), min(choices, key=lambda choice: cost(self, *choice))))
        return asked[-1][0]

    monkeypatch.setattr(Labels, "_freest", listen)
    for number in range(12):
        labels.block_line((number / 2, 1.0), (3.0, 2.0))
        labels.place(f"R-{number}\n34 ft 8 in", [(3.0, 2.0), (number / 2, 1.0)])
    assert [one for one, _ in asked] == [other for _, other in asked]


def cost(labels: Labels, anchor: canvas.Point, area: Area) -> float:
    """Over all that is there, however far away."""
    ground, near = area.grown(0.03), canvas._nearest(anchor, area)
    crowded = sum(ground.overlap(other) for other in labels.taken) + 4 * area.outside(labels._within)
    spots = [canvas.between(anchor, near, step / 8) for step in range(9)]
    struck = sum(other.holds(spot) for other in labels.written for spot in spots)
    return crowded * 100 + struck * 10 + canvas._distance(anchor, area)


def structures(*labels: str) -> list[Structure]:
    return [Structure(label=label, kind="catch_basin", state="installed") for label in labels]


def chain(*labels: str) -> list[Run]:
    pairs = zip(labels, labels[1:], strict=False)
    return [
        Run(label=f"R-{i}", from_=a, to=b, state="installed", length_ft=20, drop_in=3, nominal_in=4)
        for i, (a, b) in enumerate(pairs, 1)
    ]


def of(closeout: Closeout, record: Record, photos: list[Photo] | None = None) -> Facts:
    return gather(closeout.model_copy(update={"record": record, "photos": photos or []}))


def fix(number: int, about: str, lat: float, lon: float) -> Photo:
    return Photo(
        number=number, sha256="0", name="a.jpg", taken_at=None, time_source="none", about=about, lat=lat, lon=lon
    )


def test_water_flows_from_left_to_right_on_the_plan(closeout: Closeout) -> None:
    record = Record(structures=structures("A", "B", "C"), runs=chain("A", "B", "C"))
    laid = layout(of(closeout, record), record.runs)
    assert laid.places["A"][0] < laid.places["B"][0] < laid.places["C"][0]
    assert not laid.north_up


def test_phone_positions_place_structures_only_where_they_tell_them_apart(closeout: Closeout) -> None:
    record = Record(structures=structures("A", "B", "C"), runs=chain("A", "B", "C"))
    apart = [fix(1, "A", 40.001, -75.0), fix(2, "B", 40.0005, -75.0), fix(3, "C", 40.0, -74.9995)]
    laid = layout(of(closeout, record, apart), record.runs)
    assert laid.north_up
    assert laid.places["A"][1] > laid.places["B"][1] > laid.places["C"][1]
    assert laid.places["C"][0] > laid.places["A"][0]
    close = [fix(1, "A", 40.0, -75.0), fix(2, "B", 40.00003, -75.0), fix(3, "C", 40.00006, -75.0)]
    assert not layout(of(closeout, record, close), record.runs).north_up
    assert not layout(of(closeout, record, apart[:2]), record.runs).north_up


def test_no_two_things_share_a_place_on_the_plan(closeout: Closeout) -> None:
    main = [f"CB-{i}" for i in range(1, 8)]
    branches = [Run(label=f"R-{20 + i}", from_=f"DS-{i}", to=f"CB-{1 + i % 4}", state="installed") for i in range(9)]
    record = Record(structures=structures(*main), runs=[*chain(*main), *branches])
    places = list(layout(of(closeout, record), record.runs).places.values())
    assert len(set(places)) == len(places)


def test_drawings_are_pictures_with_text_for_who_cannot_see_them(closeout: Closeout) -> None:
    drawings = draw(gather(closeout))
    assert [drawing.name for drawing in drawings] == ["plan", "profile"]
    for drawing in drawings:
        image = Image.open(io.BytesIO(drawing.png))
        assert image.format == "PNG"
        assert image.width >= 1500
        assert "R-2" in drawing.alt
    assert "not to scale" in drawings[0].caption
    assert "R-3 (no length recorded)" in drawings[1].caption


@pytest.fixture
def written(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is written on the drawings, in order."""
    written: list[str] = []
    write = Sheet.text

    def listen(sheet: Sheet, at: canvas.Point, text: str, *rest: object, **more: object) -> None:
        written.append(text)
        write(sheet, at, text, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Sheet, "text", listen)
    return written


def test_a_drawing_bears_the_marks_of_questioned_numbers(closeout: Closeout, written: list[str]) -> None:
    plan, profile = draw(gather(closeout))
    lines = [line for text in written for line in text.split("\n")]
    assert all("†1" in line for line in lines if "45 ft" in line)
    assert sum("45 ft" in line for line in lines) >= 2
    assert [str(mark) for mark in plan.marks] == [str(mark) for mark in profile.marks] == ["†1"]


def test_a_level_worked_out_bears_the_marks_of_the_one_it_hangs_on_and_no_others(
    closeout: Closeout, written: list[str]
) -> None:
    record = Record(structures=structures("CB-1", "CB-2", "CB-3"), runs=chain("CB-1", "CB-2", "CB-3"))
    record.structures[1].invert_in_ft = record.structures[1].invert_out_ft = 98.0
    record.questions = [
        Question(about="CB-2", field="invert_in_ft", why="low_confidence"),
        Question(about="R-2", field="drop_in", why="low_confidence"),
    ]
    draw(of(closeout, record))
    (upper,) = [text for text in written if text.startswith("CB-1  at")]
    assert upper.split("\n")[-1] == "out 98.25 (w) †1"
    (lower,) = [text for text in written if text.startswith("CB-3  at")]
    assert lower.split("\n")[-1] == "in 97.75 (w) †2"


def test_nothing_recorded_gives_no_drawing(closeout: Closeout) -> None:
    assert draw(of(closeout, Record())) == []


def test_a_strange_record_is_drawn_all_the_same(closeout: Closeout) -> None:
    runs = [
        Run(label="R-1", from_="A", to="B", state="installed", length_ft=1e9, drop_in=-4000),
        Run(label="R-2", from_="B", to="A"),
        Run(label="R-3", from_="$x_1$ \x00\ud800", to=None, state="planned"),
        Run(label="R-4"),
        Run(label="R-5", from_="A", to="A", nominal_in=400),
    ]
    record = Record(structures=[Structure(label="A"), Structure(label="Z", kind="dry_well", size_in=[])], runs=runs)
    assert [drawing.name for drawing in draw(of(closeout, record))] == ["plan", "profile"]


def test_the_same_record_is_drawn_in_the_same_bytes(closeout: Closeout) -> None:
    one, two = draw(gather(closeout)), draw(gather(closeout))
    assert [drawing.png for drawing in one] == [drawing.png for drawing in two]


def test_a_drawing_as_svg_stands_alone(closeout: Closeout) -> None:
    for drawing in draw(gather(closeout)):
        root = ElementTree.fromstring(drawing.svg)
        assert root.tag == f"{SVG}svg"
        assert {each.tag.removeprefix(SVG) for each in root.iter()} <= DRAWN
        names = {name for each in root.iter() for name in each.attrib}
        assert "style" not in names
        assert {each.attrib[HREF][:1] for each in root.iter() if HREF in each.attrib} <= {"#"}
        assert re.findall(r"https?://[^ \"]*", drawing.svg) == [
            "http://www.w3.org/1999/xlink",
            "http://www.w3.org/2000/svg",
        ]


def test_the_same_record_gives_the_same_svg(closeout: Closeout) -> None:
    one, two = draw(gather(closeout)), draw(gather(closeout))
    one[0].png  # noqa: B018  (which of the two is made first is all the same)
    assert [drawing.svg for drawing in one] == [drawing.svg for drawing in two]
    assert one[0].svg == two[0].svg


def test_an_svg_has_the_colours_and_dashes_of_its_lines() -> None:
    sheet = Sheet(4, 2)
    sheet.line([(0, 0), (4, 2)], canvas.CLAY, 2.0, "--")
    sheet.shape([(1, 1), (2, 1), (2, 2)], canvas.SOIL, canvas.MOSS)
    paths = [each.attrib for each in ElementTree.fromstring(sheet.svg()).iter(f"{SVG}path")]
    line = next(each for each in paths if each.get("stroke") == canvas.CLAY)
    assert (line["fill"], line["stroke-width"], line["stroke-dasharray"]) == ("none", "2", "7.4,3.2")
    assert any((each["fill"], each.get("stroke")) == (canvas.SOIL, canvas.MOSS) for each in paths)


def test_an_svg_holds_its_lettering_as_text_a_line_each() -> None:
    sheet = Sheet(4, 2)
    sheet.text((1, 1), "R-2  4 in SDR 35\n34 ft 8 in", 7.4, across="center", bold=True)
    root = ElementTree.fromstring(sheet.svg())
    texts = [*root.iter(f"{SVG}text")]
    assert root.attrib["font-family"] == canvas.FONTS
    assert [each.text for each in texts] == ["R-2 4 in SDR 35", "34 ft 8 in"]
    for each in texts:
        assert (each.attrib["text-anchor"], each.attrib["x"]) == ("middle", "72")
        assert (each.attrib["font-size"], each.attrib["font-weight"]) == ("7.4px", "700")
    assert float(texts[1].attrib["y"]) - float(texts[0].attrib["y"]) == pytest.approx(7.4 * canvas.STEP, abs=0.1)


@pytest.mark.parametrize("up", ["top", "center", "bottom"])
def test_lines_of_a_text_take_the_room_that_was_measured(up: str) -> None:
    sheet, text = Sheet(4, 2), "CB-1\n12 in\nexisting, kept"
    sheet.text((2, 1), text, 7.4, across="center", up=up)
    drawn = Image.open(io.BytesIO(sheet.png())).convert("L").point(lambda level: 255 * (level < 128))
    left, high, right, low = (edge / canvas.DPI for edge in drawn.getbbox())
    wide, tall = sheet.measure(text, 7.4)
    assert right - left == pytest.approx(wide, abs=0.03)
    assert low - high == pytest.approx(tall, abs=0.03)
    middle = {"top": 1 + tall / 2, "center": 1, "bottom": 1 - tall / 2}[up]  # a picture counts from its upper edge
    assert (low + high) / 2 == pytest.approx(middle, abs=0.03)


def test_no_lettering_is_smaller_than_the_page_reckons_with(
    closeout: Closeout, monkeypatch: pytest.MonkeyPatch
) -> None:
    sizes: list[float] = []
    look = Sheet._look
    monkeypatch.setattr(Sheet, "_look", lambda sheet, size, *rest: sizes.append(size) or look(sheet, size, *rest))
    drawings = draw(gather(closeout))
    assert min(sizes) == canvas.SMALLEST
    assert {drawing.sheet.width for drawing in drawings} == {9.2}  # page.css makes of both how large it shows a sheet


def test_lettering_stands_out_from_the_paper() -> None:
    for colour in (canvas.INK, canvas.WATER, canvas.MOSS, canvas.CLAY, canvas.GREY):
        assert 1.05 / (luminance(colour) + 0.05) >= 4.5, colour


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    shares = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_what_is_not_simply_installed_says_so_in_words(closeout: Closeout, written: list[str]) -> None:
    """Colours alone tell it to no one who does not see them."""
    record = Record(structures=structures("CB-1", "CB-2", "CB-3", "CB-4"), runs=chain("CB-1", "CB-2", "CB-3", "CB-4"))
    record.structures[1].state, record.structures[2].state = "existing", None
    record.runs[1].state, record.runs[2].state = "existing", "planned"
    draw(of(closeout, record))
    assert [text for text in written if text.startswith(("CB-2\n", "CB-3\n"))] == [
        "CB-2\nexisting, kept",
        "CB-3\nstate not recorded",
    ]
    assert [text.split("\n")[-1] for text in written if text.startswith(("R-2  ", "R-3  "))] == [
        "existing, kept",
        "planned, not built",
    ]
    assert "R-2, existing, kept" in [text.split("\n")[0] for text in written]
    assert not any("installed" in text for text in written if text.startswith(("CB-1", "R-1")))


@pytest.mark.parametrize("text", ["--> <script>alert(1)</script>", '" onload="x', 'style="a: b"', "$x$ & <!-- ]]>"])
def test_no_words_break_out_of_an_svg(text: str) -> None:
    sheet = Sheet(4, 2)
    sheet.text((1, 1), text)
    root = ElementTree.fromstring(sheet.svg())
    assert [each.text for each in root.iter(f"{SVG}text")] == [text]
    assert {each.tag.removeprefix(SVG) for each in root.iter()} <= DRAWN
    assert all(name[:2] != "on" for each in root.iter() for name in each.attrib)


@pytest.mark.filterwarnings("ignore:Glyph")  # the font has no picture of it
@settings(max_examples=30, deadline=None)
@given(st.text(max_size=40))
def test_any_words_at_all_give_an_svg_that_can_be_read(text: str) -> None:
    sheet = Sheet(4, 2)
    sheet.text((1, 1), text)
    assert {each.tag.removeprefix(SVG) for each in ElementTree.fromstring(sheet.svg()).iter()} <= DRAWN


@pytest.mark.parametrize(
    ("kept", "edges", "strokes"),
    [({"CB-1"}, {CLAY}, set()), ({"R-1"}, set(), {CLAY}), ({"CB-1", "R-1"}, {CLAY}, {CLAY})],
)
def test_the_legend_shows_what_was_kept_as_the_plan_draws_it(
    closeout: Closeout, kept: set[str], edges: set[str], strokes: set[str]
) -> None:
    """By a symbol, a line or both, each in the colour of its state."""

    def state(label: str) -> State:
        return "existing" if label in kept else "installed"

    record = Record(
        structures=[Structure(label=label, kind="catch_basin", state=state(label)) for label in ("CB-1", "CB-2")],
        runs=[Run(label="R-1", from_="CB-1", to="CB-2", state=state("R-1"))],
    )
    key = next(each for each in keys(gather(closeout.model_copy(update={"record": record}))) if "kept" in each.text)
    sheet = Sheet(4, 1)
    for sample in key.samples:
        sample(sheet, (1, 0.5))
    assert {to_hex(each.get_edgecolor()) for each in sheet._axes.patches} == edges
    assert {each.get_color() for each in sheet._axes.lines} == strokes


def test_a_legend_takes_as_many_rows_as_it_needs_and_stays_on_the_sheet(closeout: Closeout) -> None:
    record = Record(
        structures=[Structure(label=f"S-{number}", kind=kind) for number, kind in enumerate(get_args(StructureKind))]
    )
    rows = rows_of(keys(gather(closeout.model_copy(update={"record": record}))))
    assert len(rows) > 1
    assert all(sum(key.wide for key in row) <= WIDTH - 0.4 for row in rows)
    assert foot_of(rows) - 0.4 - ROW * (len(rows) - 1) >= RADIUS
