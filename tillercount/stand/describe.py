"""A rule set in plain lines, for a screen."""

from __future__ import annotations

from collections.abc import Iterator

from tillercount.stand.bands import UNIT_WORDS, Rule
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.words import MARK_WORDS, join, span

__all__ = ["describe"]


def describe(rules: RuleSet) -> list[tuple[str, str]]:
    """A rule set in plain lines, (label, text), in the order to show them."""
    return list(_lines(rules))


def _lines(rules: RuleSet) -> Iterator[tuple[str, str]]:
    yield "Name", rules.name
    yield "Title", rules.title
    yield "Publisher", rules.publisher
    yield "Region", rules.region
    if rules.places:
        yield "Holds in", ", ".join(rules.places)
    for box in rules.where:
        ends = f"{box.lat[0]:g} to {box.lat[1]:g}, {box.lon[0]:g} to {box.lon[1]:g}"
        yield "Rough box (lat, lon)", f"{box.name}: {ends}"
    yield "Crops", ", ".join(rules.crops)
    if rules.year:
        yield "Year", str(rules.year)
    yield "Figures", MARK_WORDS[rules.mark]
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
        yield from _rule_lines(rule)
    if rules.heads:
        low, high = rules.heads.optimum
        yield (
            "Heads per ft²",
            f"at least {rules.heads.wanted:g}, best {low:g}-{high:g}{_but(rules.heads.mark)}",
        )
    if rules.yield_per_head:
        low, high = rules.yield_per_head.bu_per_head
        yield "Yield", f"{low:g}-{high:g} bu per head per ft²{_but(rules.yield_per_head.mark)}"
    if rules.nitrogen:
        low, high = rules.nitrogen.lb_per_bu
        yield "Nitrogen", f"{low:g}-{high:g} lb per bushel in all{_but(rules.nitrogen.mark)}"
    yield from _by_yield_lines(rules)
    yield from _whole_lines(rules)
    for note in rules.notes:
        yield "Note", note
    for caution in rules.cautions:
        yield "Caution", caution
    for source in rules.sources:
        yield "Source", source.text


def _but(mark: str) -> str:
    """Only what wasn't read in a source is marked."""
    return "" if mark == "seen" else f" ({mark})"


def _rule_lines(rule: Rule) -> Iterator[tuple[str, str]]:
    label = f"{rule.measures.capitalize()} {UNIT_WORDS[rule.unit]}"
    for index, band in enumerate(rule.bands):
        parts = [band.name]
        if band.yield_percent:
            parts.append(f"{span(band.yield_percent)} % of full yield")
        if band.yield_bu_ac:
            parts.append(f"{span(band.yield_bu_ac)} bu/ac")
        if band.early_n_lb_ac:
            parts.append(f"early nitrogen {span(band.early_n_lb_ac)} lb/ac")
        if band.printed:
            parts.append(f"printed as {band.printed}")
        yield label, f"{rule.range_text(index)}: {'; '.join(parts)}"
    for one in rule.classes:
        own = [f"“{band.called}”" for band in rule.bands if band.class_ == one.class_]
        yield label, f"{join(own)} together: {one.name}"
    if rule.note:
        yield f"{rule.measures.capitalize()}, note", rule.note


def _by_yield_lines(rules: RuleSet) -> Iterator[tuple[str, str]]:
    line = rules.nitrogen_by_yield
    if line is None:
        return
    label = f"Nitrogen, edition {line.edition}"
    sign = "+" if line.lb_at >= 0 else "-"
    goal = f"(goal - {line.at_bu:g})" if line.at_bu else "goal"
    yield label, f"{line.lb_per_bu:g} x {goal} {sign} {abs(line.lb_at):g} lb N/ac, goal in bu/ac"
    for bushels, printed in line.table:
        yield (
            label,
            f"{bushels:g} bu/ac: {line.lb_per_ac(bushels):.1f} lb by the equation, "
            f"{printed:g} lb in the table",
        )
    for bushels, by_line, printed in line.clashes:
        yield (
            label,
            f"at {bushels:g} bu/ac equation and table clash ({by_line:.4g} against {printed:g} "
            "lb), and both are the publisher's own",
        )
    if line.note:
        yield label, line.note


def _whole_lines(rules: RuleSet) -> Iterator[tuple[str, str]]:
    for row in rules.nitrogen_whole:
        what = ", ".join(filter(None, (row.case, *row.crops))) + row.goal_text
        amount = (
            f"{span(row.lb_ac)} lb N/ac" if row.lb_ac else f"{span(row.lb_per_bu or ())} lb per bu"
        )
        most = f", at most {row.at_most_lb:g}" if row.at_most_lb else ""
        yield "Nitrogen in all", f"{what.removeprefix(', ')}: {amount}{most}".removeprefix(": ")
    for credit in rules.nitrogen_credits:
        if credit.what == "organic matter":
            text = f"less {span(credit.lb_per_percent or ())} lb for each percent organic matter"
        elif credit.what == "previous crop":
            low = (credit.lb or (0.0, 0.0))[0]
            text = f"after {credit.after}: {'nothing off' if not low else f'{-low:+g} lb'}"
        else:
            most = f", up to {credit.at_most_lb:g} lb" if credit.at_most_lb else ""
            text = f"less {credit.what}{most}"
        yield "Nitrogen already there", text
    if rules.nitrogen_when:
        yield "Nitrogen, when", rules.nitrogen_when
