from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.logger.commands.brewing import Brewing, start_all
from tests.logger.commands.program import Evencup
from tests.logger.commands.targets import THREE_POURS


@pytest.fixture
def evencup(tmp_path: Path) -> Evencup:
    return Evencup(tmp_path)


@pytest.fixture
def three_pours(tmp_path: Path) -> Path:
    path = tmp_path / "three-pours.toml"
    path.write_text(THREE_POURS, encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def simulated_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    evencup = Evencup(tmp_path_factory.mktemp("simulated"))
    target = evencup.here / "three-pours.toml"
    target.write_text(THREE_POURS, encoding="utf-8")
    return evencup.ok("simulate", target, "--seed", "3", "--level", "easy").path


@pytest.fixture
def brewed(evencup: Evencup, simulated_once: Path) -> Path:
    """A simulated brew after three pours, recorded: a copy of its own for each test."""
    folder = evencup.data / simulated_once.name
    shutil.copytree(simulated_once, folder)
    return folder


@pytest.fixture(scope="session")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Brewing]]:
    """Recorders with their instruments, by name."""
    brewings: dict[str, Brewing] = {}

    def new(name: str) -> Brewing:
        here = tmp_path_factory.mktemp(name)
        brewings[name] = Brewing(Evencup(here), here / "sent")
        return brewings[name]

    try:
        start_all(new)
        yield brewings
    finally:
        for brewing in brewings.values():
            brewing.clear()


@pytest.fixture(scope="session", autouse=True)
def bench_at_work_from_the_start(request: pytest.FixtureRequest) -> None:
    """Real time passes while the other tests of this room run."""
    if any("bench" in getattr(item, "fixturenames", ()) for item in request.session.items):
        request.getfixturevalue("bench")
