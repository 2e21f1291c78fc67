"""``evencup --help`` beside the least that a Typer program can do, started in turn in the same run.

``pytest tests/benchmarks/test_help.py --benchmark-only``
"""

import subprocess
import sys
import time

import pytest

from tests.logger.commands.program import ROOT

ROUNDS = 15
MOST = 1.5
HELLO = """
import typer
app = typer.Typer()
@app.command()
def hello(name: str = "you") -> None:
    "Say hello."
@app.command()
def bye() -> None:
    "Say good-bye."
app()
"""
EVENCUP = "from logger.commands.main import main; main()"


def start(code: str) -> float:
    """Ask a program for its help; give the seconds that it took."""
    began_s = time.perf_counter()
    subprocess.run([sys.executable, "-c", code, "--help"], cwd=ROOT, capture_output=True, check=True)
    return time.perf_counter() - began_s


@pytest.mark.benchmark(group="help")
def test_hello_world(benchmark):
    benchmark.pedantic(start, (HELLO,), rounds=5, warmup_rounds=1)


@pytest.mark.benchmark(group="help")
def test_evencup(benchmark):
    benchmark.pedantic(start, (EVENCUP,), rounds=5, warmup_rounds=1)


@pytest.mark.benchmark(group="help")
def test_evencup_beside_hello_world(benchmark):
    """The best of many starts each, by turns: what else the machine does hits both alike."""
    best_s = {HELLO: float("inf"), EVENCUP: float("inf")}

    def by_turns():
        for code in best_s:
            best_s[code] = min(best_s[code], start(code))

    benchmark.pedantic(by_turns, rounds=ROUNDS, warmup_rounds=1)
    ratio = best_s[EVENCUP] / best_s[HELLO]
    benchmark.extra_info["ratio"] = round(ratio, 2)
    print(f"evencup --help takes {ratio:.2f} times as long as hello world --help")  # noqa: T201
    assert ratio <= MOST
