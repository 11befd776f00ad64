"""Speed against named peers, timed in the same run: `.venv/bin/python benchmarks/run.py`.

Each row is Stillroom, a peer and the ratio. Peers are plain Python loops around
`scipy.optimize.brentq` or `scipy.integrate.solve_ivp` over the same equations, on a subset, scaled
to the same number of samples.
"""

from __future__ import annotations

import math
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.sparse import csc_matrix, diags, identity, kron

import stillroom as sr
from stillroom.physics import conduction, kinetics
from stillroom.physics.brine import debye_huckel_slope
from stillroom.product import properties

ROOT = Path(__file__).parents[1]
SAMPLES, LOOPED = 100_000, 300
JARS, JARS_LOOPED, GRID, HEATED_S = 1000, 4, (30, 40), 7200.0
MEDIUM_S, MEDIUM_C = np.array([0.0, 900, 2700, 3300, 7200]), np.array([60.0, 95, 95, 30, 30])
TRAJECTORIES, TRAJECTORIES_LOOPED, CHUNK = 100_000, 6, 50
HOUR = np.arange(60 * 24 + 1.0)
WANTED_LOG10 = 0.01
MW = 0.01801527


def mixtures(n: int) -> sr.Mixture:
    """Return jams, chutneys and brines at random: seven solutes, four acids."""
    rng = np.random.default_rng(7)
    u = rng.uniform
    return sr.Mixture.of(
        {
            "water": u(300, 900, n),
            "sucrose": u(50, 600, n),
            "glucose": u(10, 150, n),
            "fructose": u(10, 150, n),
            "NaCl": u(0.5, 40, n),
            "K": u(0.5, 2, n),
            "citric": u(1, 15, n),
            "malic": u(1, 10, n),
            "acetic": u(1, 15, n),
            "fibre": u(2, 15, n),
        }
    )


def clock(call: Callable[[], object], repeat: int = 3) -> float:
    """Return the shortest of a few runs, seconds."""
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


# --- the peer: the same equations in plain Python floats, a brentq for each sample -------------


def loop_ph(m: sr.Mixture) -> list[float]:
    solution = properties.solution(m)
    names = [a.name for a in solution.acids]
    totals = [np.asarray(c) for c in solution.totals_mol_per_kg]
    pkas = [[float(pk) for pk in acid.pka(25.0)] for acid in solution.acids]
    slope = 3 / math.log(10) * float(debye_huckel_slope(25.0))
    pkw = 13.995

    def balance(ph: float, i: int, strength: float) -> tuple[float, float]:
        root = math.sqrt(min(strength, 1.0))
        shift = slope * (root / (1 + root) - 0.3 * min(strength, 1.0))
        gamma = 10**-shift
        h, oh = 10**-ph / gamma, 10 ** (ph - pkw) / gamma
        charge, squares = strong[i] + h - oh, h + oh
        for n in range(len(names)):
            weights = [1.0]
            for j, pk in enumerate(pkas[n]):
                salting = 0.1 * min(strength, 6.0) if j == 0 else 0.0
                mixed = pk - (1 + 2 * j) * shift - salting
                weights.append(weights[-1] * 10 ** (ph - mixed))
            total = sum(weights)
            for j, w in enumerate(weights):
                charge -= j * totals[n][i] * w / total
                squares += j * j * totals[n][i] * w / total
        return charge, background[i] + squares / 2

    strong = np.asarray(solution.strong_charge_mol_per_kg)
    background = np.asarray(solution.background_mol_per_kg)

    def settled(ph: float, i: int) -> float:
        strength = float(background[i])
        for _ in range(4):
            charge, strength = balance(ph, i, strength)
        return charge

    return [brentq(settled, -1, 14, args=(i,), xtol=1e-9) for i in range(m.shape[0])]


