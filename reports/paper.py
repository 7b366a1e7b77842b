"""The one module that speaks Word: real styles, captions, tables, pictures and fields, and a file that is the same
bytes for the same content.

All text passes through `words.on_paper` on its way in, so no note can break the document.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from datetime import date, datetime, time
from math import ceil
from typing import Any

from docx import Document
from docx.enum.section import WD_ORIENT, WD_SECTION
from docx.enum.text import WD_TAB_ALIGNMENT
from docx.image.exceptions import InvalidImageStreamError, UnexpectedEndOfFileError, UnrecognizedImageError
from docx.image.image import Image
from docx.opc.constants import RELATIONSHIP_TYPE
from docx.oxml import OxmlElement
from docx.oxml.ns import qn
from docx.shared import Inches, Pt

from extract.record import Language
from reports.colours import WATER
from reports.paper_styles import BOX_TONES, TABLE_STYLE, dress
from reports.words import load, on_paper

ZIP_TIME = (1980, 1, 1, 0, 0, 0)
PAGE = (8.5, 11.0)
MARGINS, NARROW = (0.9, 0.95, 0.8), (0.5, 0.5, 0.7)
"""At the sides, over and under the text; of a sheet that is to hold as much as it can the narrow ones. [in]"""
WHOLE_IN = 3.3
"""A table no higher than that, by a rough guess, is not parted by a page's end: half a page on its side. One that is
goes on with its head on the next page, whole rows at a time."""
LINE_IN, ROW_IN, CELL_IN, TEXT_PT = 0.135, 0.07, 0.1, 8.5
"""For that guess: the height of a line of a table's text, what a row has over and under it, what a cell has at its
sides [in], and the size of that text [pt]."""
SLIM, BROAD = frozenset(" ijltfrI.,;:'|!()[]-/"), frozenset("mwMW%@—")
EM = {"slim": 0.29, "broad": 0.86, "capital": 0.68, "other": 0.55}
"""How wide letters of Arial are, by their size, roughly (measured)."""
GUTTER = 0.15
"""Between the pictures of a row. [in]"""
BAD_IMAGE = (InvalidImageStreamError, UnexpectedEndOfFileError, UnrecognizedImageError, ZeroDivisionError)
APP = b"""<?xml version="1.0" encoding="UTF-8" standalone="yes"?>
<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties"><Application>Fallbook</Application></Properties>"""


@dataclass(frozen=True)
class Plate:
    """One picture for a grid: its JPEG (empty where none is available), its caption and its text for a blind reader."""

    jpeg: bytes
    number: int
    caption: str
    alt: str


