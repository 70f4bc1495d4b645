"""What to mind while nitrogen goes on; ceilings and lodging; weeds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tillercount.errors import InputError
from tillercount.stand import parse_stage
from tillercount.stand.inputs import air_f, conditions, date_of, dear, weed_of
from tillercount.stand.limits import held_against, lodging
from tillercount.stand.products import product
from tillercount.stand.spreading import Conditions, may_spread, spreading_cautions
from tillercount.stand.weeds import weed_loss

UAN = product("uan28")


def said(of: str = "uan28", pounds: float = 30, stage: str = "", **at: object) -> str:
    advice = spreading_cautions(
        product(of),
        pounds,
        Conditions(**at),  # type: ignore[arg-type]
        parse_stage(stage) if stage else None,
    )
    assert all(one.source for one in advice)
    return "\n".join(one.line for one in advice)


@pytest.mark.parametrize("state", ["frozen", "snow", "saturated"])
def test_not_on_such_ground(state: str) -> None:
    """NRCS 590 as quoted by the University of Kentucky 2021; Ohio 4R."""
    no = may_spread(Conditions(ground=state))  # type: ignore[arg-type]
    assert no is not None
    assert no.text.startswith("Don't spread now")
    assert said(ground=state).startswith("Don't spread now")
    assert may_spread(Conditions(ground="fit")) is None
    assert may_spread(Conditions()) is None


def test_nozzles() -> None:
    """Oklahoma State 2021: streams are safer than flat fans, which can kill in heat and wind."""
    assert "it is warm or windy" in said(nozzle="flat fan", windy=True)
    assert "it is warm or windy" in said(nozzle="flat fan", air_f=70)
    assert "it is warm or windy" not in said(nozzle="flat fan", air_f=69, windy=False)
    assert "stream bar is safer" in said(nozzle="flat fan")
    assert "fewer streams less" in said(nozzle="stream")
    assert "use a stream bar" in said()
    assert "stream" not in said("urea", nozzle="flat fan")


def test_dew_and_frost() -> None:
    """Ontario 2021: white frost or dew worsens burn."""
    assert "worsens burn" in said(wet_leaves=True)
    assert "worsen burn" not in said(wet_leaves=False)
    assert "Not on dew" in said()
    assert "sticks to wet leaves" in said("urea", wet_leaves=True)


@pytest.mark.parametrize(
    ("pounds", "stage", "losses", "over_30"),
    [(30, "Feekes 5", False, False), (30.5, "Feekes 5", False, True), (39.9, "GS31", False, True),
     (40, "GS31", True, True), (40, "GS29", False, True), (40, "GS30", True, True)],
)  # fmt: skip
def test_herbicide_in_the_tank(pounds: float, stage: str, losses: bool, over_30: bool) -> None:
    """40 lb after GS29: 2-7 bu/ac lost in 40 % of cases (Nebraska 2012); 30 lb (NC 2011)."""
    text = said(pounds=pounds, stage=stage, herbicide=True)
    assert ("2 to 7 bu/ac" in text) == losses
    assert ("is more than the 30 lb" in text) == over_30
    assert "label decides" in text
    assert "30 lb" not in said(pounds=pounds, stage=stage, herbicide=False)


@pytest.mark.parametrize(
    ("of", "air", "blocks"),
    [("uan32", 28, True), ("uan32", 28.1, False), ("uan28", -1, True), ("uan28", 20, False),
     ("uan30", -20, False), ("urea", -20, False)],
)  # fmt: skip
def test_salting_out(of: str, air: float, blocks: bool) -> None:
    """UAN 32 at 28 °F, UAN 28 at -1 °F (fluid properties sheet); none was read for UAN 30."""
    assert ("salts out" in said(of, air_f=air)) == blocks


def test_cold_and_losses() -> None:
    """Ohio State 2023: UAN loses most early, ammonium sulfate least."""
    assert "No growth" in said(growing=False)
    assert "No growth" not in said(growing=True)
    assert "UAN loses most" in said()
    assert "loses least" in said("ams")
    assert "goes off as ammonia" in said("urea")
    for of in ("urea", "uan32", "ams", "ats"):
        assert "goggles" in said(of)


@pytest.mark.parametrize(("stage", "grows"), [("GS30", False), ("GS31", True), ("F4", False)])
def test_injury_grows_past_gs30(stage: str, grows: bool) -> None:
    assert ("past GS30" in said(stage=stage)) == grows


def test_ceilings() -> None:
    """Maryland half (2013), Virginia and Kentucky 50, North Carolina 60, Delaware 120 in all."""
    over = {h.ceiling.by: h for h in held_against((40, 55), (100, 120), "wheat")}
    assert over["Maryland"].lb_ac == 60
    assert not over["Maryland"].over
    assert over["Virginia"].over
    assert over["Kentucky"].over
    assert not over["North Carolina"].over
    assert not over["Delaware"].over
    at = {h.ceiling.by: h.over for h in held_against((50, 50), (80, 120.5), "wheat")}
    assert not at["Virginia"]
    assert at["Delaware"]
    barley = {h.ceiling.by: h.lb_ac for h in held_against((20, 30), (60, 90), "barley")}
    assert barley == {"Maryland": 45, "Delaware": 100}
    assert "2013 wording" in over["Maryland"].line


@pytest.mark.parametrize(("shoots", "warned"), [(100, False), (100.1, True), (None, False)])
def test_density_for_lodging(shoots: float | None, warned: bool) -> None:
    """More than 100 tillers are excessive (University of Kentucky 2013)."""
    assert any("may lodge" in a.text for a in lodging(shoots, None)) == warned


@pytest.mark.parametrize(("rate", "warned"), [(60, False), (60.1, True)])
def test_the_doubled_rate(rate: float, warned: bool) -> None:
    """Delaware's 120 lb in all against twice the rate."""
    assert any("overlap" in a.text for a in lodging(None, rate)) == warned


