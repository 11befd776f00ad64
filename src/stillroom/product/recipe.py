"""The form of a recipe: every table and key of the file, checked, with what it means."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    field_validator,
    model_validator,
)

from stillroom import tables
from stillroom.errors import InputError
from stillroom.physics.sorption import FORMS
from stillroom.product import film, properties, quantity
from stillroom.product.container import Container, container, flat_area_m2
from stillroom.product.film import Barrier
from stillroom.product.foods import Food, Uncertain, food, food_row
from stillroom.product.mixture import components, of_kind
from stillroom.product.sorption import PER_KG, Isotherm, isotherm_of_class

MARKETS = ("US", "EU", "UK-GB", "Codex", "Canada", "AU-NZ")
HOB_EFFICIENCY = 55.0  # per cent of the power that reaches the kettle, common practice for gas
METER_PH = 0.05  # what a pH meter is good for, common practice
NEVER_ABOVE_KG = 100_000.0
POURABLE = (
    "fruit juice",
    "vinegar",
    "alcohol",
    "water",
    "fat and oil",
    "sauce",
    "dairy",
    "sugar and syrup",
)
POURED_FROM_WATER = 15.0  # g per 100 g, as honey and the thickest syrups have


def _reader(wanted: str) -> Callable[[object], float]:
    def read(text: object) -> float:
        try:
            return quantity.read(text, wanted)
        except InputError as problem:
            raise ValueError(str(problem)) from None

    return read


def _transmission(text: object) -> float:
    try:
        return quantity.read_transmission(text)
    except InputError as problem:
        raise ValueError(str(problem)) from None


class Litres(float):
    """A volume; the density of the food turns it into a mass."""


def _mass_or_volume(text: object) -> float:
    try:
        return quantity.read(text, "mass")
    except InputError as problem:
        try:
            return Litres(quantity.read(text, "volume"))
        except InputError:
            raise ValueError(str(problem)) from None


Mass = Annotated[float, BeforeValidator(_reader("mass"))]
Temperature = Annotated[float, BeforeValidator(_reader("temperature"))]
Minutes = Annotated[float, BeforeValidator(_reader("time"))]
Length = Annotated[float, BeforeValidator(_reader("length"))]
Share = Annotated[float, BeforeValidator(_reader("share"))]
Rate = Annotated[float, BeforeValidator(_reader("rate"))]
Pressure = Annotated[float, BeforeValidator(_reader("pressure"))]
Power = Annotated[float, BeforeValidator(_reader("power"))]
Area = Annotated[float, BeforeValidator(_reader("area")), Field(gt=0)]
PH = Annotated[float, Field(ge=1, le=13)]
WaterActivity = Annotated[float, Field(gt=0, le=1)]


def _positive(value: float) -> float:
    if value <= 0:
        raise ValueError("the amount must be above 0; leave the line out to remove it.")
    return value


def _some(value: float) -> float:
    if value <= 0:
        raise ValueError("must be above 0.")
    return value


PositiveMass = Annotated[Mass, AfterValidator(_positive)]
PositiveMinutes = Annotated[Minutes, AfterValidator(_some)]
SmallLength = Annotated[Length, AfterValidator(_some), Field(le=1)]
Amount = Annotated[Any, BeforeValidator(_mass_or_volume), AfterValidator(_positive)]


class Form(BaseModel):
    """A table of the file: unknown keys are refused, nothing is coerced in silence."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=False)


class Acidity(Form):
    """A titratable acidity: `{ value = "1.8 %", as = "malic", endpoint = 8.1 }`."""

    value: Share
    as_acid: str = Field(alias="as")
    endpoint: PH = 8.1

    @model_validator(mode="after")
    def _known(self) -> Acidity:
        if self.as_acid not in of_kind("acid"):
            raise ValueError(
                f"{self.as_acid!r} is not an acid.{tables.near(self.as_acid, of_kind('acid'))}"
            )
        return self


