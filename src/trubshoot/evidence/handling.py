"""What was done to the beer in the fermenter: vessel, lid, racking, dry hops, cleaning, air."""

from __future__ import annotations

import math

from trubshoot.batch.model import PhReading, Rinse
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.words import resolve, resolve_all, tokens
from trubshoot.evidence.wort import pick

_VESSELS = (
    ("keg", ("keg", "corny")),
    ("steel", ("steel", "stainless", "metal conical")),
    ("plastic_carboy", ("plastic carboy", "pet carboy", "plastic demijohn", "pet demijohn")),
    ("glass_carboy", ("glass", "carboy", "demijohn")),
    ("bucket", ("bucket", "pail", "plastic fermenter", "plastic bin", "fermenting bin", "tub")),
)
OPEN_VESSELS = ("bucket", "glass_carboy", "plastic_carboy")  # no pressure can build up in them
_CLOSED = (
    "cupboard",
    "closet",
    "chest",
    "fridge",
    "refrigerator",
    "freezer",
    "bedroom",
    "wardrobe",
    "cellar",
)
_INDOORS = ("indoors", "inside", "garage", "tent", "kitchen", "basement", "shed", "porch")
_FIRE = ("gas", "propane", "butane", "burner", "camp", "charcoal")
_LATE_SUGARS = ("sugar", "fruit")
# rows that a more telling word beside them outweighs ("no-rinse acid sanitizer" is no riddle)
_UNNAMED = ("unknown_sanitizer", "water_only")


def handling(bench: Bench) -> None:
    """Set the facts about vessel, handling and cleaning."""
    head = bench.batch.vessel
    bench.text("vessel_kind", pick(head.kind, _VESSELS))
    pressure = head.pressure_bar is not None
    open_to_air = bench.facts.get("vessel_kind") in OPEN_VESSELS
    bench.state("vessel_pressure_known", True if pressure or open_to_air else None)
    if head.headspace is not None and head.headspace.percent is not None:
        bench.number("vessel_headspace_percent", head.headspace.percent)
    elif head.volume_l and bench.batch.wort.volume_l:
        bench.number(
            "vessel_headspace_percent",
            max(0.0, 100 * (1 - bench.batch.wort.volume_l / head.volume_l)),
        )
    moved = bench.deeds("racked", "transferred")
    bench.state("racked", True if bench.deeds("racked") else None)
    if moved and moved[0][0] is not None and bench.pitched_at_zero:
        bench.number("days_pitch_to_racking", max(moved[0][0], 0.0))
    splashed = [deed.splashed for _, deed in moved if deed.splashed is not None]
    bench.state("splashed", any(splashed) if splashed else None)
    _dry_hops(bench)
    _openings(bench)
    _late_additions(bench)
    _cleaning(bench)
    _air(bench)
    readings = [entry.ph for _, entry in bench.of(PhReading)]
    if readings:
        bench.number("ph", readings[-1])
        if len(readings) > 1:
            bench.number("ph_fall", readings[0] - readings[-1])


def _dry_hops(bench: Bench) -> None:
    hops = bench.deeds("dry hopped")
    uses = [hop.use or "" for hop in bench.batch.hops]
    listed = bool(uses) and all(uses) and not any("dry" in tokens(use) for use in uses)
    denied = any(
        item.id == "not_dry_hopped" and item.state == "present" for item in bench.understood
    )
    bench.state("dry_hopped", True if hops else False if listed or denied else None)
    if not hops:
        return
    mass_g = sum(deed.amount.mass_g or 0.0 for _, deed in hops if deed.amount is not None)
    if mass_g and bench.batch.wort.volume_l:
        bench.number("dry_hop_g_per_l", mass_g / bench.batch.wort.volume_l)
    day, deed = hops[-1]
    if day is None:
        return
    first = hops[0][0]
    if first is not None and bench.pitched_at_zero:
        bench.number("days_pitch_to_dry_hop", max(first, 0.0))
    end = bench.fermenting_end
    if end is not None:
        bench.number("days_since_dry_hop", max(end - day, 0.0))
    contact = deed.for_days if deed.for_days is not None else None if end is None else end - day
    if contact is not None:
        bench.number("dry_hop_contact_days", max(contact, 0.0))
    before = [item for item in bench.readings if item.day is not None and 0.25 < item.day <= day]
    after = [item for item in bench.readings if item.day is not None and item.day > day]
    if before and after:
        bench.number("fall_after_dry_hop_points", before[-1].points - after[-1].points)


