"""The course of a pack through heat, against exact series, balances and laws of nature."""

from __future__ import annotations

import resource
from dataclasses import replace

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from stillroom import tables
from stillroom.errors import InputError
from stillroom.physics import penetration, transfer
from stillroom.physics.death import Scale
from stillroom.product import process
from stillroom.product.container import container
from stillroom.product.heat_course import Scatter, run
from stillroom.product.pack_plan import Leg, plan_of
from stillroom.product.properties import thermal
from stillroom.product.recipe_file import parse_recipe

PUREE = 'add = { "apple, Granny Smith, raw" = "5 kg" }'
JUICE = 'add = { "water" = "4.5 kg", "sugar" = "0.5 kg", "citric acid" = "20 g" }'
PEARS = (
    'add = { "pear, Bartlett, raw" = "3 kg" }',
    'steep = { liquor = { "water" = "2 kg", "sugar" = "300 g" }, '
    'piece = { shape = "slab", thickness = "20 mm", tissue = "blanched" } }',
)
FILL = 'fill = { container = "jar 500 ml", temperature = "30 degC", jar_temperature = "30 degC" }'
BATH = 'heat = { in = "stirred water", temperature = "85 degC", hold = "30 min" }'
KEEP = 'keep = { temperature = "20 degC", for = "12 months" }'
SCALES = (Scale(71.1, 10.83), Scale(85.0, 8.3), Scale(90.0, 7.0, 10.0))
CONTENTS = {"conduction": (PUREE,), "convection": (JUICE,), "pieces": PEARS}


def planned(*steps, head=""):
    lines = "\n".join(f"[[steps]]\n{s}" for s in steps)
    return plan_of(process.run(parse_recipe(f'name = "test"\n{head}\n{lines}')))


@pytest.fixture(scope="module")
def plans():
    """Return a pack of each way that heat moves, heated and cooled in water."""
    return {w: planned(*content, FILL, BATH, KEEP) for w, content in CONTENTS.items()}


@pytest.fixture
def films(monkeypatch):
    """Return a setter of films: a row of the table with one value for lowest, typical, highest."""
    real = tables.row

    def set_films(**fixed):
        wanted = {k.replace("_", " "): v for k, v in fixed.items()}

        def row(name, key):
            found = real(name, key)
            if name == "films" and key in wanted:
                ends = ("low", "typical", "high")
                return {**found, **{f"{e}_W_per_m2_K": wanted[key] for e in ends}}
            return found

        monkeypatch.setattr(tables, "row", row)

    return set_films


def leg(film, *corners, heating=True):
    """Return a leg from (minutes, °C) at its corners."""
    minutes, medium = zip(*corners, strict=True)
    return Leg("test", film, tuple(60.0 * m for m in minutes), medium, heating)


def only(plan, *legs, **changed):
    return replace(plan, legs=legs, **changed)


def conductance(plan, film_W_per_m2_K):
    """Return film and wall in series, by hand."""
    one = plan.container
    k = float(thermal.material(one.material, "conductivity_W_per_m_K", plan.mean_C))
    return 1 / (1 / film_W_per_m2_K + one.wall_m / k)


def body_of(plan, shape, film_W_per_m2_K):
    k, rho, c = (
        plan.thermal(q)
        for q in ("conductivity_W_per_m_K", "density_kg_per_m3", "heat_capacity_J_per_kg_K")
    )
    d = plan.container.diameter_m
    U = conductance(plan, film_W_per_m2_K)
    return transfer.Body(shape, k / (rho * c), plan.height_m / 2, d and d / 2, k, U)


def least(plan, **scattered):
    return run(plan, SCALES, Scatter(**scattered)).least_min


def at(course, minutes):
    """Return the middle at some minutes; of two readings at the border of legs the first."""
    kept = np.concatenate([[True], np.diff(course.time_s) > 0])
    return np.interp(60.0 * np.asarray(minutes), course.time_s[kept], course.centre_C[0][kept])


