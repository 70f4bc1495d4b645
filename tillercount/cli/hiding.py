"""What the parser repeats of a mistyped command, without the password of a database."""

from __future__ import annotations

from typing import Any

from typer.core import TyperGroup

from tillercount.cli.mistyped import say_other_way
from tillercount.hidden import hidden

__all__ = ["HidingGroup"]


class HidingGroup(TyperGroup):
    """All commands; a URL in a usage error is shown as elsewhere, and another way to what was
    meant is told."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command that is named."""
        try:
            return super().invoke(ctx)
        except Exception as error:
            said = getattr(error, "message", None)
            if isinstance(said, str):  # a usage error
                error.message = hidden(said)  # type: ignore[attr-defined]
                say_other_way(error)
            raise