def loop_water_activity(m: sr.Mixture, at_ph: np.ndarray) -> list[float]:
    d = properties.dissolved(m, at_ph=at_ph)
    curves = [(np.asarray(n).tolist(), scalar_curve(name)) for name, n in d.solutes_mol.items()]
    polymers = [(np.asarray(s).tolist(), scalar_isotherm(p)) for p, s in d.polymers_kg.items()]
    ions = {ion: np.broadcast_to(n, m.shape).tolist() for ion, n in d.ions_mol.items()}
    water = np.asarray(d.water_kg).tolist()
    slope = float(debye_huckel_slope(25.0))
    pairs = [
        (p.cation, p.anion, {k: float(v) for k, v in p.at(25.0).items()})
        for p in properties.ion_pairs()
        if p.cation in ions and p.anion in ions
    ]
    alike = [
        (*pair, values["theta"][0], values["psi"][0])
        for pair, values in properties.like_charges().items()
        if set(pair) <= set(ions)
    ]
    charge = properties.CHARGES

    def x_slope(x: float) -> float:
        power = 0.0120 * x**0.528
        u = 4.581 * x**-0.7237 * math.exp(-power)
        return x * (4 + u * (1 + 0.7237 + 0.528 * power)) / (4 + u) ** 2

    def brine(molality: float, share: dict[str, float]) -> float:
        c = {ion: y * molality for ion, y in share.items()}
        strength = 0.5 * sum(charge[ion] ** 2 * x for ion, x in c.items())
        weights = [(c[cation] * c[anion], v["cap"]) for cation, anion, v in pairs]
        cap = sum(w * top for w, top in weights) / sum(w for w, _ in weights)
        shrink = min(1.0, cap / strength)
        c = {ion: x * shrink for ion, x in c.items()}
        strength *= shrink
        root = math.sqrt(strength)
        Z = sum(abs(charge[ion]) * x for ion, x in c.items())
        e1, e2 = math.exp(-2 * root), math.exp(-12 * root)
        bracket = -slope * strength * root / (1 + 1.2 * root)
        for cation, anion, v in pairs:
            B = v["beta0"] + v["beta1"] * e1 + v.get("beta2", 0.0) * e2
            C = v["Cphi"] / (2 * math.sqrt(abs(charge[cation] * charge[anion])))
            bracket += c[cation] * c[anion] * (B + Z * C)
        x = 6 * slope * root
        mixing = (x_slope(2 * x) - x_slope(x) / 2 - x_slope(4 * x) / 2) / (4 * strength)
        for one_ion, other, theta, psi in alike:
            uneven = mixing if charge[one_ion] != charge[other] else 0.0
            bracket += c[one_ion] * c[other] * (theta + uneven + psi * c["Cl"])
        return math.exp(-MW * (1 + 2 * bracket / sum(c.values())) * molality)

    def one(i: int) -> float:
        total = sum(n[i] for n in ions.values())
        share = {ion: n[i] / total for ion, n in ions.items()}

        def surplus(log_molality: float) -> float:
            molality = math.exp(log_molality)
            a_w = min(max(brine(molality, share), 1e-4), 1 - 1e-13)
            needed = total / molality
            for n, curve in curves:
                needed += n[i] / curve(a_w)
            for s, curve in polymers:
                needed += s[i] * curve(a_w)
            return math.log(needed / water[i])

        return brine(math.exp(brentq(surplus, -20, 6, xtol=1e-9)), share)

    return [one(i) for i in range(m.shape[0])]


def scalar_curve(solute: str) -> Callable[[float], float]:
    """Return the molality curve of a solute in plain floats."""
    known = properties.molality_curve(solute).keywords
    if "K" in known:
        K = known["K"]

        def norrish(a_w: float) -> float:
            y = -math.log(a_w)
            x = -math.expm1(-y)
            for _ in range(5):
                x -= (K * x * x - math.log1p(-x) - y) / (2 * K * x + 1 / (1 - x))
                x = min(max(x, 0.0), 1 - 1e-12)
            return x / (1 - x) / MW

        return norrish
    sites, affinity = int(known["sites"]), known["affinity"]

    def hydration(a_w: float) -> float:
        x, shells, bound = affinity * a_w, 1.0, 0.0
        for i in range(sites, 0, -1):
            bound, shells = bound * x + i, shells * x + 1
        return 1 / MW / (a_w / (1 - a_w) + bound * x / shells)

    return hydration


