"""Write the log of a batch as its brewer would keep it: a dict in the form of a batch file.

The bottling asked about stands under `plan`; nothing in the log says that it was done.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
from tests.simulation import priors
from tests.simulation.draws import (
    BOTTLE_NAMES,
    PLACE_NAMES,
    SUGAR_NAMES,
    YEAST_NAMES,
    Draws,
)
from tests.simulation.kinetics import gravity
from tests.simulation.notes import Notes
from tests.simulation.truth import Plan

LogDict = dict[str, Any]
_FIRST_DAY = date(2025, 1, 4)
_WORTS = ("kit", "extract", "all grain")
_OUNCE_G, _GALLON_L = 28.349523125, 3.785411784
_SILENT_RATE = 0.4  # points a day: below it an airlock is seen to stand (F 0, 1.3)


def write_logs(
    rng: np.random.Generator, drawn: Draws, notes: Notes, plan: Plan, first: int
) -> list[LogDict]:
    """Return the log of every batch; `first` numbers them."""
    n = len(drawn.day)
    width = 1 + max((len(row) for row in notes.days), default=0)
    times = np.zeros((n, width + 2))
    for i, row in enumerate(notes.days):
        times[i, 1 : 1 + len(row)] = row
    times[:, -2], times[:, -1] = np.maximum(drawn.day - 1, 0), drawn.day
    course = gravity(drawn.course, times)
    return [_Writer(rng, drawn, notes, plan, i, course[i]).write(first + i) for i in range(n)]


class _Writer:
    """Writes one log."""

    def __init__(
        self,
        rng: np.random.Generator,
        drawn: Draws,
        notes: Notes,
        plan: Plan,
        i: int,
        course: Any,
    ) -> None:
        self.rng, self.drawn, self.notes, self.plan, self.i = rng, drawn, notes, plan, i
        self.course = course
        self.us = bool(drawn.flags["us"][i])
        self.day = int(drawn.day[i])
        self.dated = bool(rng.random() < 0.55)
        self.start = _FIRST_DAY + timedelta(days=int(rng.integers(0, 600)))

    def has(self, name: str) -> bool:
        return bool(self.notes.has[name][self.i])

    def flag(self, name: str) -> bool:
        return bool(self.drawn.flags[name][self.i])

    def number(self, name: str) -> float:
        return float(self.drawn.number[name][self.i])

    def choice(self, name: str) -> int:
        return int(self.drawn.choice[name][self.i])

    def temp(self, temp_c: float, sd: float = 0.7) -> str:
        """Return a temperature as read off a thermometer."""
        temp_c += float(self.rng.normal(0, sd))
        return f"{round(temp_c * 1.8 + 32)} F" if self.us else f"{round(temp_c)} C"

    def litres(self, litres: float) -> str:
        if self.us:
            return f"{round(litres / _GALLON_L * 4) / 4:g} gal"
        return f"{round(litres * 2) / 2:g} l"

    def grams(self, grams: float) -> str:
        if self.us:
            return f"{max(round(grams / _OUNCE_G * 4) / 4, 0.25):g} oz"
        return f"{max(round(grams), 1):g} g"

    def when(self, day: float) -> dict[str, Any]:
        if not self.dated:
            return {"day": int(day)}
        return {"at": f"{self.start + timedelta(days=int(day))} 18:00"}

    def write(self, number: int) -> LogDict:
        drawn, i = self.drawn, self.i
        log: LogDict = {"batch": f"Lantern Street invented batch {number}"}
        if self.has("units"):
            log["units"] = "us" if self.us else "metric"
        if self.has("today"):
            stamp = self.when(self.day)
            log["today"] = str(stamp["at"])[:10] if self.dated else stamp["day"]
        wort: dict[str, Any] = {"kind": _WORTS[self.choice("wort")]}
        if self.has("volume"):
            wort["volume"] = self.litres(self.number("batch_l"))
        if self.has("expected_og"):
            wort["expected_og"] = _sg(float(drawn.label_og[i]), 1)
        if self.has("expected_fg"):
            wort["expected_fg"] = _sg(float(drawn.label_fg[i]), 1)
        if self.flag("topped_up") and self.has("top_up"):
            wort["topped_up"] = True
        log["wort"] = wort
        if self.has("fermentables"):
            log["fermentables"] = self._fermentables()
        if self.has("yeast_class"):
            log["yeast"] = self._yeast()
        if self.has("vessel"):
            shares = list(priors.VESSELS.values())
            log["vessel"] = {"kind": str(self.rng.choice(list(priors.VESSELS), p=shares))}
        instruments: dict[str, Any] = {}
        if self.has("scale"):
            fahrenheit = "60 F" if self.flag("scale_60f") else "68 F"
            instruments["hydrometer_scale"] = fahrenheit if self.us else "20 C"
        if self.has("water_check"):
            off = self.number("bias") + float(self.rng.normal(0, 0.3))
            instruments["hydrometer_in_water"] = _sg(off, 1)
        if instruments:
            log["instruments"] = instruments
        bottles = self._bottles()
        if bottles:
            log["bottles"] = bottles
        storage = self._storage()
        if storage:
            log["storage"] = storage
        log["plan"] = self._planned()
        if not self.flag("dry_hopped") and self.has("hops_denied"):
            log["circumstances"] = ["not dry hopped"]
        log["log"] = self._entries()
        return log

    def _fermentables(self) -> list[dict[str, Any]]:
        words, points = priors.FERMENTABLES[_WORTS[self.choice("wort")]]
        if self.flag("unfermentable") and self.rng.random() < 0.5:
            words = "dark malt extract"
        kilos = float(self.drawn.course.og[self.i]) * self.number("batch_l") / points
        kilos *= float(self.rng.normal(1, 0.02))
        amount = f"{kilos * 2.2046:.1f} lb" if self.us else f"{kilos:.2f} kg"
        return [{"what": words, "amount": amount}]

    def _yeast(self) -> dict[str, Any]:
        name = YEAST_NAMES[int(self.drawn.yeast[self.i])]
        words = priors.YEASTS[name].words if self.has("yeast_vague") else priors.VAGUE_YEAST
        yeast: dict[str, Any] = {"class": str(self.rng.choice(words))}
        if self.rng.random() < 0.6:
            yeast["form"] = "dry" if self.rng.random() < 0.7 else "liquid"
        return yeast

    def _bottles(self) -> dict[str, Any]:
        bottles: dict[str, Any] = {}
        name = BOTTLE_NAMES[self.choice("bottle_said")]
        if self.has("bottle_kind"):
            bottles["kind"] = str(self.rng.choice(priors.BOTTLES[name].words))
            if name == "single_use_longneck_new":
                bottles["reused"] = False
        if self.has("bottle_size"):
            ml = self.number("size_ml")
            bottles["size"] = f"{round(ml / 29.5735):g} fl oz" if self.us else f"{ml:g} ml"
        if self.has("bottle_count"):
            litres = self.number("volume_said_l")
            if self.flag("volume_gross") and self.rng.random() < 0.3:
                litres = self.number("volume_true_l")  # set out after a look into the bucket
            bottles["count"] = max(int(litres * 1000 / self.number("size_ml")), 1)
        return bottles

    def _storage(self) -> dict[str, Any]:
        storage: dict[str, Any] = {}
        if self.has("place"):
            storage["where"] = PLACE_NAMES[self.choice("place")]
        if self.has("store_temp"):
            storage["temp"] = self.temp(self.number("stored_c"), 1.0)
        return storage

    def _entries(self) -> list[LogDict]:
        rows: list[tuple[float, LogDict]] = []

        def add(day: float, order: float, **entry: Any) -> None:
            rows.append((day + order, {**self.when(day), **entry}))

        if self.has("og"):
            add(0, 0.01, **self._og())
        if self.has("pitched"):
            pitched: dict[str, Any] = {"did": "pitched"}
            if self.has("beer_temp"):
                pitched["beer"] = self.temp(float(self.drawn.temp_main[self.i]))
            add(0, 0.02, **pitched)
        for j, day in enumerate(self.notes.days[self.i]):
            add(day, 0.3, **self._reading(j, day))
        self._forced(add)
        self._temperatures(add)
        self._deeds(add)
        self._signs(add)
        return [entry for _, entry in sorted(rows, key=lambda item: item[0])]

    def _reading_of(self, points: float, *, gas: bool, old: bool) -> dict[str, Any]:
        """Return one reading: instrument, temperature, gas, the reader's eye, rounding."""
        rng, error = self.rng, float(self.rng.normal(0, self.number("reading_sd")))
        kind = self.choice("refractometer") if old else 0
        if kind == 1:  # the scale as it stands: alcohol makes it read far too high (P 1.4)
            return {
                "gravity": _sg(_raw_refractometer(self.drawn.course.og[self.i], points) + error, 1),
                "with": "refractometer",
            }
        if kind == 2:
            points += float(rng.normal(0, 1.2))
            return {"gravity": _sg(points + error, 1), "with": "refractometer"}
        if kind == 3:
            return {"gravity": _sg(points - self.number("old_formula") + error, 1)}
        sample = 20 + float(rng.normal(0, priors.SAMPLE_TEMP_SD))
        sg = _as_read(1 + points / 1000, sample, 15.56 if self.flag("scale_60f") else 20.0)
        value = (sg - 1) * 1000 + self.number("bias") + error
        if gas:
            value += min(float(rng.exponential(priors.GASSY_MEAN)) + 0.5, priors.GASSY_LIMIT)
        entry: dict[str, Any] = {"with": "hydrometer"} if self.has("instrument") else {}
        mark = 2 if self.flag("two_point_marks") and rng.random() < 0.5 else 1
        if self.has("sample_temp"):
            entry["sample"] = self.temp(sample, 0.5)
        elif rng.random() < 0.5:  # corrected in the head, and only the result is written
            value += points - (sg - 1) * 1000
        entry["gravity"] = _sg(value, mark)
        if rng.random() < priors.TYPING_ERROR:
            entry["gravity"] = _mistyped(entry["gravity"])
        return entry

    def _og(self) -> dict[str, Any]:
        points = float(self.drawn.course.og[self.i]) + self.number("og_error")
        entry = self._reading_of(float(np.clip(points, 15, 120)), gas=False, old=False)
        return entry

    def _reading(self, j: int, day: int) -> dict[str, Any]:
        gas = bool(self.notes.gassy[self.i][j])
        entry = self._reading_of(float(self.course[1 + j]), gas=gas, old=True)
        said = self.notes.degassed_said[self.i][j]
        if said is not None and entry.get("with") != "refractometer":
            entry["degassed"] = said
        return entry

    def _forced(self, add: Any) -> None:
        """Write the end of a forced ferment test, read a day before asking."""
        if not self.has("forced") or self.day < 5:
            return
        points = float(self.drawn.course.fg[self.i] + self.rng.normal(0.2, priors.FORCED_SD))
        entry = self._reading_of(points, gas=False, old=False)
        add(self.day - 1, 0.35, **entry, of="forced test", degassed=True)

    def _temperatures(self, add: Any) -> None:
        if not self.has("beer_temp"):
            return
        event = float(self.drawn.event_day[self.i])
        for day in sorted({2, self.day // 2, self.day} - {0}):
            temp = self.drawn.temp_late if day > event else self.drawn.temp_main
            add(day, 0.2, beer=self.temp(float(temp[self.i])))

    def _deeds(self, add: Any) -> None:
        i, event = self.i, int(self.drawn.event_day[self.i])
        if self.flag("crash") and self.has("cooling_line"):
            add(event, 0.4, did="cold crashed", to=self.temp(float(self.drawn.temp_late[i])))
        if self.flag("dry_hopped") and self.has("hop_line"):
            entry: dict[str, Any] = {"did": "dry hopped"}
            if self.has("hop_amount"):
                entry["amount"] = self.grams(self.number("hop_g_l") * self.number("batch_l"))
            add(int(self.drawn.course.hop_day[i]), 0.4, **entry)

    def _signs(self, add: Any) -> None:
        if bool(self.notes.sign[self.i]):
            if self.rng.random() < 0.6:
                add(self.day, 0.5, smelled="clove and phenolic, not expected from this yeast")
            else:
                add(self.day, 0.5, saw="a white skin with bubbles on the beer")
        if self.has("airlock"):
            rate = float(self.course[-2] - self.course[-1])
            quiet = 0.92 if rate < _SILENT_RATE else 0.25 if rate < 4 else 0.08
            saw = "airlock silent" if self.rng.random() < quiet else "airlock bubbling"
            add(self.day, 0.6, saw=saw)

    def _planned(self) -> LogDict:
        plan: LogDict = {}
        way = ("bulk", "spoon", "drops")[self.choice("way")]
        if way != "bulk" or self.has("stirred"):
            plan["dosing"] = "bulk" if way == "bulk" else "per bottle"
        if self.has("sugar"):
            plan["sugar"] = self._sugar(way)
        if self.has("volume"):
            plan["volume"] = self.litres(self.number("volume_said_l"))
        if self.has("stirred") and way == "bulk":
            plan["stirred"] = not (self.flag("uneven") and self.flag("uneven_said"))
        elif way == "bulk" and self.flag("uneven") and self.flag("uneven_said"):
            plan["stirred"] = False
        if self.has("weighed") and way == "bulk":
            plan["weighed"] = True
        if self.flag("overfill") and self.flag("overfill_said"):
            plan["headspace"] = "0.5 %"
        elif self.has("headspace"):
            plan["headspace"] = "4 %"
        if self.rng.random() < 0.4:
            plan["temp"] = self.temp(float(self.drawn.temp_late[self.i]))
        return plan

    def _sugar(self, way: str) -> Any:
        pieces = float(self.plan.pieces[self.i])
        if way == "spoon":
            return f"{pieces:g} level tsp table sugar per bottle"
        if way == "drops":
            return f"{pieces:g} carbonation drops per bottle"
        grams = float(self.plan.said_g[self.i])
        kind = SUGAR_NAMES[self.choice("sugar")]
        words = f" {priors.SUGARS[kind][0]}" if self.has("sugar_kind") else ""
        said = f"{self.grams(grams)}{words}"
        if self.flag("double_dose") and self.flag("sugar_error_said"):
            return [said, f"{self.grams(grams)}{words}"]
        return said


def _sg(points: float, mark: int) -> float:
    """Return a gravity as read off marks `mark` points apart."""
    points = float(np.clip(points, -9, 170))
    return round(1 + mark * round(points / mark) / 1000, 3)


def _mistyped(sg: float) -> float:
    """Return a gravity with its last two digits exchanged."""
    points = round((sg - 1) * 1000)
    if not 0 < points < 100:
        return sg
    return round(1 + (points % 10 * 10 + points // 10) / 1000, 3)


def _water(temp_c: float) -> float:
    """Return the density of water [kg/m3] (P 1.2)."""
    low = (temp_c - 3.983035) ** 2 * (temp_c + 301.797)
    return 999.974950 * (1 - low / (522528.9 * (temp_c + 69.34881)))


def _as_read(sg: float, temp_c: float, scale_c: float) -> float:
    """Return what a hydrometer shows in a sample at `temp_c` (P 1.2, turned round)."""
    glass = 1 + 25e-6 * (temp_c - scale_c)
    return sg * _water(temp_c) * glass / _water(scale_c)


def _raw_refractometer(og: float, points: float) -> float:
    """Return the points that a refractometer's scale shows after fermentation (P 1.4, linear)."""
    first = og / 1000
    start = 1000 * first / (4 - 0.0035 * og)  # about Plato: 50 points 12.4 P
    now = (points / 1000 + 0.00085683 * start) / 0.0034941
    return (now / (258.6 - 227.1 * now / 258.2)) * 1000