class Scatter(Form):
    """How much an own food varies, one standard deviation."""

    ph: Annotated[float, Field(ge=0, le=2)] | None = None
    soluble_solids: Share | None = None
    titratable_acidity: Share | None = None


class OwnFood(Form):
    """An own ingredient, or corrections to a row of the table."""

    like: str
    ph: PH | None = None
    soluble_solids: Annotated[Share, Field(gt=0, le=85)] | None = None
    titratable_acidity: Acidity | None = None
    composition: dict[str, Share] = Field(default_factory=dict)
    scatter: Scatter = Scatter()

    @model_validator(mode="after")
    def _known(self) -> OwnFood:
        try:
            food_row(self.like)
        except InputError as problem:
            raise ValueError(str(problem)) from None
        for name in self.composition:
            if name not in components() or name in of_kind("charge", "buffer"):
                raise ValueError(f"{name!r} is not a component.{tables.near(name, components())}")
        return self


class Boil(Form):
    """Boil until one end point, or for a time at a known evaporation."""

    until_soluble_solids: Share | None = None
    until_mass: PositiveMass | None = None
    until_temperature: Temperature | None = None
    for_: Minutes | None = Field(default=None, alias="for")
    evaporation: Rate | None = None
    power: Annotated[Power, AfterValidator(_some)] | None = None
    efficiency: Annotated[Share, Field(gt=0, le=100)] = HOB_EFFICIENCY

    @model_validator(mode="after")
    def _one_end(self) -> Boil:
        ends = [self.until_soluble_solids, self.until_mass, self.until_temperature]
        given = sum(e is not None for e in ends)
        if given > 1:
            raise ValueError(
                "give one end point only: until_soluble_solids, until_mass or until_temperature."
            )
        if not given and (self.for_ is None or self.evaporation is None):
            raise ValueError(
                "say where the boil ends: until_soluble_solids, until_mass or until_temperature, "
                'or for = "20 min" together with evaporation = "4 kg/h".'
            )
        return self


class Piece(Form):
    """The piece whose middle is the last to be reached."""

    shape: Literal["slab", "cylinder", "sphere"]
    thickness: Length | None = None
    diameter: Length | None = None
    tissue: Literal["raw", "blanched"] = "raw"

    @model_validator(mode="after")
    def _sized(self) -> Piece:
        wanted = "thickness" if self.shape == "slab" else "diameter"
        size = getattr(self, wanted)
        if size is None or not 0 < size <= 0.5:
            raise ValueError(f'a {self.shape} needs its {wanted}, such as {wanted} = "12 mm".')
        return self

    @property
    def half_size_m(self) -> float:
        """Half thickness or radius."""
        return (self.thickness if self.shape == "slab" else self.diameter or 0.0) / 2  # type: ignore[operator]


class Exchange(Form):
    """What pieces exchange with a strong liquor: measured, or water lost over solids gained."""

    water_to_solids: Annotated[float, Field(ge=0.5, le=50)] | None = None
    water_loss: Annotated[Share, Field(gt=0, lt=100)] | None = None
    solids_gain: Annotated[Share, Field(ge=0, lt=100)] | None = None

    @model_validator(mode="after")
    def _one(self) -> Exchange:
        measured = (self.water_loss is None, self.solids_gain is None)
        if any(measured) != all(measured) or (self.water_to_solids is None) == all(measured):
            raise ValueError(
                'say water_to_solids = 4, or what was measured: water_loss = "38 %" and '
                'solids_gain = "7 %" of the weight before.'
            )
        return self


class Steep(Form):
    """Pieces and their covering liquor (brine or syrup) come to equilibrium."""

    liquor: dict[str, Amount] = Field(min_length=1)
    piece: Piece | None = None
    temperature: Temperature = 20.0
    for_: Minutes | None = Field(default=None, alias="for")
    exchange: Exchange | None = None


