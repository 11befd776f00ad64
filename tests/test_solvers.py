"""The vector solvers against a plain scalar loop, the series against a finite-volume scheme."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import eigh
from scipy.optimize import brentq

from stillroom import tables
from stillroom.physics import acid, brine, diffusion, phase, preservative
from stillroom.product import properties
from stillroom.product.mixture import Mixture

# --- vector solvers against a plain loop ----------------------------------------------------


def test_the_vector_ph_is_the_root_a_loop_finds():
    """Each sample alone, by Brent's method on the same charge balance."""
    draw = np.random.default_rng(7)
    names = ["acetic", "citric", "lactic", "malic", "phosphoric", "benzoic", "carbonic"]
    totals = 10 ** draw.uniform(-5, -0.5, (len(names), 40))
    charge, salt, t = (
        draw.uniform(-0.02, 0.5, 40),
        draw.uniform(0, 1.5, 40),
        draw.uniform(0, 60, 40),
    )
    known = [properties.acid(n) for n in names]
    many = acid.Solution(list(totals), known, charge, np.abs(charge) / 2 + salt, t)
    together = acid.equilibrium_ph(many)
    for k in range(40):
        one = acid.Solution(
            [float(c) for c in totals[:, k]], known, float(charge[k]),
            float(abs(charge[k]) / 2 + salt[k]), float(t[k]),
        )  # fmt: skip
        root = brentq(lambda ph, s=one: float(acid.charge_balance(s, ph)[0]), -1, 14, xtol=1e-12)
        assert together[k] == pytest.approx(root, abs=1e-8)


def molality_alone(solute: str, a_w: float) -> float:
    """The binary curve turned round by Brent's method from its equation."""
    row = tables.index("hydration").get(solute)
    if row:
        x, n = row["affinity"] * a_w, int(row["sites"])
        h = sum(i * x**i for i in range(1, n + 1)) / sum(x**i for i in range(n + 1))
        return 1 / 0.01801527 / (a_w / (1 - a_w) + h)
    K = tables.row("norrish", solute)["K"]
    x_s = brentq(lambda x: np.log1p(-x) - K * x * x - np.log(a_w), 0, 1 - 1e-12, xtol=1e-15)
    return x_s / (1 - x_s) / 0.01801527


def brine_alone(ions: dict[str, float], temperature_C: float, a_w: float) -> float:
    """Molality of all ions together at which the brine has this water activity."""
    total = sum(ions.values())
    pairs = {(p.cation, p.anion): p.at(temperature_C) for p in properties.ion_pairs()}
    slope = float(brine.debye_huckel_slope(temperature_C))
    alike = {
        pair: {name: brine.pitzer_parameter(temperature_C, *c) for name, c in values.items()}
        for pair, values in properties.like_charges().items()
    }

    def gap(m: float) -> float:
        here = {ion: n / total * m for ion, n in ions.items()}
        phi = brine.osmotic_coefficient(here, properties.CHARGES, pairs, slope, alike)
        return float(-0.01801527 * phi * m - np.log(a_w))

    return brentq(gap, 1e-9, 300, xtol=1e-14)


def shared_by_a_loop(mixture: Mixture, temperature_C: float) -> float:
    d = properties.dissolved(mixture, temperature_C)
    ions = {ion: float(n) for ion, n in d.ions_mol.items() if n > 0}
    gab = {p: tables.row("gab", p) for p in d.polymers_kg}

    def surplus(a_w: float) -> float:
        needed = sum(float(n) / molality_alone(s, a_w) for s, n in d.solutes_mol.items() if n > 0)
        if ions:
            needed += sum(ions.values()) / brine_alone(ions, temperature_C, a_w)
        for polymer, dry in d.polymers_kg.items():
            r, a = gab[polymer], min(a_w, 0.97)
            ka = r["k"] * a
            held = r["Xm_kg_per_kg"] * r["C"] * ka / ((1 - ka) * (1 - ka + r["C"] * ka))
            needed += float(dry) * held
        return needed - float(d.water_kg)

    return brentq(surplus, 0.2, 1 - 1e-10, xtol=1e-14)


