"""An assessment on the screen: the sentence first, then why, then what to do and to mind."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tillercount.cli.show import console

if TYPE_CHECKING:
    from tillercount.stand import Assessment

__all__ = ["show_assessment"]


def show_assessment(result: Assessment) -> None:
    """Print an assessment."""
    from rich.table import Table

    out = console()
    record = result.to_json()
    field, verdict = record["field"], record["verdict"]
    out.print(verdict["headline"], style="bold", soft_wrap=False)
    out.print()
    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for what in ("plants", "shoots"):
        density = field[f"{what}_per_ft2"]
        if density is not None:
            table.add_row(what, _density(density, field.get(f"cv_{what}")))
    table.add_row("rules", f"{result.rules.title} ({record['rules']})")
    table.add_row("class", _classes(verdict))
    if record["yield"]:
        table.add_row("yield", _yield(record["yield"]))
    table.add_row("crop", ", ".join(filter(None, (record["crop"], record["stage"]))))
    out.print(table)
    for title, lines in (
        ("What to do", verdict["actions"]),
        ("Nitrogen", (record["nitrogen"] or {}).get("lines", ())),
        ("Mind", [*record["flags"], *verdict["cautions"]]),
        ("Sources", verdict["sources"]),
    ):
        if lines:
            out.print()
            out.print(title, style="bold")
            for line in lines:
                _bullet(out, line)
    for refused in record["refused"]:
        out.print(f"{refused['photo']} refused: {refused['reason']}", soft_wrap=True)


def _density(density: dict[str, Any], cv: float | None) -> str:
    spots = density["spots"]
    text = (
        f"{density['mean']:.1f} per ft² ({density['low']:.1f}–{density['high']:.1f}, "
        f"{density['level']:.0%} interval; {spots} spot{'s' if spots != 1 else ''}"
    )
    return text + (f", spot-to-spot CV {cv:.0%})" if cv is not None else ")")


def _classes(verdict: dict[str, Any]) -> str:
    ranked = sorted(verdict["probabilities"].items(), key=lambda item: -item[1])
    shown = ", ".join(f"{name} {share:.0%}" for name, share in ranked if share >= 0.005)
    return shown if verdict["clear"] else f"too close to call: {shown}"


def _yield(expected: dict[str, Any]) -> str:
    return f"about {expected['low']:.0f} to {expected['high']:.0f} bu/ac likely from these shoots"


def _bullet(out: Any, text: str) -> None:
    from rich.padding import Padding
    from rich.table import Table

    row = Table.grid(padding=(0, 1, 0, 0))
    row.add_column(width=1)
    row.add_column(overflow="fold")
    row.add_row("-", text)
    out.print(Padding(row, (0, 0, 0, 2)))
