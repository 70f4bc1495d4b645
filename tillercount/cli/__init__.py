"""The command line: a door to the same functions as Python's; no logic of its own.

Exit codes: 0 all went well; 1 some photos were refused (the rest was counted and written), or
``doctor`` found something to mend; 2 the command or a file given to it can't be used; 3 an error
inside the program; 130 stopped with Ctrl-C.
"""

from __future__ import annotations

__all__ = ["main"]


def main() -> None:
    """Entry point of the ``tillercount`` command; leaves with an exit code."""
    from tillercount.cli.app import app

    app(prog_name="tillercount")
