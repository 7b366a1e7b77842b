"""The look of the report: its paragraph styles and its table style."""

from __future__ import annotations

from typing import Any

from docx.enum.style import WD_STYLE_TYPE
from docx.enum.text import WD_ALIGN_PARAGRAPH
from docx.oxml import parse_xml
from docx.oxml.ns import nsdecls, qn
from docx.shared import Inches, Pt, RGBColor

from reports.colours import CLAY, GREY, INK, MIST, SAND, WATER

FONT = "Arial"
TABLE_STYLE = "Fallbook Table"
BOX_TONES = {"plain": (MIST, WATER), "ask": (SAND, CLAY)}
"""Fill and left edge of a box, by its tone."""

# name: (based on, size pt, colour, bold, space before pt, space after pt, keep with next)
STYLES: dict[str, tuple[str, float, str, bool, float, float, bool]] = {
    "Normal": ("", 10, INK, False, 0, 6, False),
    "Heading 1": ("Normal", 17, WATER, True, 16, 8, True),
    "Heading 2": ("Normal", 12, INK, True, 14, 4, True),
    "Title": ("Normal", 30, WATER, True, 30, 4, True),
    "Sheet Title": ("Normal", 15, WATER, True, 4, 2, True),
    "Subtitle": ("Normal", 13, INK, False, 0, 14, False),
    "Firm Name": ("Normal", 13, INK, True, 0, 0, False),
    "Firm Line": ("Normal", 9, GREY, False, 2, 0, False),
    "Caption": ("Normal", 8.5, GREY, False, 3, 8, False),
    "Picture": ("Normal", 10, INK, False, 2, 0, True),
    "Missing Picture": ("Normal", 9, GREY, False, 24, 24, True),
    "Table Head": ("Normal", 8.5, WATER, True, 2, 2, True),
    "Table Text": ("Normal", 8.5, INK, False, 2, 2, False),
    "Table Label": ("Table Text", 8.5, INK, True, 2, 2, False),
    "Fact Name": ("Normal", 9.5, GREY, False, 2, 2, False),
    "Fact Value": ("Normal", 10, INK, False, 2, 2, False),
    "Small Note": ("Normal", 8.5, GREY, False, 0, 4, False),
    "Contents Line": ("Normal", 10, WATER, False, 0, 3, False),
    "Box Title": ("Normal", 10.5, INK, True, 5, 3, True),
    "Box Text": ("Normal", 9.5, INK, False, 0, 4, False),
    "Sign Line": ("Normal", 8.5, GREY, False, 26, 0, False),
    "Spacer": ("Normal", 4, INK, False, 0, 2, False),
    "List Bullet": ("Normal", 10, INK, False, 0, 4, False),
    "Header": ("Normal", 8, GREY, False, 0, 0, False),
    "Footer": ("Normal", 8, GREY, False, 0, 0, False),
}

TABLE = f"""
<w:style {nsdecls("w")} w:type="table" w:customStyle="1" w:styleId="FallbookTable">
  <w:name w:val="{TABLE_STYLE}"/><w:basedOn w:val="TableNormal"/><w:uiPriority w:val="59"/><w:qFormat/>
  <w:tblPr>
    <w:tblBorders>
      <w:top w:val="single" w:sz="8" w:space="0" w:color="{WATER}"/>
      <w:bottom w:val="single" w:sz="8" w:space="0" w:color="{WATER}"/>
      <w:insideH w:val="single" w:sz="4" w:space="0" w:color="C9D4D7"/>
    </w:tblBorders>
    <w:tblCellMar><w:left w:w="70" w:type="dxa"/><w:right w:w="70" w:type="dxa"/></w:tblCellMar>
  </w:tblPr>
  <w:tblStylePr w:type="firstRow">
    <w:tcPr><w:tcBorders><w:bottom w:val="single" w:sz="8" w:space="0" w:color="{WATER}"/></w:tcBorders>
    <w:shd w:val="clear" w:color="auto" w:fill="{MIST}"/></w:tcPr>
  </w:tblStylePr>
</w:style>"""


def dress(document: Any, language: str, accent: str) -> dict[str, str | None]:
    """Gives a new document the report's styles, and the language (`es-US`) that it is to be spelled and read aloud in.
    `accent` (`1F5F6B`) stands where the report's own accent does not.

    What comes back is each one's id by its name, None for the default: python-docx would look through all styles for
    every paragraph that is given one by name.
    """
    there = {style.name: style for style in document.styles}
    styles = {name: there.get(name) or document.styles.add_style(name, WD_STYLE_TYPE.PARAGRAPH) for name in STYLES}
    for name, (base, size, colour, bold, before, after, keep) in STYLES.items():
        style = styles[name]
        if base:
            style.base_style = styles[base]
        _font(style, size, accent if colour == WATER else colour, bold)
        form = style.paragraph_format
        form.space_before, form.space_after, form.keep_with_next = Pt(before), Pt(after), keep
        form.line_spacing = 1.12
    for name in ("Table Text", "Table Label", "Table Head", "Sign Line", "Caption"):
        styles[name].paragraph_format.line_spacing = 1.0
    for name in ("Header", "Footer"):
        styles[name].paragraph_format.tab_stops.clear_all()
        _drop(styles[name].element, "w:tabs")
    for name in ("Picture", "Missing Picture"):
        styles[name].paragraph_format.alignment = WD_ALIGN_PARAGRAPH.LEFT
    styles["Box Text"].paragraph_format.left_indent = Inches(0.02)
    styles["Heading 1"].element.get_or_add_pPr().insert_element_before(
        _rule(), "w:shd", "w:tabs", "w:spacing", "w:ind", "w:jc", "w:outlineLvl"
    )
    _drop(styles["Title"].element, "w:pBdr")
    document.styles.element.append(parse_xml(TABLE.replace(WATER, accent)))
    for element in document.styles.element.iter(qn("w:lang")):
        element.set(qn("w:val"), language)
    default = document.styles.default(WD_STYLE_TYPE.PARAGRAPH)
    return {name: None if style == default else style.style_id for name, style in styles.items()}


def _font(style: Any, size: float, colour: str, bold: bool) -> None:
    font = style.font
    font.name, font.size, font.bold, font.italic = FONT, Pt(size), bold, False
    font.color.rgb = RGBColor.from_string(colour)
    fonts = style.element.get_or_add_rPr().get_or_add_rFonts()
    # The template's theme fonts would win over a named font.
    for key in list(fonts.attrib):
        if "heme" in key:
            del fonts.attrib[key]
    for key in ("w:ascii", "w:hAnsi", "w:cs", "w:eastAsia"):
        fonts.set(qn(key), FONT)
    for tag in ("w:spacing", "w:kern"):
        _drop(style.element.rPr, tag)


def _drop(element: Any, tag: str) -> None:
    for found in list(element.iter(qn(tag))):
        found.getparent().remove(found)


def _rule() -> Any:
    return parse_xml(
        f'<w:pBdr {nsdecls("w")}><w:bottom w:val="single" w:sz="6" w:space="3" w:color="C9D4D7"/></w:pBdr>'
    )
