"""The scanner against the standard library's TOML reader: the same values, and their places."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from drivers.toml_places import Path, find_places, line_of

TRICKY = '''
# a comment with = and [brackets]
plain = 1
"quoted = key" = "a # no comment" # a comment
'literal.key' = 'C:\\no\\escape'
dotted . "with space" . deep = """
several lines, a quote " and three escaped \\"""
still inside [not.a.table]""""
literal = \'\'\'
# not a comment
it's '' fine\'\'\'\'
array = [ 1, # one
  [2, "]"], { a = 1, b.c = "}" },
]
when = 1979-05-27 07:32:00 # a date

[table]
x = { }
[table.'sub table']
y = []
[[stage]]
name = "first"
tolerance = { weight_g = 1.0, start_s = 2 }
[[stage]]
name = "second"
[stage.tolerance]
weight_g = 2
[[stage.inner]]
z = inf
[[stage.inner]]
z = 0x1F
'''


def leaves(value: object, path: Path = ()) -> Iterator[tuple[Path, object]]:
    if isinstance(value, dict) and (value or not path):
        for key, each in value.items():
            yield from leaves(each, (*path, key))
    elif isinstance(value, list) and value:
        for number, each in enumerate(value):
            yield from leaves(each, (*path, number))
    else:
        yield path, value


def assert_found(text: str) -> None:
    """Every value that the standard library reads is at the place that the scanner names."""
    places = find_places(text)
    for path, value in leaves(tomllib.loads(text)):
        place = places[path]
        assert place.line == text.count("\n", 0, place.start) + 1 or text[place.start] in "[{\"'"
        written = text[place.start : place.end]
        if not written.startswith("["):  # an empty table's header stands where a value would
            assert tomllib.loads(f"x = {written}")["x"] == value


def test_every_value_of_a_tricky_text_is_found_where_it_stands() -> None:
    assert_found(TRICKY)


WRITTEN = """\
title  = "Three pours"
dose_g = 15.0                # a comment, = and [all]

[tolerance]
start_s = 3.0

[[stage]]
name = "bloom"
to_g = 45.0

[[stage]]
name      = "pour 1"
tolerance = { weight_g = 1.0 }
"""


def test_lines_count_from_one_and_survive_windows_line_ends() -> None:
    for text in (WRITTEN, WRITTEN.replace("\n", "\r\n")):
        places = find_places(text)
        assert places["dose_g",].line == 2
        assert places["stage", 0, "to_g"].line == 9
        assert places["stage", 1, "tolerance", "weight_g"].line == 13


def test_a_missing_field_is_told_at_its_table() -> None:
    places = find_places(WRITTEN)
    assert line_of(places, ("stage", 1, "flow_g_s")) == 11
    assert line_of(places, ("tolerance", "end_s")) == 4
    assert line_of(places, ("coffee",)) == 1


KEYS = st.from_regex(r"[A-Za-z0-9_-]{1,4}", fullmatch=True) | st.sampled_from(
    ['"a b"', "'c.d'", '"\\u0041="']
)
SCALARS = st.sampled_from(
    ["1", "-1.5e3", "true", "nan", '"#\\""', "'\"'", '""""q"""', "'''\n'x'''", "1979-05-27T07:32:00Z"]
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda each: "[ " + " ,\n# ]\n".join(each) + "\n]")
        | st.lists(st.tuples(KEYS, inner), max_size=3).map(
            lambda each: "{" + ", ".join(f"{key}={value}" for key, value in each) + "}"
        )
    ),
    max_leaves=6,
)
LINES = st.one_of(
    st.tuples(st.lists(KEYS, min_size=1, max_size=2), VALUES).map(
        lambda it: f"{' . '.join(it[0])} = {it[1]}  # x = 1"
    ),
    KEYS.map(lambda key: f"[{key}]"),
    KEYS.map(lambda key: f"[[ {key} ]]"),
    st.just("# [comment]"),
    st.just(""),
)


@given(st.lists(LINES, max_size=8))
def test_whatever_the_standard_library_reads_the_scanner_finds(lines: list[str]) -> None:
    text = "\n".join(lines)
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        assume(False)
    places = find_places(text)
    for path, value in leaves(tomllib.loads(text)):
        written = text[places[path].start : places[path].end]
        if isinstance(value, int | str) and not isinstance(value, bool):
            assert tomllib.loads(f"x = {written}")["x"] == value


@pytest.mark.parametrize("nonsense", ["[", "[[", "= =", "a = [", "a = {b", '"', "a.b.", "\x00", "]]]"])
def test_the_scanner_comes_to_an_end_on_nonsense_too(nonsense: str) -> None:
    places = find_places(nonsense)
    assert all(0 <= place.start < place.end <= len(nonsense) + 1 for place in places.values())
    assert {place.line for place in places.values()} <= {1}