# --- conduction -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["jar 250 ml", "jar 1 l", "can 307x409"])
def test_a_conducting_pack_with_one_film_all_round_follows_the_exact_series(name, films):
    films(hot_water=350.0, water=350.0, headspace=1e12)
    plan = planned(PUREE, f'fill = {{ container = "{name}", temperature = "30 degC" }}', BATH)
    plan = only(
        plan,
        leg("hot water", (0, 60), (15, 95), (55, 95)),
        leg("water", (0, 15), (60, 15), heating=False),
    )
    course = run(plan, SCALES)
    minutes = np.array([0.0, 15.0, 55.0, 55.0 + 1e-6, 115.0])
    body = body_of(plan, "finite_cylinder", 350.0)
    exact = transfer.temperature_C(
        body, course.time_s, plan.start_C, 60 * minutes, [60, 95, 95, 15, 15]
    )
    assert np.abs(course.centre_C[0] - exact)[1:].max() < 0.5  # the series is cut off at time 0
    for scale in SCALES[:2]:
        ours, wanted = (scale.minutes(course.time_s, T)[-1] for T in (course.centre_C[0], exact))
        assert 0.94 < ours / wanted < 1.005  # a coarse grid may take away, never add


def test_a_pouch_follows_the_series_of_the_slab():
    plan = planned(PUREE, 'fill = { container = "pouch 400 ml", temperature = "30 degC" }', BATH)
    plan = only(
        plan,
        leg("stirred water", (0, 40), (5, 92), (25, 92)),
        leg("stirred water", (0, 10), (20, 10), heating=False),
    )
    course = run(plan, SCALES)
    minutes = np.array([0.0, 5.0, 25.0, 25.0 + 1e-6, 45.0])
    body = body_of(plan, "slab", 900.0)
    corners = 60 * minutes, [40, 92, 92, 10, 10]
    exact = transfer.temperature_C(body, course.time_s, plan.start_C, *corners)
    wall = transfer.temperature_C(body, course.time_s, plan.start_C, *corners, "surface")
    assert np.abs(course.centre_C[0] - exact)[1:].max() < 0.3
    late = course.time_s % 1500 > 300  # the outermost layer lags behind the wall after a step
    assert np.abs(course.surface_C[0] - wall)[late].max() < 3.0


def test_the_least_of_a_pack_is_no_more_than_its_middle(plans):
    for plan in plans.values():
        course = run(plan, SCALES)
        middle = [s.minutes(course.time_s, course.centre_C[0])[-1] for s in SCALES]
        assert np.all(course.least_min[0] <= np.array(middle) * 1.01 + 1e-12)
        assert course.share.sum() == pytest.approx(1.0)


def test_a_jar_that_is_cooled_gets_the_least_off_its_middle(plans):
    course = run(plans["conduction"], SCALES)
    middle = SCALES[0].minutes(course.time_s, course.centre_C[0])[-1]
    assert course.least_min[0, 0] < 0.9 * middle


# --- liquids ----------------------------------------------------------------------------------


def test_a_liquid_follows_the_exponential_of_a_stirred_tank(plans):
    """m c dT/dt = U A (T_m - T): Incropera & DeWitt, lumped capacitance, section 5.1."""
    plan = only(plans["convection"], leg("boiling water", (0, 100), (40, 100)))
    d, H = plan.container.diameter_m, plan.height_m
    U = 1 / (1 / conductance(plan, 3000.0) + 1 / 250.0)
    k = U * (np.pi * d * H + np.pi * d**2 / 4) / (plan.net_kg * plan.thermal("heat_capacity_J_per_kg_K"))  # fmt: skip
    course = run(plan, SCALES)
    exact = 100 - (100 - plan.start_C) * np.exp(-k * course.time_s)
    np.testing.assert_allclose(course.centre_C[0], exact, atol=1e-6)
    rising = only(plan, leg("boiling water", (0, 30), (40, 110)))
    s = 80 / 2400
    t = run(rising, SCALES).time_s
    U = 1 / (1 / conductance(rising, 3000.0) + 1 / 250.0)
    H, c = rising.height_m, rising.thermal("heat_capacity_J_per_kg_K")
    k = U * (np.pi * d * H + np.pi * d**2 / 4) / (rising.net_kg * c)
    ramp = 30 + s * t - s / k + (plan.start_C - 30 + s / k) * np.exp(-k * t)
    np.testing.assert_allclose(run(rising, SCALES).centre_C[0], ramp, atol=1e-6)


