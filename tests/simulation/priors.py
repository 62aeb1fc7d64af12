"""How often each thing happens, and how far things spread, in the simulated brewery.

Every number here is **judgement** unless its line names a section of the dossiers
(P = physics.md, F = fermentation.md) where a figure was read or worked out. No survey of home
brewers' logs was found, so the mix is our own. It was set so that about 60 % of decision moments
are truly finished and healthy. False-GO rates given that a batch is dangerous hang little on the
mix; counts "of all batches" hang on it fully.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class YeastKind:
    """One class of yeast: how it is written in a log, and how it truly behaves."""

    words: tuple[str, ...]
    share: float
    low_c: float  # below this it stops
    ideal_c: float
    attenuation: float  # true mean in an ordinary wort, percent (F 3.2)
    typical: float  # what recipes count on, percent (F 3.2)
    half_days: float  # at ideal_c (F 2.5: 42 h ale 20 C, 110 h lager 10 C, 18 h kveik)
    tail_rate: float  # per day at ideal_c (F 7.2: 0.5 warm, 0.1 cool and flocculated)
    flocculent: bool = False
    diastatic: bool = False
    target_vols: float = 2.4


YEASTS: dict[str, YeastKind] = {
    "clean_american_ale": YeastKind(
        ("clean american ale", "us ale yeast"), 0.22, 15, 19.5, 79, 80, 1.75, 0.30
    ),
    "dry_neutral_ale": YeastKind(("neutral dry ale", "dry ale"), 0.18, 13, 19, 80, 80, 1.7, 0.30),
    "english_ale": YeastKind(
        ("english ale", "british ale"), 0.14, 15, 19.5, 75, 76, 1.7, 0.16, True, target_vols=2.2
    ),
    "english_ale_maltotriose_poor": YeastKind(
        ("low attenuation english ale",), 0.03, 15, 20, 69, 70, 1.6, 0.25, target_vols=2.2
    ),
    "kolsch_alt": YeastKind(("kolsch", "alt"), 0.04, 12, 16, 81, 82, 2.5, 0.25, target_vols=2.5),
    "wheat_hefe": YeastKind(
        ("wheat", "hefeweizen"), 0.07, 15, 19, 79, 80, 1.6, 0.30, target_vols=2.9
    ),
    "belgian": YeastKind(
        ("belgian ale", "abbey"), 0.07, 17, 21, 81, 81, 1.8, 0.25, target_vols=2.8
    ),
    "saison_diastatic": YeastKind(
        ("saison",), 0.04, 18, 24, 92, 91, 2.5, 0.12, False, True, target_vols=2.8
    ),
    "lager": YeastKind(("lager", "pilsner yeast"), 0.08, 7, 11, 79, 80, 4.2, 0.15, target_vols=2.5),
    "kveik": YeastKind(("kveik",), 0.05, 20, 33, 78, 79, 0.75, 0.60),
    "kit_sachet": YeastKind(("kit yeast", "kit sachet"), 0.08, 16, 20.5, 75, 76, 2.0, 0.25),
}
VAGUE_YEAST = ("kit yeast", "unknown yeast")  # what stands in a log that tells no class


@dataclass(frozen=True)
class BottleKind:
    """One class of bottle of knowledge/bottles.yaml: words for it, share, sizes in ml."""

    words: tuple[str, ...]
    share: float
    sizes_ml: tuple[int, ...]


BOTTLES: dict[str, BottleKind] = {
    "single_use_longneck_reused": BottleKind(
        ("reused brown longneck", "brown glass, reused", "saved beer bottles"), 0.42, (330, 355)
    ),
    "returnable_heavy_330_500": BottleKind(
        ("returnable bottles", "heavy returnable bottles"), 0.20, (330, 500)
    ),
    "single_use_longneck_new": BottleKind(("new longneck",), 0.08, (330, 355)),
    "swing_top_beer": BottleKind(("heavy swing-top beer bottles",), 0.10, (500,)),
    "swing_top_light": BottleKind(("swing-top",), 0.04, (500, 1000)),
    "belgian_heavy_375_750": BottleKind(("heavy belgian bottles",), 0.03, (375, 750)),
    "pet_csd": BottleKind(("brown plastic bottles",), 0.07, (500, 740)),
    "sparkling_champagne": BottleKind(("champagne bottles",), 0.02, (750,)),
    "growler": BottleKind(("growlers",), 0.015, (1900,)),
    "non_beer_glass": BottleKind(("wine bottles", "mason jars"), 0.015, (750,)),
    "swing_top_decorative": BottleKind(("decorative swing-top",), 0.01, (500,)),
}

# sugars: words, true mean grams of CO2 a gram at stoichiometry (P 3), share in metric and US logs
SUGARS: dict[str, tuple[str, float, float, float]] = {
    "sucrose": ("table sugar", 0.5143, 0.62, 0.22),
    "glucose_monohydrate": ("corn sugar", 0.4442, 0.13, 0.62),
    "dextrose_unknown": ("dextrose", 0.4664, 0.15, 0.08),  # either form, half and half
    "dry_malt_extract": ("dry malt extract", 0.36, 0.10, 0.08),
}

# --- scenario: when the brewer asks
SHARE_PATIENT, SHARE_CALENDAR = 0.73, 0.14  # the rest ask in a hurry, before the end
PATIENT_DAYS = (3.0, 16.0)  # after the beer is within 1 point of its end
CALENDAR_DAYS = (7, 10, 14, 21)

# --- the beer
COLD_STALL = 0.030  # the room turns cold before the end and yeast drops (F 6)
FLOC_STALL = 0.012  # yeast drops early without any cold; three times that if flocculent
CRASH_EARLY = 0.020  # chilled to clear before the end
CRASH_DONE = 0.12  # chilled after the end: harmless
STALL_REVIVES = 0.75  # share of stalls that go on once primed, stirred and warm in the bottle
SAISON_PAUSES = 0.35  # F 6: pause at 1.025-1.035
DRY_HOPPED = 0.20
HOP_POINTS_PER_G_L = 0.55  # mean creep; 3-5 g/L gives 1-4 points (F 7.4); lognormal 0.5
INTRUDER_IN_FERMENTER, INTRUDER_AT_PACKAGING = 0.012, 0.012  # F 7.4: 71 % from filling
WRONG_LABEL = 0.12  # expected FG of recipe or kit clearly wrong: extra sd of 5 points
# attenuation by kind of wort (kit, extract, all grain): shift of the mean, spread (F 3.4, 3.5)
WORT_SHIFT, WORT_SPREAD = (-2.0, -2.0, 1.0), (4.0, 3.5, 2.5)
UNFERMENTABLE = 0.04  # dark or poor extract: ends 8-20 % of attenuation short (F 3.4)
TOPPED_UP, UNMIXED = 0.35, 0.30  # of extract beers; share of these read before mixing (F 8)

# --- instruments (P 1.3, P 8)
BIAS_GOOD_SHARE, BIAS_GOOD_SD, BIAS_BAD_SD, BIAS_LIMIT = 0.80, 0.6, 2.5, 6.0
# the eye and the sample, before rounding, uniform within a kind of brewer (F 7.2: 0.5-0.7 in all
# for one careful reader, 1.0 ordinary): by the form / careful / ordinary / casual
READING_SD = ((0.3, 0.6), (0.35, 0.8), (0.5, 1.1), (0.7, 1.4))
TWO_POINT_MARKS = 0.45  # of hydrometers; read to the nearest mark half the time, else between
GASSY_MEAN, GASSY_LIMIT = 1.5, 8.0  # points too high (P 1.3)
REFRACTOMETER = 0.06  # brewers who use one after pitching
REFRACTOMETER_KINDS = (0.5, 0.3, 0.2)  # raw Brix; new formula, said; old formula, not said (P 1.4)
TYPING_ERROR = 0.003  # per reading
SAMPLE_TEMP_SD = 2.5

# --- the bottling
SUGAR_SCALE_G = 1.5  # P 8
SPOON_EACH, DROPS_EACH = 0.06, 0.08  # ways of dosing; the rest in bulk
SPOON_SD = 0.12  # P 8
HEAPED_UNSAID = 0.12  # of spoon dosers: a heaped spoon written as a spoon (x 1.5-2)
MISWEIGHED, DOUBLE_DOSE, UNIT_SLIP = 0.010, 0.006, 0.003
VOLUME_SD, VOLUME_GROSS = 0.04, 0.02  # P 8; gross: 15-30 % less than written
MIXING_SD, UNEVEN = 0.05, 0.035  # ordinary; not stirred: 0.2-0.4 (P 3: bottles at 0.5x-2x)
OVERFILL = 0.010
HOT_PLACE_UNPLANNED = 0.020  # moved to a shed, car or loft, or a heat wave: 32-42 C
PLACES: dict[str, tuple[float, float, float, float, float]] = {
    # share, ordinary temperature, mean and sd of the true hottest, hottest to plan for (P 5.3;
    # fridge: judgement)
    "cellar": (0.33, 14.0, 16.5, 1.2, 18.0),
    "indoor cupboard": (0.47, 20.0, 23.3, 1.5, 25.0),
    "fridge": (0.08, 5.0, 7.0, 1.5, 10.0),
    "garage": (0.08, 17.0, 30.0, 4.5, 40.0),
    "shed": (0.03, 15.0, 31.0, 4.5, 40.0),
    "attic": (0.01, 20.0, 35.0, 4.0, 40.0),
}
MISNAMED_BOTTLES = 0.008  # weaker bottles than the log says

# --- the log: share of logs that lack a thing, by kind of brewer: writes down all that the batch
# file asks for / careful / ordinary / casual
BREWERS = (0.22, 0.30, 0.33, 0.15)
MISSING: dict[str, tuple[float, float, float, float]] = {
    "og": (0.01, 0.03, 0.12, 0.35),
    "expected_og": (0.05, 0.25, 0.35, 0.55),
    "expected_fg": (0.02, 0.12, 0.25, 0.50),
    "fermentables": (0.02, 0.40, 0.65, 0.90),
    "yeast_class": (0.01, 0.06, 0.20, 0.45),
    "yeast_vague": (0.01, 0.02, 0.06, 0.10),
    "pitched": (0.005, 0.03, 0.08, 0.20),
    "beer_temp": (0.02, 0.10, 0.40, 0.75),
    "sample_temp": (0.02, 0.25, 0.55, 0.85),
    "degassed": (0.02, 0.35, 0.65, 0.90),
    "instrument": (0.02, 0.50, 0.80, 0.95),
    "scale": (0.05, 0.40, 0.60, 0.85),
    "water_check": (0.02, 0.40, 0.72, 0.93),
    "vessel": (0.01, 0.30, 0.50, 0.75),
    "volume": (0.005, 0.02, 0.06, 0.15),
    "sugar": (0.005, 0.01, 0.03, 0.08),
    "sugar_kind": (0.005, 0.03, 0.10, 0.22),
    "bottle_kind": (0.01, 0.05, 0.12, 0.28),
    "bottle_size": (0.02, 0.08, 0.20, 0.40),
    "bottle_count": (0.10, 0.20, 0.38, 0.60),
    "headspace": (0.02, 0.70, 0.90, 0.97),
    "place": (0.01, 0.08, 0.22, 0.45),
    "store_temp": (0.03, 0.35, 0.55, 0.80),
    "hop_line": (0.005, 0.03, 0.07, 0.20),
    "hop_amount": (0.03, 0.15, 0.35, 0.60),
    "hops_denied": (0.02, 0.65, 0.90, 0.98),
    "cooling_line": (0.01, 0.05, 0.25, 0.50),
    "top_up": (0.02, 0.10, 0.25, 0.45),
    "stirred": (0.05, 0.40, 0.70, 0.90),
    "weighed": (0.05, 0.30, 0.60, 0.85),
    "today": (0.005, 0.02, 0.05, 0.15),
    "units": (0.02, 0.10, 0.20, 0.40),
    "airlock": (0.60, 0.45, 0.35, 0.35),
    "forced": (0.85, 0.93, 0.98, 1.00),  # a forced ferment test, done and written down
}
GASSY = (0.04, 0.12, 0.28, 0.40)  # share of samples full of gas: they read high (P 1.3)
GAS_UNNOTICED = 0.15  # of gassy samples: written as degassed all the same
FORCED_SD = 0.5  # points, beside the instrument (P 4.2: 0.7 in all)
SIGN_NOTICED = 0.35  # a grown intruder is smelled or seen and written down
# days before asking of the late readings, by kind of brewer
CADENCES: tuple[tuple[tuple[int, ...], ...], ...] = (
    ((0, 3, 7), (0, 3, 6), (0, 2, 4, 7), (0, 4, 8), (0, 2, 7, 10), (0, 1, 3), (0, 3, 5, 7)),
    ((0, 3, 7), (0, 3, 6), (0, 2, 4, 7), (0, 1, 2), (0, 2, 7, 10), (0, 7), (0, 1, 4, 8), (0, 2)),
    ((0, 2), (0, 3), (0, 1, 2), (0, 2, 9), (0, 4), (0, 3, 7), (0,)),
    ((0,), (2,), (0, 5), (1, 3), (), (4,)),
)
LAST_READING_OLD = (0.02, 0.06, 0.15, 0.25)  # the last reading is 1-5 days older than that
# main fermentable by kind of wort: words, points that 1 kg gives in 1 litre (F 3.4, P 1.1)
FERMENTABLES = {
    "kit": ("hopped malt extract kit", 300.0),
    "extract": ("light dry malt extract", 367.0),
    "all grain": ("pale malt", 210.0),  # 70 % of what is in it
}
VESSELS: dict[str, float] = {"bucket": 0.68, "glass carboy": 0.20, "plastic carboy": 0.12}
