"""Properties of a mixture: the one place where a model is chosen and meets its table rows.

Every function takes a mixture with any leading axes and returns an array of that shape.
"""

from stillroom.product.properties.acidity import (
    SALTING_OUT_KG_PER_MOL,
    acid,
    acid_dose_for_ph_kg,
    buffer_capacity_mmol_per_kg,
    equivalent_mass_kg_per_mol,
    ph,
    solution,
    titratable_acidity_percent,
    undissociated_mmol_per_kg,
)
from stillroom.product.properties.bands import (
    humectants,
    ph_band,
    product_classes,
    water_activity_band,
)
from stillroom.product.properties.phase import (
    boiling_point_C,
    freezing_point_C,
    osmotic_pressure_MPa,
)
from stillroom.product.properties.solids import (
    NACL_KG_PER_MOL,
    brix,
    brix_temperature_correction,
    density_g_per_cm3,
    dry_matter_percent,
    refractive_index,
    salt_kg,
    saturated_salt_water_activity,
    saturation_ratio,
    solubility_mass_percent,
    water_g_per_cm3,
    water_phase_salt_percent,
)
from stillroom.product.properties.water import (
    CHARGES,
    MODELS,
    Dissolved,
    brine_curve,
    dissolved,
    ion_pairs,
    like_charges,
    moisture_curve,
    molality_curve,
    water_activity,
)

__all__ = [
    "CHARGES",
    "MODELS",
    "NACL_KG_PER_MOL",
    "SALTING_OUT_KG_PER_MOL",
    "Dissolved",
    "acid",
    "acid_dose_for_ph_kg",
    "boiling_point_C",
    "brine_curve",
    "brix",
    "brix_temperature_correction",
    "buffer_capacity_mmol_per_kg",
    "density_g_per_cm3",
    "dissolved",
    "dry_matter_percent",
    "equivalent_mass_kg_per_mol",
    "freezing_point_C",
    "humectants",
    "ion_pairs",
    "like_charges",
    "moisture_curve",
    "molality_curve",
    "osmotic_pressure_MPa",
    "ph",
    "ph_band",
    "product_classes",
    "refractive_index",
    "salt_kg",
    "saturated_salt_water_activity",
    "saturation_ratio",
    "solubility_mass_percent",
    "solution",
    "titratable_acidity_percent",
    "undissociated_mmol_per_kg",
    "water_activity",
    "water_activity_band",
    "water_g_per_cm3",
    "water_phase_salt_percent",
]