class Cure(Form):
    """Salt, and curing salts, into meat or fish, by the way they are put in."""

    method: Literal["dry rubbed", "comminuted", "pumped", "immersed"]
    with_: dict[str, Amount] = Field(alias="with", min_length=1)
    temperature: Annotated[Temperature, Field(ge=-5, le=40)] = 3.0
    for_: PositiveMinutes | None = Field(default=None, alias="for")
    pump: Annotated[Share, Field(gt=0, le=60)] = 0.0
    piece: Piece | None = None
    drip: Annotated[Share, Field(le=50)] = 0.0

    @model_validator(mode="after")
    def _told(self) -> Cure:
        if (self.method == "pumped") != (self.pump > 0):
            raise ValueError(
                'pump = "10 %" of the green weight belongs to what is pumped, and is needed there.'
            )
        return self


class Drain(Form):
    """Take away the liquor, the pieces, or a mass of liquid."""

    keep: Literal["pieces", "liquor"] | None = None
    liquid: PositiveMass | None = None

    @model_validator(mode="after")
    def _one(self) -> Drain:
        if (self.keep is None) == (self.liquid is None):
            raise ValueError('say keep = "pieces", keep = "liquor", or liquid = "3 kg".')
        return self


class FilmLayer(Form):
    """One film of a laminate."""

    of: str
    thickness: SmallLength | None = None


class Film(Form):
    """The film of a pack: of the table, layers of it, or by the figure of its data sheet."""

    of: str | None = None
    thickness: SmallLength | None = None
    layers: tuple[FilmLayer, ...] = ()
    wvtr: Annotated[float, BeforeValidator(_transmission)] | None = None
    at: Temperature | None = None
    humidity: Annotated[Share, Field(gt=0)] | None = None
    area: Area | None = None

    @model_validator(mode="after")
    def _known(self) -> Film:
        if bool(self.layers) == (self.of is not None or self.wvtr is not None):
            raise ValueError(
                'say of = "LDPE" with thickness = "50 um", or layers = [...] of such, or a '
                'measured wvtr = "0.8 g/(m2 day)".'
            )
        tested = (self.at is not None, self.humidity is not None)
        if self.wvtr is not None and not all(tested):
            raise ValueError(
                "a transmission without the temperature and humidity of its test says nothing: add "
                'at = "38 degC" and humidity = "90 %" as on its data sheet.'
            )
        if self.wvtr is None and any(tested):
            raise ValueError("at and humidity are those of a measured wvtr: give that too.")
        try:
            self.films  # noqa: B018
        except InputError as problem:
            raise ValueError(str(problem)) from None
        return self

    @property
    def films(self) -> tuple[film.Layer, ...]:
        """The films on each other, with what each lets through."""
        if self.layers:
            return tuple(film.layer(x.of, _um(x.thickness)) for x in self.layers)
        if self.wvtr is None:
            return (film.layer(self.of or "", _um(self.thickness)),)
        assert self.at is not None
        assert self.humidity is not None
        test = (self.wvtr, self.at, self.humidity / 100)
        return (film.measured(*test, self.of, _um(self.thickness)),)


def _um(length_m: float | None) -> float | None:
    return None if length_m is None else 1e6 * length_m


class Holes(Form):
    """Pinholes or channels in the seals."""

    number: Annotated[int, Field(ge=1, le=10_000)] = 1
    diameter: Annotated[Length, AfterValidator(_some), Field(le=0.005)]


class Desiccant(Form):
    """A sachet that takes up water beside the food."""

    of: str = "silica gel"
    mass: PositiveMass

    @model_validator(mode="after")
    def _known(self) -> Desiccant:
        try:
            film.desiccant_held_g_per_g(self.of, 0.5)
        except InputError as problem:
            raise ValueError(str(problem)) from None
        return self


