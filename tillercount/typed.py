"""Numbers as people type them: fractions, typographic marks, a unit behind them or none."""

from __future__ import annotations

import math
import re
import unicodedata

from tillercount.errors import InputError

__all__ = [
    "ask_of_pair",
    "counted",
    "decimal_points",
    "is_bare_fraction",
    "number",
    "quantity",
    "range_typed",
]

_DECIMAL = r"(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_NUMBER = rf"[+-]?(?:\d+[ -]\d+/\d+|\d+/\d+|{_DECIMAL})"
_QUANTITY = re.compile(rf"({_NUMBER})\s*(.*)")
_RANGE = re.compile(
    rf"\s*(?P<low>[+-]?(?>{_DECIMAL}))\s*(?:[a-z%/]+\s*)??(?:-|–|—|\bto\b)\s*"
    rf"(?P<high>(?>{_DECIMAL}))(?!\s*[-–/]\s*\d)",
    re.IGNORECASE,
)
"""Not 1-1/2, one and a half, nor 39-06-12, degrees."""
_GROUPED = re.compile(r"(?<![\d.,])\d{1,3}((?:\.\d{3})+),(\d+)(?![\d.,])")
_COMMA = re.compile(r"(?<![\d.,])(\d+|(?<![A-Za-z'\"′″’”])),(\d+)(?![\d.,])")
"""A comma behind a unit parts feet from inches: 1ft,6in."""
_PAIR = re.compile(r"([+-]?\d\d),(\d\d)(?![\d.,])")
_PARTS = frozenset({2, 3, 4, 5, 6, 8, 10, 12, 16, 32, 64, 100, 1000})
"""What people divide by where they write a fraction: tapes and rulers by halves down to 64ths, and
round parts, as stands are counted on 1/1000 of an acre (common practice). Others, like 30/40, are
two numbers."""


def number(text: str, *, what: str = "number", commas: bool = True) -> float:
    """A finite number as a person types it: ``24``, ``24.5``, ``7 1/2``, ``½``; ``commas`` as for
    `quantity`.

    Raises
    ------
    InputError
        Not a number, a range, a comma that isn't read, not finite.
    """
    value, rest = quantity(text, what, commas=commas)
    if rest:
        raise InputError(f"{what} {text.strip()!r} isn't a number; write it like 24 or 24.5")
    return value


def counted(text: str, *, what: str, apart: str) -> float:
    """A count as a person types it, as `number`; but 12/32 is probably plants and shoots in one,
    and so may 12,32 be.

    ``apart`` says how those two are written each by itself.

    Raises
    ------
    InputError
        Two whole numbers with a stroke between, or what `number` refuses.
    """
    if is_bare_fraction(text):
        raise InputError(
            f"{what} {text.strip()!r} may be a fraction or two numbers; {apart}, and a part of one "
            "in decimals, like 24.5"
        )
    return number(text, what=what, commas=False)


def ask_of_pair(text: str, *, what: str, ranged: bool = False) -> None:
    """Refuse ``30,35``, which may be a decimal or two numbers, where both can be meant.

    For what people give ranges of: rates, yields, densities, temperatures. Nobody writes two
    numbers like ``8,5`` or ``112,5``. ``ranged``: a range may be typed.

    Raises
    ------
    InputError
        A comma with two digits on both sides, naming both readings.
    """
    clean = _clean(text)
    found = _PAIR.match(clean)
    if found is None:
        return
    one, other = found.groups()
    rest = clean[found.end() :]
    two = f"'{one}-{other}{rest}' for both" if ranged else f"the one that is meant, '{one}{rest}'"
    raise InputError(
        f"{what} {text.strip()!r} may be {one}.{other}, or two numbers, {one} and {other}; write "
        f"'{one}.{other}{rest}', or {two}"
    )


def is_bare_fraction(text: str) -> bool:
    """Whether a text is two whole numbers with a stroke between and nothing else, like 12/32."""
    return re.fullmatch(r"[+-]?\d+\s*/\s*\d+", text.strip()) is not None


