from __future__ import annotations

import shutil
from pathlib import Path

import pytest

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
