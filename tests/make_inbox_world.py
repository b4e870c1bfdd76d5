"""The hidden truth behind inbox_example: spirit that mixes and evaporates, casks that age.

Nothing here is what a person wrote down; the sheets come from this truth through instruments that
err. Distillery, casks and rates are invented. Draws are from ``random.Random`` alone, whose streams
are the same on every machine.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from math import exp
from random import Random

from plugins import proof

# chosen so that the mis-keyed 18.2 is no likelier as a figure with two digits exchanged
SEED = "vatting inbox example, 17"
HOUSE = "Oskerby Fold Distillery"
KG_PER_LB = 0.45359237
LITRES_PER_GALLON = proof.LITRES_PER_GALLON
YEAR_DAYS = 365.25
PROOF_PER_MG_100ML = 0.004  # 27 CFR 30.32(b): 100 mg/100 mL of solids hide 0.4 proof
SOAKED = 0.02  # share of a fresh fill that the staves take up
SOLIDS_YEARS = 2.2  # time in which solids come to 63 % of what the wood gives
BISECTIONS = 60


@dataclass(frozen=True)
class Spirit:
    """An amount of spirit as three masses that are conserved when spirits are mixed.

    ``ethanol_kg`` is the ethanol that the density means (the apparent one); ``solids_g`` hide the rest.
    """

    mass_kg: float
    ethanol_kg: float
    solids_g: float = 0.0

    @property
    def fraction(self) -> float:
        """Apparent mass fraction of ethanol."""
        return self.ethanol_kg / self.mass_kg

    @property
    def litres_60F(self) -> float:
        return float(proof.volume_L(self.mass_kg, self.fraction, proof.T_60F))

    @property
    def solids_mg_100mL(self) -> float:
        return self.solids_g * 100.0 / self.litres_60F

    @property
    def proof_apparent(self) -> float:
        return float(proof.proof_from_mass_fraction(self.fraction))

    @property
    def proof_true(self) -> float:
        return self.proof_apparent + PROOF_PER_MG_100ML * self.solids_mg_100mL

    @property
    def weight_kg(self) -> float:
        """As a scale in air shows it."""
        return float(proof.weight_from_mass(self.mass_kg, proof.density(self.fraction, proof.T_20C)))

    def litres(self, temperature_degC: float) -> float:
        return float(proof.volume_L(self.mass_kg, self.fraction, temperature_degC))

    def share(self, part: float) -> Spirit:
        return Spirit(self.mass_kg * part, self.ethanol_kg * part, self.solids_g * part)

    def __add__(self, other: Spirit) -> Spirit:
        return Spirit(self.mass_kg + other.mass_kg, self.ethanol_kg + other.ethanol_kg, self.solids_g + other.solids_g)


def water(mass_kg: float) -> Spirit:
    return Spirit(mass_kg, 0.0)


def true_proof(spirit: Spirit) -> float:
    return spirit.proof_true


def apparent_proof(spirit: Spirit) -> float:
    return spirit.proof_apparent


def water_down_to(spirit: Spirit, wanted: float, strength: Callable[[Spirit], float] = true_proof) -> float:
    """Mass of water [kg] that brings a spirit to a proof, true or apparent."""
    low, high = 0.0, 3.0 * spirit.mass_kg
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        too_strong = strength(spirit + water(middle)) > wanted
        low, high = (middle, high) if too_strong else (low, middle)
    return 0.5 * (low + high)


@dataclass(frozen=True)
class Wood:
    """A cask's wood as the cooper describes it; ``solids`` [mg/100 mL] is what it gives in the end."""

    species: str
    new: bool
    charred: bool
    toast: str
    char: str
    use: str
    held: str
    size_gal: float
    solids: float


@dataclass(frozen=True)
class Cask:
    """One filling. Rates are the shares of ethanol and of water that leave through the wood in a year."""

    name: str
    spirit: str
    grain: str
    distilled_on: date
    distilled_proof: float
    filled_on: date
    entry_proof: float
    entry_gal: float
    wood: Wood
    location: str
    ethanol_rate: float
    water_rate: float
    owner: str = HOUSE
    hold: str = ""

    def on(self, day: date) -> Spirit:
        """What is in the cask on a day."""
        fraction = float(proof.mass_fraction_from_proof(self.entry_proof))
        mass = float(proof.mass_from_volume(self.entry_gal * LITRES_PER_GALLON, fraction, proof.T_60F))
        years = (day - self.filled_on).days / YEAR_DAYS
        kept = 1.0 - SOAKED * (1.0 - exp(-years / 0.1))
        ethanol = mass * fraction * kept * exp(-self.ethanol_rate * years)
        spirit = Spirit(ethanol + mass * (1.0 - fraction) * kept * exp(-self.water_rate * years), ethanol)
        solids = self.wood.solids * (1.0 - exp(-years / SOLIDS_YEARS))
        return Spirit(spirit.mass_kg, ethanol, solids * spirit.litres_60F / 100.0)


