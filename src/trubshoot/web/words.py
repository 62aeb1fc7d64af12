"""The words of the forms: how fields and choices of the batch file are called on a page."""

from __future__ import annotations

from collections.abc import Mapping

Choices = tuple[tuple[str, str], ...]

SENSES: Choices = (
    ("saw", "Saw it"),
    ("smelled", "Smelled it"),
    ("tasted", "Tasted it"),
    ("no_sign_of", "Looked for it, not there"),
    ("note", "Just a remark"),
)
PLACES: Choices = (
    ("", "Not said"),
    ("fermenter", "In the fermenter"),
    ("glass", "In the glass"),
    ("one bottle", "In one bottle"),
    ("some bottles", "In some bottles"),
    ("all bottles", "In all bottles"),
)
OF_WHATS: Choices = (
    ("both", "The beer, and the sample drawn just now"),
    ("beer", "The beer only"),
    ("sample", "The sample only"),
    ("room", "The room"),
)
INSTRUMENTS: Choices = (
    ("", "Instrument not said"),
    ("hydrometer", "Hydrometer"),
    ("refractometer", "Refractometer"),
)
SAMPLES: Choices = (
    ("", "This batch"),
    ("forced test", "A forced ferment test"),
    ("opened bottle", "An opened bottle"),
    ("water", "Plain water"),
    ("another jar", "Another jar"),
)
# ("", detail) for every verb, (verb, detail) where it means something else
DETAIL_WORDS: Mapping[tuple[str, str], str] = {
    ("", "temp"): "Temperature",
    ("", "beer"): "Temperature of the beer",
    ("", "to"): "To what temperature",
    ("", "took"): "How long it took",
    ("", "for"): "For how long",
    ("", "volume"): "Volume",
    ("", "water"): "Water",
    ("", "grain"): "Grain, by weight",
    ("", "amount"): "How much",
    ("", "what"): "What",
    ("", "with"): "With what",
    ("", "rinsed"): "Rinsed afterwards, and with what",
    ("", "lid"): "Lid",
    ("", "heat"): "Heat",
    ("", "splashed"): "Splashed",
    ("", "where"): "Where",
    ("", "sugar"): "Sugar",
    ("", "bottles"): "Bottles",
    ("", "count"): "How many bottles",
    ("", "size"): "Size of a bottle",
    ("", "dosing"): "Sugar given",
    ("", "stirred"): "Stirred",
    ("", "weighed"): "Sugar weighed",
    ("", "headspace"): "Empty part of each bottle",
    ("", "caps"): "Caps",
    ("steeped", "water"): "Volume of water",
    ("mashed", "water"): "Volume of water",
    ("burned with", "where"): "Where",
    ("stored", "to"): "How warm it gets there at most",
    ("bottled", "volume"): "Volume that went into bottles",
    ("disposed", "what"): "What (such as all bottles)",
}
EXAMPLES: Mapping[str, str] = {
    "temp": "20 C or 68 F",
    "beer": "20 C or 68 F",
    "to": "20 C or 68 F",
    "took": "30 min",
    "for": "5 days",
    "volume": "19 l or 5 gal",
    "amount": "11 g or 1 oz",
    "sugar": "110 g or 4 oz table sugar",
    "bottles": "reused brown longneck 330 ml or 12 oz",
    "size": "330 ml or 12 oz",
    "headspace": "4 %",
}

# details that are chosen and not written; the reader of batch files knows each of these words
_YES_NO: Choices = (("", "Not said"), ("yes", "Yes"), ("no", "No"))
CHOICES: Mapping[tuple[str, str], Choices] = {
    ("", "lid"): (("", "Not said"), ("on", "On"), ("partly", "Partly on"), ("off", "Off")),
    ("", "heat"): (("", "Not said"), ("on", "On"), ("off", "Off")),
    ("", "dosing"): (
        ("", "Not said"),
        ("bulk", "Into all the beer at once"),
        ("per bottle", "Into each bottle"),
    ),
    **{("", name): _YES_NO for name in ("splashed", "stirred", "weighed")},
    ("burned with", "where"): (
        ("", "Not said"),
        ("indoors", "Indoors"),
        ("outdoors", "Outdoors"),
    ),
}
# where a deed belongs: (heading, stage of the batch, verbs)
DEEDS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    (
        "In the fermenter",
        "fermenting",
        (
            *("pitched", "dry hopped", "warmed", "cooled", "cold crashed", "opened lid"),
            *("racked", "transferred", "added", "roused", "repitched"),
        ),
    ),
    (
        "Bottles",
        "bottled",
        ("bottled", "stored", "chilled bottle", "opened bottle", "disposed"),
    ),
    (
        "Brew day and cleaning",
        "brewing",
        (
            *("cleaned", "sanitized", "steeped", "mashed", "boiled", "added extract", "chilled"),
            *("topped up", "aerated", "rehydrated", "burned with"),
        ),
    ),
)

# the questions of a new batch: (heading, heads of their places)
NEW_GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("The batch", ("batch", "units", "style")),
    ("The kit", ("wort", "fermentables")),
    ("Yeast and fermenter", ("yeast", "vessel")),
    ("Measuring and cleaning", ("instruments", "sanitizing")),
    ("Bottles", ("bottles", "storage")),
)
NEW_CHOICES: Mapping[str, Choices] = {
    "units": (("", "Not said (metric)"), ("metric", "Metric"), ("us", "US")),
    "yeast.form": (
        ("", "Not said"),
        ("dry", "Dry"),
        ("liquid", "Liquid"),
        ("slurry", "Slurry, kept from a batch"),
    ),
}
