"""What a class means for the field, and classes that mean the same whichever of them is true.

Nobody is sent out to tell such classes apart.
"""

from __future__ import annotations

from collections.abc import Hashable

from tillercount.stand.bands import Band
from tillercount.stand.classify import CLEAR, Classified
from tillercount.stand.stage import Stage

__all__ = ["meaning", "same_done", "same_meaning"]

_MEANS = {
    "push": "some nitrogen early",
    "some": "some nitrogen early",
    "hold": "no early nitrogen",
    "keep first": "decide first whether it stays",
    "not said": "",
}
"""What a class means for the field, by what its rule wants early."""
_LATE = {
    "due": "what is left of the nitrogen is due now, and nothing is left to decide by this count",
    "over": "it is late for nitrogen, and nothing is left to decide by this count",
}
"""What is done whichever class it is, once early nitrogen is no choice any more."""


def meaning(
    result: Classified, band: Band, stage: Stage | None, *, all_on: bool = False
) -> str:
    """What a class that may be true means for the field in a few words; may be empty.

    ``all_on``: no nitrogen goes on any more.
    """
    early = _early(result, band)
    late = stage is not None and stage.past_tillers
    return "" if (late or all_on) and early != "keep first" else _MEANS[early]


def same_meaning(result: Classified, stage: Stage | None) -> str:
    """What all classes that may be true mean alike in a few words; empty where they don't.

    Their pounds may still differ, or which of several doubtful stands it is; see `same_done`.
    """
    if _all_alike(result, {band: meaning(result, band, stage) for band in result.rule.bands}):
        return meaning(result, result.band, stage)
    return ""


def same_done(result: Classified) -> str:
    """What is to be done whichever class is true; empty where that hangs on the class.

    It doesn't hang on it where every class that may be true wants no nitrogen early and the rest on
    the same date, or the same pounds early, or, where the rules say nothing of nitrogen, just the
    same things done; and where all such classes together are as likely as a clear verdict is.
    """
    if not _all_alike(result, {band: _done(result, band) for band in result.rule.bands}):
        return ""
    if result.late and result.band.early != "keep first":
        return _LATE[result.late]
    band = result.band
    means = _MEANS[_early(result, band)]
    if means and band.early != "keep first":
        return means
    text = " ".join((*band.do, *band.do_nitrogen, *band.do_tillers)).rstrip(".")
    return f"{text[:1].lower()}{text[1:]}"


def _all_alike(result: Classified, of: dict[Band, Hashable]) -> bool:
    """Whether all bands that may be true have the same value, likely enough, and it says much."""
    own = of[result.band]
    if not own or result.clear or result.held is not None or result.n < 2:
        return False
    maybe = [band for one in result.likely for band in result.bands_of(one.class_)]
    shares = zip(result.rule.bands, result.band_probabilities, strict=True)
    together = sum(share for band, share in shares if of[band] == own)
    return all(of[band] == own for band in maybe) and together >= CLEAR


def _early(result: Classified, band: Band) -> str:
    """Early nitrogen by this band, unless the shoots speak against any."""
    return "hold" if result.no_early and band.asks_early else band.early


def _done(result: Classified, band: Band) -> Hashable:
    """All that says what is to be done; None where the rules don't say."""
    early = _early(result, band)
    if result.late and early != "keep first":
        return "late"
    if early == "hold":
        return early, "" if result.no_early else band.early_when
    if early in {"push", "some"}:
        return early, band.early_n_lb_ac, band.early_share, band.early_when
    todo = (*band.do, *band.do_nitrogen, *band.do_tillers)
    return (early, todo) if todo else None
