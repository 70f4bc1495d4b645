"""What went wrong with something the user gave, in one line they can act on."""

__all__ = ["InputError", "PhotoError"]


class InputError(ValueError):
    """Something given to the program can't be used.

    The message is one line: what was wrong, where (file, row, field), and what to do next.
    The command line prints it and exits with 2; it never shows a traceback for one of these.
    """


class PhotoError(InputError):
    """This file can't be used as a photo; the message says why and what to do."""
