"""Which sentence the verdict is, and how sure: never surer than the counts are."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tillercount.report.figure import letter
from tillercount.stand.actions import nitrogen_by
from tillercount.stand.alike import meaning, same_done
from tillercount.stand.classify import CLEAR, Classified
from tillercount.stand.crops import not_validated
from tillercount.stand.late import too_late
from tillercount.stand.onalready import EARLY
from tillercount.stand.shares import band_shares, class_shares, together
from tillercount.twoforms import as_sentence

if TYPE_CHECKING:
    from tillercount.stand.assessment import Assessment

__all__ = ["verdict_record"]

_ASKED = (*EARLY, "hold", "not_said")
"""Kinds of a stand that stays, whose nitrogen is still to go on."""


def verdict_record(a: Assessment) -> dict[str, Any]:
    """The verdict as values, with ``kind`` for the sentence.

    ``kind`` is what the rules want done early (``push``, ``some``, ``hold``, ``keep_first``,
    ``not_said``; ``early_on`` and ``early_rest`` where all or some of what goes on early is on
    already, ``early_little`` where that is too little for a pass, ``all_on`` where nothing more is
    due), ``alike`` where the classes that may be true are all to be treated alike, or ``unclear``,
    ``unclear_tillers``, ``unclear_jointed``, ``jointed``, ``alike_jointed``, or ``held`` where the
    counts themselves are in doubt
    (`tillercount.stand.holdback`). ``share`` is the probability of what the sentence says by the
    count of ``by``; ``other`` is the same by the tillers, where they decide about the early
    nitrogen. ``shown`` is a probability to the whole percent, rounded together with the others
    (`tillercount.stand.shares`). ``no_early`` says why early nitrogen is held back where a class
    that may be true would get it.
    """
    decided = a.decided_by
    timing = nitrogen_by(a.plants, a.shoots)
    by_tillers = timing is not None and timing is not decided
    kind, share, shown = _stand(decided, by_tillers=by_tillers)
    other = None
    options = decided
    if a.stage is not None and a.stage.past_tillers:
        kind = "jointed" if decided.clear else "unclear_jointed"
        share, shown = _likeliest(decided)
    elif kind != "unclear" and by_tillers and timing is not None and kind != "keep_first":
        early, sure, sure_shown = _stand(timing)
        kind = "unclear_tillers" if early == "unclear" else early
        options = timing
        if early != "unclear":
            other = {
                "by": timing.rule.measures,
                "share": sure,
                "shown": sure_shown,
                "name": timing.name_of(),
            }
    on = a.nitrogen.on if a.nitrogen is not None else None
    if kind in EARLY and on is not None and (on.done or on.part):
        kind = "early_on" if on.done else "early_rest"
    if kind in EARLY and on is not None and on.waits:
        kind = "early_little"
    all_on = on is not None and on.left is not None
    if kind in _ASKED and all_on:
        kind = "all_on"
    none_early = all_on or (on is not None and on.waits)
    if decided.held is not None:
        kind, other, options = "held", None, decided
    past = a.stage is not None and a.stage.past_tillers
    no_early = "" if past or none_early else decided.early_held
    if kind in ("unclear", "unclear_jointed") and same_done(decided):
        kind = "alike" if kind == "unclear" else "alike_jointed"
    return {
        "kind": kind,
        "class": decided.class_,
        "name": decided.name_of(),
        "share": share,
        "shown": shown,
        "by": decided.rule.measures,
        "clear": decided.clear,
        "no_early": as_sentence(no_early) or None,
        "held": decided.held.why if decided.held is not None else None,
        "likeliest": class_shares(decided)[decided.class_],
        "other": other,
        "alike": same_done(decided) or None,
        "options": [
            {
                "class": band.class_,
                "name": options.name_of(band.class_),
                "called": options.called(band.class_),
                "means": meaning(options, band, a.stage, all_on=none_early) or None,
                "share": options.probabilities[band.class_],
                "shown": class_shares(options)[band.class_],
            }
            for band in options.likely
        ],
        "classes": [
            {
                "letter": letter(index),
                "class": band.class_,
                "name": decided.titled(band),
                "share": chance,
                "shown": shown,
            }
            for index, (band, chance, shown) in enumerate(
                zip(
                    decided.rule.bands,
                    decided.band_probabilities,
                    band_shares(decided),
                    strict=True,
                )
            )
        ],
        "headline": a.verdict.headline,
        "late": too_late(a.stage) if a.stage is not None and a.stage.past_tillers else None,
        "settle": a.verdict.settle or None,
        "warning": " ".join(_first_of_all(a)) or None,
        "warnings": _first_of_all(a),
    }


def _first_of_all(a: Assessment) -> list[str]:
    """What has to be read before the verdict, as sentences."""
    said = [not_validated(a.rules, a.crop).rstrip("."), *a.verdict.warnings]
    return [as_sentence(one) for one in said if one]


def _stand(result: Classified, *, by_tillers: bool = False) -> tuple[str, float, float]:
    """What is to be done, how probable the classes are that want just that, and that as shown.

    Where one class isn't clear but all that may be true want the same, that is said, with their
    probability together. Where the tillers decide when nitrogen goes on, the plants only say
    whether the stand stays.
    """

    def wants(early: str) -> str:
        if by_tillers and early != "keep first":
            return "stays"
        return "some" if early == "push" else early

    share, shown = _likeliest(result)
    if result.held is not None:
        return "unclear", share, shown
    early = result.band.early
    if not result.clear:
        shares = result.band_probabilities
        alike_at = [
            i for i, band in enumerate(result.rule.bands) if wants(band.early) == wants(early)
        ]
        likeliest = share, shown
        share, shown = min(1.0, sum(shares[i] for i in alike_at)), together(shares, alike_at)
        alike = len({wants(band.early) for band in result.likely}) == 1
        said = early != "not said" or (by_tillers and same_done(result))
        if not alike or share < CLEAR or not said:
            return "unclear", *likeliest
    return early.replace(" ", "_"), share, shown


def _likeliest(result: Classified) -> tuple[float, float]:
    return result.probabilities[result.class_], class_shares(result)[result.class_]
