"""Edges that were seen whole stay what they are when more readings have come."""

from dataclasses import replace

import numpy as np
import pytest

from logger.curve.edges.shapes import Response
from logger.curve.live.seen_whole import edges_seen_whole
from logger.curve.pours.settled import NOTHING_SETTLED, Settled
from logger.curve.readings.timebase import samples_from
from logger.curve.water import Read, read_samples
from tests.benchmarks.curve_suite import THREE_POURS, Floats
from tests.logger.curve.staged import CALM, dosed, staged

LAG = Response(0.3)
TIME_S, WEIGHT_G, TRUTH = staged(THREE_POURS, replace(CALM, lag_s=(0.3, 0.3)))
FIRST, SECOND, _ = TRUTH.pours


def read(
    until_s: float, settled: Settled = NOTHING_SETTLED, shown_g: Floats = WEIGHT_G, lag: Response = LAG
) -> Read:
    """Read all up to a time."""
    samples = samples_from(TIME_S[until_s >= TIME_S], shown_g[until_s >= TIME_S])
    return read_samples(samples, lag, settled=settled, with_course=False)


def test_a_start_is_settled_while_its_pour_runs_and_an_end_four_seconds_after_it() -> None:
    for until_s, starts, ends in (
        (FIRST.start_s + 2.0, 0, 0),
        (FIRST.end_s + 1.0, 1, 0),
        (FIRST.end_s + 5.0, 1, 1),
        (SECOND.end_s + 1.0, 2, 1),
    ):
        settled = edges_seen_whole(read(until_s), until_s)
        assert (len(settled.starts), len(settled.ends)) == (starts, ends)


def test_what_is_settled_is_neither_fitted_nor_weighed_again() -> None:
    """It is the very same object, and what was not settled is read as without it."""
    early = read(FIRST.end_s + 1.0)
    later_s = FIRST.end_s + 5.0
    again, anew = read(later_s, edges_seen_whole(early, FIRST.end_s + 1.0)), read(later_s)
    assert again.rises[0].start is early.rises[0].start
    assert again.edges[0].start is early.edges[0].start
    assert again.rises[0].end is not early.rises[0].end
    assert again.pours[0].start_s == pytest.approx(anew.pours[0].start_s, abs=0.02)
    assert again.pours[0].end_s == pytest.approx(anew.pours[0].end_s, abs=1e-6)
    assert again.pours[0].poured_g == pytest.approx(anew.pours[0].poured_g, abs=0.02)


def test_an_edge_is_read_again_where_the_lag_or_its_level_is_another_one() -> None:
    until_s = FIRST.end_s + 5.0
    settled = edges_seen_whole(read(until_s), until_s)
    kept = {id(known) for known in settled.known.values()}
    same = read(until_s, settled).edges[0]
    assert {id(same.start), id(same.end)} == kept
    moved_g = WEIGHT_G + np.where(TIME_S[5] < TIME_S, 0.5, 0.0)
    for anew in (read(until_s, settled, lag=Response(0.4)), read(until_s, settled, moved_g)):
        assert not {id(anew.edges[0].start), id(anew.edges[0].end)} & kept


def test_dry_coffee_is_fitted_once() -> None:
    time_s, weight_g, _ = staged(THREE_POURS, replace(CALM, lead_s=(16.0, 16.0)))
    weight_g = dosed(time_s, weight_g, 3.0, [4.0, 4.0, 4.0, 3.0])
    weight_g = np.where(time_s >= 12.0, weight_g - 15.0, weight_g)

    def read_until(until_s: float, settled: Settled = NOTHING_SETTLED) -> Read:
        seen = time_s <= until_s
        return read_samples(
            samples_from(time_s[seen], weight_g[seen]), LAG, 250.0, settled=settled, with_course=False
        )

    early = read_until(15.0)
    assert [solid.kind for solid in early.solids] == ["dose"]
    settled = edges_seen_whole(early, 15.0)
    again = read_until(16.0, settled)
    assert not settled.known
    assert again.fitted[0].start is early.fitted[0].start
    assert again.fitted[0].end is early.fitted[0].end