def test_a_liquid_is_the_same_everywhere(plans):
    course = run(plans["convection"], SCALES)
    np.testing.assert_array_equal(course.centre_C, course.surface_C)
    np.testing.assert_array_equal(course.share, [1.0, 0.0])  # the content, the lid


# --- pieces -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shape", "size", "series"),
    [("slab", "thickness", "slab"), ("cylinder", "diameter", "infinite_cylinder"), ("sphere", "diameter", "sphere")],
)  # fmt: skip
def test_a_piece_in_a_constant_liquor_follows_the_exact_series(shape, size, series):
    steep = (
        'steep = { liquor = { "water" = "2 kg", "sugar" = "300 g" }, '
        f'piece = {{ shape = "{shape}", {size} = "24 mm", tissue = "blanched" }} }}'
    )
    plan = planned(PEARS[0], steep, FILL, BATH)
    plan = only(plan, leg("stirred water", (0, 85), (30, 85)), start_C=85.0, piece_start_C=20.0)
    course = run(plan, SCALES)
    np.testing.assert_allclose(course.surface_C[0], 85.0, atol=1e-9)
    k, rho, c = (
        plan.thermal(q)
        for q in ("conductivity_W_per_m_K", "density_kg_per_m3", "heat_capacity_J_per_kg_K")
    )
    fo = k / (rho * c) * course.time_s / 0.012**2
    late = fo > 0.02
    left = transfer.unaccomplished_change(series, fo[late], 300 * 0.012 / k)
    np.testing.assert_allclose(course.centre_C[0][late], 85 - 65 * left, atol=0.02)


def test_the_middle_of_a_piece_lags_behind_its_liquor(plans):
    course = run(plans["pieces"], SCALES)
    rising = course.time_s <= course.off_s
    assert np.all(course.centre_C[0][rising] <= course.surface_C[0][rising] + 1e-6)
    assert course.centre_C.max() < course.surface_C.max()


# --- laws -------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", CONTENTS)
def test_nothing_is_hotter_or_colder_than_what_it_came_from(way, plans):
    for legs in (
        (leg("boiling water", (0, 100), (40, 100)), leg("water", (0, 15), (60, 15), heating=False)),
        (leg("air", (0, 20), (5, 20), heating=False), leg("steam", (0, 100), (10, 100))),
        (leg("hot water", (0, 30), (10, 80), (20, 80), (25, 40)),),
    ):
        plan = only(plans[way], *legs)
        course = run(plan, SCALES, Scatter(heating_film=np.array([-1.0, 1.0])))
        media = [T for one in legs for T in one.medium_C]
        lowest, highest = min(*media, plan.start_C), max(*media, plan.start_C)
        for T in (course.centre_C, course.surface_C):
            assert lowest - 0.05 <= T.min()
            assert T.max() <= highest + 0.05


LARGER = {  # each of these never takes lethality away
    "medium_C": [-2.0, -1.0, 0.0, 1.0],
    "start_C": [-5.0, 0.0, 5.0],
    "heating_film": [-1.0, -0.5, 0.0, 0.5, 1.0],
    "cooling_film": [1.0, 0.0, -1.0],
}


@pytest.mark.parametrize("way", CONTENTS)
@pytest.mark.parametrize("what", LARGER)
def test_more_heat_never_kills_less(way, what, plans):
    found = least(plans[way], **{what: np.array(LARGER[what])})
    assert np.all(np.diff(found, axis=0) >= -1e-9 * found[1:])
    assert found[-1, 0] > found[0, 0]


@pytest.mark.parametrize("way", CONTENTS)
def test_a_longer_hold_never_kills_less(way, plans):
    found = []
    for hold in (5, 10, 20, 40):
        cool = plans[way].legs[-1]
        found.append(least(only(plans[way], leg("stirred water", (0, 85), (hold, 85)), cool))[0])
    assert np.all(np.diff(found, axis=0) >= 0)


