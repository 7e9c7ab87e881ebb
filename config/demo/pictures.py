"""Photos for the demo, drawn by Pillow as a phone would keep them: sideways, with the note how it was held."""

from __future__ import annotations

import io
import random

from PIL import Image, ImageDraw

WIDTH, HEIGHT = 1200, 900


def _ground(chance: random.Random) -> Image.Image:
    picture = Image.new("RGB", (WIDTH, HEIGHT), (146 + chance.randrange(30), 118, 88))
    draw = ImageDraw.Draw(picture)
    for _ in range(240):
        x, y, r = chance.randrange(WIDTH), chance.randrange(HEIGHT), chance.randrange(3, 26)
        tone = chance.randrange(-26, 26)
        draw.ellipse((x, y, x + 2 * r, y + r), fill=(146 + tone, 112 + tone, 82 + tone))
    return picture


def _wheel(draw: ImageDraw.ImageDraw, chance: random.Random) -> None:
    x, y, r = 560 + chance.randrange(-90, 90), 470 + chance.randrange(-60, 60), 340
    draw.ellipse((x - r, y - r, x + r, y + r), fill=(28, 28, 30))
    draw.ellipse((x - 200, y - 200, x + 200, y + 200), fill=(176, 176, 170), outline=(60, 60, 60), width=8)
    for n in range(10):
        dx, dy = ((0, -150), (88, -121), (143, -46), (143, 46), (88, 121))[n % 5]
        sign = 1 if n < 5 else -1
        draw.ellipse(
            (x + sign * dx - 18, y + sign * dy - 18, x + sign * dx + 18, y + sign * dy + 18),
            fill=(92, 92, 92),
        )
    draw.line((x - 300, y + 110, x - 215, y + 170), fill=(206, 198, 186), width=9)


def _pipe(draw: ImageDraw.ImageDraw, chance: random.Random) -> None:
    y = 380 + chance.randrange(-80, 80)
    draw.rectangle((0, y, WIDTH, y + 150), fill=(96, 104, 108), outline=(40, 40, 40), width=6)
    x = 420 + chance.randrange(-160, 240)
    draw.rectangle((x, y - 26, x + 120, y + 176), fill=(140, 140, 134), outline=(40, 40, 40), width=6)
    for n in range(9):
        drop = x + 10 + n * 12
        draw.ellipse((drop, y + 180 + n % 3 * 60, drop + 14, y + 214 + n % 3 * 60), fill=(186, 214, 226))


def _lamp(draw: ImageDraw.ImageDraw, chance: random.Random) -> None:
    x = 260 + chance.randrange(0, 200)
    draw.rounded_rectangle((x, 240, x + 620, 640), radius=30, fill=(52, 52, 54))
    draw.rounded_rectangle((x + 40, 280, x + 580, 600), radius=18, fill=(172, 46, 40))
    here = (x + 120, 300)
    for _ in range(12):
        there = (here[0] + chance.randrange(10, 60), here[1] + chance.randrange(-30, 50))
        draw.line((*here, *there), fill=(246, 232, 226), width=4)
        here = there


def photo(seed: int) -> bytes:
    """A JPEG of something on a cart; the same seed gives the same picture."""
    chance = random.Random(seed)  # noqa: S311 - chance for variety, not for secrets
    picture = _ground(chance)
    (_wheel, _pipe, _lamp)[seed % 3](ImageDraw.Draw(picture), chance)
    exif = Image.Exif()
    exif[0x0112] = 6
    kept = io.BytesIO()
    picture.transpose(Image.Transpose.ROTATE_90).save(kept, "JPEG", quality=84, exif=exif)
    return kept.getvalue()
