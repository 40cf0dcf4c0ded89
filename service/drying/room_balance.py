"""Water and heat of one well-mixed room: what comes in, what leaves, and how the air answers.

    m dw/dt = n m (w_out - w) + G + K (rho_face - rho_v) - D
    C dT/dt = (n m c_p + UA) (T_out - T) + P + Q - L E

w is the humidity ratio, m the dry air in the room, rho_v = w m / V. The balance of vapour is that of ISO 13788 and of
the ASHRAE Handbook - Fundamentals (ventilation and moisture), written in w because warming does not change it. Every
value is a float, or an array of several rooms side by side. Over a step all but w and T are held, and both are then
exact; what heater and dehumidifier do to hold what they are set to is found by the end of the step. Valid for the air
of `service.drying.air`, and for steps short against the hours in which loads change.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np

from service.drying.air import (
    CP_J_KG_K,
    MOLE_MASS_RATIO,
    VAPOUR_GAS_CONSTANT_J_KG_K,
    Values,
    density_kg_m3,
    humidity_at_ratio,
    humidity_ratio,
)
from service.drying.dehumidifier import Dehumidifier
from service.drying.isotherm import Array
from service.drying.room_loads import LATENT_J_KG, Tanks

CLAUSIUS_CLAPEYRON_K = LATENT_J_KG / VAPOUR_GAS_CONSTANT_J_KG_K
ROUNDS = 6
"""The dehumidifier warms the air that it dries: so often the two are worked out in turn (more change nothing)."""
FOG_ROUNDS = 6
HOLDS_K, HOLDS_HUMIDITY = 1.0, 0.03
"""So near to what it is set to, a thermostat or humidistat is taken to hold it (our choice; theirs swing as much)."""


@dataclass(frozen=True)
class Room:
    """What a room is like. heat_j_k: of its air, and of what of walls and things takes part.

    air_kg: the dry air in it; see `dry_air_kg`. loss_w_k: through walls and roof, without what the air takes along.
    """

    volume_m3: Values
    air_kg: Values
    air_changes_1_s: Values
    loss_w_k: Values
    heat_j_k: Values


class Inside(NamedTuple):
    """The air in a room, or outside it, at one moment: K, and kg of vapour a kg of dry air."""

    temperature_k: Array
    ratio: Array


class Loads(NamedTuple):
    """What is given to the air over a step. May be negative.

    water_kg_s: of moulds, people, leaks. heat_w: of people, fans, the sun. cooling_kg_s: the part of that water which
    takes its latent heat from the room (people bring their own). answer_kg_s: how much less water it is for each unit
    of the ratio above that at the start; its little heat is left out.
    """

    water_kg_s: Values = 0.0
    heat_w: Values = 0.0
    cooling_kg_s: Values = 0.0
    answer_kg_s: Values = 0.0


@dataclass(frozen=True)
class Heater:
    """power_w: at most. set_k: what it holds; None: it is on all the time."""

    power_w: float
    set_k: float | None = None


@dataclass(frozen=True)
class Machines:
    """What runs over a step. set_humidity: above what the dehumidifier runs; None: always.

    speed_m_s: of the air at the tanks.
    """

    heater: Heater | None = None
    dehumidifier: Dehumidifier | None = None
    set_humidity: float | None = None
    tanks: Tanks | None = None
    speed_m_s: Values = 0.2


NOTHING_RUNS = Machines()


class Moved(NamedTuple):
    """What a step moved, kg and J: the water in and out closes with what the air holds, to rounding.

    blown_out_kg: that left with the air, less what came with it. condensed_kg: what ran down the walls.
    """

    given_kg: Array
    blown_out_kg: Array
    tanks_kg: Array
    dried_kg: Array
    condensed_kg: Array
    heater_j: Array


@dataclass(frozen=True)
class Stepped:
    """The air at the end of a step, and what moved."""

    inside: Inside
    moved: Moved = field(repr=False)


def dry_air_kg(volume_m3: Values, inside: Inside, pressure_pa: Values) -> Array:
    """The dry air in a room. What warming drives out of it later is left out: a few per cent."""
    dry_pa = pressure_pa * MOLE_MASS_RATIO / (MOLE_MASS_RATIO + inside.ratio)
    return volume_m3 * density_kg_m3(inside.temperature_k, dry_pa)


def step(
    room: Room,
    inside: Inside,
    outside: Inside,
    loads: Loads,
    machines: Machines,
    step_s: float,
    pressure_pa: Values,
) -> Stepped:
    """The room `step_s` later. outside: the mean over the step."""
    water = _Water(room, inside, outside, loads, machines, step_s, pressure_pa)
    heat = _Heat(room, inside, outside, loads, machines, step_s)
    end, dried = inside, Dried(np.zeros_like(inside.ratio), np.zeros_like(inside.ratio))
    for _ in range(1 if machines.dehumidifier is None else ROUNDS):
        temperature, heater_j = heat.end(dried, water.tanks_kg(dried.kg_s))
        end, dried = water.end(end, temperature)
    settled = _without_fog(room, end, pressure_pa)
    return Stepped(settled, water.moved(end.ratio - settled.ratio, dried.kg_s, heater_j))


def unknown_loads(
    room: Room,
    start: Inside,
    end: Inside,
    outside: Inside,
    loads: Loads,
    machines: Machines,
    step_s: float,
    pressure_pa: Values,
) -> Loads:
    """What must have been given besides, for the air to go from `start` to `end`: with it `step` ends there.

    Where the air is about what heater or dehumidifier hold, those are taken to have done what was missing.
    """
    water = _Water(room, start, outside, loads, machines, step_s, pressure_pa)
    dried = water.dried_towards(end)
    besides = loads.water_kg_s + (end.ratio - water.end_ratio(dried.kg_s)) / water.effect
    water = _Water(room, start, outside, loads._replace(water_kg_s=besides), machines, step_s, pressure_pa)
    heat = _Heat(room, start, outside, loads, machines, step_s)
    unheated = heat.unheated(dried, water.tanks_kg(dried.kg_s))
    heated = unheated + heat.heater_towards(unheated, end.temperature_k) * heat.effect
    return Loads(besides - loads.water_kg_s, (end.temperature_k - heated) / heat.effect)


def held_at(machines: Machines, air: Inside, pressure_pa: Values) -> Machines:
    """The same, set to what they hold where the air is about that: then what nobody changes stays as it is."""
    heater, aim = machines.heater, machines.set_humidity
    kelvin = float(np.mean(air.temperature_k))
    if heater is not None and heater.set_k is not None and abs(kelvin - heater.set_k) <= HOLDS_K:
        heater = replace(heater, set_k=kelvin)
    humidity = float(np.mean(humidity_of(air, pressure_pa)))
    if aim is not None and abs(humidity - aim) <= HOLDS_HUMIDITY:
        aim = humidity
    return replace(machines, heater=heater, set_humidity=aim)


def _without_fog(room: Room, air: Inside, pressure_pa: Values) -> Inside:
    """Air holds no more than it can: the rest runs down the walls, and warms them and it."""
    if np.all(air.ratio <= humidity_ratio(air.temperature_k, 1.0, pressure_pa)):
        return air
    warming = LATENT_J_KG * room.air_kg / room.heat_j_k
    runs_off = np.zeros_like(air.ratio)
    for _ in range(FOG_ROUNDS):
        kelvin = air.temperature_k + warming * runs_off
        most = humidity_ratio(kelvin, 1.0, pressure_pa)
        steeper = warming * most * CLAUSIUS_CLAPEYRON_K / kelvin**2
        runs_off = np.maximum(runs_off + (air.ratio - runs_off - most) / (1.0 + steeper), 0.0)
    return Inside(air.temperature_k + warming * runs_off, air.ratio - runs_off)


class Dried(NamedTuple):
    """What the dehumidifier takes out of the air, and the electricity it draws for that."""

    kg_s: Array
    electric_w: Array


class _Water:
    """m dw/dt = supply - dried - taken w, exactly."""

    def __init__(
        self,
        room: Room,
        inside: Inside,
        outside: Inside,
        loads: Loads,
        machines: Machines,
        step_s: float,
        pressure_pa: Values,
    ) -> None:
        self.room, self.inside, self.start, self.machines = room, inside, inside.ratio, machines
        self.step_s, self.pressure_pa = step_s, pressure_pa
        self.blown = room.air_changes_1_s * room.air_kg
        self.outside, self.given = outside.ratio, np.zeros_like(inside.ratio) + loads.water_kg_s
        self.tank, self.face = np.zeros_like(inside.ratio), np.zeros_like(inside.ratio)
        if machines.tanks is not None:
            self.tank, self.face = machines.tanks.conductance_m3_s(
                inside.temperature_k, machines.speed_m_s, pressure_pa
            )
        self.answer = loads.answer_kg_s
        self.supply = (
            self.blown * outside.ratio + self.given + self.answer * self.start + self.tank * self.face
        )
        self.taken = self.blown + self.answer + self.tank * room.air_kg / room.volume_m3
        self.x = self.taken * step_s / room.air_kg
        self.effect = step_s / room.air_kg * phi_1(self.x)
        """On the ratio at the end, of a kilogram a second more."""

    def _ratio(self, dried: Array, curve: Array) -> Array:
        drive = self.supply - dried - self.taken * self.start
        return self.start + drive * (self.step_s / self.room.air_kg) * curve

    def end_ratio(self, dried: Array) -> Array:
        return self._ratio(dried, phi_1(self.x))

    def _mean_ratio(self, dried: Array) -> Array:
        return self._ratio(dried, phi_2(self.x))

    def tanks_kg(self, dried: Array) -> Array:
        mean = self._mean_ratio(dried)
        return self.tank * self.step_s * (self.face - mean * self.room.air_kg / self.room.volume_m3)

    def end(self, before: Inside, temperature_k: Array) -> tuple[Inside, Dried]:
        """The air at the end; `before`: as it was last thought of."""
        dried = self._dried(before, temperature_k)
        return Inside(temperature_k, self.end_ratio(dried.kg_s)), dried

    def _dried(self, before: Inside, temperature_k: Array) -> Dried:
        """As much as it can in the mean air of the step; where it holds a humidity, no more than that asks."""
        none, machine = np.zeros_like(self.start), self.machines.dehumidifier
        if machine is None:
            return Dried(none, none)
        most = asked = self._most(machine, Inside(temperature_k, before.ratio))
        if self.machines.set_humidity is not None:
            aim = humidity_ratio(temperature_k, self.machines.set_humidity, self.pressure_pa)
            asked = np.clip((self.end_ratio(none) - aim) / self.effect, 0.0, most)
        return Dried(asked, machine.draws_w(asked, most))

    def _most(self, machine: Dehumidifier, end: Inside) -> Array:
        temperature = 0.5 * (self.inside.temperature_k + end.temperature_k)
        ratio = 0.5 * (self.start + end.ratio)
        return machine.takes_kg_s(temperature, humidity_at_ratio(temperature, ratio, self.pressure_pa))

    def dried_towards(self, end: Inside) -> Dried:
        """What it took if the air went there: all it could, nothing, or, about what it is set to, what is missing."""
        none, machine, aim = np.zeros_like(self.start), self.machines.dehumidifier, self.machines.set_humidity
        if machine is None:
            return Dried(none, none)
        most = dried = self._most(machine, end)
        if aim is not None:
            missing = np.clip((self.end_ratio(none) - end.ratio) / self.effect, 0.0, most)
            above = humidity_at_ratio(end.temperature_k, end.ratio, self.pressure_pa) - aim
            dried = np.where(above > HOLDS_HUMIDITY, most, np.where(above < -HOLDS_HUMIDITY, 0.0, missing))
        return Dried(dried, machine.draws_w(dried, most))

    def moved(self, runs_off: Array, dried: Array, heater_j: Array) -> Moved:
        mean = self._mean_ratio(dried)
        return Moved(
            self.step_s * (self.given - self.answer * (mean - self.start)),
            self.blown * self.step_s * (mean - self.outside),
            self.tanks_kg(dried),
            dried * self.step_s,
            self.room.air_kg * runs_off,
            heater_j,
        )


class _Heat:
    """C dT/dt = supply - given off T, exactly; a thermostat gives what is asked by the end of the step."""

    def __init__(
        self, room: Room, inside: Inside, outside: Inside, loads: Loads, machines: Machines, step_s: float
    ) -> None:
        self.room, self.start, self.machines, self.step_s = room, inside.temperature_k, machines, step_s
        self.given_off = room.air_changes_1_s * room.air_kg * CP_J_KG_K + room.loss_w_k
        self.steady = self.given_off * outside.temperature_k + loads.heat_w - LATENT_J_KG * loads.cooling_kg_s
        self.effect = step_s / room.heat_j_k * phi_1(self.given_off * step_s / room.heat_j_k)

    def unheated(self, dried: Dried, tanks_kg: Array) -> Array:
        """The temperature at the end, but for the heater.

        Water that the dehumidifier takes gives its latent heat back to the room, with the machine's electricity.
        """
        machine_w = dried.electric_w + LATENT_J_KG * dried.kg_s
        supply = self.steady + machine_w - LATENT_J_KG * tanks_kg / self.step_s
        return self.start + (supply - self.given_off * self.start) * self.effect

    def heater_towards(self, unheated: Array, end_k: Array) -> Array:
        """Its power if the air went there: all, none, or, about what it is set to, what is missing."""
        heater = self.machines.heater
        if heater is None:
            return np.zeros_like(unheated)
        if heater.set_k is None:
            return np.full_like(unheated, heater.power_w)
        missing = np.clip((end_k - unheated) / self.effect, 0.0, heater.power_w)
        above = end_k - heater.set_k
        return np.where(above > HOLDS_K, 0.0, np.where(above < -HOLDS_K, heater.power_w, missing))

    def end(self, dried: Dried, tanks_kg: Array) -> tuple[Array, Array]:
        """The temperature at the end, and the heat the heater gave."""
        unheated = self.unheated(dried, tanks_kg)
        heater = self.machines.heater
        if heater is None:
            return unheated, np.zeros_like(unheated)
        power = np.full_like(unheated, heater.power_w)
        if heater.set_k is not None:
            power = np.clip((heater.set_k - unheated) / self.effect, 0.0, heater.power_w)
        return unheated + power * self.effect, power * self.step_s


def humidity_of(inside: Inside, pressure_pa: Values) -> Array:
    """Its relative humidity, 0..1."""
    return humidity_at_ratio(inside.temperature_k, inside.ratio, pressure_pa)


def inside_of(temperature_k: Values, humidity: Values, pressure_pa: Values) -> Inside:
    """From what a hygrometer shows."""
    ratio = humidity_ratio(temperature_k, humidity, pressure_pa)
    return Inside(np.zeros_like(ratio) + temperature_k, ratio)


def phi_1(x: Values) -> Array:
    """(1 - exp(-x)) / x, and 1 at 0."""
    x = np.asarray(x, np.float64)
    small = np.abs(x) < 1e-6
    return np.where(small, 1.0 - 0.5 * x, -np.expm1(-x) / np.where(small, 1.0, x))


def phi_2(x: Values) -> Array:
    """(x - 1 + exp(-x)) / x2, and 1/2 at 0."""
    x = np.asarray(x, np.float64)
    small = np.abs(x) < 1e-3
    held = np.where(small, 1.0, x)
    return np.where(small, 0.5 - x / 6.0 + x * x / 24.0, (held + np.expm1(-held)) / (held * held))
