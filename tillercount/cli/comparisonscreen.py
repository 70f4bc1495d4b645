"""What ``rules compare`` shows."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tillercount.stand.comparison import Compared, Comparison

__all__ = ["show_comparison"]


def show_comparison(result: Comparison, sources: Sequence[Path], area: str | None) -> None:
    """Tables by what was counted, then what to mind, what was left out and what would let it in."""
    from rich import box
    from rich.table import Table

    from tillercount.cli.show import console

    out = console()
    if result.disagreement:
        out.print(f"{result.disagreement}.", style="bold")
    for what in ("plants", "shoots"):
        rows = result.of(what)
        if not rows:
            continue
        table = Table(box=box.SIMPLE_HEAD, pad_edge=False, title=None)
        table.add_column("rules", no_wrap=True)
        for column in (f"{what} as counted there", "classes and borders", "verdict", "nitrogen"):
            table.add_column(column, overflow="fold")
        for row in rows:
            table.add_row(*_cells(row))
        out.print(table)
    for line in _without_rows(result) if not result.rows else ():
        out.print(line, style="bold")
    said = list(dict.fromkeys([*result.flags, *(r.warning for r in result.rows if r.warning)]))
    by_text: dict[str, list[str]] = {}
    for row in result.rows:
        for text in row.assumed:
            by_text.setdefault(text, []).append(row.rules.name)
    said.extend(f"{', '.join(dict.fromkeys(names))}: {text}" for text, names in by_text.items())
    for title, lines in (
        ("Mind", said),
        ("Left out", _left_out(result)),
        ("To use those that need a value (put yours in)", _with_value(result, sources, area)),
    ):
        if lines:
            out.print(title, style="bold")
            for line in lines:
                out.print(f"  - {line}", soft_wrap=True)
    out.print(
        "Each publisher speaks for its own region and counts in its own way; choose the one that "
        "holds where you stand (assess --rules NAME). Nothing here is averaged."
    )
    out.print("Not an insurance appraisal; do not destroy a stand before release.")


_MISSING = {
    "ft of row": ("its row spacing", "--row-spacing"),
    "percent of normal": ("the density of a normal stand here", "--normal-stand"),
}
"""What sets in such a unit wait for, and the option that gives it."""


def _without_rows(result: Comparison) -> list[str]:
    """That no set fits; or which ones would, and what is missing."""
    from tillercount.stand.words import join

    if not result.waiting:
        return ["No rule set fits this field; the reasons are below."]
    lines = []
    for unit, sets in result.waiting.items():
        what, option = _MISSING[unit]
        counted = {"plants": result.field.plants, "shoots": result.field.shoots}
        asked = {one.measures for one in sets if one.measures and not counted[one.measures]}
        uncounted = [f"a count of {one}" for one in sorted(asked)]
        names = join(list(dict.fromkeys(one.rules.name for one in sets)))
        missing = join([*uncounted, what])
        example = sets[0].needs.partition("@")[2]
        lines.append(
            f"{names} would fit this field, but {missing} {'are' if uncounted else 'is'} missing: "
            f"add {option} {example} (put yours in)."
        )
    return lines


def _cells(row: Compared) -> tuple[str, ...]:
    from tillercount.stand.shares import class_percent

    found = row.result
    unit = "ft²" if found.rule.unit == "ft2" else "m²"
    density = f"{found.mean:.3g} ({found.low:.3g}–{found.high:.3g}) per {unit}"
    ladder = " ".join(
        f"{name} | {border:.3g} |" if border is not None else name
        for name, border in ((found.called(class_), border) for class_, border in row.ladder)
    )
    share = class_percent(found)
    mark = found.rule.mark or row.rules.mark
    name = f"{row.rules.name}\n{row.rules.region}" + (
        f", {row.rules.year}" if row.rules.year else ""
    )
    if mark != "seen":
        name += f"\n{mark}"
    verdict = f"{row.said} ({share})" if found.clear else f"{row.said} ({share} the first)"
    if row.warning:
        verdict += "\nNOT VALIDATED"
    return name, density, ladder, verdict, row.early_text


def _left_out(result: Comparison) -> list[str]:
    """One line for each reason; those for elsewhere only by their number."""
    by_kind: dict[str, list[str]] = {}
    far = 0
    for one in result.left_out:
        if one.elsewhere:
            far += 1
            continue
        what = f", {one.measures}" if one.measures else ""
        by_kind.setdefault(one.kind, []).append(f"{one.rules.name}{what}")
    lines = [f"{kind}: {'; '.join(names)}" for kind, names in by_kind.items()]
    if far:
        lines.append(f"for elsewhere than {result.region}: {far} sets (tillercount rules list)")
    return lines


def _with_value(result: Comparison, sources: Sequence[Path], area: str | None) -> list[str]:
    """The command for each set that needs something known of the field."""
    import shlex

    given = " ".join(shlex.quote(str(one)) for one in sources)
    names = dict.fromkeys(one.needs for one in result.left_out if one.needs)
    given += f" --area {shlex.quote(area)}" if area is not None else ""
    at = f" --stage {shlex.quote(result.stage.text)}" if result.stage is not None else ""
    return [f"tillercount assess {given} --rules {name}{at}" for name in names]
