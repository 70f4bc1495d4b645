"""A field's density against the borders of a rule, as inline SVG.

Everything is told by place, letter and hatching as well as by tone, so that the picture holds in
grey and on a poor printer.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from tillercount.stand.classify import Classified
from tillercount.stand.words import number_text

__all__ = ["Dot", "density_figure", "letter", "stack_dots", "tick_step"]

WIDTH, LEFT, RIGHT = 360.0, 10.0, 350.0


@dataclass(frozen=True)
class Dot:
    """One spot: its density in the rule's unit, and whether it was counted by hand."""

    density: float
    by_hand: bool


def letter(index: int) -> str:
    """Letter of a band, A for the lowest."""
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[index % 26]


def density_figure(result: Classified, dots: Sequence[Dot], *, level: float) -> str:
    """SVG of one density with its interval, its spots and the rule's bands.

    Parameters
    ----------
    result : Classified
    dots : sequence of Dot
        Densities of the spots, in the rule's unit.
    level : float
        Level of the interval, for the caption.
    """
    rule = result.rule
    top = max([result.high, *rule.borders, *(dot.density for dot in dots)]) * 1.12
    step = tick_step(top)
    top = math.ceil(top / step) * step
    rows = stack_dots([_x(dot.density, top) for dot in dots])
    dots_h = 10.0 * (max(rows, default=0) + 1)
    y0, band_h = 34.0, 92.0 + dots_h
    axis = y0 + band_h
    mean_x, low_x, high_x = (_x(v, top) for v in (result.mean, result.low, min(result.high, top)))
    unit = "ft²" if rule.unit == "ft2" else "m²"
    mean = number_text(result.mean, rule.borders)
    low, high = (number_text(end) for end in (result.low, result.high))
    words = (
        f"{rule.measures} per {unit}: mean {mean}, {level:.0%} interval {low} to {high}; "
        f"borders at {', '.join(f'{b:g}' for b in rule.borders)}"
    )
    out = [
        f'<svg class="density" viewBox="0 0 {WIDTH:g} {axis + 40:g}" role="img" '
        f'aria-label="{escape(words)}">',
        f"<title>{escape(words)}</title>",
    ]
    edges = [0.0, *rule.borders, top]
    for index, (a, b) in enumerate(itertools.pairwise(edges)):
        xa, xb = _x(a, top), _x(b, top)
        tone = "even" if index % 2 == 0 else "odd"
        chosen = " here" if rule.bands[index] is result.band else ""
        out.append(
            f'<rect class="band {tone}{chosen}" x="{xa:.1f}" y="{y0:g}" '
            f'width="{xb - xa:.1f}" height="{band_h:g}"/>'
        )
        out.append(
            f'<text class="letter{chosen}" x="{(xa + xb) / 2:.1f}" y="{y0 + 16:g}">'
            f"{letter(index)}</text>"
        )
    last = -99.0
    for border in rule.borders:
        x = _x(border, top)
        lift = 11.0 if x - last < 18 else 0.0
        last = x if not lift else last
        out.append(
            f'<line class="border" x1="{x:.1f}" x2="{x:.1f}" y1="{y0:g}" y2="{axis:g}"/>'
            f'<text class="number" x="{x:.1f}" y="{y0 - 5 - lift:g}">{border:g}</text>'
        )
    bar = y0 + 58
    out.append(
        f'<line class="interval" x1="{low_x:.1f}" x2="{high_x:.1f}" y1="{bar:g}" y2="{bar:g}"/>'
        f'<line class="end" x1="{low_x:.1f}" x2="{low_x:.1f}" y1="{bar - 8:g}" y2="{bar + 8:g}"/>'
        f'<line class="end" x1="{high_x:.1f}" x2="{high_x:.1f}" y1="{bar - 8:g}" '
        f'y2="{bar + 8:g}"/>'
        f'<circle class="mean" cx="{mean_x:.1f}" cy="{bar:g}" r="5.5"/>'
        f'<text class="value" x="{min(max(mean_x, 30), WIDTH - 30):.1f}" y="{bar - 14:g}">'
        f"{mean}</text>"
    )
    for dot, row in zip(dots, rows, strict=True):
        x, y = _x(dot.density, top), axis - 8 - 10 * row
        out.append(
            f'<rect class="spot hand" x="{x - 3.2:.1f}" y="{y - 3.2:.1f}" width="6.4" '
            'height="6.4"/>'
            if dot.by_hand
            else f'<circle class="spot" cx="{x:.1f}" cy="{y:.1f}" r="3.4"/>'
        )
    out.append(f'<line class="axis" x1="{LEFT:g}" x2="{RIGHT:g}" y1="{axis:g}" y2="{axis:g}"/>')
    for tick in range(round(top / step) + 1):
        x = _x(tick * step, top)
        out.append(
            f'<line class="axis" x1="{x:.1f}" x2="{x:.1f}" y1="{axis:g}" y2="{axis + 4:g}"/>'
            f'<text class="tick" x="{x:.1f}" y="{axis + 16:g}">{tick * step:g}</text>'
        )
    out.append(
        f'<text class="unit" x="{WIDTH / 2:g}" y="{axis + 33:g}">{rule.measures} per {unit}</text>'
        "</svg>"
    )
    return "\n".join(out)


def _x(density: float, top: float) -> float:
    return LEFT + (RIGHT - LEFT) * density / top


def tick_step(top: float) -> float:
    """Distance of the axis numbers: 1, 2 or 5 times a power of ten, at most nine of them."""
    raw = top / 8
    power = 10.0 ** math.floor(math.log10(raw))
    return next(f * power for f in (1.0, 2.0, 5.0, 10.0) if f * power >= raw)


def stack_dots(xs: Sequence[float]) -> list[int]:
    """Row for each dot so that none covers another."""
    rows: list[list[float]] = []
    out = []
    for x in xs:
        row = next(
            (i for i, taken in enumerate(rows) if all(abs(x - t) >= 8 for t in taken)), len(rows)
        )
        if row == len(rows):
            rows.append([])
        rows[row].append(x)
        out.append(row)
    return out
