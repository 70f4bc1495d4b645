"""All rule sets that fit a field, side by side: never mixed, never averaged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from dataclasses import field as default
from pathlib import Path
from typing import Any

from tillercount.area import Area
from tillercount.errors import InputError
from tillercount.field.apart import several_fields
from tillercount.field.contradiction import contradictions
from tillercount.field.estimate import FieldEstimate, estimate_field
from tillercount.field.sources import collect
from tillercount.stand.actions import named
from tillercount.stand.assessment import density, thresholds
from tillercount.stand.bands import Band, Measured
from tillercount.stand.classify import Classified
from tillercount.stand.crops import crop_name, not_validated
from tillercount.stand.judge import Judged, judge, with_example
from tillercount.stand.library import list_rules, load_rules, region_meant
from tillercount.stand.local import Local
from tillercount.stand.rowluck import luck_of
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.stage import Stage, parse_stage
from tillercount.stand.warn import counts_warnings, other_photo_flags, rule_warnings
from tillercount.stand.words import join, refused_line, span
from tillercount.units import per_ft2

__all__ = ["SCHEMA", "Compared", "Comparison", "LeftOut", "compare"]

SCHEMA = "tillercount.comparison/1"


@dataclass(frozen=True)
class Compared:
    """One rule of one set, and what it makes of the field.

    Attributes
    ----------
    rules : RuleSet
    result : Classified
        Its rule is per ft² or m², and its density counted as the rule set counts.
    warning : str
        "Not validated for ..." where the crop isn't one of the set's; else empty.
    assumed : tuple of str
        What had to be taken for granted.
    """

    rules: RuleSet
    result: Classified
    warning: str = ""
    assumed: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """The class, or the classes it may be."""
        names = [repr(band.class_) for band in named(self.result)]
        if self.result.held is not None:
            return f"not settled: {join(names, 'or')}"
        return names[0].strip("'") if self.result.clear else f"too close: {join(names, 'or')}"

    @property
    def ladder(self) -> tuple[tuple[str, float | None], ...]:
        """Each class with the border above it, in the rule's unit; the last one has none."""
        bands = self.result.rule.bands
        pairs = zip(bands, (*bands[1:], None), strict=True)
        return tuple((a.class_, a.to) for a, b in pairs if b is None or a.class_ != b.class_)

    @property
    def early_text(self) -> str:
        """What the set says of early nitrogen, for each class that may well be true."""
        return join(list(dict.fromkeys(_early(band) for band in named(self.result))), "or")

    def to_json(self) -> dict[str, Any]:
        """Everything as plain values."""
        rules, band = self.rules, self.result.band
        return {
            "rules": rules.name,
            "title": rules.title,
            "publisher": rules.publisher,
            "region": rules.region,
            "year": rules.year,
            "mark": self.result.rule.mark or rules.mark,
            "crops": list(rules.crops),
            "counting": rules.counting.words,
            "stage": f"{rules.stage.from_} to {rules.stage.to}",
            "validated": not self.warning,
            "warning": self.warning or None,
            **thresholds(self.result),
            "verdict": self.verdict,
            "say": [one.say for one in named(self.result) if one.say],
            "early": band.early,
            "early_text": self.early_text,
            "early_n_lb_ac": list(band.early_n_lb_ac) if band.early_n_lb_ac else None,
            "assumed": list(self.assumed),
            "note": self.result.rule.note or None,
            "sources": list(rules.sources_of(self.result.rule)),
        }


@dataclass(frozen=True)
class LeftOut:
    """A rule set, or one of its rules ("plants", "shoots"), that says nothing here, and why."""

    rules: RuleSet
    reason: str
    measures: Measured | None = None
    elsewhere: bool = False
    """Left out for its region, which is looked at first."""
    needs: str = ""
    """The set's name with an example of what it needs, such as ``kansas-replant@25/ft2``."""
    kind: str = ""
    """The reason without what is special to this set, so that sets can be listed by it."""


@dataclass(frozen=True)
class Comparison:
    """One field under every rule set that fits it."""

    field: FieldEstimate
    crop: str
    stage: Stage | None
    region: str
    rows: tuple[Compared, ...]
    left_out: tuple[LeftOut, ...]
    flags: tuple[str, ...] = ()
    name: str = ""
    model: Mapping[str, Any] = default(default_factory=dict)

    def of(self, measures: str) -> list[Compared]:
        """Rows that judge plants, or shoots."""
        return [row for row in self.rows if row.result.rule.measures == measures]

    @property
    def disagreement(self) -> str:
        """Who says what of early nitrogen, in one sentence; empty where all say the same."""
        by: dict[str, list[str]] = {}
        for row in self.rows:
            says = f"{row.rules.name} ({row.result.rule.measures})"
            by.setdefault(row.early_text, []).append(says)
        if len(by) < 2:
            return ""
        return "The sets say different things: " + "; ".join(
            f"{join(names)}: {text}" for text, names in by.items()
        )

    def to_json(self) -> dict[str, Any]:
        """Everything as plain values, schema ``tillercount.comparison/1``."""
        est = self.field
        return {
            "schema": SCHEMA,
            "field": {
                "name": self.name,
                "plants_per_ft2": density(est.plants, per_ft2(1.0)),
                "shoots_per_ft2": density(est.shoots, per_ft2(1.0)),
                "spots": est.spots,
                "definition": est.definition.value,
            },
            "crop": self.crop,
            "stage": self.stage.words if self.stage else None,
            "region": self.region or None,
            "disagreement": self.disagreement or None,
            "rows": [row.to_json() for row in self.rows],
            "left_out": [
                {
                    "rules": one.rules.name,
                    "measures": one.measures,
                    "reason": one.reason,
                    "use_as": one.needs or None,
                }
                for one in self.left_out
            ],
            "flags": list(self.flags),
            "model": dict(self.model) or None,
        }