class Fill(Form):
    """Fill into packs and close them; a hot fill names its temperature."""

    container: str
    net: PositiveMass | None = None
    temperature: Temperature | None = None
    pieces_temperature: Temperature | None = None
    jar_temperature: Temperature | None = None
    hold: Minutes | None = None
    inverted: bool = False
    diameter: SmallLength | None = None
    wall: SmallLength | None = None
    thickness: SmallLength | None = None
    jar_mass: PositiveMass | None = None
    film: Film | None = None
    holes: Holes | None = None
    desiccant: Desiccant | None = None

    @model_validator(mode="after")
    def _known_container(self) -> Fill:
        try:
            self.pack  # noqa: B018
        except InputError as problem:
            raise ValueError(str(problem)) from None
        if self.film is None and (self.holes or self.desiccant):
            raise ValueError(
                'holes and desiccant belong to a film: give one, such as film = { of = "LDPE", '
                'thickness = "50 um", area = "480 cm2" }.'
            )
        if self.film and self.film.area is None and flat_area_m2(self.pack) is None:
            raise ValueError(
                f"the film on {self.container!r} needs its area, both faces of a bag or the lid of "
                'a tub, such as area = "480 cm2".'
            )
        if self.temperature is None and (self.hold is not None or self.inverted):
            raise ValueError(
                'hold and inverted belong to a hot fill: give its temperature, such as "88 degC".'
            )
        return self

    @property
    def pack(self) -> Container:
        """The container with its sizes."""
        return container(self.container, self.diameter, self.wall, self.thickness, self.jar_mass)

    @property
    def barrier(self) -> Barrier | None:
        """What film and holes let through; None where the pack is taken as tight."""
        if self.film is None:
            return None
        films, area = self.film.films, self.film.area
        remarks = [word for x in films for word in x.remarks]
        if area is None:
            area = flat_area_m2(self.pack)
            assert area is not None
            remarks.append(f"{self.container} taken as {1e4 * area:.0f} cm² of film: measure it")
        holes = (self.holes.number, 1e6 * self.holes.diameter) if self.holes else (0, 0.0)
        return Barrier(films, area, *holes, tuple(remarks))

    @property
    def capacity_L(self) -> float:
        """Capacity of the container to the brim."""
        return self.pack.capacity_L


class Penetration(Form):
    """Heat penetration measured in this pack: `{ f = "28 min", j = 1.6 }`."""

    f: PositiveMinutes
    j: Annotated[float, Field(ge=0.1, le=5)] = 1.0
    break_after: PositiveMinutes | None = None
    f_after: PositiveMinutes | None = None

    @model_validator(mode="after")
    def _both(self) -> Penetration:
        if (self.break_after is None) != (self.f_after is None):
            raise ValueError("a broken line needs both break_after and f_after.")
        return self


class Heat(Form):
    """A heat treatment of the closed pack."""

    in_: Literal["boiling water", "hot water", "stirred water", "steam", "pressure steam"] = Field(
        alias="in"
    )
    hold: PositiveMinutes
    temperature: Temperature | None = None
    gauge: Pressure | None = None
    come_up: Minutes = 0.0
    start: Temperature | None = None
    by: Literal["conduction", "convection", "pieces"] | None = None
    piece: Piece | None = None
    penetration: Penetration | None = None
    p90_z: Literal[7, 9] = 7

    @field_validator("in_", mode="before")
    @classmethod
    def _no_oven(cls, value: object) -> object:
        if value == "oven":
            raise ValueError(
                "an oven heats jars unevenly and cracks them: use boiling water or steam."
            )
        return value

    @model_validator(mode="after")
    def _hot_enough(self) -> Heat:
        if self.in_ in ("hot water", "stirred water") and self.temperature is None:
            raise ValueError(f'{self.in_} needs its temperature, such as "85 degC".')
        if self.in_ == "pressure steam" and (self.temperature is None) == (self.gauge is None):
            raise ValueError('pressure steam needs gauge = "10 psi" or a measured temperature.')
        if self.in_ != "pressure steam" and self.gauge is not None:
            raise ValueError(f'{self.in_} has no gauge; write in = "pressure steam".')
        return self


