"""Type for the PDF: the built-in faces where they have the letters, else one that ships along."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tillercount.report.language import plain

if TYPE_CHECKING:
    from tillercount.report.sheet import Sheet

__all__ = ["Fonts", "fonts_for"]

_STAND_INS = str.maketrans(
    {"−": "-", "≥": "at least ", "≤": "at most ", "≈": "about ", "\u202f": " "}
)


@dataclass(frozen=True)
class Fonts:
    """Names of the faces; the built-in ones have the letters of Western Europe only."""

    plain: str = "Helvetica"
    bold: str = "Helvetica-Bold"
    serif: str = "Times-Bold"
    built_in: bool = True

    def clean(self, text: str) -> str:
        """Text with signs that the face lacks put in others."""
        if not self.built_in:
            return text
        return text.translate(_STAND_INS).encode("cp1252", "replace").decode("cp1252")


def fonts_for(sheet: Sheet) -> Fonts:
    """Built-in faces, or DejaVu (it comes with matplotlib) where the words need other letters."""
    words = sheet.speak.words
    text = "".join((*words.sentences.values(), *words.said.values(), *words.months, *_texts(sheet)))
    try:
        text.translate(_STAND_INS).encode("cp1252")
    except UnicodeEncodeError:
        return _dejavu()
    return Fonts()


def _texts(sheet: Sheet) -> Iterator[str]:
    yield plain(sheet.verdict)
    yield from (plain(line) for line in sheet.head)


def _dejavu() -> Fonts:
    from pathlib import Path

    import matplotlib
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    names = {"plain": "DejaVuSans", "bold": "DejaVuSans-Bold", "serif": "DejaVuSerif-Bold"}
    for name in names.values():
        registerFont(TTFont(name, str(folder / f"{name}.ttf")))
    return Fonts(**names, built_in=False)
