"""Which sentence the verdict is, and how sure: never surer than the counts are."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tillercount.report.figure import letter
from tillercount.stand.actions import nitrogen_by
from tillercount.stand.classify import CLEAR, Classified
from tillercount.stand.crops import not_validated

if TYPE_CHECKING:
    from tillercount.stand.assessment import Assessment

__all__ = ["verdict_record"]


def verdict_record(a: Assessment) -> dict[str, Any]:
    """The verdict as values, with ``kind`` for the sentence.

    ``kind`` is what the rules want done early (``push``, ``some``, ``hold``, ``keep_first``,
    ``not_said``), or ``unclear``, ``unclear_tillers``, ``unclear_jointed``, ``jointed``, or
    ``held`` where the counts themselves are in doubt (`tillercount.stand.holdback`). ``share`` is
    the probability of what the sentence says by the count of ``by``; ``other`` is the same by the
    tillers, where they decide about the early nitrogen.
    """
    decided = a.decided_by
    timing = nitrogen_by(a.plants, a.shoots)
    by_tillers = timing is not None and timing is not decided
    kind, share = _stand(decided, by_tillers=by_tillers)
    other = None
    options = decided
    if a.stage is not None and a.stage.jointed:
        kind = "jointed" if decided.clear else "unclear_jointed"
        share = decided.probabilities[decided.class_]
    elif kind != "unclear" and by_tillers and timing is not None and kind != "keep_first":
        early, sure = _stand(timing)
        kind = "unclear_tillers" if early == "unclear" else early
        options = timing
        if early != "unclear":
            other = {"by": timing.rule.measures, "share": sure, "name": timing.band.name}
    if decided.held is not None:
        kind, other, options = "held", None, decided
    return {
        "kind": kind,
        "class": decided.class_,
        "name": decided.band.name,
        "share": share,
        "by": decided.rule.measures,
        "clear": decided.clear,
        "other": other,
        "options": [
            {"class": band.class_, "name": band.name, "share": options.probabilities[band.class_]}
            for band in options.likely
        ],
        "classes": [
            {"letter": letter(index), "class": band.class_, "name": band.name, "share": chance}
            for index, (band, chance) in enumerate(
                zip(decided.rule.bands, decided.band_probabilities, strict=True)
            )
        ],
        "headline": a.verdict.headline,
        "settle": a.verdict.settle or None,
        "warning": _first_of_all(a),
    }


def _first_of_all(a: Assessment) -> str | None:
    """What has to be read before the verdict, as sentences."""
    said = [not_validated(a.rules, a.crop).rstrip("."), *a.verdict.warnings]
    return " ".join(f"{one[0].upper()}{one[1:].rstrip('.')}." for one in said if one) or None


def _stand(result: Classified, *, by_tillers: bool = False) -> tuple[str, float]:
    """What is to be done, and how probable the classes are that want just that.

    Where one class isn't clear but all that may be true want the same, that is said, with their
    probability together. Where the tillers decide when nitrogen goes on, the plants only say
    whether the stand stays.
    """

    def wants(early: str) -> str:
        return "stays" if by_tillers and early != "keep first" else early

    share = result.probabilities[result.class_]
    if result.held is not None:
        return "unclear", share
    early = result.band.early
    if not result.clear:
        shares = zip(result.rule.bands, result.band_probabilities, strict=True)
        share = min(1.0, sum(p for band, p in shares if wants(band.early) == wants(early)))
        alike = len({wants(band.early) for band in result.likely}) == 1
        if not alike or share < CLEAR or early == "not said":
            return "unclear", result.probabilities[result.class_]
    return early.replace(" ", "_"), share
