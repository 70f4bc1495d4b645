"""Options that several commands share, declared once: a dataclass of fields is a group of options.

A command takes a group as one parameter annotated with its class; `grouped` gives the parser the
single options, and `GroupedCommand` sets each group under its own heading in the help.
"""

from __future__ import annotations

import copy
import dataclasses
import functools
import inspect
from collections.abc import Callable
from typing import Annotated, Any, get_args, get_type_hints

from typer.core import TyperCommand
from typer.models import OptionInfo

__all__ = ["GroupedCommand", "grouped"]


def grouped(command: Callable[..., Any]) -> Callable[..., Any]:
    """A command whose parameters that are dataclasses are given as single options.

    Each class names its heading in ``panel``; each field is annotated with its option.
    """
    parameters: list[inspect.Parameter] = []
    groups: dict[str, Any] = {}
    for parameter in inspect.signature(command, eval_str=True).parameters.values():
        if dataclasses.is_dataclass(parameter.annotation):
            groups[parameter.name] = parameter.annotation
            parameters += _options(parameter.annotation)
        else:
            parameters.append(parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY))

    @functools.wraps(command)
    def run(**values: Any) -> Any:
        for name, group in groups.items():
            its = {field.name: values.pop(field.name) for field in dataclasses.fields(group)}
            values[name] = group(**its)
        return command(**values)

    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {one.name: one.annotation for one in parameters}
    return run


def _options(group: Any) -> list[inspect.Parameter]:
    hints = get_type_hints(group, include_extras=True)
    return [
        inspect.Parameter(
            field.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=field.default,
            annotation=_under(hints[field.name], group.panel),
        )
        for field in dataclasses.fields(group)
    ]


def _under(annotation: Any, panel: str) -> Any:
    """The annotation with its option set under a heading."""
    plain, option = get_args(annotation)
    placed: OptionInfo = copy.copy(option)
    placed.rich_help_panel = panel
    return Annotated[plain, placed]


class GroupedCommand(TyperCommand):
    """Plain help with a heading for each group; options of no group come first."""

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write arguments and options, group by group."""
        sections: dict[str, list[tuple[str, str]]] = {"Arguments": [], "Options": []}
        for param in self.get_params(ctx):
            said = param.get_help_record(ctx)
            if said is None:
                continue
            argument = param.param_type_name == "argument"
            title = "Arguments" if argument else getattr(param, "rich_help_panel", None)
            sections.setdefault(title or "Options", []).append(said)
        for title, rows in sections.items():
            if rows:
                with formatter.section(title):
                    formatter.write_dl(rows)
