"""An assessment on the screen: the sentence first, then why, then what to do and to mind.

Short enough for a phone in the field; ``--explain`` adds the sources and every step.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tillercount.cli.show import bullet, console

if TYPE_CHECKING:
    from tillercount.stand import Assessment

__all__ = ["show_assessment"]


def show_assessment(result: Assessment, *, explain: bool | None = None) -> None:
    """Print an assessment; ``explain`` is None where the command has no such option."""
    from rich.table import Table

    from tillercount.stand.actions import parted

    out = console()
    record = result.to_json()
    field, verdict = record["field"], record["verdict"]
    out.print(verdict["headline"], style="bold", soft_wrap=False)
    for line in verdict["warnings"]:
        bullet(out, f"{line[0].upper()}{line[1:]}", "!")
    out.print()
    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for what in ("plants", "shoots"):
        density = field[f"{what}_per_ft2"]
        if density is not None:
            table.add_row(what, _density(density, field.get(f"cv_{what}")))
            for row in _sampling(record["sampling"], what):
                table.add_row(*row)
    table.add_row("rules", f"{result.rules.title} ({record['rules']})")
    table.add_row("class", _classes(verdict))
    stop = next(t["stop"] for t in record["thresholds"] if t["measures"] == verdict["by"])
    if stop is not None:
        table.add_row("stop counting", _stop(stop, verdict))
    if record["yield"]:
        table.add_row("yield", _yield(record["yield"]))
    table.add_row("crop", ", ".join(filter(None, (record["crop"], record["stage"]))))
    out.print(table)
    first, also = parted(result.verdict.actions)
    by = {"", "from the interval of these counts", result.rules.by}
    texts = [one.text if one.source in by and not explain else one.line for one in (*first, *also)]
    # Each text once: the flags of the nitrogen plan are among those of the assessment.
    cautions = result.verdict.cautions
    told = verdict["warnings"]
    flags = [flag for flag in record["flags"] if flag not in told]
    minded = dict.fromkeys(
        [*flags, *(one.line if explain else one.brief for one in cautions if one.text not in told)]
    )
    if texts:
        out.print()
        out.print("What to do", style="bold")
        for number, text in enumerate(texts[: len(first)], start=1):
            bullet(out, text, f"{number}.")
    if also and explain is False:
        bullet(out, f"also {len(also)} more: see --explain, --html or --json", "  ")
    for title, lines in (
        ("Also", [] if explain is False else texts[len(first) :]),
        ("Nitrogen", _nitrogen(result)),
        ("Mind", list(minded)),
        ("How it came about", _steps(record) if explain else []),
        ("Sources", verdict["sources"]),
    ):
        if lines:
            out.print()
            out.print(title, style="bold")
            for line in lines:
                bullet(out, line)
    for refused in record["refused"]:
        out.print(f"{refused['photo']} refused: {refused['reason']}", soft_wrap=True)


def _nitrogen(result: Assessment) -> list[str]:
    """The plan in words, and the whole in kilograms."""
    from tillercount.stand.words import rate_text
    from tillercount.units import kg_per_ha

    plan = result.nitrogen
    if plan is None:
        return []
    if plan.total is None:
        return list(plan.lines)
    metric = rate_text([kg_per_ha(lb) for lb in plan.total])
    return [*plan.lines, f"In metric units the whole is {metric} kg N/ha."]


def _steps(record: dict[str, Any]) -> list[str]:
    """Every link of the chain: what, how much, by what or whom."""
    return [f"{step['what']}: {step['value']} ({step['why']})" for step in record["steps"]]


def _density(density: dict[str, Any], cv: float | None) -> str:
    spots = density["spots"]
    text = (
        f"{density['mean']:.1f} per ft² ({density['low']:.1f}–{density['high']:.1f}, "
        f"{density['level']:.0%} interval; {spots} spot{'s' if spots != 1 else ''}"
    )
    return text + (f", spot-to-spot CV {cv:.0%})" if cv is not None else ")")


def _sampling(sampling: dict[str, Any], what: str) -> list[tuple[str, str]]:
    """Rows below a density: each way alone, zones, unevenness."""
    rows = []
    both = sampling["photo_and_hand"].get(what)
    if both is not None:
        for label, key in (
            ("  by hand alone", "hand_per_ft2"),
            ("  by photo alone", "photo_per_ft2"),
            ("  together", "combined_per_ft2"),
        ):
            if both[key] is not None:
                rows.append((label, _density(both[key], None)))
        rows.append(("  taken", f"{both['method']}: {both['why']}"))
    zones = sampling["zones"].get(what)
    if zones is not None:
        for zone in zones["zones"]:
            share = zone["area_share"]
            text = _density(zone["per_ft2"], None)
            more = f", {share:.0%} of the area" if share is not None else ""
            rows.append((f"  zone {zone['zone']}", text + more))
    uneven = sampling["dispersion"].get(what)
    if uneven is not None and uneven["index"] is not None:
        rows.append(("  unevenness", _uneven(uneven, what)))
    skips = sampling["row_gaps"] if what == "plants" else None
    if skips is not None:
        text = (
            f"{skips['share']:.0%} of {skips['row_length_ft']:.1f} ft of row in gaps longer than "
            f"{skips['gap_over_in']:g} in ({skips['photos_with_gaps']} of {skips['photos']} "
            f"photo{'s' if skips['photos'] != 1 else ''})"
        )
        rows.append(("  row gaps", text))
    for under in sampling["spots_below"]:
        if under["measures"] == what:
            text = (
                f"{under['spots']} of {under['of']} spot{'s' if under['of'] != 1 else ''} (so "
                f"{under['low']:.0%}–{under['high']:.0%} of such spots, {under['level']:.0%} "
                "interval)"
            )
            rows.append((f"  below {under['below_per_ft2']:.3g} per ft²", text))
    return rows


def _uneven(uneven: dict[str, Any], what: str) -> str:
    if what == "shoots":
        return f"variance over mean {uneven['index']:.2f} (shoots come in plants, so above 1)"
    text = f"variance over mean {uneven['index']:.2f} (1 if at random); "
    if uneven["rough"]:
        return text + "too few per spot to test"
    if uneven["p_if_random_more"] < 0.05:
        return text + f"patchier than chance (p {uneven['p_if_random_more']:.2g})"
    if uneven["p_if_random_less"] < 0.05:
        return text + f"more even than chance (p {uneven['p_if_random_less']:.2g})"
    return text + "no more than chance"


def _stop(stop: dict[str, Any], verdict: dict[str, Any]) -> str:
    if stop["high"] is None:
        lies = "fewer than 8 spots, or than 5 pairs, settle nothing"
    else:
        lies = f"the mean is then {stop['low']:.1f}–{stop['high']:.1f}, {stop['level']:.0%}"
    if verdict["held_back"] and not verdict["counting_helps"]:
        return "that isn't the question yet: see what is said above"
    if stop["may_stop"]:
        return f"yes, even if you looked after every spot ({lies})"
    if verdict["clear"]:
        return (
            "yes if the number of spots was fixed beforehand; not yet if you look after every "
            f"spot ({lies})"
        )
    if verdict["counting_helps"]:
        return f"not yet, see below; if you look after every spot: {lies}"
    return "yes: more counting isn't worth the walk here, see below"


def _classes(verdict: dict[str, Any]) -> str:
    from tillercount.stand.shares import percents

    ranked = sorted(verdict["probabilities"].items(), key=lambda item: -item[1])
    each = zip(ranked, percents([share for _, share in ranked]), strict=True)
    shown = ", ".join(f"{name} {text}" for (name, share), text in each if share >= 0.005)
    if verdict["held_back"]:
        return f"not settled: {shown} by the count alone"
    return shown if verdict["clear"] else f"too close to call: {shown}"


def _yield(expected: dict[str, Any]) -> str:
    return f"about {expected['low']:.0f} to {expected['high']:.0f} bu/ac likely from these shoots"
