"""A density against the lines of its rule: as values, and as a picture."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Any

from tillercount.report.bothunits import in_both
from tillercount.report.drawing import FAINT, INK, PAPER, SOFT, Circle, Drawing, Label, Look
from tillercount.report.figure import letter, stack_dots, tick_step
from tillercount.report.language import Shown, Speaker, plain
from tillercount.report.ownunit import line_of, lines_per, own_unit
from tillercount.stand.classify import Classified, in_unit
from tillercount.stand.shares import band_shares
from tillercount.units import per_ft2

if TYPE_CHECKING:
    from tillercount.stand.assessment import Assessment

__all__ = ["draw_evidence", "evidence_record", "toned"]

WIDTH, LEFT, RIGHT = 360.0, 8.0, 352.0
_ROW = 11.0
"""A row of figures above the classes."""
_WIDE = 52
"""Room for a figure with its unit."""


def toned(index: int, count: int) -> str:
    """Grey of a class, the densest the darkest; never so dark that print on it is lost."""
    level = 250 - round(115 * index / max(1, count - 1))
    return f"#{level:02x}{level:02x}{level:02x}"


def evidence_record(a: Assessment, result: Classified) -> dict[str, Any]:
    """One density with its interval, classes and spots, per ft² and per m²."""
    rule = result.rule
    what = rule.measures
    estimate = a.field.plants if what == "plants" else a.field.shoots
    # What the rule judged may count shoots otherwise than the field does.
    same = estimate is not None and math.isclose(in_unit(estimate.mean, rule), result.mean)
    spots = [
        (value, spot.by(what) == "hand")
        for spot in a.field.used
        if same and (value := getattr(spot, f"{what}_per_m2")) is not None
    ]
    one = in_unit(1.0, rule)
    edges = [0.0, *(border / one for border in rule.borders)]
    top = max([result.high / one, *edges, *(value for value, _ in spots)]) * 1.1
    scales = {
        "per_ft2": per_ft2(1.0),
        "per_m2": 1.0,
    }
    return {
        "what": what,
        "converted": not same,
        "level": a.field.level,
        "spots": result.n,
        "cv": estimate.cv if estimate is not None and same else None,
        "by_hand": [by_hand for _, by_hand in spots],
        "lines_per": "per_ft2" if rule.unit == "ft2" else "per_m2",
        "nearest": None if result.border_per_m2 is None else in_both(result.border_per_m2),
        "note": rule.note or None,
        "lines_by": "; ".join(a.rules.sources_of(rule)),
        "how": estimate.how if estimate is not None else None,
        "bands": [
            {
                "letter": letter(index),
                "class": band.class_,
                "name": result.titled(band),
                "share": share,
                "shown": shown,
                "here": band is result.band,
                "from": in_both(edges[index]),
                "to": None if band.to is None else in_both(band.to / one),
                "from_in": index > 0 and rule.bands[index - 1].upper == "out",
                "to_in": band.upper == "in",
            }
            for index, (band, share, shown) in enumerate(
                zip(rule.bands, result.band_probabilities, band_shares(result), strict=True)
            )
        ],
        **{
            per: {
                "mean": result.mean / one * factor,
                "low": result.low / one * factor,
                "high": result.high / one * factor,
                "spots": [value * factor for value, _ in spots],
                "ticks": _ticks(top * factor),
            }
            for per, factor in scales.items()
        },
    }


def _ticks(top: float) -> list[float]:
    step = tick_step(top)
    return [n * step for n in range(math.ceil(top / step) + 1)]


def draw_evidence(speak: Speaker, number: int) -> Drawing:
    """The classes as a band of greys, the interval across it, each spot a mark below."""
    at = f"evidence/{number}"
    found = speak.record["evidence"][number]
    values = found[speak.per]
    top = values["ticks"][-1]

    def x_of(density: float) -> float:
        return LEFT + (RIGHT - LEFT) * min(density, top) / top

    rows = stack_dots([x_of(v) for v in values["spots"]])
    below = 11.0 * (max(rows) + 1) if rows else 0.0
    # a line's own figure stands above that of the axis, where they aren't the same
    both = lines_per(speak, at) != speak.per
    y0, tall = 26.0 + (_ROW if both else 0.0), 58.0
    axis = y0 + tall + below + 4
    unit = speak.words[f"unit.{speak.per}"]
    drawing = Drawing(
        WIDTH,
        axis + 22,
        plain(
            speak.say(
                "found.figure",
                what=speak.words[f"what.{found['what']}_title"],
                unit=unit,
                mean=speak.at(f"{at}/{speak.per}/mean", "density"),
                low=speak.at(f"{at}/{speak.per}/low", "density"),
                high=speak.at(f"{at}/{speak.per}/high", "density"),
                level=speak.at(f"{at}/level", "share"),
            )
        ),
    )
    bands = found["bands"]
    edges = [band["from"][speak.per] for band in bands] + [top]
    last = -99.0
    for index, (low, high) in enumerate(itertools.pairwise(edges)):
        xa, xb = x_of(low), x_of(high)
        drawing.rect(xa, y0, xb - xa, tall, Look(toned(index, len(bands)), PAPER, 1.2))
        drawing.items.append(
            Label(
                (xa + xb) / 2, y0 + 15, speak.at(f"{at}/bands/{index}/letter"), 11.5,
                bands[index]["here"], ink=INK,
            )
        )  # fmt: skip
        if index:
            close, rows_high = (_WIDE, 2) if both else (22, 1)
            lift = _ROW * rows_high if xa - last < close else 0.0
            last = xa if not lift else last
            drawing.line([(xa, y0 - 3), (xa, axis)], Look(None, INK, 1.0, (3, 2.5)))
            border = speak.at(f"{at}/bands/{index}/from/{speak.per}", "density")
            drawing.items.append(Label(xa, y0 - 6 - lift, border, 11, True))
            if both:
                line = f"{at}/bands/{index}/from"
                own = speak.say("unit.of", n=line_of(speak, line), unit=own_unit(speak, line))
                drawing.items.append(Label(xa, y0 - 6 - lift - _ROW, own, 10))
    for index, band in enumerate(bands):
        if band["here"]:
            xa, xb = x_of(edges[index]), x_of(edges[index + 1])
            drawing.rect(xa, y0, xb - xa, tall, Look(None, INK, 2.2))
    _interval(drawing, speak, f"{at}/{speak.per}", x_of, y0 + 40)
    for value, by_hand, row in zip(values["spots"], found["by_hand"], rows, strict=True):
        x, y = x_of(value), y0 + tall + 8 + 11 * row
        if by_hand:
            drawing.rect(x - 3.2, y - 3.2, 6.4, 6.4, Look(INK, PAPER, 0.8))
        else:
            drawing.items.append(Circle(x, y, 3.4, Look(PAPER, INK, 1.3)))
    drawing.line([(LEFT, axis), (RIGHT, axis)], Look(None, SOFT, 1.0))
    for index, tick in enumerate(values["ticks"]):
        x = x_of(tick)
        drawing.line([(x, axis), (x, axis + 4)], Look(None, SOFT, 1.0))
        label = speak.at(f"{at}/{speak.per}/ticks/{index}", "plain")
        anchor = "start" if index == 0 else "end" if tick == top else "middle"
        drawing.items.append(Label(x, axis + 15, label, 10, False, anchor, SOFT))  # type: ignore[arg-type]
    return drawing


def _interval(drawing: Drawing, speak: Speaker, at: str, x_of: Any, y: float) -> None:
    mean, low, high = (x_of(speak.record_value(f"{at}/{end}")) for end in ("mean", "low", "high"))
    drawing.line([(low, y), (high, y)], Look(None, PAPER, 9.0))
    drawing.line([(low, y), (high, y)], Look(None, INK, 5.0))
    for x in (low, high):
        drawing.line([(x, y - 7), (x, y + 7)], Look(None, PAPER, 5.0))
        drawing.line([(x, y - 7), (x, y + 7)], Look(None, INK, 2.2))
    drawing.items.append(Circle(mean, y, 5.5, Look(PAPER, INK, 2.4)))
    text: Shown = speak.at(f"{at}/mean", "density")
    room = min(max(mean, 24), WIDTH - 24)
    drawing.rect(room - 12, y - 22, 24, 13, Look(PAPER, FAINT, 0.6))
    drawing.items.append(Label(room, y - 11.5, text, 12, True))
