"""How it was worked out, for who has to check it: counts, field figure, rules, nitrogen, program.

A short account in that order. The record holds every step with its reason and source (``steps``).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from tillercount.report.blocks import Columns, Items, Para, Table
from tillercount.report.language import Line, Speaker
from tillercount.report.ownunit import line_of, lines_unit
from tillercount.report.sayingcounts import (
    counted_blocks,
    field_blocks,
    sentences,
    steps_of,
)

__all__ = ["methods"]

Item = tuple[Line, Line | None]

_PAIRS = (("counted", "field"), ("rules", "nitrogen"), ("program",))
_MANY_PAIRS = (("counted",), ("field", "rules"), ("nitrogen", "program"))
"""Groups beside each other; many spots need the whole width for their table."""
_MANY = 12


def methods(speak: Speaker) -> Iterator[Any]:
    """The blocks of the account, each group under its own small heading."""
    groups = {
        key: [*blocks]
        for key, blocks in (
            ("counted", counted_blocks(speak)),
            ("field", field_blocks(speak)),
            ("rules", _rules(speak)),
            ("nitrogen", _nitrogen(speak)),
            ("program", _program(speak)),
        )
    }
    for pair in _MANY_PAIRS if speak.record["counted"]["all"] > _MANY else _PAIRS:
        columns = [
            [Para((speak.words[f"method.{key}_title"],), "label"), *groups[key]]
            for key in pair
            if groups[key]
        ]
        if len(columns) > 1:
            yield Columns(columns)
        elif columns:
            yield from columns[0]


def _rules(speak: Speaker) -> Iterator[Any]:
    lines: list[Line] = [
        speak.say(
            "method.rules",
            title=speak.at("rules/title"),
            name=speak.at("rules/name"),
            figures=speak.at("rules/figures"),
        )
    ]
    for i, one in enumerate(speak.record["evidence"]):
        at = [
            f"evidence/{i}/bands/{b}/to"
            for b, band in enumerate(one["bands"])
            if band["to"] is not None
        ]
        borders: list[Line] = [(line_of(speak, border),) for border in at]
        lines.append(
            speak.say(
                "method.lines",
                what=speak.words[f"what.{one['what']}"],
                unit=lines_unit(speak, at),
                borders=speak.joined(borders, "verdict.comma"),
                source=speak.at(f"evidence/{i}/lines_by"),
            )
        )
    lines.append((speak.words["method.chance"],))
    verdict = speak.record["verdict"]
    of = next(at for at, step in steps_of(speak, "class") if step["of"] == verdict["by"])
    clear = "clear" if verdict["clear"] else "held" if verdict["held"] else "not_clear"
    if clear == "not_clear" and verdict["alike"]:
        clear = "same_done"
    lines.append(
        speak.say(
            f"method.{clear}",
            share=speak.at("verdict/likeliest", "chance"),
            name=speak.at("verdict/name"),
            limit=speak.at(f"{of}/figures/clear_from", "share"),
        )
    )
    yield sentences(lines)


def _nitrogen(speak: Speaker) -> Iterator[Any]:
    plan = speak.record["nitrogen"]
    if plan is None:
        told: list[Item] = [
            ((speak.at(f"{at}/value"),), (speak.at(f"{at}/why"),))
            for at, _ in steps_of(speak, "nitrogen")
        ]
        if told:
            yield Items(told, small=True)
        return
    rows: list[list[Line]] = []
    for i, one in enumerate(plan["working"]):
        at = f"nitrogen/working/{i}"
        what: Line = (speak.at(f"{at}/what"),) if one["what"] else ()
        rows.append([what, (speak.at(f"{at}/text"),)])
    for i in range(len(plan["products"])) if plan["doses"] else ():
        at = f"nitrogen/products/{i}"
        rows.append([(speak.at(f"{at}/name"),), (speak.at(f"{at}/figures"),)])
    if rows:
        head = [(speak.words["method.part"],), (speak.words["method.working"],)]
        yield Table(head, rows, look="pairs")


def _program(speak: Speaker) -> Iterator[Any]:
    at, say = speak.at, speak.say
    lines: list[Line] = [say("method.versions", version=at("version"))]
    model = speak.record["model"]
    if model and model.get("name"):
        hashed: Line = (at("model/sha256", "hash"),) if model.get("sha256") else ()
        lines.append(say("method.model", model=at("model/name"), hash=hashed))
    lines.append((speak.words["method.json"],))
    yield sentences(lines)
