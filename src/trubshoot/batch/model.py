"""What a batch file says, as typed and frozen values in SI-like units.

Temperatures are in deg C, volumes in litres, masses in grams, gravities as SG (1.012), durations
as the name says (minutes, days). `None` always means "not written down": unknown, never "no".
Words that the knowledge has to resolve (kind of sugar, bottle, yeast, sanitizer, what was seen or
smelled) stay as they were written.
"""

# no `from __future__ import annotations` here: pydantic would compile every annotation again
from collections.abc import Mapping
from datetime import date, datetime
from typing import TYPE_CHECKING, Literal

from pydantic import BaseModel, ConfigDict, Field

from trubshoot.errors import Problem
from trubshoot.units import Amount, UnitSystem

if TYPE_CHECKING:
    from trubshoot.batch.timeline import Timeline

Instrument = Literal["hydrometer", "refractometer"]
SampleOf = Literal["batch", "forced test", "opened bottle", "water", "another jar"]
Sense = Literal["saw", "smelled", "tasted", "no_sign_of"]
Where = Literal["all bottles", "some bottles", "one bottle", "fermenter", "glass"]
Dosing = Literal["bulk", "per bottle"]
YeastForm = Literal["dry", "liquid", "slurry"]
Verb = Literal[
    "steeped",
    "mashed",
    "boiled",
    "added extract",
    "chilled",
    "topped up",
    "aerated",
    "rehydrated",
    "pitched",
    "repitched",
    "roused",
    "warmed",
    "cooled",
    "cold crashed",
    "dry hopped",
    "opened lid",
    "racked",
    "transferred",
    "added",
    "cleaned",
    "sanitized",
    "burned with",
    "bottled",
    "stored",
    "opened bottle",
    "chilled bottle",
    "disposed",
]


class Written(BaseModel):
    """Base of everything read from a batch file: frozen, unknown fields refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Wort(Written):
    """How the wort was made, and what the kit sheet or recipe expects."""

    kind: str | None = None
    volume_l: float | None = None
    boiled_l: float | None = None  # volume in the kettle
    was_boiled: bool | None = None  # False: `boiled: no`; True also when a volume is given
    water: str | None = None
    water_treatment: str | None = None
    expected_og: float | None = None
    expected_fg: float | None = None
    topped_up: bool | None = None
    topped_up_l: float | None = None
    hopped: bool | None = None
    ibu: float | None = None


class Fermentable(Written):
    """One fermentable: what it is in the brewer's words, how much, how old."""

    what: str | None = None
    amount: Amount | None = None
    age_days: float | None = None
    past_date: bool | None = None


class Hop(Written):
    """One hop addition: what, how much, and what for (boil, aroma, dry ...)."""

    what: str | None = None
    amount: Amount | None = None
    use: str | None = None


class Yeast(Written):
    """The yeast as bought or kept. `strain_class` is the file's `class`, in the brewer's words."""

    strain_class: str | None = None
    form: YeastForm | None = None
    amount: Amount | None = None
    packs: float | None = None
    age_days: float | None = None
    past_date: bool | None = None
    stored: str | None = None
    stored_c: float | None = None
    starter: bool | None = None
    starter_l: float | None = None
    rehydrated: bool | None = None
    rehydrated_c: float | None = None


class Headspace(Written):
    """Empty room above the liquid; exactly one of the three is given."""

    percent: float | None = None
    volume_l: float | None = None
    height_cm: float | None = None


class Vessel(Written):
    """The fermenter."""

    kind: str | None = None
    volume_l: float | None = None
    spigot: bool | None = None
    headspace: Headspace | None = None
    pressure_bar: float | None = None  # gauge, when it ferments or rests under pressure


class Instruments(Written):
    """What is known about the instruments."""

    hydrometer_scale_c: float | None = None
    hydrometer_in_water: float | None = None  # SG shown in water at the scale temperature
    thermometer_checked: bool | None = None


class Bottles(Written):
    """The bottles. `kind` keeps the brewer's whole wording; size and count are read out of it."""

    kind: str | None = None
    size_ml: float | None = None
    count: int | None = None
    reused: bool | None = None
    closure: str | None = None


class Storage(Written):
    """Where the bottles stand, and how warm."""

    where: str | None = None
    temp_c: float | None = None
    to_c: float | None = None  # warmest expected or seen, when a second temperature is given


class Rinse(Written):
    """Whether something was rinsed off, and with what in the brewer's words."""

    done: bool
    water: str | None = None


class Sanitizing(Written):
    """Cleaning and sanitizing as usually done for this batch."""

    agent: str | None = None  # `with`
    rinsed: Rinse | None = None
    strength: str | None = None
    contact_min: float | None = None
    cleaner: str | None = None
    skipped: tuple[str, ...] = ()


class Room(Written):
    """The place where the fermenter stands."""

    where: str | None = None
    temp_c: float | None = None


class LogEntry(Written):
    """Base of all log entries: the line in the file and the time as written."""

    line: int = 0
    number: int = 0  # place in the log, from 0
    at: datetime | None = None  # noon when only a date was written, see `hour_known`
    hour_known: bool = True
    day: float | None = None  # days since pitching, when no date is written


class GravityReading(LogEntry):
    """A gravity as read, not corrected for anything."""

    entry: Literal["gravity"] = "gravity"
    sg: float
    written: str = ""
    sample_c: float | None = None
    instrument: Instrument | None = None
    degassed: bool | None = None
    of: SampleOf = "batch"


class BeerTemperature(LogEntry):
    """A temperature of the beer itself [deg C]."""

    entry: Literal["beer"] = "beer"
    temp_c: float


