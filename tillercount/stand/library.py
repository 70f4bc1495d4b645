"""The rule sets that come with the program, and a user's own files."""

from __future__ import annotations

import difflib
import functools
import tomllib
from collections.abc import Sequence
from importlib import resources
from pathlib import Path

from tillercount.errors import InputError
from tillercount.stand.complain import complaint
from tillercount.stand.local import localise, parse_local
from tillercount.stand.nearby import none_for
from tillercount.stand.places import PLACES, place_named
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.words import join

__all__ = ["DEFAULT_RULES", "check_rules", "list_rules", "load_rules", "meant_by", "region_meant"]


DEFAULT_RULES = "common-practice"
"""What commands take where nobody chose."""


@functools.cache
def _shipped() -> dict[str, RuleSet]:
    folder = resources.files("tillercount.stand") / "rules"
    sets = {}
    for file in sorted(folder.iterdir(), key=lambda f: f.name):
        if file.name.endswith(".toml"):
            rules = _parse(file.name, file.read_text(encoding="utf-8"))
            sets[rules.name] = rules
    first = sets.pop("common-practice", None)
    return {**({first.name: first} if first else {}), **sets}


def list_rules() -> list[RuleSet]:
    """All rule sets that come with the program, common practice first."""
    return list(_shipped().values())


def load_rules(name_or_path: str | Path | RuleSet) -> RuleSet:
    """A rule set by its name, or from a user's own file.

    Thresholds per foot of row need the row spacing, and those in percent of a normal stand need
    that stand; either goes behind the name: ``ontario-stand@7.5in``, ``kansas-replant@25/ft2``.

    Raises
    ------
    InputError
        Unknown name (the known ones are listed), or a file that can't be used.
    """
    if isinstance(name_or_path, RuleSet):
        return name_or_path
    text = str(name_or_path)
    sets = _shipped()
    if text in sets:
        return sets[text]
    base, at, local = text.rpartition("@")
    if at and (base in sets or base.lower().endswith(".toml")) and not Path(text).exists():
        return localise(load_rules(base), parse_local(local))
    if text.lower().endswith(".toml") or "/" in text or "\\" in text:
        return check_rules(text)
    place = place_named(text)
    if place is not None and not any(one.rules and one.holds_in(text) for one in sets.values()):
        raise InputError(
            f"rule set {text!r} isn't known, and {none_for(place, sets.values())} (tillercount "
            "rules list shows all; the path of your own .toml file goes too)"
        )
    meant = meant_by(text, list(sets.values()))
    if meant:
        names = join([repr(one) for one in meant], "or")
        raise InputError(
            f"rule set {text!r} isn't known; did you mean {names}? (tillercount rules list shows "
            "all; the path of your own .toml file goes too)"
        )
    raise InputError(
        f"rule set {text!r} isn't known; known: {', '.join(sets)}; "
        "or give the path of your own .toml file"
    )


def meant_by(text: str, sets: Sequence[RuleSet]) -> list[str]:
    """Names of sets that a name typed wrong may mean: by a part of the name, by region, by look."""
    wanted = "-".join(text.casefold().replace("_", " ").split())
    place = wanted.replace("-", " ")
    found = [one.name for one in sets if wanted and (wanted in one.name or one.holds_in(place))]
    if not found:
        regions = region_meant(place, sets)[:1]
        found = [one.name for one in sets if any(one.holds_in(name) for name in regions)]
    close = difflib.get_close_matches(wanted, [one.name for one in sets], n=3)
    return found or close


def region_meant(text: str, sets: Sequence[RuleSet]) -> list[str]:
    """Regions and places that a region typed wrong may mean."""
    known = {
        name.casefold(): name
        for one in sets
        for name in (one.region, *one.places, *(box.name for box in one.where))
    }
    known |= {place.name.casefold(): place.name for place in PLACES.values()}
    words = text.casefold()
    close = difflib.get_close_matches(words, known, n=3, cutoff=0.75)
    inside = [name for name in known if len(words) > 2 and words in name and name not in close]
    return [known[name] for name in (*close, *inside[:3])]


def check_rules(path: str | Path) -> RuleSet:
    """Read and check a rule file.

    Raises
    ------
    InputError
        With the file, the line of a syntax error or the key that is wrong, and why.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        reason = error.strerror or error
        raise InputError(f"{path}: can't be read ({reason}); check the name and place") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: not a text file in UTF-8; save it as UTF-8") from error
    return _parse(str(path), text)


def _parse(where: str, text: str) -> RuleSet:
    from pydantic import ValidationError

    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{where}: not valid TOML: {error}; mend that line") from error
    try:
        return RuleSet.model_validate(data)
    except ValidationError as error:
        raise InputError(complaint(where, text, error)) from error
