"""The temperatures of a batch over time beside the window of its yeast, for a figure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from trubshoot.batch import Batch
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.temperature import beer_series, room_series
from trubshoot.knowledge_base import KnowledgeBase


@dataclass(frozen=True)
class TemperatureCourse:
    """Temperatures by day since pitching [C], and the window in which the yeast works well.

    The window is the one the rules go by: from the lowest temperature at which the class still
    works to the highest at which it makes no fault flavours.
    """

    beer: tuple[tuple[float, float], ...]
    room: tuple[tuple[float, float], ...]
    pitch_c: float | None
    low_c: float
    high_c: float
    yeast: str
    yeast_known: bool
    end_day: float | None  # bottling, else the moment of asking


def temperature_course(batch: Batch, knowledge: KnowledgeBase, now: datetime) -> TemperatureCourse:
    """Return the temperatures that are logged up to the moment of asking, bottles left out."""
    bench = Bench(batch, knowledge, batch.timeline(now))
    end = bench.fermenting_end
    pitch = bench.deed("pitched")
    row = bench.yeast_class
    return TemperatureCourse(
        beer=tuple(item for item in beer_series(bench) if end is None or item[0] <= end + 1e-6),
        room=tuple(room_series(bench)),
        pitch_c=None if pitch is None else pitch[1].temp_c,
        low_c=row.temp_min_c,
        high_c=row.temp_high_c,
        yeast=row.label,
        yeast_known=bench.yeast_class_id is not None,
        end_day=end,
    )