FOODS = {
    "syrup": {"water": 35.0, "sucrose": 65.0},
    "jam": {"water": 35.0, "sucrose": 45.0, "glucose": 10.0, "fructose": 9.0, "citric": 0.6,
            "K": 0.1, "pectin": 0.7},
    "honey": {"water": 17.0, "glucose": 33.0, "fructose": 39.0, "maltose": 8.0, "gluconic": 0.5},
    "chutney": {"water": 45.0, "sucrose": 30.0, "NaCl": 2.5, "acetic": 1.5, "fibre": 2.0},
    "sauerkraut": {"water": 90.0, "NaCl": 2.2, "lactic": 1.6, "K": 0.2, "fibre": 2.5, "mannitol": 1},
    "ham": {"water": 62.0, "NaCl": 5.5, "protein": 28.0, "fat": 4.0, "NaNO2": 0.01, "K": 0.4},
    "brine": {"water": 80.0, "NaCl": 12.0, "KCl": 5.0, "CaCl2": 1.0, "MgCl2": 0.5},
    "cordial": {"water": 55.0, "sucrose": 40.0, "citric": 1.5, "sodium_benzoate": 0.05, "ethanol": 3},
    "bar": {"water": 18.0, "glycerol": 12.0, "sorbitol": 10.0, "oligosaccharides": 20.0,
            "protein": 25.0, "starch": 10.0, "NaCl": 0.6},
}  # fmt: skip


@pytest.mark.parametrize("temperature_C", [5.0, 25.0])
@pytest.mark.parametrize("food", FOODS)
def test_the_vector_water_activity_is_the_root_a_loop_finds(food, temperature_C):
    """Every share from its own equation turned round by bisection, one sample at a time."""
    mixture = Mixture.of(FOODS[food])
    expected = shared_by_a_loop(mixture, temperature_C)
    ours = float(properties.water_activity(mixture, temperature_C))
    assert ours == pytest.approx(expected, abs=1e-8)


def test_many_foods_at_once_are_each_food_alone():
    together = Mixture(np.stack([Mixture.of(parts).amounts for parts in FOODS.values()]))
    alone = [float(properties.water_activity(Mixture.of(parts))) for parts in FOODS.values()]
    np.testing.assert_allclose(properties.water_activity(together), alone, atol=1e-9)
    acidity = [float(properties.ph(Mixture.of(parts))) for parts in FOODS.values()]
    np.testing.assert_allclose(properties.ph(together), acidity, atol=1e-8)


@pytest.mark.parametrize(
    ("solute", "percent"),
    [("NaCl", 5), ("NaCl", 23), ("CaCl2", 20), ("sucrose", 40), ("sucrose", 65), ("glycerol", 40)],
)
def test_the_freezing_point_is_where_ice_and_solution_agree(solute, percent):
    mixture = Mixture.of({"water": 100.0 - percent, solute: percent})
    at_ph = properties.ph(mixture)

    def gap(depression: float) -> float:
        ice = float(phase.water_activity_of_ice(depression))
        return ice - float(properties.water_activity(mixture, -depression, at_ph=at_ph))

    root = brentq(gap, 0.01, 60, xtol=1e-10)
    assert -float(properties.freezing_point_C(mixture)) == pytest.approx(root, abs=1e-6)


@pytest.mark.parametrize("kPa", [101.325, 70.0])
@pytest.mark.parametrize(
    ("solute", "percent"), [("sucrose", 65), ("sucrose", 90), ("NaCl", 26), ("glycerol", 80)]
)
def test_the_boiling_point_is_where_the_vapour_has_the_air_pressure(solute, percent, kPa):
    mixture = Mixture.of({"water": 100.0 - percent, solute: percent})
    at_ph = properties.ph(mixture)

    def gap(t: float) -> float:
        a_w = float(properties.water_activity(mixture, t, "norrish", at_ph))
        return a_w * float(phase.saturation_pressure_kPa(t)) - kPa

    root = brentq(gap, 60, 178, xtol=1e-10)
    assert float(properties.boiling_point_C(mixture, kPa)) == pytest.approx(root, abs=1e-3)


def test_the_water_activity_of_the_reference_brine_falls_without_a_turn():
    """Else the sharing rule would have more than one answer."""
    m = np.linspace(0.01, 60, 400)
    for ions in (
        {"Na": 1, "Cl": 1},
        {"K": 1, "Cl": 1},
        {"Ca": 1, "Cl": 2},
        {"Na": 1, "carboxylate": 1},
    ):
        total = sum(ions.values())
        mol = {ion: np.full(m.size, n / total) for ion, n in ions.items()}
        a_w = properties.brine_curve(mol)(m, np.arange(m.size))
        assert np.all(np.diff(a_w) < 0), ions


