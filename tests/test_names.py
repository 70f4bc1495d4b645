"""When two names are one place."""

from __future__ import annotations

import shlex
import subprocess

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tillercount import names
from tillercount.errors import InputError
from tillercount.names import first_few, in_command, key_of, spot_key, spot_name, spot_text


def test_spots_by_number_are_one_however_they_are_written() -> None:
    assert {spot_key(n) for n in ("4", "04", "spot_04", "Spot 4", "SPOT-004", " 4 ")} == {"4"}
    assert spot_key("spot_4b") != spot_key("4")
    assert spot_key("IMG_0004") != spot_key("4")


def test_a_spot_called_by_its_photo() -> None:
    assert spot_name("spot_04.JPG") == "spot_04"
    assert spot_name("by  the 2.5 acre") == "by the 2.5 acre"


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("8", "spot 8"), ("spot_08", "spot_08"), ("Spot 8", "Spot 8"), ("spot8", "spot8"),
        ("IMG_8", "spot IMG_8"), ("spotty corner", "spot spotty corner"),
    ],
)  # fmt: skip
def test_a_spot_is_called_a_spot_once(name: str, said: str) -> None:
    assert spot_text(name) == said


def test_names_need_something_in_them() -> None:
    with pytest.raises(InputError, match="empty"):
        key_of("  ")


@pytest.mark.parametrize(
    ("number", "said"),
    [(0, ""), (1, "0"), (3, "0, 1, 2"), (4, "0, 1, 2 and 1 more"), (9, "0, 1, 2 and 6 more")],
)
def test_a_long_list_is_counted(number: int, said: str) -> None:
    assert first_few(range(number), 3) == said


def test_a_long_list_of_parts_with_commas_or_of_which_some_are_at_hand() -> None:
    assert first_few(["a, b", "c, d", "e"], 2, between="; ") == "a, b; c, d; and 1 more"
    assert first_few(["a", "b"], 2, of=12) == "a, b and 10 more"
    assert first_few(["a", "b"], 2, of=2) == "a, b"


def test_a_list_that_is_cut_names_the_command_that_has_all_of_it() -> None:
    assert first_few(range(9), 2, all_by="list it") == "0, 1 and 7 more (all: list it)"
    assert first_few(range(2), 2, all_by="list it") == "0, 1"
    assert first_few("abc", 2, between="; ", all_by="x") == "a; b; and 1 more (all: x)"


@pytest.mark.parametrize(
    "name", ["s.sqlite", "my season.db", "a/b c.db", "O'Neil.db", 'six "in".db', "$5 `x`.db", ""]
)
def test_a_name_in_a_command_is_read_as_it_is(name: str) -> None:
    assert shlex.split(in_command(name)) == [name]
    assert (in_command(name) == name) == (name == "s.sqlite")


ODD = st.text(st.sampled_from("ab7 .-_/\\'\"$`!~=*?#&;|<>(){}[]%\t\nü"), max_size=8)


@pytest.mark.skipif(names._WINDOWS, reason="a POSIX shell")
@given(st.lists(st.one_of(ODD, st.builds("-{}".format, ODD)), min_size=20, max_size=60))
@settings(max_examples=25, deadline=None)
def test_odd_names_come_through_a_shell_as_they_are(odd: list[str]) -> None:
    """What is shown is pasted: a shell makes the same names of it."""
    words = " ".join(map(in_command, odd))
    assert shlex.split(words) == odd
    said = subprocess.run(
        ["sh", "-c", f"printf '%s\\0' {words}"], capture_output=True, check=True, encoding="utf-8"
    )
    assert said.stdout.split("\0")[:-1] == odd


@pytest.mark.parametrize("name", ["a\\b", "C:\\fields\\s.db", "end\\", "~/s.db", "~", "=s.db"])
def test_what_a_shell_would_change_is_quoted(name: str) -> None:
    assert in_command(name) not in (name, f'"{name}"') or name[0] in "~="
    assert in_command(name) != name


def test_paths_on_windows_are_typed_as_they_stand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its shell takes single quotes for a part of the name."""
    monkeypatch.setattr(names, "_WINDOWS", True)
    assert in_command("C:\\fields\\s.db") == "C:\\fields\\s.db"
    assert in_command("C:\\my fields\\s.db") == '"C:\\my fields\\s.db"'
