"""Growth stage as people write it: Feekes, or the Zadoks decimal code (GS, BBCH).

The two scales don't map one to one. GS30 is Feekes 4 in Georgia, 4-5 in North Carolina and
Wisconsin, 5 in Delaware; here it is Feekes 4-5, and a rule's window is held against the later
side, which is the safer one. Descriptions of stages: BBCH cereals table; the mapping of the
tillering and boot stages is from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from tillercount.errors import InputError

__all__ = ["JOINTING", "Stage", "parse_stage"]

UPRIGHT = 5.0
"""Feekes stage at which the false stem stands upright and the crop is about to joint (GS30)."""
JOINTING = 6.0
"""Feekes stage at which the first node can be felt (GS31)."""

# Feekes stage, GS from, GS to, decisive feature
_STAGES: tuple[tuple[float, int, int, str], ...] = (
    (1.0, 10, 19, "shoot emerged, leaves unfolding, no tiller"),
    (2.0, 20, 21, "first tiller visible"),
    (3.0, 22, 28, "tillers formed, often lying flat"),
    (4.0, 29, 30, "leaf sheaths lengthen, the false stem starts to stand up"),
    (5.0, 30, 30, "false stem upright, hollow about 1/2 in above the crown"),
    (6.0, 31, 31, "first node at least 1 cm above the crown, can be felt"),
    (7.0, 32, 36, "second node at least 2 cm above the first"),
    (8.0, 37, 38, "flag leaf just visible"),
    (9.0, 39, 40, "collar of the flag leaf visible"),
    (10.0, 41, 49, "boot swelling"),
    (10.1, 50, 50, "first awns or spikelets out"),
    (10.2, 51, 52, "a quarter of the head out"),
    (10.3, 53, 55, "half of the head out"),
    (10.4, 56, 57, "three quarters of the head out"),
    (10.5, 58, 59, "head fully out"),
    (10.51, 60, 69, "flowering"),
    (11.0, 70, 99, "grain filling and ripening"),
)


@dataclass(frozen=True)
class Stage:
    """A growth stage on both scales.

    Attributes
    ----------
    text : str
        As it was given.
    feekes : (float, float)
        Earliest and latest Feekes stage that it can be.
    gs : (int, int)
        Likewise on the Zadoks scale.
    feature : str
        What to look for in the field (of the later side).
    """

    text: str
    feekes: tuple[float, float]
    gs: tuple[int, int]
    feature: str

    @property
    def words(self) -> str:
        """Both scales in words, like "Feekes 4-5 (GS30)"."""
        return f"Feekes {_span(*self.feekes)} (GS{_span(*self.gs)})"

    @property
    def jointed(self) -> bool:
        """Whether the crop has jointed, by the later side."""
        return self.feekes[1] >= JOINTING

    @property
    def past_tillers(self) -> bool:
        """Whether nitrogen that makes tillers comes too late, by the later side: from Feekes 5 on
        the larger part is due, just before jointing (common practice)."""
        return self.feekes[1] >= UPRIGHT


def _span(low: float, high: float) -> str:
    return f"{low:g}" if low == high else f"{low:g}-{high:g}"


_WORDS = {
    "seedling": "gs 11-19",
    "tillering": "gs 20-29",
    "jointing": "feekes 6",
    "first node": "feekes 6",
    "second node": "feekes 7",
    "flag leaf": "feekes 8-9",
    "boot": "feekes 10",
    "booting": "feekes 10",
    "heading": "feekes 10.1-10.5",
    "flowering": "feekes 10.51",
    "anthesis": "feekes 10.51",
    "ripening": "feekes 11",
}
"""Plain words of the trade that name one stage, or one row of stages, on both scales (BBCH names of
principal stages). Green-up isn't one: it is a time of year, at which crops stand differently."""

_HINT = (
    "write it like 'Feekes 3', 'F3', 'GS25' or 'Zadoks 25', or as one of the words "
    f"{', '.join(_WORDS)}"
)


def parse_stage(text: str) -> Stage:
    """Read a growth stage: ``Feekes 3``, ``F 2-3``, ``GS25``, ``Zadoks 25``, ``tillering``.

    Raises
    ------
    InputError
        No scale named, a word that names no one stage, not a number, or a stage that the scale
        doesn't have.
    """
    clean = text.strip().lower().replace("–", "-")
    clean = _WORDS.get(" ".join(clean.split()), clean)
    if re.fullmatch(r"\d+(\.\d+)*", clean):
        both = float(re.match(r"\d+", clean)[0]) <= 11  # type: ignore[index]
        different = f": Feekes {clean} and GS{clean} are different stages" if both else ""
        raise InputError(f"stage {text!r} doesn't say which scale{different}; {_HINT}")
    match = re.fullmatch(
        r"(feekes|fs|f|gs|zadoks|z|zgs|bbch)\s*\.?\s*(\d+(?:\.\d+){0,2})"
        r"(?:\s*(?:-|to)\s*(\d+(?:\.\d+){0,2}))?",
        clean,
    )
    if match is None:
        raise InputError(f"stage {text!r} can't be read; {_HINT}")
    by_feekes = match[1] in {"feekes", "fs", "f"}
    ends = [_value(text, part) for part in (match[2], match[3]) if part]
    found = [_feekes(text, end) if by_feekes else _zadoks(text, end) for end in ends]
    first, last = found[0], found[-1]
    if first[0][0] > last[0][0]:
        raise InputError(f"stage {text!r} runs backwards; {_HINT}")
    feekes = (first[0][0], last[0][1])
    gs = (first[1][0], last[1][1])
    return Stage(text.strip(), feekes, gs, last[2])


def _value(text: str, part: str) -> float:
    whole, _, rest = part.partition(".")
    try:
        return float(f"{whole}.{rest.replace('.', '')}" if rest else whole)  # 10.5.1 is 10.51
    except ValueError:
        raise InputError(f"stage {text!r} can't be read; {_HINT}") from None


_Found = tuple[tuple[float, float], tuple[int, int], str]


def _feekes(text: str, value: float) -> _Found:
    if 10.51 < value < 11.0:
        value = 10.51  # 10.52 and up are parts of flowering
    elif 11.0 < value <= 11.4:
        value = 11.0
    for stage, low, high, feature in _STAGES:
        if stage == value:
            return (stage, stage), (low, high), feature
    raise InputError(f"stage {text!r}: Feekes has 1 to 11 in whole steps (10.1 to 10.5); {_HINT}")


def _zadoks(text: str, value: float) -> _Found:
    if value != int(value) or not 0 <= value <= 99:
        raise InputError(f"stage {text!r}: the Zadoks scale has 0 to 99 in whole steps; {_HINT}")
    if value < 10:
        raise InputError(f"stage {text!r} is before emergence; there is no stand to count yet")
    code = int(value)
    hits = [row for row in _STAGES if row[1] <= code <= row[2]]
    return (hits[0][0], hits[-1][0]), (code, code), hits[-1][3]