class Cool(Form):
    """How the closed pack cools after a hot fill or a heat treatment."""

    in_: Literal["air", "moving air", "water"] = Field(alias="in")
    temperature: Temperature = 20.0
    for_: PositiveMinutes | None = Field(default=None, alias="for")


class Ferment(Form):
    """A ferment: of its own flora or with a starter; readings correct the prediction."""

    kind: Literal["lactic", "alcoholic", "acetic"] = "lactic"
    temperature: Annotated[Temperature, Field(ge=-2, le=60)] = 20.0
    for_: PositiveMinutes = Field(alias="for")
    starter: bool = False
    ph: dict[PositiveMinutes, PH] = Field(default_factory=dict)
    acidity: dict[PositiveMinutes, Annotated[Share, Field(gt=0, le=10)]] = Field(
        default_factory=dict
    )

    @model_validator(mode="after")
    def _readings_in_time(self) -> Ferment:
        readings = [*self.ph, *self.acidity]
        if readings and self.kind != "lactic":
            raise ValueError(f"readings correct a lactic ferment, not one that is {self.kind}.")
        if readings and max(readings) > self.for_ * 1.0001:
            raise ValueError(
                f"a reading after {max(readings) / 1440:g} d lies beyond the end of the ferment, "
                f"{self.for_ / 1440:g} d."
            )
        return self


class Room(Form):
    """The air of the room: `{ temperature = "20 degC", humidity = "60 %" }`."""

    temperature: Annotated[Temperature, Field(ge=0, le=50)] = 20.0
    humidity: Annotated[Share, Field(gt=0)] = 60.0


class Cook(Form):
    """Heat the food itself, before it is dried or packed, until its coldest part is hot."""

    to: Annotated[Temperature, Field(ge=40, le=100)]
    in_: Literal["water", "steam", "air"] = Field(default="air", alias="in")
    humidity: Share | None = None
    hold: Minutes = 0.0
    loss: Annotated[Share, Field(le=60)] = 0.0

    @model_validator(mode="after")
    def _humid_air(self) -> Cook:
        if self.humidity is not None and self.in_ != "air":
            raise ValueError("humidity belongs to hot air; water and steam are wet by themselves.")
        return self


class Dry(Form):
    """Drying, to an end point or for a time; the piece and its air tell how long."""

    until_water_activity: Annotated[WaterActivity, Field(ge=0.05, le=0.98)] | None = None
    until_water: Annotated[Share, Field(gt=0, lt=100)] | None = None
    until_mass: PositiveMass | None = None
    for_: PositiveMinutes | None = Field(default=None, alias="for")
    temperature: Annotated[Temperature, Field(ge=0, le=100)] | None = None
    humidity: Annotated[Share, Field(gt=0, lt=100)] | None = None
    room: Room = Room()
    piece: Piece | None = None
    faces: Literal[1, 2] = 2
    thickest: Annotated[Share, Field(le=100)] = 20.0
    weights: dict[PositiveMinutes, PositiveMass] = Field(default_factory=dict)
    efficiency: Annotated[Share, Field(gt=0)] | None = None
    condition: PositiveMinutes | None = None

    @property
    def until(self) -> bool:
        """Whether it ends at a point, not at a time."""
        ends = (self.until_water_activity, self.until_water, self.until_mass)
        return any(e is not None for e in ends)

    @model_validator(mode="after")
    def _one_end(self) -> Dry:
        ends = (self.until_water_activity, self.until_water, self.until_mass)
        if sum(e is not None for e in ends) > 1:
            raise ValueError(
                "give one end point only: until_water_activity, until_water or until_mass."
            )
        if not self.until and self.for_ is None:
            raise ValueError(
                "say where drying ends: until_water_activity, until_water or until_mass, or for "
                "how long."
            )
        if self.humidity is not None and self.temperature is None:
            raise ValueError("humidity is that of the drying air: give its temperature too.")
        if self.faces == 1 and (self.piece is None or self.piece.shape != "slab"):
            raise ValueError("faces = 1 is for a slab that dries on one side only.")
        return self


