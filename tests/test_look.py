"""The colours of static/app.css: strong enough for bad light, and told apart by eyes that see fewer of them.

Contrast: WCAG 2.2, relative luminance and contrast ratio; 7:1 is its level AAA for text (1.4.6).
Colour blindness: Machado, Oliveira and Fernandes 2009, matrices for severity 1.0 (from memory).
The difference asked for between the two warning colours is our choice.
"""

import re
from pathlib import Path

import pytest

CSS = (Path(__file__).resolve().parents[1] / "static" / "app.css").read_text(encoding="utf-8")
LIGHT, DARK = re.findall(r":root \{(.*?)\}", CSS, re.S)[:2]
SCHEMES = {"light": LIGHT, "dark": DARK}
TEXT_ON = [
    ("ink", "paper"),
    ("ink", "sheet"),
    ("ink-soft", "paper"),
    ("ink-soft", "sheet"),
    ("accent", "paper"),
    ("on-accent", "accent"),
    ("care", "paper"),
    ("stop", "paper"),
    ("stop", "sheet"),
    ("on-stop", "stop"),
    ("ink", "care-wash"),
    ("ink", "accent-wash"),
]
BLIND = {
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}


def tokens(scheme: str) -> dict[str, tuple[float, ...]]:
    """The hexadecimal colours of a scheme as linear light, 0 to 1."""
    found = re.findall(r"--([\w-]+): #([0-9a-f]{6});", SCHEMES[scheme])
    return {name: tuple(linear(int(value[at : at + 2], 16)) for at in (0, 2, 4)) for name, value in found}


def linear(channel: int) -> float:
    share = channel / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def luminance(colour: tuple[float, ...]) -> float:
    red, green, blue = colour
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def seen_by(blind: str, colour: tuple[float, ...]) -> tuple[float, ...]:
    mixed = (sum(part * light for part, light in zip(row, colour, strict=True)) for row in BLIND[blind])
    return tuple(min(1.0, max(0.0, light)) for light in mixed)


def test_the_contrast_formula_gives_the_published_ends():
    assert contrast((1.0, 1.0, 1.0), (0.0, 0.0, 0.0)) == pytest.approx(21)
    assert contrast((0.5, 0.5, 0.5), (0.5, 0.5, 0.5)) == pytest.approx(1)


def test_the_matrices_leave_grey_as_it_is():
    for blind in BLIND:
        assert seen_by(blind, (0.4, 0.4, 0.4)) == pytest.approx((0.4, 0.4, 0.4), abs=1e-5)


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(("front", "back"), TEXT_ON, ids=lambda name: name)
def test_text_stands_out_seven_to_one(scheme, front, back):
    colours = tokens(scheme)
    assert contrast(colours[front], colours[back]) >= 7


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("back", ["paper", "sheet"])
def test_borders_of_controls_stand_out_four_and_a_half_to_one(scheme, back):
    colours = tokens(scheme)
    assert contrast(colours["rule"], colours[back]) >= 4.5


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("blind", BLIND)
def test_both_warning_colours_stay_apart_for_colour_blind_eyes(scheme, blind):
    colours = tokens(scheme)
    care, stop = (seen_by(blind, colours[name]) for name in ("care", "stop"))
    apart = sum((one - other) ** 2 for one, other in zip(care, stop, strict=True)) ** 0.5
    assert apart > 0.03
    for colour in (care, stop):
        assert contrast(colour, seen_by(blind, colours["paper"])) >= 4.5
