"""The nitrogen plan in a table: when, which dates, how much nitrogen, how much product."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from tillercount.report.blocks import Items, Para, Table
from tillercount.report.language import Line, Speaker
from tillercount.report.sayingmap import area_line

__all__ = ["nitrogen_blocks"]

_NAMES = frozenset({"early", "main", "whole", "goal_only"})


def nitrogen_blocks(speak: Speaker) -> Iterator[Any]:
    """The plan, or why there is none; nothing where none was asked for."""
    plan = speak.record["nitrogen"]
    if plan is None:
        return
    if plan["why_none"]:
        yield Para((speak.at("nitrogen/why_none"),), "strong")
    for i in range(len(plan["first"])):
        yield Para((speak.at(f"nitrogen/first/{i}"),), "strong")
    if plan["doses"]:
        yield _table(speak, plan)
    if plan["ceilings"]:
        at = "nitrogen/ceilings"
        yield Items(
            [
                ((speak.at(f"{at}/{i}/text"),), (speak.at(f"{at}/{i}/source"),))
                for i in range(len(plan["ceilings"]))
            ]
        )
    yield from _notes(speak, plan)


def _table(speak: Speaker, plan: dict[str, Any]) -> Table:
    words, metric = speak.words, speak.metric
    system = "metric" if metric else "us"
    names = range(len(plan["products"]))
    ending = "_ha" if metric else ""
    head: list[Line] = [
        (words["nitrogen.when"],),
        (words["nitrogen.dates"],),
        (words[f"unit.n_{system}"],),
        *(
            speak.say(f"nitrogen.product{ending}", product=speak.at(f"nitrogen/products/{i}/name"))
            for i in names
        ),
    ]
    priced = _priced(plan)
    if priced:
        head.append((words[f"nitrogen.cost{ending}"],))
    rows: list[list[Line]] = []
    empty: list[Line] = [() for _ in head[3:]]
    if plan["on_already"]:
        on = speak.ends(f"nitrogen/on_already/{system}", "rate")
        rows.append([(words["nitrogen.on_already"],), (), on, *empty])
    for i, dose in enumerate(plan["doses"]):
        at = f"nitrogen/doses/{i}"
        row: list[Line] = [
            _when(speak, at, dose),
            _dates(speak, at, dose),
            speak.ends(f"{at}/rate/{system}", "rate"),
            *(
                _as_pass(speak, at, dose, _product(speak, f"{at}/products/{j}"))
                for j in range(len(dose["products"]))
            ),
        ]
        if priced:
            row.append(_costs(speak, at, dose))
        rows.append(row)
    whole = len(rows)
    if plan["total"]:
        total = speak.ends(f"nitrogen/total/{system}", "rate")
        gross = "nitrogen.in_all_on" if plan["on_already"] else "nitrogen.in_all_gross"
        key = "nitrogen.in_all_net" if plan["taken_off"] else gross
        key = "nitrogen.in_all_tissue" if plan["by_tissue"] else key
        rows.append([(words[key],), (), total, *empty])
        yields = plan["likely"]
        if yields and yields["t_ha" if metric else "bu_ac"] is not None:
            lower = speak.ends(f"nitrogen/likely/rate/{system}", "rate")
            rows.append([_likely(speak), (), lower, *empty])
    return Table(head, rows, frozenset(range(2, len(head))), frozenset({whole}))


def _priced(plan: dict[str, Any]) -> bool:
    return any(one["cost_ac"] for dose in plan["doses"] for one in dose["products"])


def _when(speak: Speaker, at: str, dose: dict[str, Any]) -> Line:
    when: Line = (speak.at(f"{at}/when"),)
    if dose["started"]:  # the column of dates says "now"
        when = speak.say("nitrogen.started", date=speak.at(f"{at}/started", "date"))
    elif dose["had_started"]:
        when = speak.say("nitrogen.had_started", date=speak.at(f"{at}/had_started", "date"))
    name = dose["name"]
    if speak.record["nitrogen"]["late"] and dose["rate"]["us"][1]:
        name = "goal_only"  # no main dose any more, only what the goal would come to
    known: Line = (
        (speak.words[f"nitrogen.{name}"],) if name in _NAMES else (speak.at(f"{at}/name"),)
    )
    return speak.say("nitrogen.dose", name=known, when=when)


def _likely(speak: Speaker) -> Line:
    return speak.say("nitrogen.in_all_likely", amount=_likely_yield(speak))


def _likely_yield(speak: Speaker) -> Line:
    per, kind = ("t_ha", "one") if speak.metric else ("bu_ac", "whole")
    return speak.say(
        f"unit.yield_{'metric' if speak.metric else 'us'}",
        range=speak.at(f"nitrogen/likely/{per}", kind),
    )


def _dates(speak: Speaker, at: str, dose: dict[str, Any]) -> Line:
    if not dose["rate"]["us"][1]:
        return (speak.words["found.none"],)
    if speak.record["nitrogen"]["late"]:
        return (speak.words["nitrogen.ask_first"],)
    if dose["now"]:
        return (speak.words["nitrogen.now"],)
    if dose["before"] and dose["doubt"]:
        date, doubt = speak.at(f"{at}/before", "date"), speak.at(f"{at}/doubt")
        return speak.say("nitrogen.roughly", date=date, doubt=doubt)
    if dose["before"]:
        return speak.say("nitrogen.before", date=speak.at(f"{at}/before", "date"))
    if dose["from"]:
        first, last = (speak.at(f"{at}/from/{i}", "date") for i in (0, 1))
        if first.text == last.text:
            return speak.say("nitrogen.from_date", date=first)
        return speak.say("nitrogen.from_to", first=first, last=last)
    return (speak.words["nitrogen.by_growth"],)


def _product(speak: Speaker, at: str) -> Line:
    found = speak.record_value(at)
    if not found["lb_ac"][1]:
        return (speak.words["found.none"],)
    dry, wet = (
        (("kg", "kg_ha"), ("l", "l_ha")) if speak.metric else (("lb", "lb_ac"), ("gal", "gal_ac"))
    )
    weight = speak.say(f"nitrogen.{dry[0]}", range=speak.ends(f"{at}/{dry[1]}", "dry"))
    if found[wet[1]] is None:
        return weight
    # litres per hectare are as many as pounds per acre, and set as finely
    fine = "dry" if speak.metric else "liquid"
    volume = speak.say(f"nitrogen.{wet[0]}", range=speak.ends(f"{at}/{wet[1]}", fine))
    return speak.say("nitrogen.or_also", one=volume, other=weight)


def _as_pass(speak: Speaker, at: str, dose: dict[str, Any], amount: Line) -> Line:
    """From what rate on a dose is a pass at all, where that isn't so for all of it."""
    if not dose["pass_from"]:
        return amount
    system = "metric" if speak.metric else "us"
    rate, unit = speak.ends(f"{at}/pass_from/{system}", "rate"), speak.words[f"unit.n_{system}"]
    return speak.say("nitrogen.pass_from", amount=amount, rate=rate, unit=unit)