class RoomTemperature(LogEntry):
    """A temperature of the room around the fermenter or the bottles [deg C]."""

    entry: Literal["room"] = "room"
    temp_c: float


class PhReading(LogEntry):
    """A pH as read."""

    entry: Literal["ph"] = "ph"
    ph: float


class Observation(LogEntry):
    """Something seen, smelled or tasted, or looked for and not found, in the brewer's words."""

    entry: Literal["observation"] = "observation"
    kind: Sense
    texts: tuple[str, ...]
    where: Where | None = None
    asked: bool | None = None  # told when asked, not as the complaint


class Sugar(Written):
    """Sugar or another fermentable used at bottling; `kind` is resolved by the knowledge."""

    kind: str | None = None
    amount: Amount | None = None


class Deed(LogEntry):
    """Something the brewer did. `verb` is None for free words; which details a verb takes is
    listed in `trubshoot.batch.verbs`; all others stay None."""

    entry: Literal["deed"] = "deed"
    verb: Verb | None = None
    words: str = ""  # as written after `did:`
    temp_c: float | None = None  # steeped, mashed, rehydrated, pitched (`beer`), stored ...
    to_c: float | None = None  # chilled, warmed, cooled, cold crashed; stored: warmest
    took_min: float | None = None
    for_days: float | None = None  # dry hopped: contact time
    volume_l: float | None = None
    water_l: float | None = None  # steeped
    water: str | None = None  # topped up: kind of water
    grain_g: float | None = None
    amount: Amount | None = None
    what: str | None = None
    agent: str | None = None  # `with`
    rinsed: Rinse | None = None
    lid: Literal["on", "off", "partly"] | None = None
    heat: Literal["on", "off"] | None = None
    splashed: bool | None = None
    where: str | None = None  # stored; burned with: indoors | outdoors


class Bottling(LogEntry):
    """The bottling. `sugars` is None when nothing is written about sugar and () for "none"."""

    entry: Literal["bottling"] = "bottling"
    verb: Literal["bottled"] = "bottled"
    words: str = ""
    sugars: tuple[Sugar, ...] | None = None
    volume_l: float | None = None
    bottles: Bottles = Bottles()
    dosing: Dosing | None = None
    stirred: bool | None = None
    weighed: bool | None = None
    headspace: Headspace | None = None
    temp_c: float | None = None
    caps: str | None = None
    # never written in a file: gravity on that day as worked out for a bottling that was moved
    predicted_points: float | None = None
    predicted_sigma_points: float | None = None


class Plan(Written):
    """The bottling as intended: the same details as a bottling, and the CO2 aimed at [vol]."""

    bottling: Bottling
    target_vols: float | None = None


class Note(LogEntry):
    """A remark that nothing is concluded from."""

    entry: Literal["note"] = "note"
    text: str


class Outcome(LogEntry):
    """What it turned out to be, once the brewer knows."""

    entry: Literal["turned_out"] = "turned_out"
    text: str  # id or label of a cause, "none of these", or any words
    sure: Literal["certain", "guess"] | None = None
    words: str | None = None  # what showed it, or what it was when none of the causes


Entry = (
    GravityReading
    | BeerTemperature
    | RoomTemperature
    | PhReading
    | Observation
    | Deed
    | Bottling
    | Note
    | Outcome
)


class Batch(Written):
    """One batch of beer: the head of its file and its log, in the order of the file."""

    name: str
    path: str = ""
    units: UnitSystem = "metric"
    style: str | None = None
    today: date | None = None  # when the question is asked, if the file says so ...
    today_day: float | None = None  # ... or the same as days since pitching
    wort: Wort = Wort()
    fermentables: tuple[Fermentable, ...] = ()
    hops: tuple[Hop, ...] = ()
    yeast: Yeast = Yeast()
    vessel: Vessel = Vessel()
    instruments: Instruments = Instruments()
    bottles: Bottles = Bottles()
    storage: Storage = Storage()
    sanitizing: Sanitizing = Sanitizing()
    room: Room = Room()
    plan: Plan | None = None
    circumstances: tuple[str, ...] = ()
    log: tuple[Entry, ...] = ()
    lines: Mapping[str, int] = Field(default_factory=dict, repr=False)  # "wort.volume" -> line
    rough: frozenset[str] = frozenset()  # places written with "about": "wort.volume"
    warnings: tuple[Problem, ...] = ()

    def line(self, place: str) -> int:
        """Return the line of a place such as `wort.volume` or `log[3].sample`, else of its parent.

        The answer is 0 when nothing of it stands in the file.
        """
        while place not in self.lines:
            cut = max(place.rfind("."), place.rfind("["))
            if cut <= 0:
                return 0
            place = place[:cut]
        return self.lines[place]

    def deeds(self, *verbs: str) -> tuple[Deed, ...]:
        """Return what was done under one of these verbs, in the order of the file."""
        return tuple(e for e in self.log if isinstance(e, Deed) and e.verb in verbs)

    def bottlings(self) -> tuple[Bottling, ...]:
        """Return the bottlings, in the order of the file."""
        return tuple(e for e in self.log if isinstance(e, Bottling))

    def bottles_of(self, bottling: Bottling) -> Bottles:
        """Return what is known of the bottles filled: its own line before the file's head."""
        own = bottling.bottles.model_dump(exclude_none=True)
        return self.bottles.model_copy(update=own)

    def timeline(self, now: datetime | None = None) -> "Timeline":
        """Return the log in order of time, with days since pitching; `now` is the clock."""
        from trubshoot.batch.timeline import timeline_of  # the timeline reads the model

        return timeline_of(self, now)
