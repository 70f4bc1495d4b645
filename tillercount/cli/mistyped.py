"""Options and commands that there aren't, though there is another way to what was meant."""

from __future__ import annotations

from typing import Any

__all__ = ["say_other_way"]

_REGION = (
    "rules go by their names here: give --rules NAME, or see all that hold in a region side by "
    "side with `tillercount rules compare SOURCE --region R`"
)
_UNDO = (
    "`tillercount season remove SEASON --add N` takes out what one add brought; its number N is "
    "in `tillercount season show SEASON --log`"
)


def say_other_way(error: Any) -> None:
    """Put the other way into a usage error of the parser, in place of its guesses."""
    context = getattr(error, "ctx", None)
    if context is None:
        return
    option = getattr(error, "option_name", None)
    judging = any("--rules" in one.opts for one in context.command.params)
    if option == "--region" and judging:
        error.message = f"{error.message}; {_REGION}"
        error.possibilities = None
    elif option is None and context.info_name == "season" and "'undo'" in error.message:
        error.message = f"{error.message.rstrip('.')}; {_UNDO}"