def scalar_isotherm(polymer: str) -> Callable[[float], float]:
    """Return the moisture curve of a polymer in plain floats."""
    g = properties.moisture_curve(polymer).keywords

    def gab(a_w: float) -> float:
        ka = g["k"] * min(a_w, 0.97)
        return g["Xm_kg_per_kg"] * g["C"] * ka / ((1 - ka) * (1 - ka + g["C"] * ka))

    return gab


# --- the peer: the same cells of one jar, a stiff solver with the sparse Jacobian ---------------


def jars(n: int) -> conduction.Pack:
    """Return jars of about 370 ml that differ in size, film and filling."""
    scatter = np.random.default_rng(7).normal
    return conduction.Pack(
        radius_m=0.0355 * scatter(1, 0.02, n),
        height_m=0.09 * scatter(1, 0.02, n),
        conductivity_W_per_m_K=0.55 * scatter(1, 0.03, n),
        heat_capacity_J_per_m3_K=3.9e6 * scatter(1, 0.02, n),
        side_W_per_m2_K=259 * scatter(1, 0.1, n),
        bottom_W_per_m2_K=259 * scatter(1, 0.1, n),
        top_W_per_m2_K=20.0 * np.ones(n),
    )


def cell_equations(pack: conduction.Pack, i: int) -> tuple[csc_matrix, np.ndarray]:
    """Return (matrix, gain from the medium) of dT/dt for one jar, 1/s."""
    k, held = pack.conductivity_W_per_m_K[i], pack.heat_capacity_J_per_m3_K[i]
    (nr, nz), R, H = GRID, pack.radius_m[i], pack.height_m[i]
    dr, dz = R / nr, H / nz
    edge = np.arange(nr + 1) * dr
    ring = (edge[1:] ** 2 - edge[:-1] ** 2) / 2

    def film(half: float, U: float) -> float:
        return 1 / (half / k + 1 / U)

    def direction(inner: np.ndarray, low: float, high: float, cells: np.ndarray):
        out = np.zeros(len(cells))
        out[1:] -= inner
        out[:-1] -= inner
        gain = np.zeros(len(cells))
        gain[0], gain[-1] = low, high
        matrix = diags([inner / cells[1:], (out - gain) / cells, inner / cells[:-1]], [-1, 0, 1])
        return matrix, gain / cells

    side = edge[-1] * film(dr / 2, pack.side_W_per_m2_K[i])
    ends = [film(dz / 2, U[i]) for U in (pack.bottom_W_per_m2_K, pack.top_W_per_m2_K)]
    across, from_side = direction(edge[1:-1] * k / dr, 0.0, side, held * ring)
    along, from_ends = direction(np.full(nz - 1, k / dz), *ends, np.full(nz, held * dz))
    matrix = kron(across, identity(nz)) + kron(identity(nr), along)
    return csc_matrix(matrix), np.add.outer(from_side, from_ends).ravel()


