"""``tillercount doctor``."""

from __future__ import annotations

import typer

from tillercount.cli.guard import EXIT_REFUSED, guarded

__all__ = ["doctor"]


@guarded
def doctor() -> None:
    """Check the installation: versions, model, accelerator, extras."""
    from rich.table import Table

    from tillercount.cli.show import console
    from tillercount.doctor import conclusion, examine

    findings = examine()
    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    marks = {"ok": "ok", "note": "-", "bad": "MEND"}
    for finding in findings:
        table.add_row(marks[finding.level], finding.what, finding.text)
    out = console()
    out.print(table)
    out.print()
    out.print(conclusion(findings), soft_wrap=True)
    if any(finding.level == "bad" for finding in findings):
        raise typer.Exit(EXIT_REFUSED)
