"""The palette can be read in both themes, and the stylesheet needs nothing beside itself."""

from __future__ import annotations

import re

import pytest

from trubshoot.report.page.style import PAIRS, PALETTE, contrast, stylesheet


@pytest.mark.parametrize(
    ("front", "back", "ratio"),
    [("#000000", "#ffffff", 21.0), ("#767676", "#ffffff", 4.54), ("#777777", "#ffffff", 4.48)],
)
def test_contrast_is_that_of_the_guideline(front: str, back: str, ratio: float) -> None:
    """The ratio is that of WCAG: black on white 21, and the well-known greys beside the limit."""
    assert contrast(front, back) == pytest.approx(ratio, abs=0.005)
    assert contrast(back, front) == contrast(front, back)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(
    ("front", "back", "least"), PAIRS, ids=[f"{a} on {b}" for a, b, _ in PAIRS]
)
def test_what_is_read_stands_out(front: str, back: str, least: float, theme: str) -> None:
    """Text has a contrast of 4.5 at least, a line or mark with a meaning 3, in both themes."""
    found = contrast(getattr(PALETTE[front], theme), getattr(PALETTE[back], theme))
    assert found >= least, f"{front} on {back}, {theme}: {found:.2f}"


def test_every_text_colour_is_among_the_pairs() -> None:
    """Each colour that the stylesheet gives to text or lines has its contrast looked at."""
    rules = stylesheet().split("}\n", 2)[2]
    read = set(re.findall(r"(?:^|[^-])(?:color|stroke): ?var\(--([a-z-]+)\)", rules))
    read |= set(re.findall(r"text[^{]*\{[^}]*fill: var\(--([a-z-]+)\)", rules))
    ornament = {"rule", "sheet"}  # hairlines, and the halo round words
    looked_at = {front.replace("_", "-") for front, _, _ in PAIRS}
    assert read - ornament <= looked_at
    assert {"ink", "soft", "blue", "red", "plum", "on-danger"} <= read


def test_every_colour_is_a_variable_of_the_palette() -> None:
    """No rule names a colour of its own, and every variable used is in the palette."""
    text = stylesheet()
    rules = text[text.index("box-sizing") :]
    assert not re.search(r"#[0-9a-fA-F]{3}|rgb\(|hsl\(", rules)
    used = set(re.findall(r"var\(--([a-z-]+)\)", rules))
    assert used <= {name.replace("_", "-") for name in PALETTE}


def test_dark_colours_stay_on_the_screen() -> None:
    """Paper is printed in the light colours: dark ones hold for screens only."""
    assert "@media screen and (prefers-color-scheme:dark)" in stylesheet()
    assert stylesheet().count("prefers-color-scheme") == 1


def test_stylesheet_fetches_nothing() -> None:
    """No import, no address, no font from elsewhere, no way out of the style element."""
    text = stylesheet().lower()
    for word in ("@import", "url(", "http", "@font-face", "expression(", "<"):
        assert word not in text


def test_braces_are_even() -> None:
    """The tightened rules are whole: as many braces open as close, and no remark is left."""
    text = stylesheet()
    assert text.count("{") == text.count("}") > 60
    assert "/*" not in text


def test_touch_targets_are_large() -> None:
    """Fields and buttons of the web pages are 48 pixels high, and fields do not zoom a phone."""
    text = stylesheet()
    for start in ("input, select, textarea {", "button, .button {", ".choice {", "nav a {"):
        rule = text[text.index(f"\n{start}") :].split("}")[0]
        assert "min-height: 3rem" in rule, start
    assert "font-size: 1.0625rem" in text[text.index("\ninput, select") :].split("}")[0]
