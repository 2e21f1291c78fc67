"""Targets that a brewer could write, for the property tests."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import strategies as st

from logger.target import Calls, Shot, Stage, Target, Tolerance, Words
from logger.target.calls import CALL_KINDS

WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), min_size=1, max_size=12).filter(
    lambda words: bool(words.strip())
)


def tenths(low: float, high: float) -> st.SearchStrategy[float]:
    return st.integers(round(low * 10), round(high * 10)).map(lambda number: number / 10)


TOLERANCES = st.builds(
    Tolerance,
    start_s=tenths(0.1, 8),
    weight_g=tenths(0.1, 8),
    flow_g_s=tenths(0.1, 3),
    water_c=tenths(0.1, 5),
    end_s=tenths(0.1, 20),
)

CALLS = st.builds(
    Calls,
    volume=tenths(0, 1),
    language=st.sampled_from(["en", "de-AT", "zh-Hant-TW"]),
    voice=st.just("") | WORDS,
    tones=st.booleans(),
    speech=st.booleans(),
    count_s=st.integers(0, 10),
    say=st.sets(st.sampled_from(CALL_KINDS)).map(lambda kinds: tuple(k for k in CALL_KINDS if k in kinds)),
    words=st.just(Words())
    | st.builds(Words, stop=st.sampled_from(["halt", "arrêt"]), to=st.just("auf {grams}")),
)


@st.composite
def poured_targets(draw: st.DrawFn) -> Target:
    tolerance = draw(TOLERANCES)
    stages: list[Stage] = []
    start_s, from_g = 0.0, 0.0
    for _ in range(draw(st.integers(1, 6))):
        poured_g = draw(tenths(4, 300))
        pace = draw(st.sampled_from(["flow", "duration", "none"]))
        flow_g_s = draw(tenths(0.5, 15))
        duration_s = max(poured_g / flow_g_s, poured_g / 15)
        stage = Stage(
            name=draw(WORDS),
            start_s=start_s,
            to_g=round(from_g + poured_g, 1),
            from_g=from_g,
            flow_g_s=flow_g_s if pace == "flow" else None,
            duration_s=duration_s if pace == "duration" else None,
            water_c=draw(st.none() | tenths(1, 100)),
            tolerance=draw(st.just(tolerance) | TOLERANCES),
        )
        stages.append(stage)
        start_s = float(round(start_s + duration_s + draw(tenths(1, 60)) + 1))
        from_g = stage.to_g
    target = Target(
        title=draw(WORDS),
        method=draw(st.sampled_from(["pour-over", "immersion"])),
        dose_g=draw(tenths(1, 200)),
        water_c=draw(st.none() | tenths(1, 100)),
        stages=tuple(stages),
        end_s=draw(st.none() | st.just(start_s + 60.5)),
        tolerance=tolerance,
        keep=draw(st.sampled_from(["times", "intervals", "plan"])),
        calls=draw(st.just(Calls()) | CALLS),
    )
    return replace(target, coffee=draw(st.just("") | WORDS), notes=draw(st.text(max_size=20)))


@st.composite
def shot_targets(draw: st.DrawFn) -> Target:
    first_s, wide_s = draw(tenths(0, 10)), draw(tenths(0, 5))
    since_s = round(first_s + wide_s + draw(tenths(1, 40)), 1)
    shot = Shot(
        yield_g=draw(tenths(1, 100)),
        time_s=(since_s, since_s + draw(tenths(0, 10))),
        first_drip_s=draw(st.none() | st.just((first_s, first_s + wide_s))),
    )
    return Target(
        title=draw(WORDS),
        method="espresso",
        dose_g=draw(tenths(5, 30)),
        water_c=draw(st.none() | tenths(80, 100)),
        shot=shot,
        tolerance=draw(TOLERANCES),
        grind=draw(st.just("") | WORDS),
    )


TARGETS = poured_targets() | shot_targets()