def _costs(speak: Speaker, at: str, dose: dict[str, Any]) -> Line:
    per = "cost_ha" if speak.metric else "cost_ac"
    lines: list[Line] = [
        speak.ends(f"{at}/products/{j}/{per}", "cost")
        for j, one in enumerate(dose["products"])
        if one[per] is not None and one[per][1]
    ]
    return speak.joined(lines, "verdict.or") if lines else (speak.words["found.none"],)


def _notes(speak: Speaker, plan: dict[str, Any]) -> Iterator[Items]:
    at, say, words = speak.at, speak.say, speak.words
    system = "metric" if speak.metric else "us"
    lines: list[Line] = []
    goal = plan["goal"]
    if goal and goal["t_ha" if speak.metric else "bu_ac"] is not None:
        per, kind = ("t_ha", "one") if speak.metric else ("bu_ac", "whole")
        amount = say(f"unit.yield_{system}", range=at(f"nitrogen/goal/{per}", kind))
        lines.append(say("nitrogen.goal", goal=amount))
    if plan["whole_by"]:
        lines.append(say("nitrogen.whole_by", by=at("nitrogen/whole_by")))
    if plan["balance"]:
        lines.append(say("nitrogen.balance", balance=at("nitrogen/balance")))
    if plan["likely"] and not plan["doses"]:  # with doses it stands in their table
        lower = speak.ends(f"nitrogen/likely/rate/{system}", "rate")
        unit = words[f"unit.n_{system}"]
        lines.append(say("nitrogen.likely", amount=_likely_yield(speak), rate=lower, unit=unit))
    if plan["twice"]:
        rates = speak.joined(
            [speak.ends(f"nitrogen/twice/{i}/{system}", "rate") for i in range(len(plan["twice"]))],
            "verdict.or",
        )
        lines.append(say("nitrogen.twice", rates=rates, unit=words[f"unit.n_{system}"]))
    if plan["ceilings_kept"]:
        lines.append((at("nitrogen/ceilings_kept"),))
    lines.extend(_loads(speak, plan))
    if _priced(plan):
        lines.append((words["nitrogen.costs"],))
    if plan["green_up"]:
        # beside a dose that goes by growth, not "not yet when nitrogen is due"
        begun = any(dose["now"] or dose["had_started"] for dose in plan["doses"])
        key = "nitrogen.green_up_begun" if begun else "nitrogen.green_up"
        lines.append(say(key, date=at("nitrogen/green_up", "date")))
    if any(dose["from"] for dose in plan["doses"]):
        lines.append(say("nitrogen.first_n", source=at("nitrogen/first_n_source")))
    if plan["jointing_by_eye"]:
        lines.append((words["nitrogen.jointing_by_eye"],))
    elif not plan["season"] and plan["doses"] and not plan["jointed"]:
        lines.append((words["nitrogen.no_weather"],))
    if lines:
        yield Items([(line, None) for line in lines], small=True)


def _loads(speak: Speaker, plan: dict[str, Any]) -> Iterator[Line]:
    """Product for the whole field; none to load where a pass may not pay any more."""
    if plan["area"] is None or plan["late"]:
        return
    loads: list[Line] = []
    for i, dose in enumerate(plan["doses"]):
        for j, one in enumerate(dose["products"]):
            liquid = plan["products"][j]["liquid"]
            unit = ("l" if liquid else "kg") if speak.metric else ("gal" if liquid else "lb")
            if not one[f"field_{unit}"]:
                continue
            at = f"nitrogen/doses/{i}/products/{j}"
            name = dose["name"]
            loads.append(
                speak.say(
                    "nitrogen.load",
                    dose=speak.words[f"nitrogen.{name}"] if name in _NAMES else name,
                    range=speak.say(
                        f"nitrogen.{unit}", range=speak.ends(f"{at}/field_{unit}", "load")
                    ),
                    product=speak.at(f"{at}/name"),
                )
            )
    if loads:
        yield speak.say(
            "nitrogen.field_load",
            area=area_line(speak, "nitrogen/area"),
            loads=speak.joined(loads, "method.apart"),
        )
