"""The wort: water, ingredients, boil, chilling, and the starting gravity they add up to."""

from __future__ import annotations

from trubshoot.evidence.bench import Bench
from trubshoot.evidence.words import resolve, tokens
from trubshoot.knowledge_base.tables import Fermentable
from trubshoot.physics.fermentation import Ingredient
from trubshoot.units import DAYS_PER_MONTH

_KINDS = (
    ("hopped_kit", ("hopped kit", "prehopped", "pre hopped", "kit can", "canned kit", "beer kit")),
    ("partial_mash", ("partial mash", "mini mash", "partial")),
    ("all_grain", ("all grain", "full mash")),
    ("extract", ("extract", "malt extract", "extract kit")),
    ("kit", ("kit",)),
)
_WATERS = (
    (
        "treated_tap",
        ("treated", "filtered", "carbon", "metabisulphite", "metabisulfite", "campden"),
    ),
    (
        "deionised",
        ("deionised", "deionized", "distilled", "reverse osmosis", "ro", "rain", "demineralised"),
    ),
    ("well", ("well", "spring on site", "private")),
    ("bottled", ("bottled", "shop water", "spring")),
    ("tap", ("tap", "mains", "city", "town", "municipal")),
)


def pick(text: str | None, choices: tuple[tuple[str, tuple[str, ...]], ...]) -> str | None:
    """Return the first choice one of whose phrases stands in the text."""
    if not text:
        return None
    padded = f" {' '.join(tokens(text))} "
    for name, phrases in choices:
        if any(f" {phrase} " in padded for phrase in phrases):
            return name
    return None


def wort(bench: Bench) -> None:
    """Set the facts about water, ingredients, boil and chilling."""
    batch, head = bench.batch, bench.batch.wort
    bench.text("wort_kind", pick(head.kind, _KINDS))
    top_up = bench.deed("topped up")
    waters = [text for text in (head.water, top_up[1].water if top_up else None) if text]
    kinds = [kind for kind in (pick(text, _WATERS) for text in waters) if kind]
    treated = pick(head.water_treatment, _WATERS) == "treated_tap"
    if kinds:
        # one untreated water among several is what the beer got
        worst = "tap" if "tap" in kinds else kinds[0]
        bench.text("water", "treated_tap" if worst == "tap" and treated else worst)
    bench.state("topped_up", True if top_up or head.topped_up_l else head.topped_up)
    if head.boiled_l and head.volume_l:
        bench.number("partial_boil_share", min(head.boiled_l / head.volume_l, 1.0))
    _process(bench)
    ages = [
        item.age_days
        for item in batch.fermentables
        if item.age_days is not None and _row(bench, item.what, "extract") is not None
    ]
    if ages:
        bench.number("extract_age_months", max(ages) / DAYS_PER_MONTH)
    extracts = [item.what or "" for item in batch.fermentables if _row(bench, item.what, "extract")]
    if extracts:
        dry = all({"dry", "dried", "dme", "powder"} & set(tokens(text)) for text in extracts)
        bench.state("dried_extract_only", dry)
    if batch.fermentables:
        grain = any(_row(bench, item.what, "grain") for item in batch.fermentables)
        bench.state("grain_used", grain or bool(bench.deeds("steeped", "mashed")))
    _starting_gravity(bench)


def _row(bench: Bench, what: str | None, kind: str) -> Fermentable | None:
    key = resolve(what, bench.knowledge.fermentables)
    row = bench.knowledge.fermentables[key] if key else None
    return row if row is not None and row.kind == kind else None


def _process(bench: Bench) -> None:
    steep, mash = bench.deed("steeped"), bench.deed("mashed")
    if steep:
        bench.number("steep_temp_c", steep[1].temp_c)
        if steep[1].water_l and steep[1].grain_g:
            bench.number("steep_litres_per_kg", steep[1].water_l / (steep[1].grain_g / 1000))
    if mash:
        bench.number("mash_temp_c", mash[1].temp_c)
        bench.number("mash_minutes", mash[1].took_min)
    boil = bench.deed("boiled")
    if boil:
        bench.number("boil_minutes", boil[1].took_min)
        bench.state("lid_on_boil", None if boil[1].lid is None else boil[1].lid == "on")
        bench.state("no_boil", False)
    elif bench.batch.wort.was_boiled is False:
        bench.state("no_boil", True)
    extract = bench.deed("added extract")
    if extract and extract[1].heat:
        bench.state("extract_added_on_heat", extract[1].heat == "on")
        bench.state("extract_added_heat_off", extract[1].heat == "off")
    chill = bench.deed("chilled")
    if chill:
        bench.number("chill_minutes", chill[1].took_min)
    _waiting(bench, chill[0] if chill else boil[0] if boil else None)
    shaken = bench.deed("aerated")
    if shaken and (shaken[0] is None or shaken[0] <= 0.5):
        bench.state("aerated", True)
        bench.number(
            "aeration_seconds", None if shaken[1].took_min is None else shaken[1].took_min * 60
        )
    late = [day for day, _ in bench.deeds("aerated") if day is not None and day > 0.75]
    if late:
        bench.number("aerated_late_hours", max(late) * 24)


