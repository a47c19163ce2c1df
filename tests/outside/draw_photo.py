"""Draws a picture of a board from a survey file, seen in perspective, as a photo would show it.

Usage: draw_photo.py SURVEY.json OUT.jpg

The demo's photos are made with it: nothing in them is taken from a real place.
Needs numpy and Pillow. The same input gives the same picture.
"""

import json
import sys

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

SIZE = (1600, 1200)
SCALE = 3  # pixels per millimetre of the flat drawing


def flat(board):
    """The front of the board, flat: outline, plates, incomer, devices, bars."""
    pattern = board["enclosure"]["value"]
    width, height = (float(pattern[key].split()[0]) for key in ("width", "height"))
    image = Image.new("RGB", (int(width * SCALE), int(height * SCALE)), (196, 198, 194))
    draw = ImageDraw.Draw(image)

    def box(rect, fill, outline=(70, 70, 72)):
        x, y, w, h = (value * SCALE for value in rect)
        draw.rectangle([x, y, x + w, y + h], fill=fill, outline=outline, width=3)

    box((8, 8, width - 16, height - 16), (182, 184, 180))
    box((width * 0.1, 2, width * 0.8, 12), (150, 152, 150))
    box((width * 0.1, height - 14, width * 0.8, 12), (150, 152, 150))
    box(pattern["incomer_at"], (58, 60, 64))
    box(pattern["neutral_bar"], (184, 160, 90))
    box(pattern["earth_bar"], (184, 160, 90))
    pitch, length = (float(pattern[key].split()[0]) for key in ("pole_pitch", "device_length"))
    order = pattern["phase_order"]
    columns = pattern["columns"]

    def pole_rect(way, slot):
        column, row = (way - 1) % columns, (way - 1) // columns
        x, y = pattern["columns_at"][column]
        return [x, y + (row * len(order) + slot) * pitch, length, pitch]

    for way in range(1, pattern["ways"] + 1):
        for slot in range(len(order)):
            box(pole_rect(way, slot), (120, 122, 122))
    for device in board["devices"].values():
        at = device["at"]
        way, phase = int(at.split("L")[0]), at[at.index("L"):]
        rect = pole_rect(way, order.index(phase))
        rect[3] = pitch * (3 if device["poles"].startswith("P3") else 1)
        box(rect, (236, 236, 232))
        x, y, w, h = rect
        box((x + w * 0.42, y + h / 2 - 5, w * 0.16, 10), (40, 42, 46))
        rated = device.get("rated", {}).get("value", "")
        curve = device.get("curve", {}).get("value", "")
        draw.text(((x + 4) * SCALE, (y + h / 2 - 6) * SCALE), f"{curve}{rated.split(' ')[0]}", fill=(20, 20, 20), font_size=32)
    return image


def homography(source, target):
    """The projective map that takes four points to four others, as eight numbers."""
    rows, values = [], []
    for (x, y), (u, v) in zip(source, target):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
        values += [u, v]
    return np.linalg.solve(np.array(rows, float), np.array(values, float))


def photo(board):
    """The flat drawing seen from the lower left, in uneven light, with grain."""
    front = flat(board)
    w, h = front.size
    corners = [(420, 90), (1180, 150), (1150, 1130), (450, 1060)]
    inverse = homography(corners, [(0, 0), (w, 0), (w, h), (0, h)])
    seen = front.transform(SIZE, Image.Transform.PERSPECTIVE, tuple(inverse), Image.Resampling.BICUBIC)
    mask = Image.new("L", front.size, 255).transform(SIZE, Image.Transform.PERSPECTIVE, tuple(inverse))
    wall = Image.new("RGB", SIZE, (150, 140, 128))
    wall.paste(seen, (0, 0), mask)
    pixels = np.asarray(wall.filter(ImageFilter.GaussianBlur(0.8)), float)
    yy, xx = np.mgrid[0 : SIZE[1], 0 : SIZE[0]]
    light = 0.72 + 0.38 * np.exp(-(((xx - 1000) / 900) ** 2 + ((yy - 300) / 800) ** 2))
    grain = np.random.default_rng(7).normal(0, 3.5, pixels.shape)
    return Image.fromarray(np.clip(pixels * light[..., None] + grain, 0, 255).astype(np.uint8))


def main():
    survey, out = sys.argv[1:]
    with open(survey, encoding="utf-8") as file:
        board = json.load(file)["board"]
    photo(board).save(out, quality=85)


if __name__ == "__main__":
    main()