def decimal_points(text: str, *, thousands: bool = True) -> str:
    """Same text with a point for each comma that can only be a decimal one: ``12,5``, ``1.250,5``.

    ``1,250`` may be one thing or a thousand times as much and stays, for `quantity` to refuse;
    where ``thousands`` is False nobody has so many.
    """
    text = _GROUPED.sub(lambda one: one[0].replace(".", "").replace(",", "."), text)

    def pointed(found: re.Match[str]) -> str:
        before, after = found.groups()
        decimal = len(after) != 3 or len(before) > 3 or before[:1] in ("", "0")
        return f"{before}.{after}" if decimal or not thousands else found[0]

    return _COMMA.sub(pointed, text)


def range_typed(text: str) -> re.Match[str] | None:
    """Two ends as typed, ``low`` and ``high``, at the beginning of a text: ``1-11 lb``, ``30 lb to
    40 lb``; None where it holds no range."""
    return _RANGE.match(_clean(text))


def _clean(text: str) -> str:
    """Same text with typographic marks and fraction characters spelled out."""
    out = []
    for char in text.strip():
        if unicodedata.category(char) == "No" and "FRACTION" in unicodedata.name(char, ""):
            out.append(" " + unicodedata.normalize("NFKC", char).replace("⁄", "/"))
        else:
            out.append(char)
    clean = "".join(out).replace("″", '"').replace("”", '"').replace("′", "'").replace("’", "'")
    return clean.replace("−", "-").replace("²", "2").replace("\u00a0", " ").strip()


def quantity(text: str, what: str, *, commas: bool = True) -> tuple[float, str]:
    """Leading number of a quantity, and what follows it.

    ``commas``: one that can only be a decimal comma is read as such (`decimal_points`).

    Raises
    ------
    InputError
        No number, a range, a comma that isn't read, not finite, a fraction over zero or one that
        may be two numbers.
    """
    clean = decimal_points(_clean(text)) if commas else _clean(text)
    if re.match(r"[+-]?\d*,\d", clean):
        point = re.sub(r"(?<=\d),(?=\d)|^,", ".", clean, count=1)
        thousands = re.match(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+(?![\d,])", clean)
        if thousands is not None:
            plain = clean.replace(",", "")
            # only one comma can be a decimal one: 1,250 may be either, 1,250,000 can't
            once = clean.count(",") == 1 and clean[thousands.end() :][:1] != "."
            other = f", or {point} if the comma stands for a point" if once else ""
            raise InputError(
                f"{what} {text.strip()!r} has a comma; write thousands without a mark, like "
                f"{plain}{other}"
            )
        like = point if re.match(r"[+-]?\d*\.\d+(?![\d.,])", point) else "12.5"
        raise InputError(
            f"{what} {text.strip()!r} has a comma; write decimals with a point, like {like}, "
            "and thousands without a mark"
        )
    if re.match(r"[+-]?(nan|inf)", clean, re.IGNORECASE) and not re.match(r"inch", clean, re.I):
        raise InputError(f"{what} {text.strip()!r} isn't a finite number; write a measured one")
    if ends := range_typed(text):
        raise InputError(
            f"{what} {text.strip()!r} is a range, {ends['low']} to {ends['high']}; give the one "
            "number that is meant"
        )
    match = _QUANTITY.fullmatch(clean)
    if match is None:
        raise InputError(f"{what} {text.strip()!r} isn't a number; write it like 12 or 7.5")
    raw, rest = match[1], match[2].strip()
    sign = -1.0 if raw.startswith("-") else 1.0
    raw = raw.lstrip("+-")
    whole, _, fraction = raw.replace("-", " ").rpartition(" ") if "/" in raw else ("", "", "")
    if fraction:
        above, _, below = fraction.partition("/")
        if int(below) == 0:
            raise InputError(f"{what} {text.strip()!r} divides by zero; check the fraction")
        if int(above) >= int(below) or int(below) not in _PARTS:
            raise InputError(
                f"{what} {text.strip()!r} may be a fraction or {'three' if whole else 'two'} "
                "numbers; give the one number that is meant, in decimals, like 0.5"
            )
        value = (int(whole) if whole else 0) + int(above) / int(below)
    else:
        value = float(raw)
    if not math.isfinite(value):
        raise InputError(f"{what} {text.strip()!r} is too large to be a measurement")
    return sign * value, rest
