"""The option --weed, and what an assessment's screen says of other plants than the crop."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from tillercount.stand import Assessment
    from tillercount.stand.otherplants import Weeds

__all__ = ["WeedOption", "weed_lines", "weeds_of"]

WeedOption = Annotated[
    list[str] | None,
    typer.Option(
        "--weed",
        metavar='"henbit=40/m2"',
        help="A weed you know, with its density; the name alone where it is what else grows in "
        "the photos. Repeatable.",
    ),
]


def weeds_of(texts: Sequence[str] | None, sources: Sequence[Path] = ()) -> Weeds:
    """Weeds as typed, after a look whether the photos among the sources can give a density.

    Raises
    ------
    InputError
        What `named_weeds` refuses, and a weed without a density where the model that would count
        the photos can't tell: said now, not after minutes of counting.
    """
    from tillercount.errors import InputError
    from tillercount.photofiles import SUFFIXES
    from tillercount.stand.otherplants import cannot_tell, named_weeds

    weeds = named_weeds(texts or ())
    counting = any(one.is_dir() or one.suffix.lower() in SUFFIXES for one in sources)
    if weeds.in_photos and counting and not _counts_weeds():
        raise InputError(cannot_tell(weeds.in_photos))
    return weeds


def _counts_weeds() -> bool:
    """Whether the model that photos are counted with says how many other plants there are.

    By what its file says of itself, so that the weights are loaded once, when counting begins. A
    file without a description is refused then.
    """
    from tillercount.model.counter import OTHER
    from tillercount.model.files import model_path, read_info

    config = read_info(model_path()).get("config")
    # a network that doesn't say counts plants and shoots
    return not isinstance(config, dict) or config.get("counts", OTHER) > OTHER


def weed_lines(result: Assessment, *, explain: bool) -> list[str]:
    """Other plants where they are many, the weeds named with their loss, windows by stage."""
    from tillercount.stand.otherplants import weed_advice
    from tillercount.stand.windows import weed_windows

    told = weed_advice(result.weed_notice, result.weeds, result.stage)
    if told and explain and result.stage is not None:
        told = [*told[:-1], *weed_windows(result.stage)]
    return [one.line if explain else one.text for one in told]
