"""The starter recipe that `stillroom new` writes."""

STARTER = """\
# A Stillroom recipe: one product, a list of steps, each with one verb.
# Quantities are text with a unit: "40 kg", "88 degC", "66 %", "18 months".
# Judge it with:  stillroom assess THIS-FILE

name = "Pear and quince spread"
kind = "jam"                       # see `stillroom limits --kinds`
market = ["US", "EU"]              # whose law: US, EU, UK-GB, Codex, Canada, AU-NZ
made_at = { altitude = "350 m" }
serving = "20 g"

# Own ingredients, or corrections to a food of the table (look one up: `stillroom foods pear`).
# What you measured goes here; everything else is taken from the row named in `like`.
[foods."orchard pears"]
like = "pear"
ph = 3.8                           # measured on the pulp
soluble_solids = "13 %"            # refractometer
# titratable_acidity = { value = "0.35 %", as = "malic", endpoint = 8.1 }
# composition = { fibre = "3 %" }  # any component, g per 100 g

[[steps]]
add = { "orchard pears" = "6 kg", "quince" = "2 kg", "sugar" = "5.5 kg", "lemon juice" = "250 g" }

[[steps]]
boil = { until_soluble_solids = "66 %", for = "25 min" }
# or: until_temperature = "104.5 degC" | until_mass = "9 kg" | for = "30 min" with evaporation = "6 kg/h"

# [[steps]]                        # pieces in a liquor:
# steep = { liquor = { "vinegar" = "2 kg", "water" = "1 kg", "salt" = "150 g" }, temperature = "20 degC", for = "5 days", piece = { shape = "slab", thickness = "8 mm" } }
# [[steps]]
# drain = { keep = "pieces" }      # or liquid = "1 kg"

[[steps]]
fill = { container = "jar 250 ml", temperature = "88 degC", jar_temperature = "70 degC", hold = "5 min", inverted = true }

# [[steps]]                        # heat of the closed pack: boiling water, hot water, steam, pressure steam
# heat = { in = "boiling water", hold = "10 min", come_up = "5 min" }

[[steps]]                          # without it the pack counts as put into cold water at once
cool = { in = "air", temperature = "20 degC", for = "4 h" }

[[steps]]
keep = { temperature = "20 degC", for = "12 months", pack = "airtight" }   # airtight, vacuum or open

# Readings of the finished product overrule the prediction:
# [measured]
# ph = 3.35
# water_activity = 0.83
"""
