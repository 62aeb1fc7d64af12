"""The figures of a batch, each with its words and its tables."""

from __future__ import annotations

from trubshoot.diagnosis.overview import Overview
from trubshoot.report.page.figure import Figure, Table
from trubshoot.report.page.gravity_figure import gravity_figure
from trubshoot.report.page.pressure_figure import pressure_figure
from trubshoot.report.page.temperature_figure import temperature_figure
from trubshoot.units import UnitSystem

__all__ = [
    "Figure",
    "Table",
    "all_figures",
    "gravity_figure",
    "pressure_figure",
    "temperature_figure",
]


def all_figures(overview: Overview, units: UnitSystem) -> tuple[Figure, ...]:
    """Return the figures that this batch has numbers for, in the order of a page."""
    found = (
        gravity_figure(overview, units),
        temperature_figure(overview, units),
        pressure_figure(overview, units),
    )
    return tuple(figure for figure in found if figure is not None)