class Paper:
    """A US Letter document under way. Sizes are in inches."""

    def __init__(
        self,
        *,
        title: str,
        subject: str,
        author: str,
        day: datetime,
        header: tuple[str, str],
        footer: str,
        language: Language = "en",
        colour: str | None = None,
        margins: tuple[float, float, float] = MARGINS,
    ):
        self._accent = (colour or WATER).removeprefix("#").upper()
        self._words: dict[str, str] = load("papers", language)["paper"]
        self._doc = Document()
        self._styles = dress(self._doc, self._words["language"], self._accent)
        self._counts: dict[str, int] = {}
        self._bookmarks = 0
        self._header, self._footer, self._margins = header, footer, margins
        self._properties(title, subject, author, day)
        self._page(self._doc.sections[0], landscape=False)
        self._doc.sections[0].different_first_page_header_footer = True

    # text

    def heading(self, text: str, level: int = 1, anchor: str | None = None, new_page: bool = False) -> None:
        paragraph = self._paragraph(text, f"Heading {level}")
        paragraph.paragraph_format.page_break_before = True if new_page else None
        if anchor:
            self._bookmark(paragraph, anchor)

    def text(self, text: str, style: str = "Normal", *, lead: str = "", keep: bool = False) -> None:
        """A paragraph; `lead` stands before it in bold."""
        paragraph = self._paragraph("", style)
        if lead:
            paragraph.add_run(on_paper(lead) + " ").bold = True
        paragraph.add_run(on_paper(text))
        paragraph.paragraph_format.keep_with_next = True if keep else None

    def hold(self, count: int) -> None:
        """Keeps the last `count` paragraphs on the page of what comes next, as far back as the last table."""
        for element in list(self._doc.element.body)[::-1]:
            if element.tag == qn("w:p") and count:
                element.get_or_add_pPr().keepNext_val = True
                count -= 1
            elif element.tag != qn("w:sectPr"):
                return

    def legend(self, items: Sequence[tuple[str, str]]) -> None:
        """One small paragraph of marks in bold, each with what it says."""
        paragraph = self._paragraph("", "Small Note")
        for lead, text in items:
            paragraph.add_run(on_paper(lead)).bold = True
            paragraph.add_run(f" {on_paper(text)}  ")

    def bullets(self, items: Sequence[str | tuple[str, str]]) -> None:
        """One bullet an item; a pair is a bold lead and its text."""
        for item in items:
            lead, text = item if isinstance(item, tuple) else ("", item)
            self.text(text, "List Bullet", lead=lead)

    def contents(self, entries: Sequence[tuple[str, str]], columns: int = 2) -> None:
        """Links to headings, as (anchor, title). They hold no page numbers, which only the word processor knows."""
        table = self._doc.add_table(rows=1, cols=columns)
        self._columns(table, [self.width / columns] * columns)
        self._flag(table.rows[0], "w:cantSplit")
        share = -(-len(entries) // columns)
        for index, cell in enumerate(table.rows[0].cells):
            for place, (anchor, title) in enumerate(entries[index * share : (index + 1) * share]):
                paragraph = self._styled(cell.add_paragraph() if place else cell.paragraphs[0], "Contents Line")
                link = OxmlElement("w:hyperlink")
                link.set(qn("w:anchor"), anchor)
                link.append(paragraph.add_run(on_paper(title))._r)
                paragraph._p.append(link)

    def box(self, title: str, items: Sequence[str | tuple[str, str]], tone: str = "plain") -> None:
        """A tinted box with a title and bullets."""
        table = self._doc.add_table(rows=1, cols=1)
        cell = table.cell(0, 0)
        fill, edge = BOX_TONES[tone]
        edge = self._accent if edge == WATER else edge
        self._fill(cell, fill, left=edge)
        self._styled(cell.paragraphs[0], "Box Title").add_run(on_paper(title))
        for item in items:
            lead, text = item if isinstance(item, tuple) else ("", item)
            paragraph = self._styled(cell.add_paragraph(), "Box Text")
            if lead:
                paragraph.add_run(on_paper(lead) + " ").bold = True
            paragraph.add_run(on_paper(text))
        self._paragraph("", "Spacer")

    # tables

    def table(
        self, caption: str, header: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float]
    ) -> None:
        """A captioned table; the header row is marked as such and repeats on each page. `widths` are shares."""
        self.caption(self._words["table"], caption, keep=True)
        table = self._doc.add_table(rows=1, cols=len(header), style=TABLE_STYLE)
        self._describe(table, caption)
        shares = [self.width * width / sum(widths) for width in widths]
        self._columns(table, shares)
        self._row(table.rows[0], header, shares, "Table Head")
        self._flag(table.rows[0], "w:tblHeader")
        self._rows(table, rows, shares, "Table Label", "Table Text")
        if sum(_height(row, shares) for row in rows) <= WHOLE_IN:
            for row in table._tbl.tr_lst[:-1]:
                for paragraph in row.iter(qn("w:p")):
                    paragraph.get_or_add_pPr().keepNext_val = True
        self._paragraph("", "Spacer")

    def facts(self, rows: Sequence[tuple[str, str]], width: float = 1.3) -> None:
        """Names and values side by side, without rules: a layout, not a data table."""
        table = self._doc.add_table(rows=0, cols=2)
        shares = (width, self.width - width)
        self._columns(table, shares)
        self._rows(table, rows, shares, "Fact Name", "Fact Value")
        self._paragraph("", "Spacer")

    def signatures(self, names: Sequence[str]) -> None:
        """Lines to sign, date and print a name on, all on one page."""
        table = self._doc.add_table(rows=0, cols=3)
        shares = [self.width * share for share in (0.46, 0.3, 0.24)]
        self._columns(table, shares)
        for name in names:
            row = table.add_row()
            row.height = Inches(0.62)
            self._row(row, (name, self._words["name_in_print"], self._words["date"]), shares, "Sign Line")
            self._flag(row, "w:cantSplit")
            for cell in row.cells:
                cell.paragraphs[0].paragraph_format.keep_with_next = True if name != names[-1] else None
                self._border(cell.paragraphs[0]._p.get_or_add_pPr(), "top")
        self._paragraph("", "Spacer")

    # pictures

    def figure(self, image: bytes, *, alt: str, caption: str, height: float) -> None:
        """A numbered picture as wide as the page and no higher than `height`, kept with its caption."""
        self._place(self._paragraph("", "Picture"), image, alt, (self.width, height))
        self.caption(self._words["figure"], caption)

    def banner(self, image: bytes, *, alt: str, caption: str, height: float) -> None:
        """A picture across the page; one that lies broad is cut to the height, above and below alike."""
        size = pixels(image)
        broad = size is not None and size[0] / size[1] > 1.2
        limits = (self.width, self.width) if broad else (self.width, height)
        shape = self._place(self._paragraph("", "Picture"), image, alt, limits)
        if shape is not None and broad and shape.height > Inches(height):
            cut = round((1 - Inches(height) / shape.height) / 2 * 100_000)
            source = OxmlElement("a:srcRect")
            source.set("t", str(cut))
            source.set("b", str(cut))
            shape._inline.graphic.graphicData.pic.blipFill.insert(1, source)
            shape.height = Inches(height)
        self._paragraph(caption, "Caption")

    def plates(self, plates: Sequence[Plate], columns: int = 2, height: float = 2.05) -> None:
        """Photos in a grid, none higher than `height`, each kept with its caption; one without a picture keeps its
        caption.

        A row of pictures is kept with the row of captions under it, and no row is cut by a page's end.
        """
        width = self.width / columns
        table = self._doc.add_table(rows=0, cols=columns)
        self._columns(table, [width] * columns)
        for start in range(0, len(plates), columns):
            pictures, captions = table.add_row(), table.add_row()
            for row in (pictures, captions):
                self._flag(row, "w:cantSplit")
            for column in range(columns):
                pictures.cells[column].width = captions.cells[column].width = Inches(width)
                self._styled(pictures.cells[column].paragraphs[0], "Picture")
                self._styled(captions.cells[column].paragraphs[0], "Caption")
            for column, plate in enumerate(plates[start : start + columns]):
                self._picture_of(plate, pictures.cells[column].paragraphs[0], (width - GUTTER, height))
                self._numbered(captions.cells[column].paragraphs[0], self._words["photo"], plate.caption, plate.number)
        self._paragraph("", "Spacer")

    def _picture_of(self, plate: Plate, paragraph: Any, limits: tuple[float, float]) -> None:
        if self._place(paragraph, plate.jpeg, plate.alt, limits) is None:
            self._styled(paragraph, "Missing Picture").add_run(self._words["no_picture"])

    def _place(self, paragraph: Any, image: bytes, alt: str, limits: tuple[float, float]) -> Any:
        size = pixels(image)
        if size is None:
            return None
        scale = min(limits[0] / size[0], limits[1] / size[1])
        shape = paragraph.add_run().add_picture(io.BytesIO(image), Inches(size[0] * scale), Inches(size[1] * scale))
        shape._inline.docPr.set("descr", on_paper(alt))
        for side in "TBLR":
            shape._inline.set(f"dist{side}", "0")
        return shape

    def logo(self, image: bytes, name: str, height: float = 0.75, beside: str = "") -> None:
        """A firm's logo, no higher than that, with a line beside it; of a firm that has none that line alone."""
        if not pixels(image):
            if beside:
                self.text(beside, "Firm Line")
            return
        paragraph = self._paragraph("", "Picture")
        paragraph.paragraph_format.space_after = Pt(5)
        self._place(paragraph, image, self._words["logo"].format(name=name), (2.6, height))
        if beside:
            paragraph.add_run(f"   {on_paper(beside)}")

    # captions and fields

    def caption(self, kind: str, text: str, *, keep: bool = False) -> None:
        """`Table 3. ...` with a number that the word processor can count again."""
        self._counts[kind] = self._counts.get(kind, 0) + 1
        paragraph = self._paragraph("", "Caption")
        paragraph.paragraph_format.keep_with_next = True if keep else None
        self._numbered(paragraph, kind, text, self._counts[kind], reset=False)

    def _numbered(self, paragraph: Any, kind: str, text: str, number: int, *, reset: bool = True) -> None:
        # A photo keeps the number that `show` takes, whatever its place on the page: \r resets the count to it.
        paragraph.add_run(f"{kind} ").bold = True
        code = f" SEQ {kind} \\* ARABIC " + (f"\\r {number} " if reset else "")
        self._field(paragraph, code, str(number), bold=True)
        paragraph.add_run(". ").bold = True
        paragraph.add_run(on_paper(text))

    def _field(self, paragraph: Any, code: str, cached: str, *, bold: bool = False) -> None:
        def part(name: str, **attributes: str) -> Any:
            run = paragraph.add_run()
            run.bold = bold or None
            element = OxmlElement(name)
            for key, value in attributes.items():
                element.set(qn(f"w:{key}"), value)
            run._r.append(element)
            return element

        part("w:fldChar", fldCharType="begin")
        instruction = part("w:instrText")
        instruction.set(qn("xml:space"), "preserve")
        instruction.text = code
        part("w:fldChar", fldCharType="separate")
        paragraph.add_run(cached).bold = bold or None
        part("w:fldChar", fldCharType="end")

    # pages

    def turn(self, *, landscape: bool) -> None:
        """Starts a new page, upright or on its side."""
        self._page(self._doc.add_section(WD_SECTION.NEW_PAGE), landscape=landscape)

    def _page(self, section: Any, *, landscape: bool) -> None:
        width, height = PAGE[::-1] if landscape else PAGE
        section.orientation = WD_ORIENT.LANDSCAPE if landscape else WD_ORIENT.PORTRAIT
        section.page_width, section.page_height = Inches(width), Inches(height)
        beside, over, under = self._margins
        section.left_margin = section.right_margin = Inches(beside)
        section.top_margin, section.bottom_margin = Inches(over), Inches(under)
        section.header_distance, section.footer_distance = Inches(0.45), Inches(0.4)
        section.different_first_page_header_footer = False
        self.width, self.height = width - 2 * beside, height - over - under
        self._running(section.header, *self._header)
        before, rest = self._words["page"].split("{page}")
        between, behind = rest.split("{pages}")
        paragraph = self._running(section.footer, self._footer, before)
        self._field(paragraph, " PAGE ", "1")
        paragraph.add_run(between)
        self._field(paragraph, " NUMPAGES ", "1")
        paragraph.add_run(behind)

    def _running(self, part: Any, left: str, right: str) -> Any:
        part.is_linked_to_previous = False
        paragraph = part.paragraphs[0]
        paragraph.paragraph_format.tab_stops.add_tab_stop(Inches(self.width), alignment=WD_TAB_ALIGNMENT.RIGHT)
        paragraph.add_run(f"{on_paper(left)}\t{on_paper(right)}")
        return paragraph

    # saving

    def save(self) -> bytes:
        """The document's bytes: the same for the same content, whenever and wherever it is saved."""
        package = self._doc.part.package
        for key, relation in list(package.rels.items()):
            if relation.reltype.endswith("/thumbnail"):
                package.rels.pop(key)
        package.part_related_by(RELATIONSHIP_TYPE.EXTENDED_PROPERTIES)._blob = APP
        pictures = {part: part.blob for part in package.image_parts}
        loose = io.BytesIO()
        for part in pictures:  # python-docx would pack each, which takes long and saves nothing
            part._blob = b""
        self._doc.save(loose)
        for part, blob in pictures.items():
            part._blob = blob
        return _settled(loose, {part.partname.membername: blob for part, blob in pictures.items()})

    def _properties(self, title: str, subject: str, author: str, day: datetime) -> None:
        properties = self._doc.core_properties
        properties.title, properties.subject = on_paper(title)[:255], on_paper(subject)[:255]
        properties.author = properties.last_modified_by = on_paper(author)[:255]
        properties.comments, properties.keywords, properties.category = "", "", self._words["category"]
        properties.language, properties.revision, properties.version = self._words["language"], 1, "1"
        properties.created = properties.modified = day

    # small pieces of XML that python-docx has no call for

    def _paragraph(self, text: str, style: str) -> Any:
        return self._styled(self._doc.add_paragraph(on_paper(text)), style)

    def _styled(self, paragraph: Any, style: str) -> Any:
        paragraph._p.style = self._styles[style]
        return paragraph

    def _row(self, row: Any, cells: Sequence[str], widths: Sequence[float], style: str) -> None:
        self._flag(row, "w:cantSplit")
        for cell, text, width in zip(row.cells, cells, widths, strict=True):
            cell.width = Inches(width)
            self._styled(cell.paragraphs[0], style).add_run(on_paper(text))

    def _rows(
        self, table: Any, rows: Sequence[Sequence[str]], widths: Sequence[float], first: str, others: str
    ) -> None:
        """Rows at the table's end, the first cell of each in a style of its own. python-docx takes long over a row, so
        an empty one is made once and copied."""
        row = table.add_row()
        self._row(row, [""] * len(widths), widths, others)
        self._styled(row.cells[0].paragraphs[0], first)
        empty = row._tr
        table._tbl.remove(empty)
        for cells in rows:
            made = deepcopy(empty)
            for cell, text in zip(made.tc_lst, cells, strict=True):
                cell.p_lst[0].r_lst[0].text = on_paper(text)
            table._tbl.append(made)

    def _columns(self, table: Any, widths: Sequence[float]) -> None:
        # Some word processors go by the grid, others by the cells: both are set.
        table.autofit = False
        for column, width in zip(table.columns, widths, strict=True):
            column.width = Inches(width)

    def _flag(self, row: Any, name: str) -> None:
        properties = row._tr.get_or_add_trPr()
        if properties.find(qn(name)) is None:
            properties.append(OxmlElement(name))

    def _describe(self, table: Any, caption: str) -> None:
        element = OxmlElement("w:tblCaption")
        element.set(qn("w:val"), on_paper(caption)[:255])
        table._tbl.tblPr.append(element)

    def _fill(self, cell: Any, fill: str, left: str) -> None:
        properties = cell._tc.get_or_add_tcPr()
        borders = OxmlElement("w:tcBorders")
        self._edge(borders, "left", left, 36)
        properties.append(borders)
        shade = OxmlElement("w:shd")
        for key, value in (("val", "clear"), ("color", "auto"), ("fill", fill)):
            shade.set(qn(f"w:{key}"), value)
        properties.append(shade)
        cell.width = Inches(self.width)

    def _border(self, properties: Any, side: str) -> None:
        borders = OxmlElement("w:pBdr")
        self._edge(borders, side, "22313A", 6)
        properties.insert_element_before(borders, "w:shd", "w:tabs", "w:spacing", "w:ind", "w:jc", "w:rPr")

    def _edge(self, borders: Any, side: str, colour: str, eighths: int) -> None:
        edge = OxmlElement(f"w:{side}")
        for key, value in (("val", "single"), ("sz", str(eighths)), ("space", "4"), ("color", colour)):
            edge.set(qn(f"w:{key}"), value)
        borders.append(edge)

    def _bookmark(self, paragraph: Any, name: str) -> None:
        self._bookmarks += 1
        for tag in ("w:bookmarkStart", "w:bookmarkEnd"):
            mark = OxmlElement(tag)
            mark.set(qn("w:id"), str(self._bookmarks))
            if tag.endswith("Start"):
                mark.set(qn("w:name"), name)
            paragraph._p.append(mark)


