"""Our own calm colours, as hex sRGB, and how well one is read on another."""

from __future__ import annotations

import re

INK, WATER, MIST, CLAY, SAND, GREY = "22313A", "1F5F6B", "E7EFF0", "A9562B", "F6F0E4", "5E6B72"
HEX = re.compile("#[0-9A-Fa-f]{6}")
LEAST_CONTRAST = 4.5
"""Of text against its ground. Source: WCAG 2.2, success criterion 1.4.3 (level AA)."""


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours (`#1F5F6B`), 1 to 21. Source: WCAG 2.2, "contrast ratio"."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    """Source: WCAG 2.2, "relative luminance"."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
