"""Facts that the examples showed to be missing or wrong: each kind of log, both sides of it."""

from __future__ import annotations

import pytest
from tests.examples.support import changed, diagnose_text, example, shown

from trubshoot.diagnosis import Diagnosis, Diagnostician

HEAD = "batch: Lantern Street trial\nunits: metric\n"


def _facts(work: Diagnostician, text: str, at: str = "2026-11-01") -> dict[str, float | str]:
    return dict(diagnose_text(work, HEAD + text, at).evidence.facts)


@pytest.mark.parametrize(
    ("sanitizing", "left_in"),
    [
        ("{with: no-rinse acid sanitizer, rinsed: no}", False),
        ("{with: iodophor sanitizer in cold water, rinsed: no}", False),
        ("{with: no-rinse acid sanitizer, cleaner: percarbonate, rinsed: no}", False),
        ("{with: percarbonate, rinsed: no}", True),
        ("{cleaner: caustic soda, rinsed: no}", True),
        ("{with: sanitizer, rinsed: no}", True),  # of unknown kind: the stricter reading
        ("{with: water, rinsed: no}", False),
        ("{with: percarbonate, rinsed: yes}", False),
    ],
)
def test_unrinsed_cleaner(sanitizing: str, left_in: bool, diagnostician: Diagnostician) -> None:
    """A no-rinse sanitizer left unrinsed is no cleaner left in; a cleaner, or a riddle, is."""
    facts = _facts(diagnostician, f"sanitizing: {sanitizing}\n")
    assert (facts.get("cleaner_left_in") == "present") is left_in


@pytest.mark.parametrize("head", ["with: bleach", "with: iodophor, cleaner: bleach"])
def test_unrinsed_chlorine_stays_unrinsed(head: str, diagnostician: Diagnostician) -> None:
    """Chlorine counts as not rinsed whichever of the two `rinsed: no` was written for."""
    facts = _facts(diagnostician, f"sanitizing: {{{head}, rinsed: no}}\n")
    assert facts["chlorine_not_rinsed"] == "present"


def _bottled(count: int, diagnostician: Diagnostician) -> Diagnosis:
    text = changed(
        example("all_well_bottled").read_text("utf-8"),
        [
            ("    sugar: 2.3 g corn sugar per bottle\n", "    sugar: 4.05 oz corn sugar\n"),
            ("    count: 50\n", f"    count: {count}\n"),
        ],
    )
    return diagnose_text(diagnostician, text, "2026-10-05")


def test_too_few_bottles_raise_the_upper_pressure(diagnostician: Diagnostician) -> None:
    """When bottles and litres contradict each other, the upper bound takes the stronger dose.

    30 bottles of 12 fl oz hold 10.6 l, not 17.8 l: the same sugar is 1.67 times as strong.
    """
    right, few = _bottled(50, diagnostician), _bottled(30, diagnostician)
    share = few.evidence.facts["bottles_hold_share"]
    assert share == pytest.approx(30 * 12 / (4.7 * 128), rel=1e-6)
    name = "pressure_hot_upper_bar"
    more = float(few.evidence.facts[name]) - float(right.evidence.facts[name])
    assert more > 0.5
    assert few.evidence.facts["co2_expected_vols"] == right.evidence.facts["co2_expected_vols"]


def test_more_bottles_never_lower_the_pressure(diagnostician: Diagnostician) -> None:
    """Bottles that would hold more than was bottled make nothing look better."""
    right, many = _bottled(50, diagnostician), _bottled(75, diagnostician)
    name = "pressure_hot_upper_bar"
    assert many.evidence.facts[name] == right.evidence.facts[name]


@pytest.mark.parametrize(("every", "sluggish"), [(2, True), (9, False)])
def test_an_average_over_many_days_is_no_slow_peak(
    every: int, sluggish: bool, diagnostician: Diagnostician
) -> None:
    """A slow fall is only called sluggish where readings are close enough to show a peak."""
    fall = "".join(
        f"  - {{day: {day}, gravity: {max(1.050 - 0.0022 * day, 1.012):.4f}, sample: 20 C}}\n"
        for day in range(0, 19 + every, every)
    )
    tail = "  - {day: 28, gravity: 1.012}\n  - {day: 29, gravity: 1.012}\n"
    text = f"today: 30\nlog:\n  - {{day: 0, did: pitched, beer: 20 C}}\n{fall}{tail}"
    diagnosis = diagnose_text(diagnostician, HEAD + text, "2026-11-01")
    assert ("sluggish_peak" in shown(diagnosis)) is sluggish


def test_day_of_the_first_dry_hop(diagnostician: Diagnostician) -> None:
    """Of two dry hoppings the first gives the day."""
    text = (
        "log:\n  - {day: 0, did: pitched}\n  - {day: 3, did: dry hopped, amount: 30 g}\n"
        "  - {day: 9, did: dry hopped, amount: 30 g}\n"
    )
    assert _facts(diagnostician, text)["days_pitch_to_dry_hop"] == 3.0
