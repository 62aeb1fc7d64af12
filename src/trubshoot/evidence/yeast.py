"""The yeast: class, form, age, living cells, and how many of them a wort of this size wants."""

from __future__ import annotations

from trubshoot.batch.model import Deed
from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.words import resolve_all, tokens
from trubshoot.physics import fermentation, gravity
from trubshoot.units import DAYS_PER_MONTH

_COLD = frozenset(["fridge", "refrigerator", "refrigerated", "cold", "cool", "cellar", "freezer"])
_WARM = frozenset(
    ["warm", "hot", "shelf", "room", "cupboard", "attic", "car", "garage", "shed", "kitchen"]
)


def yeast(bench: Bench) -> None:
    """Set the facts about the yeast; call after the starting gravity is known."""
    head, row = bench.batch.yeast, bench.yeast_class
    known_class = bench.yeast_class_id is not None
    if known_class:
        bench.text("yeast_class", bench.yeast_class_id)
        bench.state("yeast_is_lager", row.lager)
        bench.state("yeast_is_flocculent", row.flocculation == "high")
        bench.state("yeast_throws_spice_or_fruit", row.spice_or_fruit)
    enzyme = any(_eats_dextrins(bench, deed.what) for _, deed in bench.deeds("added"))
    bench.state("enzyme_added", True if enzyme else None)
    # what was added without a name may be an enzyme
    unnamed = any(deed.what is None for _, deed in bench.deeds("added"))
    ordinary = known_class and not unnamed
    bench.state(
        "yeast_is_diastatic", True if row.diastatic or enzyme else False if ordinary else None
    )
    bench.text("yeast_form", head.form)
    bench.state("starter_made", head.starter)
    bench.state("yeast_past_date", head.past_date)
    if head.age_days is not None:
        bench.number("yeast_age_months", head.age_days / DAYS_PER_MONTH)
    stored_c = _stored_c(bench)
    too_warm_c = bench.constant("yeast_stored_too_warm_c")
    bench.state("yeast_stored_warm", None if stored_c is None else stored_c >= too_warm_c)
    wetted = bench.deed("rehydrated")
    if wetted and wetted[1].temp_c is not None:
        bench.number("rehydration_temp_c", wetted[1].temp_c)
    elif head.rehydrated_c is not None:
        bench.number("rehydration_temp_c", head.rehydrated_c)
    pitched = bench.deed("pitched")
    bench.state("pitched", True if bench.timeline.pitched else None)
    _pitch_rate(bench, pitched[1] if pitched else None, stored_c)


def _eats_dextrins(bench: Bench, what: str | None) -> bool:
    """Tell whether what was added eats dextrins, by the names of the yeast classes."""
    classes = bench.knowledge.yeast_classes
    return any(classes[name].diastatic for name in resolve_all(what, classes))


def _stored_c(bench: Bench) -> float | None:
    head = bench.batch.yeast
    if head.stored_c is not None:
        return head.stored_c
    words = set(tokens(head.stored or ""))
    if words & _COLD:
        return bench.constant("yeast_stored_cold_c")
    if words & {"warm", "hot", "attic", "car"}:
        return bench.constant("yeast_stored_warm_c")
    return bench.constant("yeast_stored_room_c") if words & _WARM else None


def _pitch_rate(bench: Bench, pitched: Deed | None, stored_c: float | None) -> None:
    head, row = bench.batch.yeast, bench.yeast_class
    amount = pitched.amount if pitched is not None and pitched.amount is not None else head.amount
    volume_l = bench.batch.wort.volume_l
    packs = head.packs if head.packs is not None else 1.0
    cells: float | None = None
    if head.form == "dry":
        mass_g = amount.mass_g if amount is not None else None
        if mass_g is None and amount is not None and amount.pieces:
            mass_g = amount.pieces * bench.constant("dry_packet_g")
        if mass_g is None and head.packs is not None:
            mass_g = head.packs * bench.constant("dry_packet_g")
        if mass_g is not None:
            cells = mass_g * bench.constant("dry_yeast_cells_per_g") / 1e9
            if volume_l:
                bench.number("sachet_grams_per_litre", mass_g / volume_l)
    elif head.form == "liquid":
        pieces = amount.pieces if amount is not None and amount.pieces else packs
        cells = pieces * bench.constant("liquid_pack_cells") / 1e9
    elif head.form == "slurry" and amount is not None and amount.volume_ml:
        cells = amount.volume_ml * bench.constant("slurry_cells_per_ml") / 1e9
    share = _viable(bench, stored_c)
    bench.number("yeast_viable_share", share)
    if cells is None or not volume_l or bench.og_points is None:
        bench.lacks("amount and form of the yeast", matters="whether enough yeast was pitched")
        return
    if head.starter:
        cells *= bench.constant("starter_growth_factor")
    try:
        rate = fermentation.pitch_rate_m_ml_p(
            cells * (share if share is not None else 1.0),
            volume_l,
            gravity.plato_from_sg(1 + bench.og_points / 1000),
        )
    except OutOfRangeError:
        return
    bench.number("pitch_rate_ratio", rate / row.pitch_norm)


def _viable(bench: Bench, stored_c: float | None) -> float | None:
    head = bench.batch.yeast
    if head.age_days is None:
        if head.form is not None:
            bench.lacks("age of the yeast", matters="how much of it was still alive")
        return None
    try:
        if head.form == "dry":
            temp_c = bench.constant("yeast_stored_room_c") if stored_c is None else stored_c
            return fermentation.dry_yeast_viability(head.age_days, temp_c).central
        if head.form == "liquid":
            temp_c = bench.constant("yeast_stored_cold_c") if stored_c is None else stored_c
            return fermentation.liquid_yeast_viability(head.age_days, temp_c).central
    except OutOfRangeError:
        return None
    return None
