"""An assessment on the screen: the sentence first, then why, then what to do and to mind.

A screenful for the field; ``--explain`` adds how the spots differ, every caution and source, and
every step.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

from tillercount.cli.show import bullet, console

if TYPE_CHECKING:
    from rich.console import Console

    from tillercount.stand import Assessment
    from tillercount.stand.classify import Classified

__all__ = ["show_assessment", "ways_to_say"]

Say = Callable[[str], str]

_OWN = ("Nitrogen", "How it came about")
"""Sections of this field's own rates; elsewhere the same pounds may be a publisher's."""


def show_assessment(result: Assessment, *, explain: bool = False, metric: bool = False) -> None:
    """Print an assessment, in short or with all that is known.

    ``metric``: densities per square meter, and behind other quantities the same in metric units, as
    a metric report has them.
    """
    from tillercount.cli.minded import minded
    from tillercount.cli.weeds import weed_lines
    from tillercount.report.inmetric import rates_of

    out = console()
    record = result.to_json()
    verdict = record["verdict"]
    say, own = ways_to_say(result, result.crop, rates_of(result.nitrogen), metric=metric)
    out.print(own(verdict["headline"]), style="bold", soft_wrap=False)
    for line in verdict["warnings"]:
        bullet(out, say(f"{line[0].upper()}{line[1:]}"), "!")
    out.print()
    _table(out, result, record, explain, say, metric=metric)
    out.print()
    left = _todo(out, result, explain, own)
    weeds = weed_lines(result, explain=explain)
    mind, behind = minded(result, [*verdict["warnings"], *weeds], explain)
    for title, lines in (
        ("Nitrogen", _nitrogen(result, explain and not metric)),
        ("Weeds", weeds),
        ("Mind", mind),
        ("How it came about", _steps(result, metric=metric) if explain else []),
        ("Sources", verdict["sources"] if explain else []),
    ):
        if lines:
            if explain:
                out.print()
            out.print(title, style="bold")
            for line in lines:
                bullet(out, own(line) if title in _OWN else say(line))
    for refused in record["refused"]:
        out.print(f"{refused['photo']} refused: {refused['reason']}", soft_wrap=True)
    if not explain:
        more = [*left, *([f"{behind} more to mind"] if behind else []), "sources", "every step"]
        out.print(f"With --explain: {', '.join(more)}.", soft_wrap=True)


def ways_to_say(
    result: Assessment | None,
    crop: str,
    lb_ac: Iterable[Sequence[float] | None],
    *,
    metric: bool,
) -> tuple[Say, Say]:
    """How a text is said, and one in which pounds are of ``lb_ac``, the field's own rates.

    As it is, or ``metric``: with metric figures behind its own, the field's as they are shown.
    """
    if not metric:
        return str, str
    from tillercount.report.bothunits import ends_in_both
    from tillercount.report.inmetric import beside, own_figures, own_rates
    from tillercount.report.threshold import evidence_record

    figures: dict[str, str] = {}
    if result is not None:
        both = ((result.plants, result.field.plants), (result.shoots, result.field.shoots))
        figures = own_figures(
            [
                evidence_record(result, judged) if judged else {"bands": [], **ends_in_both(found)}
                for judged, found in both
                if judged or found
            ]
        )
    rates = own_rates(lb_ac) | figures
    return (lambda text: beside(text, crop, figures)), (lambda text: beside(text, crop, rates))


def _table(
    out: Console,
    result: Assessment,
    record: dict[str, Any],
    explain: bool,
    say: Say,
    *,
    metric: bool,
) -> None:
    """Densities, class and what the crop may yield."""
    from rich.table import Table

    from tillercount.cli.samplingrows import density_text, sampling_rows
    from tillercount.stand.classify import in_unit
    from tillercount.stand.otherplants import seen_text

    field, verdict = record["field"], record["verdict"]
    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for what in ("plants", "shoots"):
        density = field[f"{what}_per_ft2"]
        if density is not None:
            judged = result.plants if what == "plants" else result.shoots
            borders = () if judged is None else judged.borders_per_ft2
            cv = field.get(f"cv_{what}")
            table.add_row(what, density_text(density, cv, borders, metric=metric))
            for row in sampling_rows(record["sampling"], what, metric=metric):
                if explain or row[0].startswith(_ALWAYS):
                    table.add_row(*row)
    if result.field.other_plants is not None:
        table.add_row("other plants", say(seen_text(result.field.other_plants)))
    table.add_row("class", _classes(result, verdict))
    stop = next(t["stop"] for t in record["thresholds"] if t["measures"] == verdict["by"])
    if stop is not None:
        if metric and stop["high"] is not None:
            one = in_unit(1.0, result.decided_by.rule)
            stop = {**stop, **{end: stop[end] / one for end in ("low", "high")}}
        table.add_row("enough spots?", _stop(stop, verdict, explain, result.decided_by))
    if record["yield"]:
        table.add_row("yield", say(_yield(result, record["yield"])))
    elif record["yield_why"]:
        table.add_row("yield", record["yield_why"])
    crop = ", ".join(filter(None, (record["crop"], record["stage"])))
    table.add_row("rules", f"{result.rules.title} ({record['rules']}); {crop}")
    out.print(table)


_ALWAYS = ("  zone",)
"""Rows below a density that the short screen keeps too."""


def _todo(
    out: Console, result: Assessment, explain: bool, say: Say
) -> list[str]:
    """Print what to do; what the short screen leaves out of it, in words."""
    from tillercount.stand.actions import parted

    first, also = parted(result.verdict.actions)
    by = {"", "from the interval of these counts", result.rules.by}
    texts = [one.text if one.source in by and not explain else one.line for one in (*first, *also)]
    if texts:
        out.print("What to do", style="bold")
        for number, text in enumerate(texts[: len(first)], start=1):
            bullet(out, say(text), f"{number}.")
    if also and explain:
        out.print()
        out.print("Also", style="bold")
        for text in texts[len(first) :]:
            bullet(out, say(text))
    return [f"{len(also)} more to do"] if also and not explain else []


def _nitrogen(result: Assessment, explain: bool) -> list[str]:
    """The plan in words; at length with the whole in kilograms."""
    from tillercount.stand.words import rate_text
    from tillercount.units import kg_per_ha

    plan = result.nitrogen
    if plan is None:
        return []
    if plan.total is None or plan.withheld or not explain:
        return list(plan.lines)
    metric = rate_text([kg_per_ha(lb) for lb in plan.total])
    return [*plan.lines, f"In metric units the whole is {metric} kg N/ha."]


def _steps(result: Assessment, *, metric: bool) -> list[str]:
    """Every link of the chain: what, how much, by what or whom."""
    from tillercount.report.steps import metric_step

    steps = [metric_step(result, step) if metric else step for step in result.steps]
    return [f"{step.what}: {step.value} ({step.why})" for step in steps]


def _stop(
    stop: dict[str, Any], verdict: dict[str, Any], explain: bool, decided: Classified
) -> str:
    """Whether counting may stop; at length with what looking after every spot would do to it."""
    from tillercount.stand.alike import same_done

    if stop["high"] is None:
        lies = "fewer than 8 spots, or than 5 pairs, settle nothing"
    else:
        lies = f"the mean is then {stop['low']:.1f}–{stop['high']:.1f}, {stop['level']:.0%}"
    if verdict["held_back"] and not verdict["counting_helps"]:
        return "that isn't the question yet: see what is said above"
    if stop["may_stop"]:
        return "yes" + (f", even if you looked after every spot ({lies})" if explain else "")
    if verdict["clear"]:
        peeking = f"; not yet if you look after every spot ({lies})" if explain else ""
        return f"yes if the number of spots was fixed beforehand{peeking}"
    if same_done(decided):
        return "yes: whichever of the classes it is, the same is done"
    if verdict["counting_helps"]:
        return "not yet, see below" + (f"; if you look after every spot: {lies}" if explain else "")
    return "they don't settle it, but more counting isn't worth the walk here, see below"


def _classes(result: Assessment, verdict: dict[str, Any]) -> str:
    from tillercount.stand.alike import same_done
    from tillercount.stand.shares import class_shares
    from tillercount.stand.words import percent

    ranked = sorted(class_shares(result.decided_by).items(), key=lambda item: -item[1])
    shown = ", ".join(
        f"{result.decided_by.called(name)} {percent(share)}"
        for name, share in ranked
        if share >= 0.01
    )
    if verdict["held_back"]:
        return f"not settled: {shown} by the count alone"
    if same_done(result.decided_by):
        return f"either way the same to do: {shown}"
    return shown if verdict["clear"] else f"too close to call: {shown}"


def _yield(result: Assessment, expected: dict[str, Any]) -> str:
    from tillercount.stand.wide import why_wide

    ends = [f"{expected[end]:.0f}" for end in ("low", "high")]
    less, more = (abs(end - 1) for end in expected["sampling"])
    off = f"({less:.0%} less to {more:.0%} more)"
    wide = why_wide(result.heads, result.yield_)
    whose = f"; {result.yield_.whose}" if result.yield_ is not None and result.yield_.abroad else ""
    if wide is None:
        span = " and ".join(ends)
        return f"between {span} bu/ac by figures in print for the mean of the shoots {off}{whose}"
    return f"{' to '.join(ends)} bu/ac in print for these shoots {off}, {wide.short}{whose}"
