"""The size that was likely meant where another unit was typed."""

from __future__ import annotations

import re

from tillercount.area import Area, WholePhoto, parse_area
from tillercount.errors import InputError
from tillercount.units import MM_PER_IN

__all__ = ["other_unit"]

_UNIT = r"\d\s*(?:(?:mm|cm|m\b)|(in|ft|feet|foot|[\"'″′]))"
"""A length's unit behind its number; the group holds it where it isn't metric."""


def other_unit(area: Area, small: bool) -> str | None:
    """The same numbers in the other unit: inches for centimetres if ``small``, else the reverse,
    and inches for feet, centimetres for metres.

    Of two lengths only those typed in that unit change. None where there are none, or the numbers
    in the other unit aren't short ones.
    """
    if isinstance(area, WholePhoto):
        return None
    shorter = None if small else _shorter(area.label)
    if shorter is not None:
        return shorter or None
    lengths = [float(n) for n in re.findall(r"([\d.e-]+)mm", area.text)]
    metric = [not inches for inches in re.findall(_UNIT, area.label, re.IGNORECASE)]
    if len(metric) != len(lengths) or small not in metric:
        return None
    said = []
    for mm, was_metric in zip(lengths, metric, strict=True):
        changed = was_metric is small
        number = mm / (10.0 if was_metric else MM_PER_IN)
        if changed and abs(number - round(number, 2)) > 1e-6:
            return None
        said.append(f"{number:g}{'cm' if was_metric is not changed else 'in'}")
    numbers = iter(said)
    return re.sub(r"[\d.e-]+mm", lambda _: next(numbers), area.text)


def _shorter(label: str) -> str | None:
    """Inches for feet, else centimetres for metres; None where the size as typed has neither, empty
    where nobody marks anything so small."""
    text = re.sub(r"(?<=\d)\s*(?:feet|foot|ft|['′])(?=$|[\s/x×])", "in", label, flags=re.IGNORECASE)
    text = text if text != label else re.sub(r"(?<=\d)\s*m(?=$|[\s/x×])", "cm", label)
    if text == label:
        return None
    try:
        parse_area(text)
    except InputError:
        return ""
    return text
