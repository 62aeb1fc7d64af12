"""Many different logs before bottling, good ones and flawed ones, for the laws of the verdict."""

from __future__ import annotations

from functools import cache

from tests.safety.gate import Doc, added, by_day_numbers, changed, good, reading

_FORCED = {
    "at": "2026-03-18 11:00",
    "gravity": 1.0105,
    "of": "forced test",
    "sample": "20 C",
    "with": "hydrometer",
    "degassed": "yes",
}


@cache
def go_logs() -> dict[str, Doc]:
    """Return logs of batches that may be bottled."""
    base = good()
    rest = {"at": "2026-03-21 11:00", "did": "dry hopped", "amount": "50 g"}
    long_rest = added(
        changed(base, hops=[{"what": "an aroma hop", "amount": "50 g", "use": "dry"}]),
        {**rest, "at": "2026-03-15 10:00"},
    )
    return {
        "plain": base,
        "day numbers": by_day_numbers(base),
        "us units": changed(base, units="us", plan__volume="4.8 gal", storage__temp="61 F"),
        "per bottle": changed(
            base,
            plan__sugar="1.7 g table sugar per bottle",
            plan__dosing="per bottle",
        ),
        "corn sugar": changed(base, plan__sugar="110 g corn sugar"),
        "no sugar": changed(base, plan__sugar="none"),
        "plastic bottles": changed(base, bottles={"kind": "pet bottles", "size": "500 ml"}),
        "champagne bottles": changed(base, bottles={"kind": "champagne bottles", "size": "750 ml"}),
        "new bottles": changed(
            base, bottles={"kind": "new longneck", "size": "330 ml", "reused": "no"}
        ),
        "long plateau": added(base, reading("2026-03-21 20:00", 1.011)),
        "forced test": added(base, _FORCED),
        "hydrometer a little off": changed(base, instruments__hydrometer_in_water=1.001),
        "scale for 15 C": changed(base, instruments__hydrometer_scale="15 C"),
        "warm samples": changed(base, log__4__sample="21 C", log__5__sample="22 C"),
        "bottles in the plan": changed(
            base, bottles=None, plan__bottles="55 reused longneck 330 ml"
        ),
        "dry hopped and rested": long_rest,
        "not dry hopped by word": changed(base, hops=None, circumstances=["not dry hopped"]),
        "english ale": changed(
            base, yeast__class="english ale", wort__expected_fg=1.013, style="bitter"
        ),
    }


