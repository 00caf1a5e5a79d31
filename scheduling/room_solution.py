"""Exact solutions over a step: a room with its walls, and rooms open to each other."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scheduling.room_air import Floats
from scheduling.room_state import Conditions, humidity_slope

BUFFER_LAG_H = 3.0  # Assumed: bare walls and furnishings answer within a few hours


_Orders = tuple[Floats, Floats, Floats]


@dataclass(frozen=True, slots=True)
class Solution:
    """``x' = A x + u`` for x = (ratio, walls), u = (drive, 0), solved over a step."""

    a: Floats
    b: Floats
    c: Floats
    d: float
    drive: Floats
    step_h: float
    # Half the sum of the roots, half their difference, and exp at each (see _orders).
    middle: Floats
    apart: Floats
    upper: _Orders
    lower: _Orders

    @classmethod
    def of(
        cls, conditions: Conditions, temperature_c: Floats, *, walls_only: bool = False
    ) -> "Solution":
        """At each step's mean temperature.

        ``walls_only`` leaves out the air changes and what is given off.
        """
        slope = humidity_slope(conditions, temperature_c)
        exchange = conditions.buffer_kg / BUFFER_LAG_H / conditions.air_kg
        changes, drive = changes_and_drive(conditions)
        if walls_only:
            changes, drive = np.zeros_like(changes), np.zeros_like(drive)
        a = -(changes + exchange * slope)
        b = np.full_like(slope, exchange)
        c = slope / BUFFER_LAG_H
        d = -1 / BUFFER_LAG_H
        middle = (a + d) / 2
        apart = np.sqrt(((a - d) / 2) ** 2 + b * c)
        apart = np.maximum(apart, 1e-4)  # equal roots: a derivative by differences
        return cls(
            a=a,
            b=b,
            c=c,
            d=d,
            drive=drive,
            step_h=conditions.step_h,
            middle=middle,
            apart=apart,
            upper=_orders(middle + apart, conditions.step_h),
            lower=_orders(middle - apart, conditions.step_h),
        )

    def matrix(self, order: int) -> tuple[Floats, Floats, Floats, Floats]:
        """exp(A t) for order 0, its integral over the step for 1, that one's for 2."""
        upper, lower = self.upper[order], self.lower[order]
        mean, slope = (upper + lower) / 2, (upper - lower) / (2 * self.apart)
        return (
            mean + slope * (self.a - self.middle),
            slope * self.b,
            slope * self.c,
            mean + slope * (self.d - self.middle),
        )

    def mean_ratio(self, ratio: Floats, walls: Floats) -> Floats:
        """The ratio's mean over each step that begins at these states."""
        own, from_walls, _, _ = self.matrix(1)
        driven = self.matrix(2)[0]
        total = own * ratio + from_walls * walls + driven * self.drive
        return total / self.step_h


def changes_and_drive(conditions: Conditions) -> tuple[Floats, Floats]:
    """Air changes an hour, and what they and all that is given off bring in an hour."""
    drawn = conditions.changes_per_h * conditions.outdoor_ratio
    worked_kg_h = conditions.water_kg / conditions.step_h
    given = (worked_kg_h + conditions.occupants_kg_h) / conditions.air_kg
    changes = conditions.changes_per_h
    if conditions.beside is not None:
        changes = changes + conditions.beside.changes_per_h
        drawn = drawn + conditions.beside.changes_per_h * conditions.beside.ratio
    return changes, drawn + given


@dataclass(frozen=True, slots=True)
class Exchange:
    """Rooms that exchange air, over half a step: without walls a linear system.

    ``m W' = -(diag(m n) + L) W + m u`` with the Laplacian L of the doors is symmetric
    in the rooms' air m, so that its modes solve it exactly and no water is lost.
    ``own`` and the two integrals hold a matrix for each kind of step.
    """

    kind: list[int]
    own: Floats
    once: Floats
    twice: Floats
    drive: Floats
    between_kg_h: Floats
    step_h: float

    @classmethod
    def of(cls, rooms: Sequence[Conditions], doors_m3_h: Floats) -> "Exchange":
        """Doors as ``room_doors`` has them."""
        parts = [changes_and_drive(room) for room in rooms]
        changes = np.stack([part[0] for part in parts], axis=1)
        drive = np.stack([part[1] for part in parts], axis=1)
        air_kg = np.array([room.air_kg for room in rooms])
        between = between_kg_h(rooms, doors_m3_h)
        losing = np.diag(between.sum(axis=1)) - between
        kinds, kind = np.unique(changes, axis=0, return_inverse=True)
        root = np.sqrt(air_kg)
        made: list[list[Floats]] = [[], [], []]
        step_h = rooms[0].step_h
        for row in kinds:
            rates, modes = np.linalg.eigh(np.diag(row) + losing / np.outer(root, root))
            orders = _orders(-np.maximum(rates, 0.0), step_h / 2)
            for order, matrices in zip(orders, made, strict=True):
                part = modes * order @ modes.T
                matrices.append(part * root[None, :] / root[:, None])
        own, once, twice = (np.array(matrices) for matrices in made)
        return cls(
            kind=[int(k) for k in np.ravel(kind)],
            own=own,
            once=once,
            twice=twice,
            drive=drive,
            between_kg_h=between,
            step_h=step_h,
        )

    def pushed(self) -> Floats:
        """What the drive adds in half of each step, steps x rooms."""
        return self._applied(self.once, self.drive)

    def mean(self, first: Floats, second: Floats) -> Floats:
        """The ratios' means over each step whose halves begin at these states."""
        driven = self._applied(self.twice, self.drive)
        total: Floats = self._applied(self.once, first + second) + 2 * driven
        return total / self.step_h

    def through_doors_kg(self, mean: Floats) -> Floats:
        """Water that came into each room from the others in each step."""
        leaving = mean * self.between_kg_h.sum(axis=1)
        came: Floats = mean @ self.between_kg_h - leaving
        return came * self.step_h

    def _applied(self, matrices: Floats, states: Floats) -> Floats:
        """Each step's matrix times its row."""
        applied = np.empty_like(states)
        kind = np.array(self.kind)
        for k, matrix in enumerate(matrices):
            applied[kind == k] = states[kind == k] @ matrix.T
        return applied


def between_kg_h(rooms: Sequence[Conditions], doors_m3_h: Floats) -> Floats:
    """Dry air that goes each way between rooms."""
    densities = np.array([room.density for room in rooms])
    mean: Floats = (densities[:, None] + densities[None, :]) / 2
    return doors_m3_h * mean


def _orders(rate: Floats, t: float) -> _Orders:
    """Exp(rate t), the same integrated from 0 to t, and that integrated once more."""
    x = rate * t
    less_one = np.expm1(x)
    small = np.abs(x) < 1e-3  # series where the difference would lose digits
    safe = np.where(small, 1.0, x)
    once = np.where(small, 1 + x / 2 + x**2 / 6, less_one / safe)
    twice = np.where(small, 0.5 + x / 6 + x**2 / 24, (less_one - x) / safe**2)
    return less_one + 1, t * once, t**2 * twice