@pytest.mark.parametrize("way", CONTENTS)
def test_a_smaller_jar_gets_more(way):
    found = []
    for name in ("jar 1700 ml", "jar 720 ml", "jar 370 ml", "jar 106 ml"):
        fill = f'fill = {{ container = "{name}", temperature = "30 degC", jar_temperature = "30 degC" }}'
        found.append(least(planned(*CONTENTS[way], fill, BATH))[0])
    assert np.all(np.diff(found, axis=0) >= 0)


@pytest.mark.parametrize("way", CONTENTS)
def test_two_legs_are_one_run_of_the_joined_medium(way, plans):
    first = leg("stirred water", (0, 60), (20, 92))
    second = leg("stirred water", (0, 92), (20, 70))
    joined = leg("stirred water", (0, 60), (20, 92), (40, 70))
    two, one = (run(only(plans[way], *legs), SCALES) for legs in ((first, second), (joined,)))
    minutes = np.linspace(1, 40, 14)
    np.testing.assert_allclose(at(two, minutes), at(one, minutes), atol=0.02)
    np.testing.assert_allclose(two.least_min, one.least_min, rtol=0.005)


@pytest.mark.parametrize("way", CONTENTS)
def test_jars_in_one_call_are_each_jar_alone(way, plans):
    rng = np.random.default_rng(7)
    jars = {
        "heating_film": rng.uniform(-1, 1, 3),
        "cooling_film": rng.uniform(-1, 1, 3),
        "conductivity": rng.normal(1, 0.05, 3),
        "size": rng.normal(1, 0.02, 3),
        "fill": rng.normal(1, 0.02, 3),
        "start_C": rng.normal(0, 2, 3),
        "medium_C": rng.normal(0, 0.5, 3),
    }
    together = run(plans[way], SCALES, Scatter(**jars))
    for i in range(3):
        alone = run(plans[way], SCALES, Scatter(**{k: float(v[i]) for k, v in jars.items()}))
        np.testing.assert_allclose(together.lethality_min[i], alone.lethality_min[0], rtol=1e-8)
        np.testing.assert_allclose(together.centre_C[i], alone.centre_C[0], rtol=1e-9)


@pytest.mark.parametrize(("way", "jars"), [("conduction", 1000), ("convection", 1000), ("pieces", 100)])  # fmt: skip
def test_a_thousand_jars_in_one_call(way, jars, plans):
    rng = np.random.default_rng(1)
    some = Scatter(conductivity=rng.normal(1, 0.05, jars), size=rng.normal(1, 0.015, jars))
    course = run(plans[way], SCALES, some)
    assert course.least_min.shape == (jars, len(SCALES))
    assert np.all(course.least_min[:, 0] > 0)
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss < 2_000_000  # kB


# --- the plan ---------------------------------------------------------------------------------


@pytest.mark.parametrize("altitude", [0, 500, 1500, 2500])
def test_altitude_lowers_the_boiling_bath(altitude):
    """The standard atmosphere and the steam tables of IAPWS."""
    heat = 'heat = { in = "boiling water", hold = "20 min" }'
    plan = planned(PUREE, FILL, heat, head=f'made_at = {{ altitude = "{altitude} m" }}')
    p = 101325.0 * (1 - 2.25577e-5 * altitude) ** 5.25588
    assert plan.legs[0].medium_C[-1] == pytest.approx(
        PropsSI("T", "P", p, "Q", 0, "Water") - 273.15, abs=0.05
    )


def test_a_gauge_adds_to_the_air_of_the_place():
    """10 psi at sea level 115.2 °C, at 5000 ft 112.0 °C: steam tables."""
    heat = 'heat = { in = "pressure steam", gauge = "10 psi", hold = "20 min" }'
    for altitude, hot in (("0 m", 115.2), ("1524 m", 112.0)):
        plan = planned(PUREE, FILL, heat, head=f'made_at = {{ altitude = "{altitude}" }}')
        assert plan.legs[0].medium_C[-1] == pytest.approx(hot, abs=0.1)


