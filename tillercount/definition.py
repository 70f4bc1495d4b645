"""What a number of tillers, stems or shoots counts: main stem in or out, smallest leaf number."""

from __future__ import annotations

from enum import StrEnum

from tillercount.errors import InputError

__all__ = ["Definition", "parse_definition"]


class Definition(StrEnum):
    """What the number in the column "shoots" counts."""

    STEMS = "stems"
    """Main stem and tillers, however small."""
    TILLERS = "tillers"
    """Side shoots only; the main stem isn't counted."""
    STEMS_3_LEAVES = "stems-3-leaves"
    """Main stem and tillers, only those with three leaves or more."""
    TILLERS_3_LEAVES = "tillers-3-leaves"
    """Side shoots only, only those with three leaves or more."""

    @property
    def main_stem(self) -> bool:
        """Whether the main stem is in the number."""
        return self in (Definition.STEMS, Definition.STEMS_3_LEAVES)

    @property
    def min_leaves(self) -> int:
        """Leaves a shoot needs before it counts; 0 for every shoot."""
        return 3 if self.value.endswith("3-leaves") else 0

    @property
    def words(self) -> str:
        """The definition in words."""
        what = "main stem and tillers" if self.main_stem else "tillers without the main stem"
        return f"{what}, only those with 3 leaves or more" if self.min_leaves else what


_SAME = {
    "shoots": Definition.STEMS,
    "main stem + tillers": Definition.STEMS,
    "main stem and tillers": Definition.STEMS,
    "stems 3 leaves": Definition.STEMS_3_LEAVES,
    "tillers 3 leaves": Definition.TILLERS_3_LEAVES,
}


def parse_definition(text: str) -> Definition:
    """Definition from its name: stems, tillers, stems-3-leaves or tillers-3-leaves.

    Raises
    ------
    InputError
        Not one of these.
    """
    key = " ".join(text.strip().lower().replace("_", "-").split())
    if key in _SAME:
        return _SAME[key]
    try:
        return Definition(key)
    except ValueError:
        names = ", ".join(f"{d.value} ({d.words})" for d in Definition)
        raise InputError(f"definition {text.strip()!r} isn't known; use one of: {names}") from None
