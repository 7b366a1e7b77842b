"""The view through a level: a graduated rod, upright here, with the cross hair on the reading."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from sample_logs.looks import grain

INCH = 1.0 / 12
FACE = (240, 236, 222)
INK, RED = (28, 28, 30), (178, 30, 28)
FEET_SEEN = 0.46
"""Feet of rod between the top and the bottom of the picture."""
ROD_WIDE = 0.17


def level_view(size: tuple[int, int], reading: float) -> Image.Image:
    """The picture; `reading` is in feet, to the hundredth."""
    columns, rows = size
    image = _blurred_yard(size)
    scale = rows / FEET_SEEN
    _draw_rod(ImageDraw.Draw(image), columns / 2, rows / 2, scale, reading)
    image = image.filter(ImageFilter.GaussianBlur(0.8))
    _draw_hairs(ImageDraw.Draw(image), size)
    return _through_tube(image, round(reading * 100))


def _blurred_yard(size: tuple[int, int]) -> Image.Image:
    columns, rows = size
    down, across = np.mgrid[0 : 1 : rows * 1j, 0 : 1.33 : columns * 1j].astype(np.float32)
    light = grain(across * 3, down * 3, 7)[:, :, None]
    lawn, trees = np.array([112, 134, 70]), np.array([62, 84, 56])
    share = np.clip((down - 0.42) * 6, 0, 1)[:, :, None]
    yard = (trees * (1 - share) + lawn * share) * (0.7 + 0.6 * light)
    return Image.fromarray(yard.clip(0, 255).astype(np.uint8)).filter(ImageFilter.GaussianBlur(columns / 60))


def _draw_rod(draw: ImageDraw.ImageDraw, middle: float, hair: float, scale: float, reading: float) -> None:
    """Bars one hundredth thick: each bar's edges are at even and odd hundredths; tenths in black, feet in red."""
    half = ROD_WIDE / 2 * scale
    draw.rectangle((middle - half, -9, middle + half, 9999), fill=FACE, outline=(120, 116, 104), width=3)
    first, last = round((reading - FEET_SEEN) * 100), round((reading + FEET_SEEN) * 100)
    for hundredth in range(first, last):
        low, high = (hair - (mark / 100 - reading) * scale for mark in (hundredth, hundredth + 1))
        if hundredth % 2 == 0:
            reach = 0.52 if hundredth % 10 == 0 else 0.36
            draw.rectangle((middle - half, high, middle - half + reach * 2 * half, low), fill=INK)
        if hundredth % 10 == 0:
            _draw_number(draw, middle + half * 0.52, low, scale, hundredth)


def _draw_number(draw: ImageDraw.ImageDraw, x: float, y: float, scale: float, hundredth: int) -> None:
    feet, tenth = divmod(hundredth // 10, 10)
    big = ImageFont.load_default(round(0.062 * scale))
    small = ImageFont.load_default(round(0.036 * scale))
    if tenth:
        draw.text((x, y), str(tenth), font=big, fill=INK, anchor="mm")
        draw.text((x - 0.055 * scale * 0.62, y - 0.012 * scale), str(feet), font=small, fill=RED, anchor="mb")
    else:
        draw.text((x, y), str(feet), font=big, fill=RED, anchor="mm")


def _draw_hairs(draw: ImageDraw.ImageDraw, size: tuple[int, int]) -> None:
    columns, rows = size
    draw.line((0, rows / 2, columns, rows / 2), fill=(12, 12, 12), width=2)
    draw.line((columns / 2, 0, columns / 2, rows), fill=(12, 12, 12), width=2)
    for offset in (-rows * 0.27, rows * 0.27):
        draw.line((columns * 0.44, rows / 2 + offset, columns * 0.56, rows / 2 + offset), fill=(12, 12, 12), width=2)


def _through_tube(image: Image.Image, seed: int) -> Image.Image:
    columns, rows = image.size
    down, across = np.mgrid[-rows / 2 : rows / 2 : rows * 1j, -columns / 2 : columns / 2 : columns * 1j]
    reach = np.hypot(down, across) / (rows / 2)
    light = np.clip((0.97 - reach) * 14, 0, 1) * (1 - 0.25 * reach**2)
    sensor = np.random.default_rng(seed).normal(0, 2.0, (rows, columns, 1))
    seen = np.asarray(image, dtype=np.float32) * light[:, :, None] + 9 + sensor
    return Image.fromarray(seen.clip(0, 255).astype(np.uint8))