def test_the_doubled_rate_of_a_crop_without_a_ceiling() -> None:
    found = list(lodging(None, 40, crop="rye", own_most_lb=70, by="a local rule"))
    assert "80 lb N/ac, more than the 70 lb" in found[0].text
    assert not list(lodging(None, 40, crop="rye"))


@pytest.mark.parametrize(
    ("species", "per_m2", "low", "high"),
    [
        ("Italian ryegrass", 25, 10.5, 10.5), ("ryegrass", 100, 42, 42),
        ("ryegrass", 101, 42, None),
        ("common chickweed", 29, 0, 0), ("chickweed", 30, 0, 0), ("chickweed", 31, 0, 28),
        ("chickweed", 169, 28, 28), ("chickweed", 170, 28, None),
        ("henbit", 18, 0, 0), ("henbit", 19, 0, 13), ("henbit", 82, 13, 13),
        ("henbit", 90, 13, None), ("cheat", 40, 0, 49), ("cheat", 86, 49, 49),
        ("cheat", 87, 49, None), ("downy brome", 199, 0, None), ("downy brome", 200, 60, None),
    ],
)  # fmt: skip
def test_weed_loss(species: str, per_m2: float, low: float, high: float | None) -> None:
    """University of Missouri 2022: 4.2 % for 10 ryegrass plants/m², and single densities."""
    found = weed_loss(species, per_m2)
    assert found.low == pytest.approx(low)
    assert found.high is None if high is None else found.high == pytest.approx(high)
    assert "Missouri" in found.source
    assert found.species in found.words


@given(st.floats(0, 300), st.floats(0, 300))
def test_more_weeds_never_cost_less(one: float, other: float) -> None:
    for species in ("henbit", "common chickweed", "cheat", "downy brome", "italian ryegrass"):
        few, many = (weed_loss(species, x) for x in sorted((one, other)))
        assert few.low <= many.low + 1e-9
        if few.high is not None and many.high is not None:
            assert few.high <= many.high + 1e-9


def test_weeds_refused() -> None:
    with pytest.raises(InputError, match="no loss in print for 'wild garlic'"):
        weed_loss("wild garlic", 10)
    with pytest.raises(InputError, match="0 or more"):
        weed_loss("henbit", -1)
    with pytest.raises(InputError, match="has no density"):
        weed_of("henbit")
    assert weed_of("ryegrass=2.5/ft2").per_m2 == pytest.approx(26.91, abs=0.01)


def test_what_is_typed() -> None:
    assert air_f("55 F") == 55
    assert air_f("10 °C") == pytest.approx(50)
    assert conditions("Flat-Fan", None, None, None, None, "Frozen").ground == "frozen"
    assert conditions("streams", None, None, None, None, None).nozzle == "stream"
    assert str(date_of("2025-10-05")) == "2025-10-05"
    assert dear(["320/ton"], [UAN])["uan28"].value == 320


@pytest.mark.parametrize("text", ["55", "warm F", "500 F", "F"])
def test_temperatures_refused(text: str) -> None:
    with pytest.raises(InputError, match="temperature"):
        air_f(text)


def test_typed_refused() -> None:
    with pytest.raises(InputError, match="nozzle"):
        conditions("mist", None, None, None, None, None)
    with pytest.raises(InputError, match="ground"):
        conditions(None, None, None, None, None, "soft")
    with pytest.raises(InputError, match="date"):
        date_of("5 Oct")
    with pytest.raises(InputError, match="say which product"):
        dear(["320/ton"], [UAN, product("urea")])
    with pytest.raises(InputError, match="needs a product"):
        dear(["320/ton"], [])
    with pytest.raises(InputError, match="isn't a --product"):
        dear(["urea=500/ton"], [UAN])
    with pytest.raises(InputError, match="two prices"):
        dear(["uan28=320/ton", "uan28=330/ton"], [UAN])
    with pytest.raises(InputError, match="is dry"):
        dear(["1.50/gal"], [product("urea")])
