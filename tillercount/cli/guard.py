"""How a command ends when something is wrong: one line, an exit code, no traceback."""

from __future__ import annotations

import functools
import os
import sys
from collections.abc import Callable
from typing import Any, NoReturn, TypeVar

import typer

from tillercount.errors import InputError
from tillercount.hidden import hidden, hide_in

__all__ = [
    "EXIT_INSIDE",
    "EXIT_REFUSED",
    "EXIT_STOPPED",
    "EXIT_USAGE",
    "debugging",
    "guarded",
    "inside_error",
    "one_line",
    "say",
]

EXIT_REFUSED, EXIT_USAGE, EXIT_INSIDE, EXIT_STOPPED = 1, 2, 3, 130

_Command = TypeVar("_Command", bound=Callable[..., Any])


def debugging() -> bool:
    """Whether the user asked for tracebacks."""
    return os.environ.get("TILLERCOUNT_DEBUG", "") not in ("", "0")


def one_line(text: object) -> str:
    """A message on one line, without the password of a database."""
    return hidden(" ".join(str(text).split()))


def say(text: str) -> None:
    """One line to the error stream, so that tables can be redirected without it."""
    typer.echo(f"tillercount: {one_line(text)}", err=True)


def inside_error(error: BaseException) -> str:
    """What to tell of an error that isn't the user's."""
    return one_line(
        f"an error inside the program ({type(error).__name__}: {error}); please report it with "
        "the command and, if you can, the photo; TILLERCOUNT_DEBUG=1 shows where it happened"
    )


def guarded(command: _Command) -> _Command:
    """Turn what a command raises into one line and an exit code."""

    @functools.wraps(command)
    def run(*args: Any, **options: Any) -> Any:
        try:
            return command(*args, **options)
        except InputError as error:
            _leave(error, str(error), EXIT_USAGE)
        except KeyboardInterrupt as error:
            _leave(error, "stopped", EXIT_STOPPED)
        except BrokenPipeError:
            # The reader of a pipe (head, less) has gone; nothing is wrong.
            sys.stderr.close()
            raise typer.Exit(0) from None
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            reason = error.strerror or str(error)
            _leave(error, f"{where}{reason}; check the path and the free space", EXIT_USAGE)
        except (typer.Exit, typer.Abort):
            raise
        except RuntimeError as error:
            # typer.Exit and usage errors of the parser are RuntimeErrors as well.
            if type(error).__module__.startswith(("typer", "click")):
                raise
            _leave(error, inside_error(error), EXIT_INSIDE)
        except Exception as error:
            if type(error).__module__.startswith(("typer", "click")):
                raise
            _leave(error, inside_error(error), EXIT_INSIDE)

    return run  # type: ignore[return-value]


def _leave(error: BaseException, text: str, code: int) -> NoReturn:
    if debugging() and code != EXIT_STOPPED:
        hide_in(error)
        raise error
    say(text)
    raise typer.Exit(code) from None
