"""What people like: will it set, will sugar crystallise, how salt, sour and sweet it eats.

Windows are common practice of the trade and stand apart from hazards and law.
"""

from __future__ import annotations

from stillroom import tables
from stillroom.assess.result import Estimate, Finding
from stillroom.product import properties
from stillroom.product.mixture import Mixture, of_kind
from stillroom.product.process import Batch
from stillroom.product.recipe import Recipe

SPREAD_KINDS = ("jam", "jelly", "marmalade", "spread", "butter")
DRINK_KINDS = ("drink", "cordial", "juice")
STORAGE_C = 20.0


def quality(batch: Batch, mixture: Mixture, kept: Mixture, ph: Estimate) -> list[Finding]:
    """Return the findings of quality for a finished product.

    Args:
        batch: the recipe carried out.
        mixture: the product as packed, no leading axes.
        kept: the product at the end of its keeping, no leading axes.
        ph: estimate of its pH.
    """
    recipe = batch.recipe
    return [
        *_setting(recipe, mixture, ph),
        *_crystals(mixture, "when packed"),
        *(_crystals(kept, "at the end of keeping") if kept is not mixture else []),
        *_loads(recipe, mixture),
        *_balance(recipe, mixture),
    ]


def _window(name: str) -> tuple[float, float, tables.Row]:
    row = tables.row("quality_windows", name)
    return float(row["low"]), float(row["high"]), row


def _is(recipe: Recipe, words: tuple[str, ...]) -> bool:
    return any(word in f"{recipe.kind or ''} {recipe.name}".lower() for word in words)


def within(subject: str, value: float, window: str, below: str, above: str, fine: str) -> Finding:
    """Return a finding for a value held against a window of the table."""
    low, high, row = _window(window)
    inside = low <= value <= high
    limit = low if value < low else high
    margin = min(value - low, high - value)
    reason = fine if inside else (below if value < low else above)
    return Finding(
        subject=subject,
        area="quality",
        verdict="pass" if inside else "fail",
        reason=reason,
        value=value,
        limit=limit,
        margin=margin,
        unit=str(row["unit"]),
        citation=f"{row['words']} ({row['source']})",
        provenance=str(row["provenance"]),
    )


def _pectin_percent(recipe: Recipe, mixture: Mixture) -> float:
    """Return added pectin and, roughly, that of the fruit (a quarter of its fibre)."""
    own = 0.25 * float(mixture.kg("fibre"))
    return 100 * (float(mixture.kg("pectin")) + own) / float(mixture.total_kg)


def _setting(recipe: Recipe, mixture: Mixture, ph: Estimate) -> list[Finding]:
    if not _is(recipe, SPREAD_KINDS):
        return []
    solids = float(properties.brix(mixture))
    low_methoxyl = any("LM" in name for name in _pectins(recipe))
    prefix = "low_sugar_gel" if low_methoxyl else "gel"
    kind = "low-methoxyl" if low_methoxyl else "high-methoxyl"
    return [
        within(
            "set: soluble solids",
            solids,
            f"{prefix}_soluble_solids",
            f"too little is dissolved for a {kind} pectin to set",
            f"so much is dissolved that a {kind} pectin sets too fast or grains",
            f"in the window in which a {kind} pectin sets",
        ),
        within(
            "set: acidity",
            ph.value,
            f"{prefix}_ph",
            "so acid that the gel weeps",
            "not acid enough for a gel: add some acid",
            f"in the window in which a {kind} pectin sets",
        ),
        within(
            "set: pectin",
            _pectin_percent(recipe, mixture),
            "gel_pectin",
            "little pectin: it may stay a syrup",
            "much pectin: it may be stiff",
            "enough pectin, if the fruit brings what it usually does",
        ),
    ]


def _pectins(recipe: Recipe) -> list[str]:
    return [
        str(recipe.food(n).row["food"])
        for n in recipe.food_names()
        if "pectin" in str(recipe.food(n).row["food"])
    ]


def _crystals(mixture: Mixture, when: str) -> list[Finding]:
    findings = []
    for solute, what in (("sucrose", "sugar grains"), ("glucose", "glucose sets to a crust")):
        ratio = float(properties.saturation_ratio(mixture, solute, STORAGE_C))
        if ratio < 0.5:
            continue
        findings.append(
            Finding(
                subject=f"crystals of {solute} {when}",
                area="quality",
                verdict="fail" if ratio > 1 else "pass",
                value=ratio,
                limit=1.0,
                margin=1 - ratio,
                unit="of saturation",
                reason=f"past its solubility at {STORAGE_C:.0f} °C: {what} in time, and the "
                "syrup left "
                "over has more free water"
                if ratio > 1
                else f"stays dissolved at {STORAGE_C:.0f} °C",
                citation="solubility of the sugar alone; other sugars shift it a little",
                provenance="common practice",
            )
        )
    return findings


def _loads(recipe: Recipe, mixture: Mixture) -> list[Finding]:
    total = float(mixture.total_kg)
    salt = 100 * float(properties.salt_kg(mixture)) / total
    sugars = 100 * float(mixture.kg(*of_kind("sugar"))) / total
    acid = float(properties.titratable_acidity_percent(mixture, "acetic"))
    findings = []
    if salt > 0.3:
        findings.append(
            within(
                "salt as eaten",
                salt,
                "salt_eaten",
                "",
                "very salty: a condiment, or rinse before eating",
                f"{salt:.1f} g salt per 100 g is eaten as it is",
            )
        )
    if acid > 0.3:
        findings.append(
            within(
                "acid as eaten",
                acid,
                "acid_eaten",
                "",
                "harshly sour for most people",
                f"acidity of {acid:.2g} % (as acetic acid) is eaten as it is",
            )
        )
    if recipe.serving is not None and recipe.serving > 0:
        grams = 1000 * recipe.serving
        findings += [
            within(
                "sugars of a serving",
                sugars / 100 * grams,
                "free_sugars_day",
                "",
                "one serving is more than a day's free sugars",
                f"{sugars / 100 * grams:.0f} g sugars in a serving of {grams:.0f} g",
            ),
            within(
                "salt of a serving",
                salt / 100 * grams,
                "salt_day",
                "",
                "one serving is more than a day's salt",
                f"{salt / 100 * grams:.2g} g salt in a serving of {grams:.0f} g",
            ),
        ]
    return findings


def _balance(recipe: Recipe, mixture: Mixture) -> list[Finding]:
    name = "spread" if _is(recipe, SPREAD_KINDS) else "drink" if _is(recipe, DRINK_KINDS) else ""
    acid = float(properties.titratable_acidity_percent(mixture, "citric"))
    if not name or acid <= 0.02:
        return []
    ratio = float(properties.brix(mixture)) / acid
    return [
        within(
            "sweet against sour",
            ratio,
            f"brix_acid_ratio_{name}",
            "sour for its kind",
            "sweet and flat for its kind: a little acid would lift it",
            "balanced for its kind",
        )
    ]