class Keep(Form):
    """How the product is kept and for how long."""

    temperature: Temperature
    for_: Minutes = Field(alias="for")
    pack: Literal["airtight", "vacuum", "open"] = "airtight"
    humidity: Share | None = None


class Step(Form):
    """One step: exactly one verb."""

    add: dict[str, Amount] | None = Field(default=None, min_length=1)
    boil: Boil | None = None
    steep: Steep | None = None
    cure: Cure | None = None
    drain: Drain | None = None
    fill: Fill | None = None
    heat: Heat | None = None
    cool: Cool | None = None
    ferment: Ferment | None = None
    cook: Cook | None = None
    dry: Dry | None = None
    keep: Keep | None = None
    note: str = ""

    @model_validator(mode="after")
    def _one_verb(self) -> Step:
        if len(self.verbs) != 1:
            found = f"found {' and '.join(self.verbs)}" if self.verbs else "found none"
            raise ValueError(f"a step has exactly one verb ({', '.join(VERBS)}), {found}.")
        return self

    @property
    def verbs(self) -> list[str]:
        """Names of the verbs that are given."""
        return [v for v in VERBS if getattr(self, v) is not None]

    @property
    def verb(self) -> str:
        """Name of the verb."""
        return self.verbs[0]


VERBS = (
    "add", "boil", "steep", "cure", "drain", "fill", "heat", "cool", "ferment", "cook", "dry",
    "keep",
)  # fmt: skip


class OwnIsotherm(Form):
    """The isotherm of the finished, dry product: of its class, or fitted to its own points."""

    like: str | None = None
    form: str | None = None
    constants: dict[str, float] = Field(default_factory=dict)
    unit: Literal["g/g", "g/100 g"] = "g/g"
    from_: WaterActivity = Field(default=0.1, alias="from")
    to: WaterActivity = 0.85
    source: str = "own points"

    @model_validator(mode="after")
    def _one(self) -> OwnIsotherm:
        if (self.like is None) == (self.form is None):
            raise ValueError(
                'say like = "sugar-rich dried fruit", or form = "gab" with its constants.'
            )
        try:
            self.curve  # noqa: B018
        except InputError as problem:
            raise ValueError(str(problem)) from None
        return self

    @property
    def curve(self) -> Isotherm:
        """The isotherm with its constants."""
        if self.like is not None:
            return isotherm_of_class(self.like)
        plain = [name for name, form in FORMS.items() if not form.with_temperature]
        if self.form not in plain:
            raise InputError(f"form {self.form!r} is not one of {', '.join(plain)}.")
        wanted = FORMS[self.form].constants
        if set(self.constants) != set(wanted):
            raise InputError(f"{self.form} takes the constants {', '.join(wanted)}.")
        if not self.from_ < self.to:
            raise InputError("an isotherm begins at a lower water activity than it ends.")
        return Isotherm(
            self.form, self.constants, PER_KG[self.unit], self.from_, self.to, self.form,
            self.source,
        )  # fmt: skip


class Place(Form):
    """Where the product is made."""

    altitude: Length = 0.0


class Measured(Form):
    """Readings of the finished product; they overrule the prediction."""

    ph: PH | None = None
    ph_uncertainty: Annotated[float, Field(gt=0, le=1)] = METER_PH
    water_activity: WaterActivity | None = None
    water_activity_uncertainty: Annotated[float, Field(gt=0, le=0.2)] = 0.005
    soluble_solids: Share | None = None


