"""How a number says that it is below zero: by its own bits, or by a byte that stands apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.capture import Load, Quantity
from drivers.learn.fitting import Fit, fit
from drivers.learn.numerals import Number, SignPlace

_FEWEST = 2


def settle_sign(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Find the sign of the chosen number; where it has never been below zero, take the customary one."""
    number = one.number
    if number.encoding in ("float", "ascii") or one.zero_kind in ("half",):
        return one
    plain = replace(number, signed="", sign=None)
    if number.encoding in ("integer", "hex"):
        inner = [
            fit(one.kind, replace(plain, signed=signed), loads, quantity)
            for signed in (
                ("twos-complement", "sign-bit", "")
                if number.encoding == "integer"
                else ("twos-complement", "")
            )
        ]
        fits = [each for each in inner if each is not None]
        best = max(
            fits,
            key=lambda each: (
                round(each.inside * len(each.kind.frames)) + (each.number.signed == one.number.signed) * 0.5
            ),
            default=one,
        )
        rows = len(one.kind.frames)
        gained = best.inside - min(each.inside for each in fits) if fits else 0.0
        if fits and gained * rows >= _FEWEST:
            twos = next((each for each in fits if each.number.signed == "twos-complement"), best)
            return twos if twos.inside >= best.inside - 1e-9 else best
    apart = _sign_apart(one, plain, loads, quantity)
    if apart is not None:
        return apart
    if number.encoding == "integer" and number.signed == "" and one.zero_kind != "half":
        usual = fit(one.kind, replace(plain, signed="twos-complement"), loads, quantity)
        if usual is not None and usual.inside >= one.inside - 1e-9:
            return usual
    return one


def has_been_negative(one: Fit) -> bool:
    """Say whether the chosen number has ever been below zero."""
    values = one.number.values(one.kind.frames)
    with np.errstate(invalid="ignore"):
        return int((values < one.zero - 0.5 * max(one.grid, 1e-9)).sum()) >= _FEWEST


def may_be_sign(one: Fit) -> bool:
    """Say whether a byte beside a number without sign is another one near zero, and only there."""
    number, frames = one.number, one.kind.frames
    if number.encoding in ("float", "ascii") or number.sign is not None or one.zero_kind == "half":
        return False
    if one.scale is None or (number.signed and has_been_negative(one)):
        return False
    values = np.abs(one.loads_of(number.values(frames)))
    near = values <= 0.12 * one.span + 4.0 * one.noise_units
    if near.all():
        return False
    for place in (number.offset - 1, number.end):
        if not 0 <= place < one.kind.length:
            continue
        column = frames[:, place]
        usual = int(np.bincount(column[~near], minlength=256).argmax())
        tally = np.bincount(column[column != usual], minlength=256)
        other = column == int(tally.argmax())
        often = int(other.sum())
        if often < 4 or often < 0.6 * tally.sum() or (column[~near] == usual).mean() < 0.95:
            continue
        if (other & near & (values > 0.5 * one.step)).sum() >= 0.8 * often:
            return True
    return False


def is_sign_weak(one: Fit, loads: Sequence[Load]) -> bool:
    """Say whether a sign that was found may be something else: no load was below zero to show it."""
    sign, frames = one.number.sign, one.kind.frames
    if sign is None or min(load.value for load in loads) < 0:
        return False
    minus = sign.is_negative(frames)
    size = np.abs(one.loads_of(one.number.values(frames)))
    with np.errstate(invalid="ignore"):
        far = minus & (size > 0.12 * one.span + 4.0 * one.noise_units)
    rest = frames[:, sign.offset] & ~np.uint8(sign.mask)
    varied = sign.offset not in one.number.covers and np.bincount(rest).max() < 0.9 * rest.size
    return bool(far.sum() >= 4 or varied)


def _sign_apart(one: Fit, plain: Number, loads: Sequence[Load], quantity: Quantity) -> Fit | None:
    """Look for a byte or a bit that is set when, and only when, a number near zero is below it."""
    frames, kind = one.kind.frames, one.kind
    values = plain.values(frames)
    span = float(np.ptp(one.levels)) or 1.0
    most = max(load.value for load in loads)
    rest_rows = [kind.settled[at] for at, load in enumerate(loads) if load.value > 0.02 * most]
    sure_plus = np.concatenate(rest_rows) if rest_rows else np.array([], dtype=np.int64)
    below = [kind.settled[at] for at, load in enumerate(loads) if load.value < 0]
    sure_minus = np.concatenate(below) if below else np.array([], dtype=np.int64)
    best: tuple[float, SignPlace] | None = None
    for place in range(kind.length):
        if place in plain.covers and not plain.mask:
            continue
        for sign in _signs_at(frames, place, sure_plus):
            minus = sign.is_negative(frames)
            score = _judged(values, minus, sure_plus, sure_minus, span, one)
            beside = place in (plain.offset - 1, plain.end) or place in plain.covers
            score = score if beside else 0.6 * score - 5.0
            score += 0.3 * (sign.mask == 0xFF)
            if score > 0 and (best is None or score > best[0]):
                best = score, sign
    if best is None:
        return None
    return fit(kind, replace(plain, sign=best[1]), loads, quantity)


def _signs_at(frames: np.ndarray, place: int, sure_plus: np.ndarray) -> list[SignPlace]:
    column = frames[:, place]
    tally = np.bincount(column, minlength=256)
    often = [int(code) for code in np.argsort(-tally)[:4] if tally[code] >= max(3, 0.004 * column.size)]
    if len(often) < 2:
        return []
    found = []
    if len(often) <= 3 and sure_plus.size:
        plus = int(np.bincount(column[sure_plus], minlength=256).argmax())
        found += [SignPlace(place, 0xFF, (code,), (plus,)) for code in often if code != plus]
    for bit in range(8):
        mask = 1 << bit
        bits = (column & mask) > 0
        if bits.sum() >= 3 and bits.mean() < 0.995 and sure_plus.size:
            plus = int((column[sure_plus] & mask > 0).mean() > 0.5)
            found.append(SignPlace(place, mask, (1 - plus,)))
    return found


def _judged(
    values: np.ndarray,
    minus: np.ndarray,
    sure_plus: np.ndarray,
    sure_minus: np.ndarray,
    span: float,
    one: Fit,
) -> float:
    """Say how well a sign explains the numbers; 0 or less where it does not."""
    if sure_plus.size and minus[sure_plus].mean() > 0.03:
        return -1.0
    if sure_minus.size:
        return 50.0 * float(minus[sure_minus].mean() > 0.9) - 1.0
    known = np.isfinite(values)
    size = np.abs(values)
    near = known & (size <= 0.12 * span + 4.0 * one.noise)
    if minus[known].sum() < 3 or minus[known & ~near].sum() > 0.3 * minus[known].sum() + 1:
        return -1.0
    nonzero = near & (size >= 0.5)
    if minus[nonzero].sum() < 3 or minus[nonzero].sum() < 0.35 * minus[near].sum():
        return -1.0
    steps = np.minimum(size[nonzero], 1e6).astype(np.int64)
    signs = minus[nonzero]
    both = 0
    for step in np.unique(steps):
        here = signs[steps == step]
        both += int(min(here.sum(), here.size - here.sum()))
    changes = int((np.diff(minus[near].astype(np.int8)) != 0).sum())
    both = min(both, changes)
    return float(both) - 1.5 if both >= _FEWEST else -1.0