def _openings(bench: Bench) -> None:
    opened = bench.deeds("opened lid", "dry hopped", "racked", "roused", "repitched", "added")
    days = {None if day is None else round(day, 2) for day, _ in opened}
    if opened:
        bench.number("lid_openings", len(days))


def _late_additions(bench: Bench) -> None:
    bench.state("fruit_or_sugar_added_late", True if late_sugar_day(bench) > 0 else None)


def late_sugar_day(bench: Bench) -> float:
    """Return the day of the last sugar, fruit or juice added after pitching; 0 for none.

    What was added without a name may be sugar; without a day it may have been just now.
    """
    latest = 0.0
    for day, deed in bench.deeds("added"):
        key = resolve(deed.what, bench.knowledge.fermentables) or resolve(
            deed.what, bench.knowledge.sugars
        )
        row = bench.knowledge.fermentables.get(key or "")
        sugar = key in bench.knowledge.sugars or (row is not None and row.kind in _LATE_SUGARS)
        fruit = "fruit" in tokens(deed.what or "") or "juice" in tokens(deed.what or "")
        if (sugar or fruit or deed.what is None) and (day is None or day > 0.25):
            latest = max(latest, math.inf if day is None else day)
    return latest


def _rinsed(rinse: Rinse | None) -> bool | None:
    return None if rinse is None else rinse.done


def _cleaning(bench: Bench) -> None:
    """Chlorine, acid, rinsing and skipping, from the head and from every cleaning deed."""
    table = bench.knowledge.sanitizers
    head = bench.batch.sanitizing
    uses = [(head.agent, head.rinsed)] if head.agent else []
    if head.cleaner:
        # beside `with:`, `rinsed:` speaks of that; of chlorine it is taken to speak all the same
        strict = head.agent is None or any(
            table[key].chlorine for key in resolve_all(head.cleaner, table)
        )
        uses.append((head.cleaner, head.rinsed if strict else None))
    uses += [
        (deed.agent or deed.what or "", deed.rinsed)
        for _, deed in bench.deeds("cleaned", "sanitized")
    ]
    chlorine: list[bool | None] = []
    acid = False
    for text, rinse in uses:
        keys = resolve_all(text, table)
        rows = [table[key] for key in keys if key not in _UNNAMED]
        if not rows and "unknown_sanitizer" in keys:
            rows = [table["unknown_sanitizer"]]
        has_chlorine = any(row.chlorine for row in rows)
        has_acid = any(row.acid for row in rows)
        if has_chlorine and has_acid:
            bench.state("chlorine_with_acid", True)
        if has_chlorine:
            chlorine.append(_rinsed(rinse))
        acid = acid or has_acid
        if any(row.cleaner for row in rows) and _rinsed(rinse) is False:
            bench.state("cleaner_left_in", True)
    if chlorine:
        bench.state("chlorine_used", True)
        if False in chlorine:
            bench.state("chlorine_not_rinsed", True)
        elif all(rinsed is True for rinsed in chlorine):
            bench.state("chlorine_rinsed", True)
    bench.state("acid_used", True if acid else None)
    if acid and False in chlorine:
        bench.state("chlorine_with_acid", True)
    bench.state("not_sanitized", True if head.skipped else None)


def _air(bench: Bench) -> None:
    for _, deed in bench.deeds("burned with"):
        where = f" {' '.join(tokens(deed.where or ''))} "
        fire = set(tokens(f"{deed.agent or ''} {deed.what or ''} {deed.words}"))
        if any(f" {place} " in where for place in _INDOORS) and fire.intersection(_FIRE):
            bench.state("burner_indoors", True)
    where = f" {' '.join(tokens(bench.batch.room.where or ''))} "
    if any(f" {place} " in where for place in _CLOSED):
        bench.state("closed_space", True)
    if bench.facts.get("vessel_kind") == "glass_carboy":
        hot = [
            deed.temp_c - 20.0
            for _, deed in bench.deeds("transferred", "racked", "topped up")
            if deed.temp_c is not None
        ]
        if hot:
            bench.number("hot_liquid_in_glass_c", max(*hot, 0.0))