def compare(
    counts: Any,
    *,
    crop: str = "wheat",
    region: str = "",
    stage: str | Stage | None = None,
    rules: Sequence[str | Path | RuleSet] = (),
    insist: bool = False,
    local: Local | None = None,
    area: Area | None = None,
    level: float = 0.9,
    model: Mapping[str, Any] | None = None,
    name: str = "",
) -> Comparison:
    """Hold one field's counts against every rule set that fits it.

    Parameters
    ----------
    counts
        What `tillercount.field.collect` reads.
    crop, region, stage
        A set fits when it was published for the crop, holds in the region (all do where none is
        given) and was made for the stage (likewise).
    rules : sequence of names, files or rule sets, optional
        More sets than those that come with the program, such as a user's own files.
    insist : bool
        Use sets for other crops too; their rows then say "not validated".
    local : Local, optional
        Row spacing and normal stand, without which some sets can't be used.
    area : Area, optional
        What lay on the ground; with the row spacing it says how far the frame is out by luck.

    Raises
    ------
    InputError
        A region that no set names, a stage that can't be read, counts that can't be used.
    """
    sets = {one.name: one for one in list_rules()}
    own = {one.name: one for one in (load_rules(each) for each in rules)}
    sets.update(own)
    region = " ".join(region.split())
    if region and not any(one.holds_in(region) for one in sets.values()):
        known = ", ".join(sorted({one.region for one in sets.values()}))
        meant = join(region_meant(region, list(sets.values())), "or")
        hint = f"did you mean {meant}? " if meant else ""
        raise InputError(f"region {region!r} is named by no rule set; {hint}known: {known}")
    crop = crop_name(crop)
    if isinstance(stage, str):
        stage = parse_stage(stage)
    collected = collect(counts, model=model)
    doubts = [*several_fields(collected.spots), *contradictions(collected.spots, level)]
    estimate = estimate_field(collected.spots, level=level)
    rows: list[Compared] = []
    left_out: list[LeftOut] = []
    for one in sets.values():
        # A file that the user names is meant, wherever it is from.
        if region and one.name not in own and not one.holds_in(region):
            why = f"for {one.region}, not {region}"
            left_out.append(LeftOut(one, why, elsewhere=True, kind=f"for elsewhere than {region}"))
            continue
        unfit = _unfit(one, crop, stage, insist)
        if unfit is not None:
            left_out.append(unfit)
            continue
        judged = judge(one, estimate, local)
        rows.extend(_rows(one, judged, not_validated(one, crop)))
        left_out.extend(
            LeftOut(one, why, what, kind=why, needs=with_example(one, what))
            for what, why in judged.why_not.items()
        )
    flags = [*counts_warnings(estimate), *other_photo_flags(estimate), *doubts, *estimate.flags]
    for used in dict.fromkeys(row.rules.name for row in rows):
        flags.extend(rule_warnings(sets[used], stage=stage))
    if collected.refused:
        flags.append(refused_line(collected.refused))
    if area is not None and local is not None and local.row_spacing_mm is not None:
        flags.extend(filter(None, [luck_of(area, local.row_spacing_mm)]))
    return Comparison(
        field=estimate,
        crop=crop,
        stage=stage,
        region=region,
        rows=tuple(sorted(rows, key=lambda row: row.result.rule.measures)),
        left_out=tuple(left_out),
        flags=tuple(dict.fromkeys(flags)),
        name=name,
        model=collected.model,
    )


_EARLY = {
    "push": "early nitrogen",
    "some": "some early nitrogen",
    "hold": "no early nitrogen",
    "keep first": "decide on the stand first",
    "not said": "nothing said of early nitrogen",
}


def _early(band: Band) -> str:
    if band.early_n_lb_ac is None or band.early_n_lb_ac[1] == 0:
        return _EARLY[band.early]
    return f"{span(band.early_n_lb_ac, 3)} lb N/ac early"


def _unfit(rules: RuleSet, crop: str, stage: Stage | None, insist: bool) -> LeftOut | None:
    """Why a rule set doesn't fit a field, its region apart; None where it does."""
    if not rules.rules:
        reason = "gives the whole nitrogen by yield goal, judges no density"
        return LeftOut(rules, reason, kind=reason)
    if not (insist or rules.covers(crop)):
        reason = f"for {join(rules.crops)}, not validated for {crop}"
        return LeftOut(rules, reason, kind=f"for other crops than {crop}")
    if stage is not None and (place := rules.stage.place(stage)) != "within":
        late = "later" if place == "after" else "earlier"
        reason = (
            f"made for {rules.stage.from_} to {rules.stage.to}; {stage.words} is {late} "
            f"(look for: {stage.feature})"
        )
        return LeftOut(rules, reason, kind=f"made for other stages than {stage.words}")
    return None


def _rows(rules: RuleSet, judged: Judged, warning: str) -> list[Compared]:
    out = []
    if judged.plants is not None:
        out.append(Compared(rules, judged.plants, warning, judged.assumed.get("plants", ())))
    if judged.shoots is not None:
        out.append(Compared(rules, judged.shoots, warning, judged.assumed.get("shoots", ())))
    return out