def test_free_sulfite_is_the_root_a_loop_finds():
    draw = np.random.default_rng(64)
    total = 10 ** draw.uniform(-5, -1.5, 20)
    carbonyls, kd = 10 ** draw.uniform(-5, 0, (20, 3)), np.array([1.5e-6, 3e-4, 0.64])
    together = preservative.free_so2_mol_per_L(total, carbonyls, kd)
    for k in range(20):
        root = brentq(
            lambda f, k=k: f + float(np.sum(carbonyls[k] * f / (kd + f))) - total[k],
            0, total[k], xtol=1e-18, rtol=1e-12,
        )  # fmt: skip
        assert together[k] == pytest.approx(root, rel=1e-6)


@pytest.mark.parametrize("shape", ["slab", "infinite_cylinder", "sphere"])
def test_the_time_for_an_uptake_is_the_root_a_loop_finds(shape):
    wanted = np.array([0.05, 0.4, 0.9, 0.99])
    together = diffusion.fourier_for_uptake(wanted, shape, "mean", 1.0)
    for fraction, fourier in zip(wanted, together, strict=True):
        root = brentq(
            lambda fo, f=fraction: float(diffusion.uptake_fraction(fo, shape, "mean", 1.0)) - f,
            2e-5, 20, xtol=1e-12,
        )  # fmt: skip
        assert fourier == pytest.approx(root, rel=1e-6)


# --- diffusion: finite volumes --------------------------------------------------------------

POWER = {"slab": 0, "infinite_cylinder": 1, "sphere": 2}


def finite_volume_uptake(
    shape: str, position: str, bath_to_solid: float, fourier, cells: int
) -> np.ndarray:
    """Share of the final uptake by cells of equal thickness, exact in time.

    V_i dc_i/dt = sum of (area / distance) * difference, a stirred bath as the last cell. The
    symmetric system is solved by its eigenvectors.
    """
    p = POWER[shape]
    face = np.linspace(0, 1, cells + 1)
    volume = np.diff(face ** (p + 1)) / (p + 1)
    conductance = face[1:] ** p * cells
    conductance[-1] *= 2  # half a cell to the surface
    bath = 1e9 if np.isinf(bath_to_solid) else bath_to_solid
    capacity = np.append(volume, bath * volume.sum())
    exchange = np.zeros((cells + 1, cells + 1))
    for i, g in enumerate(conductance):
        exchange[i : i + 2, i : i + 2] += g * np.array([[-1, 1], [1, -1]])
    root = np.sqrt(capacity)
    rate, mode = eigh(exchange / np.outer(root, root))
    start = np.append(np.zeros(cells), 1.0)
    weights = mode.T @ (root * start)
    profile = (mode @ (weights[:, None] * np.exp(np.outer(rate, fourier)))) / root[:, None]
    final = capacity[-1] / capacity.sum()
    solid = profile[:-1] / final
    return volume @ solid / volume.sum() if position == "mean" else (9 * solid[0] - solid[1]) / 8


FOURIER = np.array([0.003, 0.01, 0.03, 0.1, 0.3, 1.0])


@pytest.mark.parametrize("bath_to_solid", [0.3, 1.0, 5.0, np.inf])
@pytest.mark.parametrize("position", ["mean", "centre"])
@pytest.mark.parametrize("shape", POWER)
def test_the_series_is_what_finite_volumes_converge_to(shape, position, bath_to_solid):
    """Halving the cells quarters the gap: the series is the limit, not only near it."""
    exact = diffusion.uptake_fraction(FOURIER, shape, position, bath_to_solid)
    coarse, fine = (
        np.abs(finite_volume_uptake(shape, position, bath_to_solid, FOURIER, n) - exact)
        for n in (60, 120)
    )
    assert np.all(fine < 2e-3)
    assert fine.max() < 0.30 * coarse.max()


@pytest.mark.parametrize("bath_to_solid", [0.05, 1.0, np.inf])
@pytest.mark.parametrize("shape", ["slab", "infinite_cylinder", "sphere"])
def test_the_uptake_never_falls(shape, bath_to_solid):
    uptake = diffusion.uptake_fraction(np.geomspace(1e-7, 2, 4000), shape, "mean", bath_to_solid)
    assert np.all(np.diff(uptake) >= 0)
