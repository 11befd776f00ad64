"""Many batches: the same for a seed however cut, right shares, and what makes them differ."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from scipy import stats
from typer.testing import CliRunner

import stillroom as sr
from stillroom.cli import app
from stillroom.plan import population as many
from stillroom.plan.sampling import Sampler, sources_of

PICKLE = """name = "x"
[[steps]]
add = { "cucumber" = "10 kg" }
[[steps]]
steep = { liquor = { "vinegar" = "6 kg", "water" = "4 kg", "salt" = "500 g" } }
[[steps]]
keep = { temperature = "4 degC", for = "2 months", pack = "airtight" }
"""


@pytest.fixture(scope="module")
def recipe():
    return sr.parse_recipe(PICKLE, "f.toml")


@pytest.fixture(scope="module")
def batches(recipe):
    return sr.population(recipe, 1000, seed=7, causes=False)


def test_a_draw_is_the_same_however_it_is_cut(recipe):
    sampler = Sampler(recipe, 7)
    whole = sampler.draw(0, 300)
    np.testing.assert_array_equal(
        whole, np.concatenate([sampler.draw(0, 113), sampler.draw(113, 187)])
    )
    assert not np.array_equal(whole, Sampler(recipe, 8).draw(0, 300))


def test_draws_are_normal_and_sources_two_sided(recipe):
    z = Sampler(recipe, 1).draw(0, 4096)
    for column in z.T:
        assert stats.kstest(column, "norm").statistic < 0.02
    for s in sources_of(recipe):
        low, middle, high = s.at(np.array([-2.0, 0.0, 2.0]))
        assert low <= middle <= high
        assert middle == pytest.approx(s.centre)


def test_equal_seeds_give_equal_batches_whatever_the_chunks_and_whoever_runs_them(
    recipe, batches, monkeypatch
):
    monkeypatch.setattr(many, "CHUNK", 170)
    with ThreadPoolExecutor(2) as pool:
        cut = sr.population(recipe, 1000, seed=7, executor=pool, causes=False)
    assert cut.every_danger == batches.every_danger
    for one, other in zip(cut.properties, batches.properties, strict=True):
        assert one.mean == pytest.approx(other.mean, rel=1e-12)
        assert one.quantiles == pytest.approx(other.quantiles, rel=1e-9)
    assert [p.share for p in cut.passing] == [p.share for p in batches.passing]
    other_seed = sr.population(recipe, 1000, seed=8, causes=False)
    assert other_seed.properties[1].mean != batches.properties[1].mean


def test_the_middle_batch_is_the_recipe_and_the_scatter_that_of_its_interval(recipe, batches):
    judged = sr.assess(recipe).properties["ph"]
    ph = next(s for s in batches.properties if s.name == "ph")
    assert ph.mean == pytest.approx(judged.value, abs=0.02)
    low, _, high = ph.quantiles
    assert high - low == pytest.approx(judged.high - judged.low, rel=0.35)
    assert ph.sd < ph.sd_known


def test_shares_fall_where_a_limit_moves_into_the_scatter(recipe):
    weak = sr.parse_recipe(PICKLE.replace('"vinegar" = "6 kg"', '"vinegar" = "700 g"'), "f.toml")
    strong, thin = (sr.population(r, 400, causes=False) for r in (recipe, weak))
    assert strong.every_danger.share == 1.0
    assert thin.every_danger.share < 1.0
    assert thin.every_danger.low <= thin.every_danger.share <= thin.every_danger.high


def test_jars_to_measure_agree_with_the_tables_of_tolerance_factors():
    """ISO 16269-6 / Natrella: k (95 % of a normal, 95 % confidence): n 10 2.911, n 20 2.396."""
    assert many._jars(2.92, 1.0) == 10
    assert many._jars(2.40, 1.0) == 20
    assert many._jars(-0.1, 1.0) is None
    assert many._jars(0.1, 0.0) == 1
    assert many._jars(1.0, 1.0) is None  # no number shows 95 % one deviation away


def test_variance_shares_of_a_function_whose_shares_are_known():
    """Ishigami: first order 0.3139, 0.4424, 0; total 0.5576, 0.4424, 0.2437 (Saltelli 2008)."""
    found = stats.sobol_indices(
        func=lambda x: np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0]),
        n=4096, dists=[stats.uniform(-np.pi, 2 * np.pi)] * 3, rng=1,
    )  # fmt: skip
    np.testing.assert_allclose(found.total_order, [0.5576, 0.4424, 0.2437], atol=0.02)


def test_causes_are_found_and_nothing_else_is_blamed(recipe, monkeypatch):
    monkeypatch.setattr(many, "SOBOL_BASE", 32)
    made = sr.population(recipe, 200)
    salt = next(s for s in made.properties if s.name == "salt")
    assert next(iter(salt.causes)) == "step 2, steep: salt"
    assert all(0 <= share <= 1 for s in made.properties for share in s.causes.values())


@pytest.mark.parametrize("batches", [0, 99, 10**9])
def test_too_few_or_too_many_batches_are_refused(recipe, batches):
    with pytest.raises(sr.InputError, match="batches must be 100 to"):
        sr.population(recipe, batches)


def test_the_command_counts_and_prints(tmp_path, monkeypatch):
    monkeypatch.setattr(many, "SOBOL_BASE", 16)
    path = tmp_path / "r.toml"
    path.write_text(PICKLE, "utf-8")
    ask = ["population", str(path), "-n", "200", "--seed", "7"]
    told = CliRunner().invoke(app, ask)
    assert told.exit_code == 0, told.output
    assert "nothing dangerous can grow" in told.output
    result = CliRunner().invoke(app, [*ask, "--json"])
    data = json.loads(result.stdout)
    assert data["batches"] == 200
    assert data["organisms"]
    assert CliRunner().invoke(app, [*ask[:2], "-n", "5"]).exit_code == 2
