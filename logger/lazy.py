"""Public names of a package that are loaded when first used."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def loaded_from(package: str, modules: Mapping[str, str]) -> Callable[[str], Any]:
    """Make the ``__getattr__`` of a package.

    :param package: its name, for messages
    :param modules: the module that holds each public name
    """

    def find(name: str) -> Any:
        if name not in modules:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(modules[name]), name)

    return find
