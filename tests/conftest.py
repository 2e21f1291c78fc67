"""How the suite runs: by several workers at once, the long files first, the same made-up cases each time."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

MOST_WORKERS = 8

# Other work may share the processor: how long a case takes says nothing.
UNTIMED = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
settings.register_profile("steady", derandomize=True, **UNTIMED)
settings.register_profile("search", print_blob=True, **UNTIMED)
settings.load_profile(os.environ.get("EVENCUP_CASES", "steady"))


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """One worker more than there are cores: some tests wait in real time. A part of the suite has none."""
    if config.args_source is not pytest.Config.ArgsSource.TESTPATHS or config.option.collectonly:
        return 0
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(cores + 1, MOST_WORKERS)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the long files, so that no worker is left alone with one at the end."""
    items.sort(key=lambda item: item.get_closest_marker("long") is None)
