"""Corners typed as an argument: a minus in front of the first one doesn't make them an option."""

from __future__ import annotations

from typing import Any

from typer.core import TyperCommand

__all__ = ["CornersCommand"]


class CornersCommand(TyperCommand):
    """A command whose corners may start south of the equator, or with longitude by mistake."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Take ``-33.10,150.20 ...`` for corners; no option starts with a minus and a digit."""
        # A blank before it is enough for the parser, and readers of corners skip it.
        args = [f" {a}" if a[:1] == "-" and a[1:2].isdigit() else a for a in args]
        return super().parse_args(ctx, args)