@pytest.mark.parametrize("row", [r for r in tables.rows("containers") if r["family"] == "can"], ids=lambda r: r["container"])  # fmt: skip
def test_a_can_code_is_inches_and_sixteenths_over_the_seams(row):
    one = container(row["container"].replace("_", " "))
    d, h = (int(c[0]) + int(c[1:]) / 16 for c in row["container"].removeprefix("can_").split("x"))
    assert 0 < 25.4e-3 * d - one.diameter_m < 5.5e-3
    inside_L = np.pi / 4 * one.diameter_m**2 * (25.4e-3 * h - 9e-3) * 1000
    assert one.capacity_L == pytest.approx(inside_L, rel=0.03)
    assert one.material == "steel"


def test_the_sizes_of_a_container_grow_with_the_cube_root_of_its_volume():
    large, larger = container("jar 1700 ml"), container("jar 13.6 l")
    assert larger.diameter_m == pytest.approx(2 * large.diameter_m, rel=0.01)
    assert container("bottle 1 l").diameter_m == pytest.approx(2 * container("bottle 125 ml").diameter_m)  # fmt: skip
    flat = container("pouch 300 ml")
    assert flat.diameter_m is None
    assert 0.015 < flat.thickness_m < 0.020


def test_measured_sizes_stand_in_the_place_of_assumed_ones():
    one = container("jar 250 ml", diameter_m=0.06, wall_m=0.004, mass_kg=0.2)
    assert (one.diameter_m, one.wall_m, one.mass_kg, one.assumed) == (0.06, 0.004, 0.2, "")
    assert "measure it" in container("jar 250 ml").assumed


@pytest.mark.parametrize("name", ["jar", "jar 0 ml", "jar 250 furlongs", "can 999x999", "jar 1,5 l"])  # fmt: skip
def test_a_container_without_a_clear_capacity_is_refused(name):
    with pytest.raises(InputError, match=r"capacity|more than nothing"):
        container(name)


def test_a_hot_fill_shares_its_heat_with_the_glass():
    """Balance by hand; glass 0.84 kJ/(kg K) [memory]."""
    fill = (
        'fill = { container = "jar 370 ml", net = "345 g", temperature = "90 degC", '
        'jar_temperature = "20 degC", jar_mass = "190 g", hold = "3 min" }'
    )
    plan = planned(PUREE, fill)
    hot, glass = 0.345 * plan.thermal("heat_capacity_J_per_kg_K"), 0.190 * 840.0
    assert plan.start_C == pytest.approx((hot * 90 + glass * 20) / (hot + glass), abs=0.4)


def test_cold_pieces_take_their_share_of_a_hot_liquor():
    fill = (
        'fill = { container = "jar 500 ml", temperature = "95 degC", pieces_temperature = "20 degC", '
        'jar_temperature = "70 degC", hold = "3 min" }'
    )
    plan = planned(*PEARS, fill)
    assert plan.piece_start_C == 20.0
    assert 45 < plan.start_C < 60  # 3 kg of pieces at 20 °C, 2.3 kg of liquor at 95 °C
    assert run(plan, SCALES).centre_C.max() <= 95.0


def test_what_the_kettle_had_is_not_taken_for_the_temperature_in_the_jar():
    """A fill that names no temperature: nobody said that the food goes in boiling."""
    boil = 'boil = { until_mass = "4.5 kg", for = "10 min" }'
    plan = planned(PUREE, boil, 'fill = { container = "jar 500 ml" }', BATH)
    assert plan.start_C <= 40 or any(f"{plan.start_C:.0f} °C" in a for a in plan.assumed)


def test_a_pack_that_is_opened_again_keeps_no_credit_for_its_heat():
    hot = (
        'fill = { container = "jar 500 ml", temperature = "88 degC", jar_temperature = "80 degC" }'
    )
    try:
        plan = planned(PUREE, hot, 'add = { "sugar" = "100 g" }', KEEP)
    except InputError:
        return
    assert plan is None


