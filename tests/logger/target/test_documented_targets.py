"""The targets in the brewer's guide can be brewed."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

from logger.target import Tolerance, check_target, corridor, parse_target
from logger.target.form import FIELDS

GUIDE = Path(__file__).parents[3] / "docs" / "targets.md"
EXAMPLES = re.findall(r"```toml\n(.*?)```", GUIDE.read_text("utf-8"), re.DOTALL)


@pytest.mark.parametrize("text", EXAMPLES, ids=range(len(EXAMPLES)))
def test_every_example_is_a_target_without_a_doubt(text: str) -> None:
    target = parse_target(text, "docs/targets.md")
    assert check_target(target) == ()
    low_g, high_g = corridor(target, [0.0, 1000.0])
    assert low_g[1] < target.total_g < high_g[1]


def test_there_is_an_example_of_every_method() -> None:
    methods = {parse_target(text, "").method for text in EXAMPLES}
    assert methods == {"pour-over", "immersion", "espresso"}


def test_every_field_and_every_default_is_in_the_guide() -> None:
    guide = GUIDE.read_text("utf-8")
    for names in FIELDS.values():
        for name in names:
            assert f"`{name}`" in guide or f"`[{name}]`" in guide or f"`[[{name}]]`" in guide, name
    for field in fields(Tolerance):
        assert f"| `{field.name}` | {field.default} |" in guide