def jar_by_solver(pack: conduction.Pack, i: int, rtol: float) -> np.ndarray:
    """Return the temperature of the middle of one jar every 10 s."""
    matrix, gain = cell_equations(pack, i)
    solved = solve_ivp(
        lambda t, T: matrix @ T + gain * np.interp(t, MEDIUM_S, MEDIUM_C),
        (0, HEATED_S),
        np.full(matrix.shape[0], 60.0),
        method="BDF",
        jac=matrix,
        t_eval=np.arange(0, HEATED_S + 1, 10.0),
        rtol=rtol,
        atol=100 * rtol,
        max_step=600,
    )
    field = solved.y.reshape(*GRID, -1)
    line = (9 * field[0] - field[1]) / 8
    return (line[GRID[1] // 2 - 1] + line[GRID[1] // 2]) / 2


def jars_against_solver() -> tuple[float, float, float, float]:
    """Return (our seconds, the solver's, our error, its error), the errors in °C against a tight
    run of the solver: its loosest tolerance that is no worse than ours is timed."""
    pack = jars(JARS)
    ours: dict[str, conduction.Heated] = {}

    def all_jars() -> None:
        ours["run"] = conduction.heat_pack(pack, 60.0, MEDIUM_S, MEDIUM_C, cells=GRID)

    seconds = clock(all_jars, 1)
    exact = [jar_by_solver(pack, i, 1e-10) for i in range(JARS_LOOPED)]
    error = max(float(np.abs(ours["run"].axis_C[i, 0] - x).max()) for i, x in enumerate(exact))
    for rtol in 10.0 ** -np.arange(2, 10):
        start = time.perf_counter()
        found = [jar_by_solver(pack, i, rtol) for i in range(JARS_LOOPED)]
        peer = (time.perf_counter() - start) * JARS / JARS_LOOPED
        its = max(float(np.abs(a - b).max()) for a, b in zip(found, exact, strict=True))
        if its <= error:
            break
    return seconds, peer, error, its


# --- the peer: the differential equations of one growth trajectory, a solver for each ----------


@dataclass(frozen=True)
class Growing:
    """Organisms that differ in rate, cardinal temperatures, lag, start and maximum."""

    best_rate_per_h: np.ndarray
    cardinals_C: tuple[np.ndarray, np.ndarray, np.ndarray]
    h0: np.ndarray
    start: np.ndarray
    top: np.ndarray


def growing(n: int) -> tuple[Growing, np.ndarray]:
    """Return organisms, and a cold room of 60 days, one temperature an hour, that all share."""
    rng = np.random.default_rng(7)
    room = 8 + 3 * np.sin(2 * np.pi * HOUR / 24) + rng.normal(0, 0.5, HOUR.size)
    lowest, best = rng.normal(-2, 1, n), rng.normal(36, 1, n)
    cardinals = lowest, best, best + rng.uniform(6, 10, n)
    u = rng.uniform
    return Growing(u(0.3, 1.2, n), cardinals, u(0.5, 5, n), u(0, 3, n), u(7, 9.5, n)), room


def trajectories(g: Growing, room: np.ndarray, some: slice) -> np.ndarray:
    """Return the log10 count of some organisms at every hour."""
    cardinals = [c[some, None] for c in g.cardinals_C]
    best = g.best_rate_per_h[some, None]
    rate, middle = (
        best * kinetics.cardinal_factor(T, *cardinals) for T in (room, (room[1:] + room[:-1]) / 2)
    )
    potential = kinetics.growth_potential(HOUR, rate, middle)
    start, top, h0 = (x[some, None] for x in (g.start, g.top, g.h0))
    return kinetics.log10_count(potential, start, top, h0)


def trajectory_by_solver(g: Growing, room: list[float], i: int, rtol: float) -> np.ndarray:
    """Return the same of one organism by LSODA, of the solvers tried the fastest here."""
    best_rate, h0, top = (float(x[i]) for x in (g.best_rate_per_h, g.h0, g.top))
    low, best, high = (float(c[i]) for c in g.cardinals_C)
    ln_top, last = top * math.log(10), len(room) - 2

    def slope(t: float, y: np.ndarray) -> tuple[float, float]:
        n = min(int(t), last)
        T = room[n] + (t - n) * (room[n + 1] - room[n])
        if not low < T < high:
            return 0.0, 0.0
        below = (best - low) * ((best - low) * (T - best) - (best - high) * (best + low - 2 * T))
        mu = best_rate * (T - high) * (T - low) ** 2 / below
        ln_q, ln_n = y
        lag = 1 / (1 + math.exp(min(-ln_q, 50.0)))
        return mu, mu * lag * (1 - math.exp(min(ln_n - ln_top, 50.0)))

    begin = [-math.log(math.expm1(h0)), float(g.start[i]) * math.log(10)]
    how = {"method": "LSODA", "t_eval": HOUR, "rtol": rtol, "atol": rtol}
    return solve_ivp(slope, (0, HOUR[-1]), begin, **how).y[1] / math.log(10)


def growth_against_solver() -> tuple[float, float, float, float]:
    """Return (our seconds, the solver's, our error, its error), the errors in log10 against a
    tight run of the solver: its loosest tolerance that is as near as wanted is timed."""
    g, room = growing(TRAJECTORIES)
    few, readings = range(TRAJECTORIES_LOOPED), room.tolist()

    def all_trajectories() -> None:
        for at in range(0, TRAJECTORIES, CHUNK):  # all at once are 1.2 GB an array
            trajectories(g, room, slice(at, at + CHUNK))

    seconds = clock(all_trajectories, 1)
    exact = [trajectory_by_solver(g, readings, i, 1e-10) for i in few]
    ours = trajectories(g, room, slice(0, TRAJECTORIES_LOOPED))
    error = max(float(np.abs(a - b).max()) for a, b in zip(ours, exact, strict=True))
    for rtol in 10.0 ** -np.arange(2, 9, 0.5):
        start = time.perf_counter()
        found = [trajectory_by_solver(g, readings, i, rtol) for i in few]
        peer = (time.perf_counter() - start) * TRAJECTORIES / TRAJECTORIES_LOOPED
        its = max(float(np.abs(a - b).max()) for a, b in zip(found, exact, strict=True))
        if its <= WANTED_LOG10:
            break
    assert error <= WANTED_LOG10
    return seconds, peer, error, its


# --- rows -------------------------------------------------------------------------------------


def vector_against_loop() -> tuple[float, float]:
    many, few = mixtures(SAMPLES), mixtures(LOOPED)
    ours: dict[str, np.ndarray] = {}

    def vector() -> None:
        ours["ph"] = sr.ph(many)
        ours["a_w"] = sr.water_activity(many, at_ph=ours["ph"])

    seconds = clock(vector)
    start = time.perf_counter()
    ph = np.array(loop_ph(few))
    a_w = np.array(loop_water_activity(few, ph))
    peer = (time.perf_counter() - start) * SAMPLES / LOOPED
    few_ph = sr.ph(few)
    np.testing.assert_allclose(ph, few_ph, atol=1e-5)
    np.testing.assert_allclose(a_w, sr.water_activity(few, at_ph=few_ph), atol=1e-6)
    return seconds, peer


def growth_with_samples() -> list[tuple[int, float]]:
    rows = []
    for n in (1_000, 10_000, 100_000):
        m = mixtures(n)
        rows.append((n, clock(lambda m=m: sr.water_activity(m, at_ph=sr.ph(m)), 2)))
    return rows


def cold_start() -> tuple[float, float]:
    python = sys.executable
    assess = [python, "-m", "stillroom.cli", "assess", str(ROOT / "kitchen/damson-spread.toml")]
    imports = [python, "-c", "import numpy, scipy.optimize"]
    ours, peer = [], []
    for _ in range(5):  # in turn, so that a drift of the machine meets both
        for command, into in ((assess, ours), (imports, peer)):
            into.append(
                clock(lambda c=command: subprocess.run(c, capture_output=True, check=True), 1)
            )
    return sorted(ours)[2], sorted(peer)[2]


def main() -> None:
    print(f"{'what':58}{'Stillroom':>12}{'peer':>12}{'ratio':>10}")
    ours, peer = vector_against_loop()
    name = f"pH and water activity of {SAMPLES} mixtures | loop with brentq"
    print(f"{name:58}{ours:10.2f} s{peer:10.1f} s{peer / ours:9.0f}x")
    ours, peer, error, its = jars_against_solver()
    name = f"{JARS} jars heated for {HEATED_S:g} s | loop with solve_ivp (BDF)"
    print(f"{name:58}{ours:10.2f} s{peer:10.1f} s{peer / ours:9.0f}x")
    print(f"{'    error of the middle, °C':58}{error:12.1e}{its:12.1e}")
    ours, peer, error, its = growth_against_solver()
    name = f"{TRAJECTORIES} growth trajectories, 60 d | loop with LSODA"
    print(f"{name:58}{ours:10.2f} s{peer:10.1f} s{peer / ours:9.0f}x")
    print(f"{'    largest difference from a tight run, log10':58}{error:12.1e}{its:12.1e}")
    ours, peer = cold_start()
    name = "assess a demo recipe, cold | import numpy, scipy.optimize"
    print(f"{name:58}{ours:10.2f} s{peer:10.2f} s{ours / peer:9.2f}x")
    for n, seconds in growth_with_samples():
        print(
            f"{f'pH and water activity of {n} mixtures':58}{seconds:10.3f} "
            f"s{1e6 * seconds / n:10.1f} us each"
        )


if __name__ == "__main__":
    main()
