"""The plan as it stands now: the target, and what becomes of its rest when a pour went wrong.

The water in all always stays. What a pour ended high (or short) is shared by the pours to come, each in
proportion to what it was to pour, in whole grams. What a pour started late is kept out of the starts that
follow (``keep = "times"``: the late pour runs faster where it must) or moves them all (``"intervals"``). No
pour becomes negative, none runs faster than a kettle pours, none starts before the one before can be done.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from drivers.clock import clock_text
from logger.guide.cue import StageCue
from logger.target import Stage, Target, stage_spans
from logger.target.checking import MAX_FLOW_G_S

LEAST_POUR_G = 3.0
"""Less than that is no pour of its own: the next one takes it over."""

LEAST_PAUSE_S = 3.0
"""Between two pours that the plan keeps apart, at the least: a hand needs that long (common practice)."""

JOINED_S = 1.5
"""Stages that follow each other as closely as that are poured without letting go."""

_ROUNDING_S = 0.5


@dataclass(frozen=True, slots=True)
class Plan:
    """A target and how it has changed since the brew began.

    :param target: with its stages as they stand now; one that ended off its weight, with what it came to
    :param written: for each stage, its number in the target file, from 0
    :param version: counts the changes
    :param changed: numbers in the target file of stages that are not as it says
    """

    target: Target
    written: tuple[int, ...]
    version: int = 0
    changed: frozenset[int] = frozenset()

    @classmethod
    def of(cls, target: Target) -> Plan:
        """Start out with the target as it is written."""
        return cls(target, tuple(range(len(target.stages))))

    @property
    def stages(self) -> tuple[Stage, ...]:
        """All stages, in order."""
        return self.target.stages

    def next_stage(self, poured_g: float) -> int | None:
        """The stage that the water so far leaves to be done; what is nearly in counts as done."""
        for number, stage in enumerate(self.stages):
            if poured_g < stage.to_g - min(stage.tolerance.weight_g, 0.2 * stage.poured_g):
                return number
        return None

    def runs_on(self, number: int) -> bool:
        """Whether a stage goes over into the next without a pause."""
        if number + 1 >= len(self.stages):
            return False
        end_s = self.stages[number].planned_end_s
        return end_s is not None and self.stages[number + 1].start_s - end_s < JOINED_S

    def cues(self) -> tuple[StageCue, ...]:
        """The stages, for the screen; none for an espresso."""
        if self.target.shot:
            return ()
        return tuple(
            StageCue(
                written + 1,
                stage.name,
                stage.start_s,
                span.end_s,
                stage.from_g,
                stage.to_g,
                stage.planned_flow_g_s,
                written in self.changed,
            )
            for written, stage, span in zip(self.written, self.stages, stage_spans(self.target), strict=True)
        )

    def begun(self, number: int, clock_s: float) -> tuple[Plan, str]:
        """Know when a pour began, and work out anew what follows from that.

        :param number: of its stage, from 0
        :returns: the plan, and what changed in it, one sentence; empty where nothing did
        """
        stage, keep = self.stages[number], self.target.keep
        off_s = clock_s - stage.start_s
        if keep == "plan" or number == 0 or abs(off_s) <= stage.tolerance.start_s:
            return self, ""
        stages, end_s = list(self.stages), self.target.end_s
        stages[number] = replace(stage, start_s=clock_s)
        if keep == "intervals":
            stages[number + 1 :] = [
                replace(later, start_s=later.start_s + off_s) for later in stages[number + 1 :]
            ]
            end_s = None if end_s is None else end_s + off_s
        else:
            stages[number] = self._in_time(stages[number], number)
        stages = self._apart(stages, self.written, number, stages[number].planned_end_s)
        why = f"{stage.name} began {abs(off_s):.0f} s {'late' if off_s > 0 else 'early'}"
        return self._anew(stages, self.written, end_s, number, why)

    def ended(self, number: int, poured_g: float, clock_s: float) -> tuple[Plan, str]:
        """Know what a pour came to and when it was over, and work out anew what follows from that.

        :param number: of the stage that it was, from 0
        :param poured_g: all water so far
        :returns: the plan, and what changed in it, one sentence; empty where nothing did
        """
        stage, stages, written = self.stages[number], list(self.stages), self.written
        if self.target.keep == "plan" or number + 1 >= len(stages):
            return self, ""
        off_g = poured_g - stage.to_g
        why = f"{stage.name} was done at {clock_text(clock_s)}"
        if abs(off_g) > stage.tolerance.weight_g:
            why = f"{stage.name} ended {abs(off_g):.0f} g {'high' if off_g > 0 else 'low'}"
            stages, written = self._shared(number, poured_g)
        stages = self._apart(stages, written, number, clock_s)
        end_s = self.target.end_s
        if end_s is not None and self.target.keep == "intervals" and stages[number + 1 :]:
            end_s += stages[-1].start_s - self.stages[self.written.index(written[-1])].start_s
        return self._anew(stages, written, end_s, number, why)

    def _in_time(self, late: Stage, number: int) -> Stage:
        """Pour a late stage faster where the next one would have to wait for it, as far as it may."""
        planned = late.planned_flow_g_s
        if planned is None or number + 1 >= len(self.stages):
            return replace(late, duration_s=None, flow_g_s=planned)
        left_s = self.stages[number + 1].start_s - self._pause_s(number) - late.start_s
        needed = late.poured_g / left_s if left_s > 0.0 else MAX_FLOW_G_S
        fastest = min(planned + late.tolerance.flow_g_s, MAX_FLOW_G_S)
        return replace(late, duration_s=None, flow_g_s=max(planned, min(needed, fastest)))

    def _shared(self, number: int, poured_g: float) -> tuple[list[Stage], tuple[int, ...]]:
        """Let the pours after one share what is left of the water, each in proportion to its own."""
        total_g, rest = self.target.total_g, self.stages[number + 1 :]
        share = max(total_g - poured_g, 0.0) / (total_g - self.stages[number].to_g)
        made = [*self.stages[:number], replace(self.stages[number], to_g=poured_g)]
        written = list(self.written[: number + 1])
        for stage, origin in zip(rest, self.written[number + 1 :], strict=True):
            to_g = float(round(poured_g + share * (stage.to_g - self.stages[number].to_g)))
            if to_g - made[-1].to_g < LEAST_POUR_G:
                continue
            flow_g_s, from_g = stage.planned_flow_g_s, made[-1].to_g
            made.append(replace(stage, from_g=from_g, to_g=to_g, duration_s=None, flow_g_s=flow_g_s))
            written.append(origin)
        if len(made) > number + 1:
            made[-1] = replace(made[-1], to_g=total_g)
        return made, tuple(written)

    def _pause_s(self, number: int) -> float:
        """The least pause after a stage: what the plan has, where that is less than what a hand needs."""
        end_s = self.stages[number].planned_end_s
        if end_s is None or number + 1 >= len(self.stages):
            return LEAST_PAUSE_S
        return min(max(self.stages[number + 1].start_s - end_s, 0.0), LEAST_PAUSE_S)

    def _apart(
        self, stages: list[Stage], written: tuple[int, ...], number: int, over_s: float | None
    ) -> list[Stage]:
        """Move starts back that come before the stage before can be done, the intervals after them too.

        :param over_s: when stage ``number`` is over, where that is known
        """
        made, moved_s = stages[: number + 1], 0.0
        for position in range(number + 1, len(stages)):
            stage, before = stages[position], made[-1]
            if moved_s and self.target.keep == "intervals":
                stage = replace(stage, start_s=stage.start_s + moved_s)
            end_s = over_s if position == number + 1 else before.planned_end_s
            if end_s is None:
                end_s = before.start_s + before.poured_g / MAX_FLOW_G_S
            earliest_s = end_s + self._pause_s(self.written.index(written[position - 1]))
            if stage.start_s < earliest_s - _ROUNDING_S:
                moved_s += earliest_s - stage.start_s
                stage = replace(stage, start_s=earliest_s)
            made.append(stage)
        return made

    def _anew(
        self, stages: list[Stage], written: tuple[int, ...], end_s: float | None, number: int, why: str
    ) -> tuple[Plan, str]:
        """Make the plan of these stages, and say what is different about it from stage ``number`` on."""
        if end_s is not None:
            end_s = max(end_s, stages[-1].planned_end_s or stages[-1].start_s)
        before = dict(zip(self.written[number:], self.stages[number:], strict=True))
        told = {
            origin: _different(before[origin], stage, is_done=origin == written[number])
            for origin, stage in zip(written[number:], stages[number:], strict=True)
        }
        what = [clauses for clauses in told.values() if clauses]
        what += [f"{stage.name} is left out" for origin, stage in before.items() if origin not in told]
        if end_s is not None and abs(end_s - (self.target.end_s or end_s)) >= _ROUNDING_S:
            what.append(f"the end at {clock_text(end_s)}")
        if not what:
            return self, ""
        changed = self.changed | {origin for origin, clauses in told.items() if clauses}
        target = replace(self.target, stages=tuple(stages), end_s=end_s)
        return Plan(target, written, self.version + 1, changed), f"{why}: {', '.join(what)}."


def _different(old: Stage, new: Stage, *, is_done: bool) -> str:
    """What is different about a stage.

    :param is_done: or has begun: where and when it is, is known by now, and no news
    """
    clauses = []
    if not is_done and round(new.to_g) != round(old.to_g):
        clauses.append(f"to {new.to_g:.0f} g")
    if not is_done and abs(new.start_s - old.start_s) >= _ROUNDING_S:
        clauses.append(f"at {clock_text(new.start_s)}")
    flow, before = new.planned_flow_g_s, old.planned_flow_g_s
    if flow is not None and before is not None and abs(flow - before) > 0.05:
        clauses.append(f"at {flow:.1f} g/s")
    return f"{new.name} {' '.join(clauses)}" if clauses else ""
