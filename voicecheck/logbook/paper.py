"""A sheet of paper: fonts, headings, tables and drawings for the PDF reports, by fpdf2.

Everything that is printed goes through `Paper.text`, which makes it one clean line and spells
out letters that no font here can draw.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Final

from voicecheck.logbook.drawing import Box, Dot, Drawing, Line, Track, Words
from voicecheck.logbook.fonts import choose, spelled
from voicecheck.logbook.wording import clean
from voicecheck.words import say

if TYPE_CHECKING:
    from fpdf import FPDF

MARGIN: Final = 15.0
WIDTH: Final = 210.0 - 2 * MARGIN
"""Millimetres between the margins of A4."""
_PENS: Final[dict[str, tuple[int, float, tuple[float, float] | None]]] = {
    # grey (0 black), width in mm, dashes in mm
    "limit": (0, 0.35, None),
    "allowed": (0, 0.35, None),
    "control": (60, 0.25, (1.6, 1.0)),
    "centre": (140, 0.25, None),
    "values": (90, 0.25, None),
    "line": (0, 0.5, (0.6, 0.8)),
    "half": (170, 0.2, None),
    "signed": (0, 0.3, (0.4, 0.8)),
    "tick": (200, 0.15, None),
}
_TABLE_SIZE: Final = 7.5
_TABLE_LINE: Final = 3.4
"""Points, and millimetres from line to line."""
_FILLS: Final = {"crew": 60, "position": 235, "finding": 0}


class Paper:
    """Writes A4 pages from top to bottom; `caution` stands at the foot of each."""

    def __init__(self, title: str, made: datetime, caution: str, words: Iterable[str]) -> None:
        from fpdf import FPDF  # late: it loads slowly, and few commands need it

        words = [*words]
        chosen = choose([title, caution, *words])
        self._lacking = chosen.lacking
        foot = self.text(caution)

        class Sheet(FPDF):
            def footer(self) -> None:
                self.set_y(-14)
                self.set_font("main", size=7)
                self.multi_cell(WIDTH, 3.2, foot, align="L", new_x="LMARGIN", new_y="NEXT")
                self.cell(WIDTH, 3.2, f"{self.page_no()}/{{nb}}", align="R")

        pdf = Sheet(format="A4")
        pdf.set_creation_date(made)
        pdf.set_title(self.text(title))
        pdf.set_lang(say("lang"))
        pdf.set_creator("voicecheck")
        pdf.set_margins(MARGIN, 14, MARGIN)
        pdf.set_auto_page_break(True, 20)
        pdf.add_font("main", "", chosen.regular)
        pdf.add_font("main", "B", chosen.bold)
        for number, path in enumerate(chosen.more):
            pdf.add_font(f"more{number}", "", path)
        pdf.set_fallback_fonts([f"more{n}" for n in range(len(chosen.more))], exact_match=False)
        if any(_needs_shaping(c) for part in (title, *words) for c in part):
            pdf.set_text_shaping(True)  # only then: it makes everything several times slower
        pdf.add_page()
        self.pdf: FPDF = pdf
        self.heading(title, 16)

    def text(self, text: str) -> str:
        """One clean line that the fonts at hand can print."""
        return spelled(clean(text), self._lacking)

    def heading(self, text: str, size: float = 12) -> None:
        """A heading, never alone at the foot of a page."""
        pdf = self.pdf
        if pdf.will_page_break(24):
            pdf.add_page()
        pdf.ln(2)
        pdf.set_font("main", "B", size)
        pdf.start_section(self.text(text)) if size > 10 else None
        pdf.multi_cell(WIDTH, size * 0.5, self.text(text), new_x="LMARGIN", new_y="NEXT")
        pdf.ln(1)

    def say(self, text: str, *, bold: bool = False, size: float = 9) -> None:
        """A paragraph."""
        self.pdf.set_font("main", "B" if bold else "", size)
        self.pdf.multi_cell(
            WIDTH, size * 0.48, self.text(text), align="L", new_x="LMARGIN", new_y="NEXT"
        )
        self.pdf.ln(1)

    def table(
        self, head: Sequence[str], rows: Iterable[Sequence[str]], widths: Sequence[int]
    ) -> None:
        """A table; its heading is repeated on every page. widths: hundredths of the page."""
        # fpdf2's own tables lay every cell out several times over: too slow for a transcript.
        pdf, columns = self.pdf, [WIDTH * part / sum(widths) for part in widths]
        headed = any(head)
        if headed:
            self._row(head, columns, bold=True)
        for cells in rows:
            if self._row(cells, columns, dry=True) > pdf.h - pdf.b_margin - pdf.get_y():
                pdf.add_page()
                if headed:
                    self._row(head, columns, bold=True)
            self._row(cells, columns)
        pdf.ln(2)

    def _row(
        self,
        cells: Sequence[str],
        columns: Sequence[float],
        *,
        bold: bool = False,
        dry: bool = False,
    ) -> float:
        """Print one row, or with dry only tell its height in mm; it never spans pages."""
        pdf = self.pdf
        pdf.set_font("main", "B" if bold else "", _TABLE_SIZE)
        room = int((pdf.h - pdf.b_margin - pdf.t_margin) / _TABLE_LINE) - 3
        broken = [
            self._broken(self.text(cell), width - 2)
            for cell, width in zip(cells, columns, strict=True)
        ]
        broken = [
            lines if len(lines) <= room else [*lines[: room - 1], say("cut-short")]
            for lines in broken
        ]
        height = max(map(len, broken)) * _TABLE_LINE + 1.2
        if dry:
            return height
        x, y = MARGIN, pdf.get_y()
        for lines, width in zip(broken, columns, strict=True):
            for number, line in enumerate(lines):
                pdf.set_xy(x, y + 0.6 + number * _TABLE_LINE)
                pdf.cell(width, _TABLE_LINE, line)
            x += width
        pdf.set_draw_color(0 if bold else 190)
        pdf.set_line_width(0.2)
        pdf.line(MARGIN, y + height, MARGIN + WIDTH, y + height)
        pdf.set_xy(MARGIN, y + height)
        return height

    def _broken(self, text: str, width: float) -> list[str]:
        """The text in lines of at most `width` mm; a word that is too long is cut."""
        measure = self.pdf.get_string_width
        space, lines, line, used = measure(" "), list[str](), "", 0.0
        for word in text.split(" "):
            long = measure(word)
            if line and used + space + long <= width:
                line, used = f"{line} {word}", used + space + long
                continue
            if line:
                lines.append(line)
            while long > width and len(word) > 1:
                fits = max(1, int(len(word) * width / long))
                while fits > 1 and measure(word[:fits]) > width:
                    fits -= 1
                lines.append(word[:fits])
                word = word[fits:]
                long = measure(word)
            line, used = word, long
        return [*lines, line]

    def draw(self, drawing: Drawing) -> None:
        """A drawing over the full width."""
        scale = WIDTH / drawing.width
        if self.pdf.will_page_break(drawing.height * scale + 8):
            self.pdf.add_page()
        self.say(drawing.title, bold=True, size=8)
        left, top = MARGIN, self.pdf.get_y()
        for shape in drawing.shapes:
            self._shape(shape, left, top, scale)
        self.pdf.set_draw_color(0)
        self.pdf.set_line_width(0.2)
        self.pdf.set_dash_pattern()
        self.pdf.set_y(top + drawing.height * scale + 1)
        self.say(drawing.text, size=7)

    def finished(self) -> bytes:
        """The document."""
        return bytes(self.pdf.output())

    def _pen(self, kind: str) -> None:
        grey, width, dashes = _PENS.get(kind, (0, 0.25, None))
        self.pdf.set_draw_color(grey)
        self.pdf.set_line_width(width)
        self.pdf.set_dash_pattern(*(dashes or (0, 0)))

    def _shape(
        self, shape: Line | Track | Dot | Box | Words, left: float, top: float, scale: float
    ) -> None:
        pdf = self.pdf

        def at(x: float, y: float) -> tuple[float, float]:
            return left + x * scale, top + y * scale

        match shape:
            case Line():
                self._pen(shape.kind)
                pdf.line(*at(shape.x1, shape.y1), *at(shape.x2, shape.y2))
            case Track():
                self._pen(shape.kind)
                pdf.polyline([at(x, y) for x, y in shape.points])
            case Dot():
                self._pen("dot")
                x, y = at(shape.x, shape.y)
                if shape.marked:
                    pdf.polygon([(x, y - 1.2), (x + 1.2, y), (x, y + 1.2), (x - 1.2, y)])
                else:
                    pdf.set_fill_color(0)
                    pdf.circle(x=x, y=y, radius=0.5, style="F")
            case Box():
                self._pen("box")
                fill = _FILLS.get(shape.kind)
                pdf.set_fill_color(fill if fill is not None else 255)
                style = "DF" if fill is not None else "D"
                pdf.rect(*at(shape.x, shape.y), shape.width * scale, shape.height * scale, style)
            case Words():
                pdf.set_font("main", size=6)
                text = self.text(shape.text)
                width = pdf.get_string_width(text)
                x, y = at(shape.x, shape.y)
                x -= {"start": 0.0, "middle": width / 2, "end": width}[shape.anchor]
                pdf.text(x, y, text)


def _needs_shaping(letter: str) -> bool:
    """Written from right to left, or joined with its neighbours or marks."""
    if letter < "\u0300":
        return False
    return unicodedata.bidirectional(letter) in ("R", "AL", "AN") or (
        unicodedata.category(letter) in ("Mn", "Mc")
    )