class Recipe(Form):
    """A product: what goes in, the steps, and how it is kept."""

    name: str = Field(min_length=1)
    kind: str | None = None
    market: tuple[str, ...] = ()
    on: date | None = None
    serving: Mass | None = None
    made_at: Place = Place()
    law: dict[str, bool | str | float] = Field(default_factory=dict)
    foods: dict[str, OwnFood] = Field(default_factory=dict)
    steps: tuple[Step, ...] = Field(min_length=1)
    isotherm: OwnIsotherm | None = None
    measured: Measured = Measured()

    @model_validator(mode="before")
    @classmethod
    def _market_may_be_one(cls, data: Any) -> Any:
        if isinstance(data, dict) and isinstance(data.get("market"), str):
            return {**data, "market": [data["market"]]}
        return data

    @model_validator(mode="after")
    def _consistent(self) -> Recipe:
        for market in self.market:
            if market not in MARKETS:
                raise ValueError(f"market {market!r} is not one of {', '.join(MARKETS)}.")
        if self.kind is not None and self.kind not in tables.index("kinds"):
            raise ValueError(
                f"kind {self.kind!r} is not known.{tables.near(self.kind, tables.index('kinds'))}"
            )
        total = 0.0
        for place, name, amount in self.parts():
            try:
                total += self.kg(name, amount)
            except InputError as problem:
                raise ValueError(f"{place}: {problem}") from None
        if total > NEVER_ABOVE_KG:
            raise ValueError(f"the batch is above {NEVER_ABOVE_KG:g} kg; check the units.")
        return self

    def parts(self) -> Iterator[tuple[str, str, float]]:
        """Yield (place in the file, food, amount) of everything that goes in."""
        for n, step in enumerate(self.steps, start=1):
            for verb, amounts in (
                ("add", step.add),
                ("steep", step.steep and step.steep.liquor),
                ("cure", step.cure and step.cure.with_),
            ):
                for name, amount in (amounts or {}).items():
                    yield f"step {n}, {verb}", name, amount

    def food_names(self) -> list[str]:
        """Return the foods of the recipe, each once, in order of use."""
        return list(dict.fromkeys(name for _, name, _ in self.parts()))

    def kg(self, name: str, amount: float) -> float:
        """Return the mass of an amount of a food; litres by its density."""
        one = self.food(name)
        if not isinstance(amount, Litres):
            return amount
        if not _pours(one):
            raise InputError(f'{name!r} is not poured; give its mass, such as "2 kg".')
        return float(amount * properties.density_g_per_cm3(one.mixture()))

    def food(self, name: str) -> Food:
        """Return a food of the recipe: an own one, or one of the table."""
        own = self.foods.get(name)
        return _own_food(name, own) if own else food(name)

    def keep(self) -> Keep | None:
        """Return the last keep step."""
        kept = [s.keep for s in self.steps if s.keep]
        return kept[-1] if kept else None


def _pours(one: Food) -> bool:
    """Return whether a volume of a food means a mass: liquids, not powders, cheese or curds."""
    if not one.group.startswith(POURABLE) or "cheese" in str(one.row["food"]):
        return False
    wet = (one.row["water_g_100g"] or 0) + (one.row["alcohol_g"] or 0)
    return bool(wet >= POURED_FROM_WATER or (one.row["fat_g"] or 0) > 95)


def _own_food(name: str, own: OwnFood) -> Food:
    base = food(own.like)
    ph, solids, acidity = base.ph, None, None
    if own.ph is not None:
        half = 2 * own.scatter.ph if own.scatter.ph is not None else METER_PH
        ph = Uncertain(own.ph, own.ph - half, own.ph + half, "given", "recipe")
    if own.soluble_solids is not None:
        solids = Uncertain(
            own.soluble_solids, own.soluble_solids, own.soluble_solids, "given", "recipe"
        )
    if own.titratable_acidity is not None:
        value = own.titratable_acidity.value
        half = 2 * (own.scatter.titratable_acidity or 0.025 * value)
        measured = Uncertain(value, value - half, value + half, "given", "recipe")
        acidity = (measured, own.titratable_acidity.as_acid, own.titratable_acidity.endpoint)
    spread = base.spread_percent if solids is None else 0.2
    if own.scatter.soluble_solids is not None:
        spread = own.scatter.soluble_solids
    return Food(
        name, base.row, ph, base.buffer, base.profile, own.composition, solids, acidity, spread
    )