def _waiting(bench: Bench, cooled_at: float | None) -> None:
    """Hours the wort stood without yeast: from cooling to pitching, or to now."""
    if cooled_at is None:
        return
    if bench.timeline.pitched:
        bench.number("hours_wort_unpitched", max(-cooled_at, 0.0) * 24)
    elif bench.brewing_only and bench.now is not None and bench.timeline.now_known:
        bench.number("hours_wort_unpitched", max(bench.now - cooled_at, 0.0) * 24)


def ingredients(bench: Bench) -> tuple[list[Ingredient], float] | None:
    """Return what each fermentable adds to the whole batch, and the spread of the attenuation.

    None when the volume or any fermentable's amount or kind is not known.
    """
    volume_l = bench.batch.wort.volume_l
    if not bench.batch.fermentables or not volume_l:
        return None
    found: list[Ingredient] = []
    spread = total = 0.0
    for item in bench.batch.fermentables:
        key = resolve(item.what, bench.knowledge.fermentables)
        if key is None or item.amount is None or item.amount.mass_g is None:
            return None
        row = bench.knowledge.fermentables[key]
        points = row.points_l_per_kg * item.amount.mass_g / 1000 / volume_l
        if points > 120:
            return None
        found.append(Ingredient(points, row.rdf_percent, row.kind in ("extract", "grain")))
        spread += points * row.sigma_percent
        total += points
    return (found, spread / total) if total > 0 else None


def _shares(bench: Bench) -> None:
    """Share of the points from plain sugar, and from what hardly ferments."""
    volume_l = bench.batch.wort.volume_l or 1.0  # shares do not depend on it
    by_kind: dict[str, float] = {}
    for item in bench.batch.fermentables:
        key = resolve(item.what, bench.knowledge.fermentables)
        if key is None or item.amount is None or item.amount.mass_g is None:
            return
        row = bench.knowledge.fermentables[key]
        points = row.points_l_per_kg * item.amount.mass_g / 1000 / volume_l
        heavy = row.kind == "unfermentable" or (
            row.kind in ("extract", "grain") and row.attenuation_mid <= 70
        )
        kind = "unfermentable" if heavy else row.kind
        by_kind[kind] = by_kind.get(kind, 0.0) + points
    total = sum(by_kind.values())
    if total > 0:
        bench.number("sugar_share_percent", 100 * by_kind.get("sugar", 0.0) / total)
        bench.number("unfermentable_share_percent", 100 * by_kind.get("unfermentable", 0.0) / total)


def _starting_gravity(bench: Bench) -> None:
    """Choose the starting gravity: measured, unless a top-up left it unmixed; else worked out."""
    _shares(bench)
    head = bench.batch.wort
    measured = next((reading for reading in bench.readings if _is_start(bench, reading.day)), None)
    recipe = None if head.expected_og is None else (head.expected_og - 1) * 1000
    known = ingredients(bench)
    computed = sum(item.points for item in known[0]) if known else None
    if measured is not None:
        if recipe is not None:
            bench.number("og_measured_minus_recipe_points", measured.points - recipe)
        if computed is not None:
            bench.number("og_measured_minus_computed_points", measured.points - computed)
    if computed is not None and recipe is not None:
        bench.number("og_computed_minus_recipe_points", computed - recipe)
    trust = bench.constant("og_topped_up_trust_points")
    better, better_how = (
        (computed, "worked out from the fermentables")
        if computed is not None
        else (recipe, "from the kit sheet")
    )
    if (
        measured is not None
        and better is not None
        and bench.is_set("topped_up")
        and abs(measured.points - better) > trust
    ):
        bench.og_points, bench.og_how = better, better_how
        bench.og_sigma = max(better * bench.constant("og_computed_sigma_share"), 1.0)
        bench.notes.append(
            f"the first reading ({1 + measured.points / 1000:.3f}) is far from what the wort adds "
            "up to and water was topped up: the reading is not used as starting gravity"
        )
    elif measured is not None:
        bench.og_points, bench.og_how = measured.points, "measured"
        bench.og_sigma = (
            bench.constant("og_topped_up_sigma_points")
            if bench.is_set("topped_up") and better is None
            else measured.sigma_points
        )
    elif recipe is not None:
        bench.og_points, bench.og_how = recipe, "from the kit sheet, not measured"
        bench.og_sigma = max(recipe * bench.constant("og_computed_sigma_share"), 1.0)
    elif computed is not None:
        bench.og_points, bench.og_how = computed, better_how
        bench.og_sigma = max(computed * bench.constant("og_computed_sigma_share"), 1.0)
    bench.state("og_known", bench.og_points is not None)
    bench.number("og_points", bench.og_points)
    if bench.og_points is None:
        bench.lacks("starting gravity", matters="attenuation, alcohol and the expected end")


def _is_start(bench: Bench, day: float | None) -> bool:
    """Tell whether a reading stands for the unfermented wort: before or soon after pitching."""
    return day is not None and day <= 0.25 and (bench.pitched_at_zero or day == 0)
