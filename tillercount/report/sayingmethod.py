"""How it was worked out: every step with its figure, in the units of the page."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from tillercount.report.language import Line, Speaker
from tillercount.report.saying import band_range

__all__ = ["methods"]

Item = tuple[Line, Line | None]


def methods(speak: Speaker) -> Iterator[Item]:
    """Every step with its figure, what was counted, versions."""
    at, say = speak.at, speak.say
    record = speak.record
    for i, step in enumerate(record["steps"]):
        found = _metric(speak, f"steps/{i}", step) if speak.metric else None
        yield found or _as_told(speak, f"steps/{i}", step)
    yield say("method.definition", definition=at("definition")), None
    versions = say(
        "method.versions",
        version=at("version"),
        rules=at("rules/name"),
        mark=at("rules/mark"),
    )
    if record["model"] and record["model"].get("name"):
        hashed: Line = (at("model/sha256", "hash"),) if record["model"].get("sha256") else ()
        versions = (*versions, *say("method.model", model=at("model/name"), hash=hashed))
    yield versions, None
    yield (speak.words["method.json"],), None


def _as_told(speak: Speaker, path: str, step: dict[str, Any]) -> Item:
    line = speak.say("method.step", what=speak.at(f"{path}/what"), value=speak.at(f"{path}/value"))
    return line, (speak.at(f"{path}/why"),) if step["why"] else None


def _metric(speak: Speaker, path: str, step: dict[str, Any]) -> Item | None:
    """A step whose figures are ours, per m²; None where it is told as it stands."""
    make = _WAYS.get(step["kind"])
    if make is None:
        return None
    what: Line = (speak.at(f"{path}/what"),)
    if step["kind"] == "mean":  # its own title names the unit
        head = speak.words[f"what.{step['of']}_head"]
        what = speak.say("method.titled", what=head, unit=speak.words["unit.per_m2"])
    line = speak.say("method.step", what=what, value=make(speak, path, step))
    why: Line | None = (speak.at(f"{path}/why"),) if step["why"] else None
    return line, _heads_by(speak, path, step) if step["kind"] == "heads" else why


def _spots(speak: Speaker, path: str, step: dict[str, Any]) -> Line:
    each: list[Line] = []
    for i, one in enumerate(step["per_m2"]["spots"]):
        at = f"{path}/per_m2/spots/{i}"
        counts = [
            speak.say(
                "method.counts", n=speak.at(f"{at}/{what}", "density"),
                what=speak.words[f"what.{what}"],
            )
            for what in ("plants", "shoots")
            if one[what] is not None
        ]  # fmt: skip
        spot = speak.at(f"{at}/spot")
        each.append(
            speak.say("method.spot", spot=spot, counts=speak.joined(counts, "verdict.comma"))
        )
    number = speak.at("assessment/field/spots", "whole")
    unit = speak.words["unit.per_m2"]
    return speak.say(
        "method.spots", spots=number, unit=unit, each=speak.joined(each, "method.apart")
    )


def _ends(speak: Speaker, at: str) -> dict[str, Any]:
    return {end: speak.at(f"{at}/{end}", "density") for end in ("mean", "low", "high")}


def _mean(speak: Speaker, path: str, step: dict[str, Any]) -> Line:
    level = speak.at(f"{path}/figures/level", "share")
    line = speak.say("method.mean", level=level, **_ends(speak, f"{path}/per_m2"))
    if step["figures"]["cv"] is None:
        return line
    cv = speak.say("found.cv", cv=speak.at(f"{path}/figures/cv", "share"))
    return (*line, ". ", *cv)


def _both(speak: Speaker, path: str, step: dict[str, Any]) -> Line:
    found: list[Line] = [
        speak.say(f"method.both_{name}", **_ends(speak, f"{path}/per_m2/{name}"))
        for name in step["per_m2"]
    ]
    return speak.joined(found, "method.apart")


def _bands(speak: Speaker, path: str, step: dict[str, Any]) -> Line:
    number = _evidence(speak, step)
    bands: list[Line] = []
    for i in range(len(speak.record["evidence"][number]["bands"])):
        at = f"evidence/{number}/bands/{i}"
        bands.append(
            speak.say(
                "method.band",
                range=band_range(speak, at),
                share=speak.at(f"{at}/share", "chance"),
                **{"class": speak.at(f"{at}/class")},
            )
        )
    return speak.say(
        "method.bands",
        mean=speak.at(f"evidence/{number}/per_m2/mean", "density"),
        unit=speak.words["unit.per_m2"],
        bands=speak.joined(bands, "method.apart"),
    )


def _evidence(speak: Speaker, step: dict[str, Any]) -> int:
    return next(i for i, e in enumerate(speak.record["evidence"]) if e["what"] == step["of"])


def _more(speak: Speaker, path: str, step: dict[str, Any]) -> Line:
    options: list[Line] = []
    for i, one in enumerate(step["figures"]["further"]):
        at = f"{path}/figures/further/{i}"
        kind = speak.at(f"{at}/kind")
        options.append(
            speak.say("method.more_beyond", kind=kind)
            if one["spots"] is None
            else speak.say("method.more_spots", spots=speak.at(f"{at}/spots", "whole"), kind=kind)
        )
    return speak.say(
        "method.more",
        border=speak.at(f"evidence/{_evidence(speak, step)}/nearest/per_m2", "density"),
        unit=speak.words["unit.per_m2"],
        options=speak.joined(options, "verdict.or"),
    )


def _stop(speak: Speaker, path: str, step: dict[str, Any]) -> Line:
    key = "stop" if step["figures"]["may_stop"] else "stop_not"
    if step["per_m2"]["high"] is None:
        return (speak.words[f"method.{key}_open"],)
    ends = {end: speak.at(f"{path}/per_m2/{end}", "density") for end in ("low", "high")}
    return speak.say(f"method.{key}", unit=speak.words["unit.per_m2"], **ends)


def _heads(speak: Speaker, path: str, step: dict[str, Any]) -> Line:
    ends = speak.ends("expected/heads/per_m2", "whole")
    return speak.say("method.heads", range=ends, unit=speak.words["unit.per_m2"])


def _heads_by(speak: Speaker, path: str, step: dict[str, Any]) -> Line:
    rows: list[Line] = []
    for i in range(len(step["per_m2"]["by_source"])):
        at = f"{path}/figures/by_source/{i}"
        rows.append(
            speak.say(
                "method.heads_by",
                low=speak.at(f"{path}/per_m2/from/0", "whole"),
                high=speak.at(f"{path}/per_m2/from/1", "whole"),
                factor_low=speak.at(f"{at}/factor/0", "plain"),
                factor_high=speak.at(f"{at}/factor/1", "plain"),
                range=speak.ends(f"{path}/per_m2/by_source/{i}", "whole"),
                source=speak.at(f"{at}/source"),
            )
        )
    return speak.joined(rows, "method.apart")


_WAYS: dict[str | None, Callable[[Speaker, str, dict[str, Any]], Line]] = {
    "spots": _spots,
    "mean": _mean,
    "both_ways": _both,
    "bands": _bands,
    "more": _more,
    "stop": _stop,
    "heads": _heads,
}
