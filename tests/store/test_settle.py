"""Which place is meant, and that a slip makes no new one."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.store.helpers import counts, entry, hand_csv
from tillercount.errors import InputError
from tillercount.store import Season, Where


@pytest.fixture
def farms(season: Season) -> Season:
    for number, (farm, field) in enumerate(
        (("Elm Hill", "Home"), ("Elm Hill", "South"), ("Oak Flat", "South"), ("Oak Flat", "Gate"))
    ):
        season.add_counts(counts([entry(number)]), Where(farm, field))
    return season


def test_the_only_farm_with_that_field(farms: Season) -> None:
    assert farms.where(field="home") == Where("Elm Hill", "Home")
    assert farms.where(field="GATE", visit="Visit 1") == Where("Oak Flat", "Gate", "visit 1")
    with pytest.raises(InputError, match=r"2 farms have a field 'South'.*Elm Hill, Oak Flat"):
        farms.where(field="South")
    with pytest.raises(InputError, match=r"no farm has a field 'Hoem'; did you mean 'Home' \(Elm"):
        farms.where(field="Hoem", adding=True, new=True)  # even then the farm isn't known
    with pytest.raises(InputError, match=r"which field of Elm Hill .* \(Home, South\)"):
        farms.where("elm hill")


def test_a_slip_makes_nothing(farms: Season) -> None:
    for given, says in (
        (("Elm Hil", "Home", None), "no farm 'Elm Hil' in the season yet, but one called 'Elm"),
        (("Elm Hill", "Hoem", None), "Give --field Home; if 'Hoem' really is another field"),
        (("Elm Hill", "Home", "vsit 1"), "no visit 'vsit 1' of Elm Hill, Home yet"),
    ):
        with pytest.raises(InputError, match=says):
            farms.where(*given, adding=True)
        assert farms.where(*given, adding=True, new=True).text  # said on purpose
        with pytest.raises(InputError, match="did you mean"):
            farms.where(*given)
    assert farms.where("Elm Hill", "West 80", adding=True) == Where("Elm Hill", "West 80")
    assert farms.where("Elm Hill", "Home", "visit 2", adding=True).visit == "visit 2"


def test_an_empty_season_asks_for_both(season: Season) -> None:
    with pytest.raises(InputError, match="nothing is in the season yet; give --farm NAME and"):
        season.where(adding=True)


def test_what_was_made_is_told(season: Season, tmp_path: Path) -> None:
    file = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2")
    first = season.add_hand_counts(file, Where("Elm Hill", "Home"))
    assert first.made == ("farm 'Elm Hill'", "field 'Home'", "visit 'visit 1'")
    assert first.place == "Elm Hill, Home, visit 1"
    second = season.add_hand_counts(file, Where("elm hill", "Gate"))
    assert second.made == ("field 'Gate' (beside Home)", "visit 'visit 1'")
    again = season.add_hand_counts(file, Where("Elm Hill", "gate"))
    assert (again.made, again.place, again.changed) == ((), "Elm Hill, Gate, visit 1", False)


def test_the_journal_tells_nothing_from_something(season: Season, tmp_path: Path) -> None:
    file = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2")
    home = Where("Elm Hill", "Home")
    season.add_hand_counts(file, home)
    season.add_hand_counts(file, home)
    season.add_hand_counts(hand_csv(tmp_path / "i.csv", "1,Ash,9,30,1 ft2"),
                           Where("Elm Hill", "Home", "later"))  # fmt: skip
    old = season.add_hand_counts(file, home)
    assert old.notes[0].startswith("visit 1 isn't the last visit of Home: that is later")
    said = [(act["verb"], act["detail"]) for act in season.journal()]
    assert said == [
        ("nothing new in", "for Elm Hill, Home, visit 1"),
        ("add hand counts", "to Elm Hill, Home, later: 1 new"),
        ("nothing new in", "for Elm Hill, Home, visit 1"),
        ("add hand counts", "to Elm Hill, Home, visit 1: 1 new"),
    ]


def test_assigning_makes_no_visit(season: Season) -> None:
    season.add_counts(counts([entry(1)]), Where("Elm Hill", "Home"))
    with pytest.raises(InputError, match="no field 'Hoem' on Elm Hill"):
        season.assign("IMG_1.jpg", "2", Where("Elm Hill", "Hoem"), new=True)


def test_a_former_name_makes_no_new_one(farms: Season, tmp_path: Path) -> None:
    """The intern's sheet still has the old name: its counts belong to the field that had it."""
    farms.rename(Where("Elm Hill", "Home"), "Ann's forty", "field")
    farms.rename(Where("Elm Hill", "Ann's forty"), 'The "L"', "field")
    for name in ("HOME", "Ann's  forty"):
        with pytest.raises(InputError, match=r"is called 'The \"L\"' now: give --field"):
            farms.where("Elm Hill", name, adding=True)
        with pytest.raises(InputError, match="is called"):
            farms.where("Elm Hill", name)
    assert farms.where("Elm Hill", "Home", adding=True, new=True) == Where("Elm Hill", "Home")
    # of another farm, or gone again, it says nothing
    assert farms.where("Oak Flat", "Home", adding=True) == Where("Oak Flat", "Home")
    farms.remove(Where("Elm Hill", 'The "L"'), backed_up=True)
    assert farms.where("Elm Hill", "Home", adding=True) == Where("Elm Hill", "Home")


