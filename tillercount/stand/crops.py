"""Which crop the rules were published for, and what happens to another one."""

from __future__ import annotations

from tillercount.errors import InputError
from tillercount.stand.ruleset import RuleSet

__all__ = ["crop_name", "not_validated", "require"]

# Names of the same crop; spring wheat and forage crops are other crops to these rules.
_CROPS = {
    "winter wheat": "wheat",
    "soft wheat": "wheat",
    "soft winter wheat": "wheat",
    "soft red winter wheat": "wheat",
    "hard red winter wheat": "wheat",
    "winter barley": "barley",
    "oat": "oats",
    "winter rye": "rye",
    "cereal rye": "rye",
}


def crop_name(text: str) -> str:
    """One name for a crop, however it was written."""
    crop = " ".join(text.lower().split())
    return _CROPS.get(crop, crop)


def not_validated(rules: RuleSet, crop: str) -> str:
    """Sentence for a verdict under rules for another crop; empty where they cover it."""
    if rules.covers(crop):
        return ""
    return (
        f"Not validated for {crop}: these rules were published for {' and '.join(rules.crops)}, "
        "and are used here only because it was asked for."
    )


def require(rules: RuleSet, crop: str, others: list[str]) -> None:
    """Refuse a crop that the rules weren't published for.

    Raises
    ------
    InputError
        With the rule sets that do cover it, and how to insist.
    """
    if rules.covers(crop):
        return
    where = (
        f"rule sets that cover it: {', '.join(others)}"
        if others
        else "none of the rule sets here covers it; ask a local adviser, or write a rule file"
    )
    raise InputError(
        f"rules {rules.name!r} are for {', '.join(rules.crops)} and not validated for {crop}; "
        f"{where}; to use them all the same, marked 'not validated', add --insist"
    )