def pixels(image: bytes) -> tuple[int, int] | None:
    """Width and height of a PNG or JPEG, or None where the bytes are no such picture. [px]"""
    try:
        header = Image.from_blob(image)
    except BAD_IMAGE:
        return None
    return (header.px_width, header.px_height) if header.px_width and header.px_height else None


def _wide(text: str, size_pt: float) -> float:
    """Of a line of text, guessed. [in]"""
    kinds = (
        "slim" if each in SLIM else "broad" if each in BROAD else "capital" if each.isupper() else "other"
        for each in text
    )
    return sum(EM[kind] for kind in kinds) * size_pt / 72


def text_height(text: str, width: float, size_pt: float = TEXT_PT) -> float:
    """Of a paragraph, guessed: words that go to the next line leave some of it empty. [in]"""
    lines = _wide(text, size_pt) / width
    return (1 if lines <= 1 else ceil(1.05 * lines)) * size_pt * LINE_IN / TEXT_PT


def _height(cells: Sequence[str], widths: Sequence[float]) -> float:
    """Of a table's row, guessed. [in]"""
    return max(text_height(text, width - CELL_IN) for text, width in zip(cells, widths, strict=True)) + ROW_IN


def table_height(rows: Iterable[Sequence[str]], widths: Sequence[float]) -> float:
    """Of a table's rows, guessed; `widths` in inches. [in]"""
    return sum(_height(row, widths) for row in rows)


def noon(day: date) -> datetime:
    """Noon UTC of a date, as document properties want it: that is the same day in every American zone."""
    return datetime.combine(day, time(12))


def _settled(loose: io.BytesIO, pictures: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(loose) as before, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as after:
        for name in sorted(before.namelist(), key=lambda name: (name != "[Content_Types].xml", name)):
            info = zipfile.ZipInfo(name, ZIP_TIME)
            info.compress_type = zipfile.ZIP_STORED if name in pictures else zipfile.ZIP_DEFLATED
            info.external_attr, info.create_system = 0o600 << 16, 3
            after.writestr(info, pictures.get(name) or before.read(name))
    return out.getvalue()
