"""How the shells of a study really dry: a solver of its own, so that other laws can be put in and no fault is shared.

Finite volumes, eight cells a coat, and the water of the very face as an unknown of its own; second-order backward
differences with a growing step, every step solved by Newton's method. All patches stand behind one another in one long
tridiagonal system, so their shells may have any number of coats. It shares with the service the correlations from the
air to the face (`service.drying.transfer`, `air`, held against published tables elsewhere) and the words for a shape.

**How wet is too wet?** Of Dooley and Everden's bars (20.7 degC, 45 % RH, 0.6 m/s; source in test_published_shells.py)
backup coats redipped after 1 h were poor, after 2 h as good as after 24 h; nothing was tried between. In the model with
its defaults (bars of 0.2 x 0.04 m, coats of 1 mm) the newest coat is then 0.78 to 0.86 and 0.34 to 0.36 full; 0.40 is
passed after about 1.9 h, and 0.55 to 0.6, half-way between good and poor, after 1.5 h. So the limit of 0.35 is what is
known to do. `TOO_WET` lies 0.05 above it (our choice): past rounding, and far below anything found to be poor.
`CLEARLY_WET` is half-way to what was: from there on nobody could say that the coat is sound.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dgtsv

from service.drying import air as moist_air
from service.drying import transfer
from service.drying.shell import Coat, Pocket, ZoneShape
from service.drying.weather import Air, AirSeries
from tests.skill.laws import ACTIVITY, DIFFUSION, USUAL, Laws

Array = NDArray[np.float64]

CELLS = 8
FIRST_STEP_S, GROWTH = 2.0, 1.3
STEADY_STEP_S, LONGEST_STEP_S, OF_ELAPSED = 300.0, 1200.0, 0.03
"""Steps grow up to five minutes, and later to a share of the time since the start."""
SHORTEST_STEP_S = 1e-3
NEAR = 1e-6
CLOSE_ENOUGH, MOST_AT_ONCE = 1e-6, 0.1
MOST_S = 72 * 3600.0
READY, TOO_WET, CLEARLY_WET = 0.35, 0.40, 0.55


@dataclass(frozen=True)
class Patch:
    """A piece of shell that dries alike. coats: as really laid, innermost first. saturation: outermost cell first."""

    shape: ZoneShape
    laws: Laws
    transfer: float
    stirring: float
    time_s: float
    surface_k: float
    coats: tuple[Coat, ...] = ()
    saturation: Array = field(default_factory=lambda: np.zeros(0))

    @property
    def holds(self) -> Array:
        """Water that fills each cell, kg/m2."""
        return np.repeat([c.pore_water_kg_m3 * c.thickness_m / CELLS for c in reversed(self.coats)], CELLS)

    @property
    def dry_kg_m2(self) -> float:
        return sum(coat.dry_mass_kg_m2 for coat in self.coats)

    @property
    def mass_kg_m2(self) -> float:
        return self.dry_kg_m2 + float(self.saturation @ self.holds)

    @property
    def newest(self) -> float:
        return float(self.saturation[:CELLS].mean())


@dataclass(frozen=True)
class Path:
    """How a patch dried: values at `time_s` (n,), straight lines between. saturation: (n, cells)."""

    start: Patch
    time_s: Array
    surface_k: Array
    saturation: Array

    @property
    def newest(self) -> Array:
        """Mean saturation of the newest coat, (n,)."""
        out: Array = self.saturation[:, :CELLS].mean(axis=1)
        return out

    @property
    def ready_s(self) -> float:
        """When the newest coat first came to its limit; nan if it did not."""
        wet = self.newest
        under = np.flatnonzero(wet <= READY)
        if under.size == 0:
            return float("nan")
        n = max(int(under[0]), 1)
        part = (wet[n - 1] - READY) / max(wet[n - 1] - wet[n], 1e-12)
        return float(self.time_s[n - 1] + min(part, 1.0) * (self.time_s[n] - self.time_s[n - 1]))

    def at(self, time_s: float) -> Patch:
        n = int(np.clip(np.searchsorted(self.time_s, time_s), 1, self.time_s.size - 1))
        part = (time_s - self.time_s[n - 1]) / (self.time_s[n] - self.time_s[n - 1])
        between = (1.0 - part) * self.saturation[n - 1] + part * self.saturation[n]
        surface = (1.0 - part) * self.surface_k[n - 1] + part * self.surface_k[n]
        return replace(self.start, time_s=time_s, saturation=between, surface_k=float(surface))

    def then(self, more: Path) -> Path:
        """The same, and what came after its end."""
        joined = ("time_s", "surface_k", "saturation")
        return replace(self, **{n: np.concatenate([getattr(self, n), getattr(more, n)[1:]]) for n in joined})


def lay(patch: Patch, coat: Coat, soaked_kg_m2: float) -> Patch:
    """A wet coat; the water it gives to those under it fills them from outside in."""
    saturation = patch.saturation.copy()
    left = soaked_kg_m2 if patch.coats else 0.0
    for cell, holds in enumerate(patch.holds):
        taken = min(left, max(1.0 - saturation[cell], 0.0) * holds)
        saturation[cell] += taken / holds
        left -= taken
    return replace(patch, coats=(*patch.coats, coat), saturation=np.concatenate([np.ones(CELLS), saturation]))


def dry(patches: Sequence[Patch], for_s: float, air: AirSeries, until_below: float = 1.0) -> list[Path]:
    """Dry them all, each on its own clock, for so long, and then on until every newest coat is below `until_below`.

    Not beyond `MOST_S`, save where `for_s` is longer. Raises FloatingPointError if a step cannot be made.
    """
    system = _System(patches)
    start_s = np.array([patch.time_s for patch in patches])
    before = now = system.pack(patches)
    times, states = [0.0], [now]
    last_s, step_s = 0.0, FIRST_STEP_S
    while times[-1] < for_s or (times[-1] < MOST_S and system.wettest_newest(now) > until_below):
        here = air.mean(start_s + times[-1], start_s + times[-1] + step_s)
        before, now = now, system.step(now, before, step_s, step_s / last_s if last_s else 0.0, here)
        times.append(times[-1] + step_s)
        states.append(now)
        longest_s = min(max(OF_ELAPSED * times[-1], STEADY_STEP_S), LONGEST_STEP_S)
        last_s, step_s = step_s, min(step_s * GROWTH, longest_s)
    return system.paths(patches, start_s, np.array(times), np.array(states))


class _System:
    """The long system. Rows of a patch: surface temperature, saturation of the very face, then its cells inwards."""

    def __init__(self, patches: Sequence[Patch]) -> None:
        sizes = np.array([patch.saturation.size for patch in patches])
        first = np.concatenate([[0], np.cumsum(sizes + 2)[:-1]])
        self.surface, self.face, self.outer = first, first + 1, first + 2
        self.cells = np.concatenate([np.arange(n) + a for n, a in zip(sizes, self.outer, strict=True)])
        self.of = np.repeat(np.arange(len(patches)), sizes)
        self.rows = int((sizes + 2).sum())
        coats = [[c for c in reversed(p.coats) for _ in range(CELLS)] for p in patches]
        every = [coat for column in coats for coat in column]
        size_m = np.array([coat.thickness_m / CELLS for coat in every])
        pores = np.array([coat.pore_water_kg_m3 for coat in every])
        through = USUAL.diffusivity_m2_s * np.array([coat.diffusivity_multiplier for coat in every])
        joined = (self.of[1:] == self.of[:-1]).astype(float)
        resistance = 0.5 * (size_m[1:] / through[1:] + size_m[:-1] / through[:-1])
        self.between = joined * 0.5 * (pores[1:] + pores[:-1]) / resistance
        starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
        self.starts = starts
        self.half_cell = 2.0 * pores[starts] * through[starts] / size_m[starts]
        self.to_content = pores[starts] / np.array([p.coats[-1].dry_density_kg_m3 for p in patches])
        self.mass = np.zeros(self.rows)
        self.mass[self.cells] = pores * size_m
        dry = np.array([patch.dry_kg_m2 for patch in patches])
        self.mass[self.surface] = USUAL.shell_heat_j_kg_k * dry + USUAL.wax_heat_j_m2_k
        self.height_m = np.array([p.shape.height_m for p in patches])
        self.width_m = np.array([p.shape.width_m for p in patches])
        pockets = [p.shape.pocket or Pocket(0.0, 1.0) for p in patches]
        sizes_of = [(p.depth_m, p.width_m, p.round_hole) for p in pockets]
        self.pocket = tuple(np.array(column) for column in zip(*sizes_of, strict=True))
        self.transfer = np.array([p.transfer for p in patches])
        self.stirring = USUAL.pocket_stirring * np.array([p.stirring for p in patches])
        self.diffusion = _groups([p.laws.diffusion for p in patches])
        self.isotherm = _groups([p.laws.isotherm for p in patches])

    def pack(self, patches: Sequence[Patch]) -> Array:
        y = np.empty(self.rows)
        y[self.surface] = [p.surface_k for p in patches]
        y[self.face] = [p.saturation[0] for p in patches]
        y[self.cells] = np.concatenate([p.saturation for p in patches])
        return y

    def wettest_newest(self, y: Array) -> float:
        newest = self.outer[:, None] + np.arange(CELLS)
        return float(y[newest].mean(axis=1).max())

    def step(self, now: Array, before: Array, step_s: float, ratio: float, air: Air) -> Array:
        """One step of variable-step BDF2 (backward Euler where `ratio`, this step over the last, is 0).

        Where Newton's method loses its way (a sharp front of another law), two steps half as long.
        """
        w = ratio
        past = ((1.0 + w) ** 2 * now - w**2 * before) / (1.0 + 2.0 * w)
        new = self._solved(now + w * (now - before), past, step_s * (1.0 + w) / (1.0 + 2.0 * w), air)
        if new is not None:
            return new
        if step_s < SHORTEST_STEP_S:
            raise FloatingPointError("the truth could not be worked out")
        half = self.step(now, before, 0.5 * step_s, 0.0, air)
        return self.step(half, now, 0.5 * step_s, 0.0, air)

    def _solved(self, y: Array, past: Array, weight: float, air: Air) -> Array | None:
        """Where y - past = weight * rate(y), by Newton's method from y on; None if it does not get there."""
        most = np.full(self.rows, MOST_AT_ONCE)
        most[self.surface] = np.inf
        for _ in range(15):
            y[self.face] = np.clip(y[self.face], 0.0, 1.05)
            rate, lower, diagonal, upper = self._rate(y, air)
            left = self.mass * (y - past) - weight * rate
            *_, change, failed = dgtsv(-weight * lower, self.mass - weight * diagonal, -weight * upper, -left)
            if failed or not np.isfinite(change).all():
                return None
            y = y + np.clip(change, -most, most)
            if np.abs(change).max() < CLOSE_ENOUGH:
                return y
        return None

    def _rate(self, y: Array, air: Air) -> tuple[Array, Array, Array, Array]:
        """The right-hand side and its tridiagonal answer to y."""
        surface_k, face, s = y[self.surface], y[self.face], y[self.cells]
        warm = np.exp(USUAL.activation_energy_j_mol / 8.314462618 * (1.0 / 293.15 - 1.0 / surface_k))
        g, bend = self._moves(0.5 * (s[1:] + s[:-1]), self.of[1:])
        g, bend = self.between * warm[self.of[1:]] * np.array([g, bend])
        inner = g * (s[1:] - s[:-1])
        half, half_bend = self.half_cell * warm * np.array(self._moves(s[self.starts], np.arange(face.size)))
        outward = half * (s[self.starts] - face)
        flux, by_face, by_surface, heat = self._leaving(surface_k, face, s[self.starts], air)
        rate = np.empty(self.rows)
        rate[self.surface] = heat * (air.temperature_k - surface_k) - USUAL.latent_heat_j_kg * flux
        rate[self.face] = outward - flux
        gain = np.zeros_like(s)
        gain[:-1] += inner
        gain[1:] -= inner
        gain[self.starts] -= outward
        rate[self.cells] = gain
        lower, upper = np.zeros((2, self.rows - 1))
        diagonal = np.zeros(self.rows)
        diagonal[self.surface] = -heat - USUAL.latent_heat_j_kg * by_surface
        upper[self.surface] = -USUAL.latent_heat_j_kg * by_face
        lower[self.surface] = -by_surface
        diagonal[self.face] = -half - by_face
        out_by_outer = half + half_bend * (s[self.starts] - face)
        upper[self.face] = out_by_outer
        lower[self.face] = half
        inside = self.cells[:-1][self.between > 0.0]
        joined = self.between > 0.0
        towards, away = (
            (g + 0.5 * bend * (s[1:] - s[:-1]))[joined],
            (-g + 0.5 * bend * (s[1:] - s[:-1]))[joined],
        )
        upper[inside] = towards
        diagonal[inside] += away
        lower[inside] = -away
        diagonal[inside + 1] -= towards
        diagonal[self.outer] -= out_by_outer
        return rate, lower, diagonal, upper

    def _leaving(
        self, surface_k: Array, face: Array, outer: Array, air: Air
    ) -> tuple[Array, Array, Array, Array]:
        """Vapour that leaves, how it answers to the face and to the temperature, and the heat transfer."""
        film = 0.5 * (air.temperature_k + surface_k)
        h = self.transfer * transfer.convection_w_m2_k(
            air.temperature_k, surface_k, air.speed_m_s, self.height_m, self.width_m, air.pressure_pa
        )
        pocket = transfer.pocket_resistance_s_m(
            *self.pocket, air.temperature_k, air.pressure_pa, self.stirring
        )
        k = 1.0 / (1.0 / transfer.mass_transfer_m_s(h, film, air.pressure_pa) + pocket)
        full = moist_air.vapour_density_kg_m3(surface_k, 1.0)
        fuller = moist_air.vapour_density_kg_m3(surface_k + 0.01, 1.0)
        activity, slope = self._activity(face)
        flux = k * (activity * full - moist_air.vapour_density_kg_m3(air.temperature_k, air.humidity))
        k = np.where(flux < 0.0, k * np.clip((1.0 - outer) / 0.01, 0.0, 1.0), k)  # dew runs off a full face
        flux = np.where(flux < 0.0, flux * np.clip((1.0 - outer) / 0.01, 0.0, 1.0), flux)
        return (
            flux,
            k * slope * full,
            k * activity * (fuller - full) / 0.01,
            h + transfer.radiation_w_m2_k(film),
        )

    def _moves(self, saturation: Array, of: NDArray[np.intp]) -> tuple[Array, Array]:
        return _value_and_slope(DIFFUSION, self.diffusion, saturation, of)

    def _activity(self, face: Array) -> tuple[Array, Array]:
        a, slope = _value_and_slope(ACTIVITY, self.isotherm, face * self.to_content, np.arange(face.size))
        return np.minimum(a, 1.0), np.where(a < 1.0, slope * self.to_content, 0.0)

    def paths(self, patches: Sequence[Patch], start_s: Array, times: Array, states: Array) -> list[Path]:
        found = []
        for n, patch in enumerate(patches):
            own = slice(int(self.outer[n]), int(self.outer[n]) + patch.saturation.size)
            found.append(Path(patch, start_s[n] + times, states[:, self.surface[n]], states[:, own]))
        return found


def _groups(names: Sequence[str]) -> dict[str, NDArray[np.bool_]]:
    return {name: np.array([one == name for one in names]) for name in sorted(set(names))}


def _value_and_slope(
    laws: Mapping[str, Callable[[Array], Array]],
    groups: Mapping[str, NDArray[np.bool_]],
    x: Array,
    of: NDArray[np.intp],
) -> tuple[Array, Array]:
    """The law of each patch at x, and its slope by a small difference."""
    value, slope = np.empty_like(x), np.empty_like(x)
    for name, patches in groups.items():
        here = patches[of] if len(groups) > 1 else slice(None)
        value[here] = laws[name](x[here])
        slope[here] = (laws[name](x[here] + NEAR) - value[here]) / NEAR
    return value, slope