def test_what_the_second_heating_says_of_the_pack_is_not_dropped_in_silence():
    """Another f, start, piece or way of heat in a later heat step: used, or refused."""
    first = 'heat = { in = "hot water", temperature = "60 degC", hold = "5 min" }'
    slow = 'heat = { in = "boiling water", hold = "30 min", penetration = { f = "300 min" } }'
    plain = 'heat = { in = "boiling water", hold = "30 min" }'
    try:
        said = least(planned(PUREE, FILL, first, slow))
    except InputError:
        return
    assert said[0, 0] < 0.5 * least(planned(PUREE, FILL, first, plain))[0, 0]


# --- measured f and j -------------------------------------------------------------------------


def given(**values):
    words = ", ".join(f"{k} = {v}" for k, v in values.items())
    heat = (
        'heat = { in = "stirred water", temperature = "85 degC", hold = "60 min", '
        f"penetration = {{ {words} }} }}"
    )
    return planned(PUREE, FILL, heat)


def heated(plan):
    course = run(plan, SCALES)
    on = course.time_s < course.off_s
    return course.time_s[on] / 60, course.centre_C[0][on]


def test_a_measured_line_is_followed():
    minutes, T = heated(given(f='"28 min"', j=1.6))
    line = 85 - 1.6 * (85 - 30) * 10 ** (-minutes / 28)
    np.testing.assert_allclose(T, np.maximum(line, 30.0), atol=0.5)  # half a step of 15 s


def test_a_broken_line_is_followed():
    minutes, T = heated(given(f='"12 min"', break_after='"15 min"', f_after='"40 min"'))
    decades = np.minimum(minutes, 15) / 12 + np.maximum(minutes - 15, 0) / 40
    np.testing.assert_allclose(T, 85 - 55 * 10**-decades, atol=0.05)
    straight, broken = (
        least(given(f='"12 min"', **more))[0, 1]
        for more in ({}, {"break_after": '"15 min"', "f_after": '"40 min"'})
    )
    assert broken < straight


def test_a_slower_line_or_a_longer_lag_never_kills_more():
    slow = [least(given(f=f'"{f} min"'))[0] for f in (10, 20, 40)]
    assert np.all(np.diff(slow, axis=0) <= 0)
    lag = [least(given(f='"20 min"', j=j))[0] for j in (0.5, 1.0, 1.5, 2.0)]
    assert np.all(np.diff(lag, axis=0) <= 0)


SLAB = transfer.Body("slab", 1.4e-7, 0.012)


@pytest.mark.parametrize("place", [0.0, 0.9])
def test_a_followed_line_is_the_series_once_it_is_straight(place):
    """j above 1 in the middle, below 1 near the wall: the first term of the series."""
    f = transfer.heating_rate_fh_min(SLAB)
    j = transfer.lag_factor_jh(SLAB) * np.cos(np.pi / 2 * place)
    assert (j > 1) == (place == 0.0)
    t = np.linspace(0, 3600, 721)
    ours = penetration.followed_C(t, 20.0, np.full_like(t, 90.0), f, j)
    exact = transfer.temperature_C(SLAB, t, 20.0, [0, 3600], [90, 90], (place,))
    late = t > 60 * f
    np.testing.assert_allclose(ours[late], exact[late], atol=0.1)


def test_a_followed_ramp_lags_as_the_series_does():
    f, j = transfer.heating_rate_fh_min(SLAB), transfer.lag_factor_jh(SLAB)
    t = np.linspace(0, 3600, 721)
    ramp = 20 + 70 * t / 3600
    ours = penetration.followed_C(t, 20.0, ramp, f, j)
    exact = transfer.temperature_C(SLAB, t, 20.0, [0, 3600], [20, 90])
    lag, wanted = (ramp - ours)[-1], (ramp - exact)[-1]
    assert lag == pytest.approx(wanted, rel=0.02)


@pytest.mark.parametrize("j", [0.5, 1.0, 2.0])
def test_a_followed_course_stays_between_its_start_and_its_medium(j):
    t = np.linspace(0, 7200, 481)
    medium = np.interp(t, [0, 900, 3600, 3601, 7200], [60, 95, 95, 15, 15])
    T = penetration.followed_C(t, 30.0, medium, 25.0, j)
    assert T.min() >= 15.0
    assert T.max() <= 95.0
    assert np.argmax(T) >= np.searchsorted(t, 3600) - 1
