"""The rule sets that come with the program, and a user's own files."""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

from tillercount.errors import InputError
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.words import span

__all__ = ["check_rules", "describe", "list_rules", "load_rules"]


@functools.cache
def _shipped() -> dict[str, RuleSet]:
    folder = resources.files("tillercount.stand") / "rules"
    sets = {}
    for file in sorted(folder.iterdir(), key=lambda f: f.name):
        if file.name.endswith(".toml"):
            rules = _parse(file.name, file.read_text(encoding="utf-8"))
            sets[rules.name] = rules
    first = sets.pop("common-practice", None)
    return {**({first.name: first} if first else {}), **sets}


def list_rules() -> list[RuleSet]:
    """All rule sets that come with the program, common practice first."""
    return list(_shipped().values())


def load_rules(name_or_path: str | Path | RuleSet) -> RuleSet:
    """A rule set by its name, or from a user's own file.

    Raises
    ------
    InputError
        Unknown name (the known ones are listed), or a file that can't be used.
    """
    if isinstance(name_or_path, RuleSet):
        return name_or_path
    text = str(name_or_path)
    sets = _shipped()
    if text in sets:
        return sets[text]
    if text.lower().endswith(".toml") or "/" in text or "\\" in text:
        return check_rules(text)
    raise InputError(
        f"rule set {text!r} isn't known; known: {', '.join(sets)}; "
        "or give the path of your own .toml file"
    )


def check_rules(path: str | Path) -> RuleSet:
    """Read and check a rule file.

    Raises
    ------
    InputError
        With the file, the line of a syntax error or the key that is wrong, and why.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        reason = error.strerror or error
        raise InputError(f"{path}: can't be read ({reason}); check the name and place") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: not a text file in UTF-8; save it as UTF-8") from error
    return _parse(str(path), text)


def _parse(where: str, text: str) -> RuleSet:
    from pydantic import ValidationError

    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{where}: not valid TOML: {error}; mend that line") from error
    try:
        return RuleSet.model_validate(data)
    except ValidationError as error:
        first = error.errors()[0]
        more = f" (and {error.error_count() - 1} more)" if error.error_count() > 1 else ""
        key = _key(first["loc"])
        reason = first["msg"].removeprefix("Value error, ")
        if first["type"] == "extra_forbidden":
            reason = "no such key"
        elif first["type"] == "missing":
            reason = "this key is missing"
        place = f"{where}, {key}" if key else where
        raise InputError(f"{place}: {reason}{more}; see rules/README.md for the format") from error


def _key(loc: tuple[Any, ...]) -> str:
    """Key as it stands in the file, list items counted from 1."""
    key = ""
    for part in loc:
        if isinstance(part, int):
            key += f"[{part + 1}]"
        elif part not in ("int", "literal['not stated']"):  # pydantic's names for union members
            key += f".{part}" if key else str(part)
    return key


def describe(rules: RuleSet) -> list[tuple[str, str]]:
    """A rule set in plain lines, (label, text), in the order to show them."""
    return list(_lines(rules))


def _lines(rules: RuleSet) -> Iterator[tuple[str, str]]:
    yield "Name", rules.name
    yield "Title", rules.title
    yield "Publisher", rules.publisher
    yield "Region", rules.region
    yield "Crops", ", ".join(rules.crops)
    if rules.year:
        yield "Year", str(rules.year)
    yield "Figures", rules.mark
    window = f"{rules.stage.from_} to {rules.stage.to}"
    yield "When to count", f"{window}; {rules.stage.words}" if rules.stage.words else window
    leaves = rules.counting.min_leaves
    words = {0: "every shoot", 3: "3 leaves or more"}
    least = words[leaves] if isinstance(leaves, int) else "smallest size not stated"
    yield (
        "What counts",
        rules.counting.words or f"main stem {rules.counting.main_stem}, {least}",
    )
    for rule in rules.rules:
        unit = "ft²" if rule.unit == "ft2" else "m²"
        for index, band in enumerate(rule.bands):
            parts = [band.name]
            if band.yield_percent:
                parts.append(f"{span(band.yield_percent)} % of full yield")
            if band.early_n_lb_ac:
                parts.append(f"early nitrogen {span(band.early_n_lb_ac)} lb/ac")
            if band.printed:
                parts.append(f"printed as {band.printed}")
            yield (
                f"{rule.measures.capitalize()} per {unit}",
                f"{rule.range_text(index)}: {'; '.join(parts)}",
            )
        if rule.note:
            yield f"{rule.measures.capitalize()}, note", rule.note
    if rules.heads:
        low, high = rules.heads.optimum
        yield (
            "Heads per ft²",
            f"at least {rules.heads.wanted:g}, best {low:g}-{high:g} ({rules.heads.mark})",
        )
    if rules.yield_per_head:
        low, high = rules.yield_per_head.bu_per_head
        yield "Yield", f"{low:g}-{high:g} bu per head per ft² ({rules.yield_per_head.mark})"
    if rules.nitrogen:
        low, high = rules.nitrogen.lb_per_bu
        yield "Nitrogen", f"{low:g}-{high:g} lb per bushel in all ({rules.nitrogen.mark})"
    for note in rules.notes:
        yield "Note", note
    for caution in rules.cautions:
        yield "Caution", caution
    for source in rules.sources:
        yield "Source", source.text