def barrel(toast: str, char: str, solids: float = 230.0) -> Wood:
    return Wood("American oak", True, True, toast, char, "virgin", "", 53.0, solids)


NEW = (barrel("light", "#3"), barrel("medium", "#4"), barrel("medium", "#3", 240.0), barrel("none", "#4", 210.0))
SPICY = (barrel("medium", "#3", 225.0), barrel("heavy", "#4", 250.0))
FORTIFIED = Wood("European oak", False, False, "medium", "none", "first fill", "oloroso-style wine", 66.0, 360.0)
RED_WINE = Wood("European oak", False, True, "medium", "#1", "rejuvenated", "red wine", 59.4, 260.0)
USED = Wood("American oak", False, True, "none", "#3", "refill", "bourbon", 53.0, 120.0)
WHITE_WINE = Wood("European oak", False, False, "light", "none", "first fill", "sweet white wine", 59.4, 190.0)
TOASTED = Wood("European oak", True, False, "heavy", "none", "virgin", "", 59.4, 280.0)
MALT_WOOD = (FORTIFIED, RED_WINE, USED, FORTIFIED, WHITE_WINE, USED)

BOURBON = "corn 72, rye 18, malted barley 10"
WHEATED = "corn 70, wheat 18, malted barley 12"
RYE = "rye 76, corn 14, malted barley 10"
MALT = "malted barley 100"


@dataclass(frozen=True)
class Lot:
    """Casks filled one after the other from one make."""

    first: int
    count: int
    spirit: str
    grain: str
    distilled_proof: float
    filled_from: date
    every_days: int
    entry_proof: float
    woods: tuple[Wood, ...]
    rick: str


LOTS = (
    Lot(101, 12, "Bourbon", BOURBON, 134.0, date(2021, 10, 19), 4, 119.0, NEW, "A"),
    Lot(201, 8, "Rye whiskey", RYE, 138.0, date(2021, 4, 6), 6, 117.5, SPICY, "B"),
    Lot(301, 6, "Single malt", MALT, 142.0, date(2020, 9, 8), 9, 122.5, MALT_WOOD, "C"),
    Lot(307, 6, "Single malt", MALT, 142.0, date(2021, 3, 12), 11, 122.5, MALT_WOOD, "C"),
    Lot(401, 5, "Wheated bourbon", WHEATED, 130.0, date(2023, 5, 9), 7, 116.0, (barrel("heavy", "#2"), TOASTED), "A"),
    Lot(501, 5, "Bourbon", BOURBON, 134.0, date(2024, 5, 14), 63, 119.0, NEW, "B"),
)


def casks() -> list[Cask]:
    """All casks of the house, in order of number."""
    rng = Random(f"{SEED} casks")
    return [_cask(lot, place, rng) for lot in LOTS for place in range(lot.count)]


def _cask(lot: Lot, place: int, rng: Random) -> Cask:
    wood = lot.woods[place % len(lot.woods)]
    filled_on = lot.filled_from + timedelta(days=place * lot.every_days)
    tier = 1 + (place * 5 + lot.first // 100) % 6
    # high in the rick it is hot and dry: water leaves faster than ethanol; near the ground it is the reverse
    ethanol = 0.030 + 0.0015 * tier + rng.uniform(-0.002, 0.002)
    water_rate = 0.026 + 0.0042 * tier + rng.uniform(-0.002, 0.002)
    name = f"C-{lot.first + place:04d}"
    return Cask(
        name=name,
        spirit=lot.spirit,
        grain=lot.grain,
        distilled_on=filled_on - timedelta(days=rng.choice((2, 3, 4))),
        distilled_proof=lot.distilled_proof,
        filled_on=filled_on,
        entry_proof=round(lot.entry_proof + rng.uniform(-0.4, 0.4), 1),
        entry_gal=round(wood.size_gal - rng.uniform(0.2, 0.6), 1),
        wood=wood,
        location=f"{lot.rick}-{tier}-{place + 1:02d}",
        ethanol_rate=ethanol,
        water_rate=water_rate,
        owner="Pelloway & Daughters (customer)" if name == "C-0312" else HOUSE,
        hold="customer cask" if name == "C-0312" else "leaking head, watch" if name == "C-0206" else "",
    )