def test_a_former_name_on_another_farm_says_nothing(farms: Season) -> None:
    """Though a field of the new name lies here too."""
    farms.add_counts(counts([entry(8)]), Where("Oak Flat", "South"))
    farms.rename(Where("Elm Hill", "Home"), "West", "field")
    farms.add_counts(counts([entry(9)]), Where("Oak Flat", "West"))
    assert farms.where("Oak Flat", "Home", adding=True) == Where("Oak Flat", "Home")
    farms.rename(Where("Elm Hill", "South", "visit 1"), "4 March", "visit")
    farms.rename(Where("Oak Flat", "South", "visit 1"), "second", "visit")
    farms.add_counts(counts([entry(7)]), Where("Oak Flat", "South", "4 March"))
    with pytest.raises(InputError, match="'visit 1' is called 'second' now"):
        farms.where("Oak Flat", "South", "visit 1", adding=True)


def test_names_in_circles(farms: Season) -> None:
    """Of two fields that had the name one after the other the last is meant."""
    farms.rename(Where("Elm Hill", "Home"), "Äcker", "field")
    farms.rename(Where("Elm Hill", "Äcker"), "Home", "field")
    assert farms.where("Elm Hill", "home", adding=True) == Where("Elm Hill", "Home")
    farms.rename(Where("Elm Hill", "Home"), "first", "field")
    farms.rename(Where("Elm Hill", "South"), "Home", "field")
    farms.rename(Where("Elm Hill", "Home"), "later", "field")
    with pytest.raises(InputError, match="'Home' is called 'later' now"):
        farms.where("Elm Hill", "Home", adding=True)


def test_a_former_name_of_a_visit_stands_though_its_field_was_renamed(farms: Season) -> None:
    farms.rename(Where("Elm Hill", "South", "visit 1"), "4 March", "visit")
    farms.rename(Where("Elm Hill", "South"), "Low field", "field")
    with pytest.raises(InputError, match="'visit 1' is called '4 March' now"):
        farms.where("Elm Hill", "Low field", "visit 1", adding=True)


def test_a_former_name_of_a_visit_is_that_fields_own(farms: Season) -> None:
    farms.rename(Where("Elm Hill", "South", "visit 1"), "4 March", "visit")
    farms.rename(Where("Elm Hill", "South"), "Elm Hill Farms", "farm")
    with pytest.raises(InputError, match="'visit 1' is called '4 March' now"):
        farms.where("Elm Hill Farms", "South", "visit 1", adding=True)
    farms.rename(Where("Elm Hill Farms", "South"), "Elm Hill", "farm")
    farms.rename(Where("Elm Hill", "Home", "visit 1"), "first", "visit")
    farms.add_counts(counts([entry(9)]), Where("Elm Hill", "Home", "4 March"))
    with pytest.raises(InputError, match="'visit 1' is called 'first' now"):
        farms.where("Elm Hill", "Home", "visit 1", adding=True)
