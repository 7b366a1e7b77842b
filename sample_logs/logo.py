"""The invented firm's logo, drawn from code: a grate over a pipe that falls to its outlet."""

from __future__ import annotations

from pathlib import Path

from PIL import Image, ImageDraw

INK, WATER = "#22313a", "#1f5f6b"
SCALE = 4
"""Drawn so many times larger, then made smaller, for smooth edges."""


def draw_logo(path: Path) -> Path:
    """Write the logo as a PNG with a clear ground, 300 by 120 pixels."""
    image = Image.new("RGBA", (300 * SCALE, 120 * SCALE), (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)

    def at(*numbers: float) -> list[float]:
        return [number * SCALE for number in numbers]

    pen.line(at(8, 24, 292, 24), fill=INK, width=5 * SCALE)  # the ground
    pen.rectangle(at(40, 24, 112, 66), outline=INK, width=5 * SCALE)  # the basin
    for bar in range(50, 108, 10):
        pen.line(at(bar, 16, bar, 32), fill=WATER, width=4 * SCALE)
    pen.line(at(112, 54, 270, 82), fill=WATER, width=14 * SCALE)  # the pipe
    pen.ellipse(at(262, 74, 280, 92), fill=WATER)
    for drop in (0, 14):
        pen.ellipse(at(274 + drop / 2, 96 + drop, 280 + drop / 2, 104 + drop), fill=WATER)
    image.resize((300, 120), Image.Resampling.LANCZOS).save(path, optimize=True)
    return path
