"""How well a colour stands out from its ground, by the Web Content Accessibility Guidelines."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

Colour = tuple[int, int, int]  # red, green and blue of sRGB, each 0 to 255


@lru_cache(maxsize=10_000)
def contrast(ink: Colour, opacity: float, ground: Colour) -> float:
    """Contrast ratio (W3C WCAG 2.2), 1 to 21, of an ink that lets the ground through where ``opacity`` is less than 1."""
    mixed = [opacity * one + (1 - opacity) * other for one, other in zip(ink, ground)]
    darker, lighter = sorted((_luminance(mixed), _luminance(ground)))
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: Sequence[float]) -> float:
    parts = (part / 255 for part in colour)
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