@cache
def hold_logs() -> dict[str, Doc]:
    """Return logs of batches that must be held, most of them for one flaw."""
    base = good()
    hop = {"at": "2026-03-21 10:00", "did": "dry hopped", "amount": "50 g"}
    fruit = {"at": "2026-03-14 10:00", "did": "added", "what": "raspberries", "amount": "1 kg"}
    enzyme = {"at": "2026-03-10 10:00", "did": "added", "what": "enzyme", "amount": "5 g"}
    crash = {"at": "2026-03-17 10:00", "did": "cold crashed", "to": "2 C"}
    return {
        "two readings": changed(base, log=base["log"][:4] + base["log"][5:]),
        "still falling": changed(base, log__7__gravity=1.008),
        "above the end": changed(
            base,
            log__3__gravity=1.021,
            log__4__gravity=1.019,
            log__5__gravity=1.019,
            log__7__gravity=1.019,
        ),
        "far below the end": changed(
            base,
            log__3__gravity=1.006,
            log__4__gravity=1.002,
            log__5__gravity=1.002,
            log__7__gravity=1.002,
        ),
        "old reading": changed(base, log=base["log"][:7]),
        "not degassed": changed(base, log__5__degassed="no"),
        "refractometer at the end": changed(base, log__7__with="refractometer"),
        "no sample temperature": changed(base, log__5__sample=None),
        "hot sample": changed(base, log__7__sample="38 C"),
        "hydrometer far off": changed(base, instruments__hydrometer_in_water=0.994),
        "hydrometer unchecked": changed(base, instruments__hydrometer_in_water=None),
        "too much sugar": changed(base, plan__sugar="260 g table sugar"),
        "absurd sugar": changed(base, plan__sugar="9 kg table sugar"),
        "sugar in cups": changed(base, plan__sugar="2 cups table sugar", plan__weighed=None),
        "two sugars": changed(base, plan__sugar=["120 g table sugar", "100 g honey"]),
        "heaped spoon a bottle": changed(
            base,
            plan__sugar="2 heaped tsp table sugar per bottle",
            plan__dosing="per bottle",
            plan__weighed="no",
        ),
        "tiny volume": changed(base, plan__volume="5 l"),
        "more than there is": changed(base, plan__volume="40 l"),
        "few bottles": changed(base, bottles__count=20),
        "wine bottles": changed(base, bottles__kind="wine bottles"),
        "wine bottles in the plan": changed(base, plan__bottles="wine bottles"),
        "strong against weak": changed(
            base,
            bottles__kind="champagne bottles",
            plan__bottles="reused longneck 330 ml",
            plan__sugar="200 g table sugar",
        ),
        "growlers": changed(base, bottles__kind="growlers"),
        "unknown bottles": changed(base, bottles__kind="whatever I found"),
        "brimful": changed(base, plan__headspace="0.5 %"),
        "garage": changed(base, storage={"where": "garage", "temp": "20 C"}),
        "hot car": changed(base, storage={"where": "car", "temp": "48 C"}),
        "hot later": changed(base, storage={"where": "cellar", "temp": "16 C", "to": "38 C"}),
        "absurd heat": changed(base, storage={"where": "cellar", "temp": "78 C"}),
        "under pressure": changed(base, vessel={"kind": "keg", "pressure": "1.2 bar"}),
        "bucket under pressure": changed(base, vessel__pressure="1.5 bar"),
        "unmixed": changed(base, plan__stirred="no", plan__sugar="150 g table sugar"),
        "dry hopped yesterday": added(base, hop),
        "dry hopped in plateau": added(base, {**hop, "at": "2026-03-17 10:00"}),
        "late fruit": added(base, fruit),
        "late something": added(base, {"at": "2026-03-14 10:00", "did": "added", "amount": "1 kg"}),
        "enzyme": added(base, enzyme),
        "saison yeast": changed(base, yeast__class="diastatic saison"),
        "unknown yeast": changed(base, yeast__class="something from the fridge"),
        "cold crashed": added(base, crash),
        "cold beer": changed(base, log__6__beer="8 C"),
        "forced test lower": added(base, {**_FORCED, "gravity": 1.0070}),
        "forced test cold": added(base, {**_FORCED, "gravity": 1.0098, "sample": "4 C"}),
        "forced test with gas": added(base, {**_FORCED, "gravity": 1.0085, "degassed": "no"}),
        "forced test by refractometer": added(
            changed(
                base,
                log__3__gravity=1.021,
                log__4__gravity=1.018,
                log__5__gravity=1.018,
                log__7__gravity=1.018,
            ),
            {**_FORCED, "gravity": 1.018, "with": "refractometer"},
        ),
        "film": added(base, {"at": "2026-03-21 10:00", "saw": "a white film on the beer"}),
        "sour": added(base, {"at": "2026-03-21 10:00", "tasted": "sour"}),
        "low ph": added(base, {"at": "2026-03-21 10:00", "ph": 3.1}),
        "readings disagree": changed(base, log__4__gravity=1.006),
        "young": by_day_numbers(base) | {"today": 8.0},
        "no plan": changed(base, plan=None),
        "no fermentables": changed(base, fermentables=None),
        "no label": changed(base, wort__expected_fg=None),
        "wheat beer in weak bottles": changed(
            base, style="wheat", plan__target="3.6 vol", plan__sugar="175 g table sugar"
        ),
    }


@cache
def all_logs() -> dict[str, Doc]:
    """Return all logs."""
    return {**go_logs(), **hold_logs()}
