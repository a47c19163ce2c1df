"""Draws photos of plates with known holes, and fits projective maps with OpenCV.

usage: plate_photos.py draw SHEET.json FOLDER COUNT [--easy]
       plate_photos.py maps SETS.json OUT.json

`draw` casts a ray for each look: the plate is a body of some thickness with through holes, seen by a
camera in perspective through a lens with radial distortion; SHEET.json holds the patches of the printed
marker sheet. It writes FOLDER/NNN.jpg and FOLDER/cases.json with the truth in millimetres from the
corner tapped first. The same arguments give the same photos. `--easy` leaves out what makes photos
hard (noise, blur, clutter, uneven light, walls like the face or the ground), to judge the drawing itself.

`maps` gives for each set of point pairs the 3 by 3 map that cv2.getPerspectiveTransform (four pairs)
and cv2.findHomography (any number) find.
"""

import json
import math
import multiprocessing
import pathlib
import sys

import cv2
import numpy as np

LOOKS = 6  # looks a pixel, along each side, wherever more than one thing is in or beside the pixel
FACE_SCALE = 5  # texture pixels a millimetre of the plate's face
GROUND_SCALE = 2
SHEET_SCALE = 8
GROUND_MARGIN = 420  # millimetres of ground drawn about the plate
GROUND, FACE, SIDE, PAPER, INK, PACKING = range(6)
HOLE, WALL = 100, 200


# ---- camera -------------------------------------------------------------------------------------


class Camera:
    """A pinhole with radial distortion in the form x_seen = x (1 + k1 r2 + k2 r4), r in focal lengths
    (the model of OpenCV's calibration). The plate's frame: x right, y down, z away from the camera."""

    def __init__(self, rng, points, easy):
        width = int(rng.choice([1600, 2000, 2000, 2000, 2400]))
        self.size = (width, width * 3 // 4)
        self.focal = width * rng.uniform(0.75, 1.0)
        off = 0.0 if easy else 0.003 * width
        self.middle = np.array(self.size) / 2 + rng.uniform(-off, off, 2)
        self.k1 = rng.uniform(-0.15, 0.15)
        self.k2 = rng.uniform(-0.02, 0.02)
        self.tilt = math.radians(35.0 * math.sqrt(rng.uniform(0.0, 1.0)))
        turn = rng.uniform(0.0, 2 * math.pi)
        roll = math.radians(rng.uniform(-12, 12) + rng.choice([0, 0, 180]))
        forward = np.array(
            [math.sin(self.tilt) * math.cos(turn), math.sin(self.tilt) * math.sin(turn), math.cos(self.tilt)]
        )
        right = np.cross([0.0, 1.0, 0.0], forward)
        right /= np.linalg.norm(right)
        down = np.cross(forward, right)
        c, s = math.cos(roll), math.sin(roll)
        self.axes = np.array([c * right + s * down, c * down - s * right, forward])
        aim = np.append((points.min(0) + points.max(0)) / 2 + rng.uniform(-12, 12, 2), 0.0)
        margin = np.array(self.size) * 0.035
        near, far = 100.0, 3000.0
        for _ in range(30):
            middle = (near + far) / 2
            self.place = aim - middle * forward
            seen = self.pixels(points)
            if (seen > margin).all() and (seen < np.array(self.size) - margin).all():
                far = middle
            else:
                near = middle
        self.place = aim - far * rng.uniform(1.0, 1.2) * forward
        # Where a seen radius comes from, by table.
        radius = np.linspace(0.0, 1.6, 4000)
        seen = radius * (1 + self.k1 * radius**2 + self.k2 * radius**4)
        rising = np.maximum.accumulate(seen)
        wanted = np.linspace(0.0, rising[-1], 4000)
        back = np.interp(wanted, rising, radius)
        self.table = (wanted**2, np.where(wanted > 0, back / np.maximum(wanted, 1e-12), 1.0))

    def pixels(self, points, depth=0.0):
        points = np.atleast_2d(points)
        off = np.column_stack([points, np.full(len(points), depth)]) - self.place
        x, y, z = (off @ self.axes.T).T
        x, y = x / z, y / z
        r2 = x * x + y * y
        factor = 1 + self.k1 * r2 + self.k2 * r2 * r2
        return np.column_stack([x * factor, y * factor]) * self.focal + self.middle

    def rays(self, px, py):
        """For each pixel place: how far the line of sight moves along x and y by millimetre of depth."""
        x, y = (px - self.middle[0]) / self.focal, (py - self.middle[1]) / self.focal
        factor = np.interp(x * x + y * y, *self.table)
        x, y = x * factor, y * factor
        a = self.axes
        depth = x * a[0, 2] + y * a[1, 2] + a[2, 2]
        return (x * a[0, 0] + y * a[1, 0] + a[2, 0]) / depth, (x * a[0, 1] + y * a[1, 1] + a[2, 1]) / depth


# ---- scene --------------------------------------------------------------------------------------


def off_hole(hole, x, y):
    """Distance from the hole's outline, below 0 inside."""
    dx, dy = x - hole["centre"][0], y - hole["centre"][1]
    straight = (hole["length"] - hole["diameter"]) / 2
    if straight > 0:
        angle = math.radians(hole["angle"])
        c, s = math.cos(angle), math.sin(angle)
        u, v = c * dx + s * dy, c * dy - s * dx
        dx, dy = u - np.clip(u, -straight, straight), v
    return np.hypot(dx, dy) - hole["diameter"] / 2


def throw_holes(rng, size):
    holes = []
    wanted = int(rng.integers(3, 10))
    for _ in range(400):
        if len(holes) == wanted:
            break
        diameter = float(rng.choice([8.5, 10.5, 12.5, 16.2, 20.2, 20.5, 22.5, 25.2, 25.4, 32.3, 40.4, 50.4]))
        length, angle = diameter, 0.0
        if rng.random() < 0.25:
            diameter = float(rng.choice([7.0, 9.0, 12.0, 16.0]))
            length = diameter * rng.uniform(1.5, 3.5)
            angle = float(rng.choice([0.0, 90.0, 0.0, 90.0, rng.uniform(-90, 90)]))
        reach = length / 2
        room = reach + 5.0
        if 2 * room > min(size):
            continue
        hole = {
            "centre": [rng.uniform(room, size[0] - room), rng.uniform(room, size[1] - room)],
            "diameter": diameter,
            "length": length,
            "angle": angle,
        }
        if all(
            math.dist(hole["centre"], other["centre"]) > reach + other["length"] / 2 + 5.0 for other in holes
        ):
            holes.append(hole)
    return holes


def sheet_texture(sheet):
    width, height = (int(round(number * SHEET_SCALE)) for number in sheet["size"])
    picture = np.full((height, width), 1.0, np.float32)
    for x, y, w, h, black in sheet["patches"]:
        left, top, right, bottom = (int(round(number * SHEET_SCALE)) for number in (x, y, x + w, y + h))
        picture[top:bottom, left:right] = 0.0 if black else 1.0
    for (x, y), words in sheet["words"]:
        place = (int(x * SHEET_SCALE), int(y * SHEET_SCALE))
        write(picture, words[:60], place, 1.0, 0.15, 2)
    return picture


def write(picture, words, spot, size, shade, thick):
    mask = np.zeros(picture.shape, np.uint8)
    cv2.putText(mask, words, spot, cv2.FONT_HERSHEY_SIMPLEX, size, 255, thick, cv2.LINE_AA)
    picture += (shade - picture) * (mask.astype(np.float32) / 255)


def grain(rng, shape, coarse, strength):
    small = rng.normal(0, 1, (max(2, shape[0] // coarse), max(2, shape[1] // coarse))).astype(np.float32)
    return cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC) * strength


def face_texture(rng, size, holes, level, easy):
    """The plate's face in grey levels: grain, scratches, stains, stickers, screws."""
    shape = (int(size[1] * FACE_SCALE), int(size[0] * FACE_SCALE))
    picture = np.full(shape, level, np.float32)
    if easy:
        return picture, []
    picture += grain(rng, shape, 60, 2.0) + grain(rng, shape, 6, 0.8)
    at = lambda x, y: (int(x * FACE_SCALE * 16), int(y * FACE_SCALE * 16))  # noqa: E731
    for _ in range(int(rng.integers(0, 12))):
        a = rng.uniform([0, 0], size)
        b = a + rng.normal(0, 25, 2)
        shade = level + rng.uniform(-30, 30)
        cv2.line(picture, at(*a), at(*b), shade, int(rng.integers(1, 3)), cv2.LINE_AA, 4)
    clear = lambda x, y, reach: all(off_hole(hole, x, y) > reach for hole in holes)  # noqa: E731
    things = []
    for _ in range(int(rng.integers(0, 5))):
        x, y = rng.uniform([8, 8], np.array(size) - 8)
        if not clear(x, y, 8.0) or any(math.dist((x, y), other) < 14 for other in things):
            continue
        things.append((x, y))
        # A screw's head with its recess.
        radius = rng.uniform(3.0, 5.5)
        head = float(np.clip(level + rng.choice([-1, 1]) * rng.uniform(15, 70), 45, 245))
        spot = (int(x * FACE_SCALE * 16), int(y * FACE_SCALE * 16))
        cv2.circle(picture, spot, int(radius * FACE_SCALE * 16), head, -1, cv2.LINE_AA, 4)
        cv2.circle(picture, spot, int(radius * FACE_SCALE * 16), head * 0.6, 1, cv2.LINE_AA, 4)
        turn = rng.uniform(0, math.pi)
        for quarter in range(int(rng.integers(1, 3))):
            dx, dy = (0.7 * radius * f(turn + quarter * math.pi / 2) for f in (math.cos, math.sin))
            cv2.line(
                picture, at(x - dx, y - dy), at(x + dx, y + dy), head * 0.35, int(1.1 * FACE_SCALE), cv2.LINE_AA, 4
            )
    for _ in range(int(rng.integers(0, 3))):
        w, h = rng.uniform(12, 35), rng.uniform(8, 16)
        x, y = rng.uniform([w, h], np.array(size) - [w, h])
        if not clear(x, y, math.hypot(w, h) / 2 + 3.0):
            continue
        turn = rng.uniform(-8, 8)
        box = cv2.boxPoints(((x * FACE_SCALE, y * FACE_SCALE), (w * FACE_SCALE, h * FACE_SCALE), turn))
        cv2.fillConvexPoly(picture, (box * 16).astype(np.int32), rng.uniform(190, 250), cv2.LINE_AA, 4)
        for row in range(2):
            spot = (int((x - w * 0.38) * FACE_SCALE), int((y - h * 0.1 + row * h * 0.38) * FACE_SCALE))
            words = "".join(rng.choice(list("ABCDEF0123456789"), 6))
            write(picture, words, spot, h / 20, 40, 1)
    for _ in range(int(rng.integers(0, 3))):
        x, y = rng.uniform([0, 0], size)
        stain = np.zeros(shape, np.float32)
        cv2.ellipse(
            stain, at(x, y), at(*rng.uniform(6, 20, 2)), float(rng.uniform(0, 180)), 0, 360, 1.0, -1, cv2.LINE_AA, 4
        )
        picture += cv2.GaussianBlur(stain, (0, 0), 14) * rng.uniform(-18, 10)
    return np.clip(picture, 4, 252), things


def ground_texture(rng, size, boxes, level, shadow_depth, easy):
    """The ground in grey levels about the plate, with clutter and the plate's shadow."""
    shape = (int((size[1] + 2 * GROUND_MARGIN) * GROUND_SCALE), int((size[0] + 2 * GROUND_MARGIN) * GROUND_SCALE))
    picture = np.full(shape, level, np.float32)
    if easy:
        return picture
    picture += grain(rng, shape, 90, 4.0)
    stretched = grain(rng, (shape[0], 64), 3, rng.uniform(0.5, 3.0))
    picture += cv2.resize(stretched, (shape[1], shape[0]))
    put = lambda x, y: (int((x + GROUND_MARGIN) * GROUND_SCALE), int((y + GROUND_MARGIN) * GROUND_SCALE))  # noqa: E731

    def beside():
        """A place off the plate and the sheet."""
        for _ in range(50):
            x, y = rng.uniform([-160, -160], np.array(size) + 160)
            if all(not (l - 22 < x < r + 22 and t - 22 < y < b + 22) for l, t, r, b in boxes):
                return x, y
        return -150.0, -150.0

    for _ in range(int(rng.integers(3, 16))):
        kind = rng.integers(0, 4)
        x, y = beside()
        shade = float(rng.uniform(15, 240))
        if kind == 0:
            # A cable in a wave, away from the plate's middle.
            turn = rng.uniform(0, 2 * math.pi)
            along = np.linspace(0, rng.uniform(40, 120), 40)
            wave = rng.uniform(3, 12) * np.sin(along / rng.uniform(10, 25))
            path = [put(x + a * math.cos(turn) - w * math.sin(turn), y + a * math.sin(turn) + w * math.cos(turn))
                    for a, w in zip(along, wave)]
            cv2.polylines(picture, [np.array(path)], False, shade, int(rng.uniform(4, 9) * GROUND_SCALE), cv2.LINE_AA)
        elif kind == 1:
            box = cv2.boxPoints((put(x, y), tuple(rng.uniform(12, 38, 2) * GROUND_SCALE), float(rng.uniform(0, 90))))
            cv2.fillConvexPoly(picture, box.astype(np.int32), shade, cv2.LINE_AA)
        elif kind == 2:
            radius = rng.uniform(4, 18)
            cv2.circle(picture, put(x, y), int(radius * GROUND_SCALE), shade, -1, cv2.LINE_AA)
            cv2.circle(picture, put(x, y), int(radius * 0.4 * GROUND_SCALE), shade * 0.4, -1, cv2.LINE_AA)
        else:
            far = (x + rng.normal(0, 60), y + rng.normal(0, 60))
            cv2.line(picture, put(x, y), put(*far), shade, int(rng.uniform(1, 6) * GROUND_SCALE), cv2.LINE_AA)
    # The shadow of what lies there: bodies moved by the light, softened.
    shadow = np.zeros(shape, np.float32)
    move = rng.uniform(-9, 9, 2)
    for left, top, right, bottom in boxes:
        cv2.rectangle(shadow, put(left + move[0], top + move[1]), put(right + move[0], bottom + move[1]), 1.0, -1)
    shadow = cv2.GaussianBlur(shadow, (0, 0), rng.uniform(2.0, 12.0))
    picture *= 1 - shadow_depth * shadow
    return np.clip(picture, 4, 252)


class Scene:
    def __init__(self, number, sheet, easy):
        self.rng = rng = np.random.default_rng([2026, number])
        self.easy = easy
        self.on_sheet = number % 5 in (1, 3)
        sizes = [(300, 120)] * 6 + [(200, 100), (400, 150), (250, 90), (180, 160)]
        self.size = sizes[int(rng.integers(len(sizes)))]
        self.holes = throw_holes(rng, self.size)
        self.thickness = 1.5 if easy else rng.uniform(1.0, 3.0)
        self.gap = 1.0 if easy else rng.choice([0.0, rng.uniform(0, 30)])
        w, d = self.size
        boxes = [(0, 0, w, d)]
        points = [(0, 0), (w, 0), (w, d), (0, d)]
        self.print_scale = 1.0 if easy else rng.uniform(0.985, 1.015)
        self.sheet_turn = math.radians(rng.uniform(-4, 4))
        self.sheet_at = np.array([(w - 297) / 2 + rng.uniform(-15, 15), d + rng.uniform(14, 25)])
        if self.sheet_turn < 0:
            self.sheet_at[1] += 297 * math.sin(-self.sheet_turn)
        if self.on_sheet:
            size = np.array(sheet["size"])
            outline = [self.from_sheet(corner * size) for corner in np.array([[0, 0], [1, 0], [1, 1], [0, 1]])]
            points += [tuple(point) for point in outline]
            low, high = np.min(outline, 0), np.max(outline, 0)
            boxes.append((*low, *high))
            self.sheet_size = size
            self.sheet_texture = sheet_texture(sheet)
        self.camera = Camera(rng, np.array(points, float), easy)
        # Grey levels of plate, ground and what the holes show, apart from each other.
        while True:
            self.face_level, ground = rng.uniform(85, 215), rng.uniform(20, 235)
            shadow_depth, self.shade_below = (0.0, 1.0) if easy else rng.uniform([0.0, 0.6], [0.4, 1.0])
            through = ground * (1 - shadow_depth) * self.shade_below
            if abs(self.face_level - ground) > 35 and abs(self.face_level - through) > 35:
                break
        self.face, self.screws = face_texture(rng, self.size, self.holes, self.face_level, easy)
        self.ground = ground_texture(rng, self.size, boxes, ground, shadow_depth, easy)
        # A cut wall's brightness by the way it faces: from a dull one to one that catches the light.
        self.wall_level = self.face_level * rng.uniform(0.5, 1.15)
        self.wall_swing = rng.uniform(0.05, 0.35)
        self.wall_light = rng.uniform(0, 2 * math.pi)
        if easy:
            self.wall_level, self.wall_swing = (self.face_level + through) / 2, 0.0
        self.paper, self.ink = rng.uniform(205, 240), rng.uniform(20, 60)

    def from_sheet(self, point):
        c, s = math.cos(self.sheet_turn), math.sin(self.sheet_turn)
        x, y = np.array(point) * self.print_scale
        return self.sheet_at + np.array([c * x - s * y, s * x + c * y])

    def wall(self, x, y):
        """A wall's grey level by its outward normal (towards the one who looks)."""
        facing = x * math.cos(self.wall_light) + y * math.sin(self.wall_light)
        return np.clip(self.wall_level * (1 + self.wall_swing * facing), 4, 250)

    def look(self, px, py):
        """What is seen at places of the photo: kind and grey level."""
        sx, sy = self.camera.rays(px, py)
        place = self.camera.place
        x0, y0 = place[0] - place[2] * sx, place[1] - place[2] * sy
        kind = np.full(px.shape, GROUND, np.int16)
        w, d = self.size
        below = self.thickness + self.gap
        gx, gy = x0 + below * sx, y0 + below * sy
        level = cv2.remap(
            self.ground,
            ((gx + GROUND_MARGIN) * GROUND_SCALE - 0.5).astype(np.float32),
            ((gy + GROUND_MARGIN) * GROUND_SCALE - 0.5).astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        face = (x0 >= 0) & (x0 <= w) & (y0 >= 0) & (y0 <= d)
        self.sides(x0, y0, sx, sy, np.array([0.0, 0.0]), 0.0, (w, d), ~face, SIDE, kind, level)
        kind[face] = FACE
        fx, fy = x0[face], y0[face]
        if fx.size:
            textured = cv2.remap(
                self.face,
                (x0 * FACE_SCALE - 0.5).astype(np.float32),
                (y0 * FACE_SCALE - 0.5).astype(np.float32),
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REPLICATE,
            )[face]
            through = level[face]
            level[face] = textured
            kinds, levels, dx, dy = kind[face], level[face], sx[face], sy[face]
            for number, hole in enumerate(self.holes):
                reach = hole["length"] / 2 + 0.5
                near = np.flatnonzero(
                    (np.abs(fx - hole["centre"][0]) < reach) & (np.abs(fy - hole["centre"][1]) < reach)
                )
                near = near[off_hole(hole, fx[near], fy[near]) < 0]
                x, y, ux, uy = fx[near], fy[near], dx[near], dy[near]
                kinds[near] = HOLE + number
                levels[near] = through[near] * self.shade_below
                # Where the line of sight leaves the hole before the far face, its wall is seen; where it
                # does, by halving.
                hit = off_hole(hole, x + self.thickness * ux, y + self.thickness * uy) > 0
                x, y, ux, uy, at = x[hit], y[hit], ux[hit], uy[hit], near[hit]
                low, high = np.zeros(at.size), np.full(at.size, self.thickness)
                for _ in range(8):
                    middle = (low + high) / 2
                    outside = off_hole(hole, x + middle * ux, y + middle * uy) > 0
                    low, high = np.where(outside, low, middle), np.where(outside, middle, high)
                wx, wy = x + high * ux, y + high * uy
                e = 1e-3
                nx = off_hole(hole, wx + e, wy) - off_hole(hole, wx - e, wy)
                ny = off_hole(hole, wx, wy + e) - off_hole(hole, wx, wy - e)
                size = np.maximum(np.hypot(nx, ny), 1e-9)
                kinds[at] = WALL + number
                levels[at] = self.wall(-nx / size, -ny / size)
            kind[face], level[face] = kinds, levels
        if self.on_sheet:
            c, s = math.cos(self.sheet_turn), math.sin(self.sheet_turn)
            dx, dy = (x0 - self.sheet_at[0]) / self.print_scale, (y0 - self.sheet_at[1]) / self.print_scale
            u, v = c * dx + s * dy, c * dy - s * dx
            on = (u >= 0) & (u <= self.sheet_size[0]) & (v >= 0) & (v <= self.sheet_size[1])
            size = self.sheet_size * self.print_scale
            off = ~on & (kind != FACE) & (kind < HOLE)
            self.sides(x0, y0, sx, sy, self.sheet_at, self.sheet_turn, size, off, PACKING, kind, level)
            white = cv2.remap(
                self.sheet_texture,
                (u * SHEET_SCALE - 0.5).astype(np.float32),
                (v * SHEET_SCALE - 0.5).astype(np.float32),
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REPLICATE,
            )
            kind[on] = np.where(white[on] > 0.5, PAPER, INK)
            level[on] = self.ink + (self.paper - self.ink) * white[on]
        return kind, level

    def sides(self, x0, y0, sx, sy, origin, turn, size, among, which, kind, level):
        """The sides of a body: lines of sight that pass beside its face but meet it further down."""
        if self.thickness == 0.0:
            return
        c, s = math.cos(turn), math.sin(turn)
        dx, dy = x0 - origin[0], y0 - origin[1]
        u, v = c * dx + s * dy, c * dy - s * dx
        du, dv = c * sx + s * sy, c * sy - s * sx
        near = among & (u > -8) & (u < size[0] + 8) & (v > -8) & (v < size[1] + 8)
        at = np.nonzero(near)
        u, v, du, dv = u[at], v[at], du[at], dv[at]
        # By slabs: where the line enters and leaves each pair of sides.
        enter, leave, axis = np.zeros(u.size), np.full(u.size, self.thickness), np.full(u.size, -1)
        for number, (p, dp, most) in enumerate(((u, du, size[0]), (v, dv, size[1]))):
            dp = np.where(np.abs(dp) < 1e-9, 1e-9, dp)
            first, second = -p / dp, (most - p) / dp
            low, high = np.minimum(first, second), np.maximum(first, second)
            axis = np.where(low > enter, number, axis)
            enter, leave = np.maximum(enter, low), np.minimum(leave, high)
        hit = (enter < leave) & (axis >= 0)
        nu = np.where(axis == 0, -np.sign(du), 0.0)
        nv = np.where(axis == 1, -np.sign(dv), 0.0)
        shade = self.wall(c * nu - s * nv, s * nu + c * nv)
        at = tuple(index[hit] for index in at)
        kind[at] = which
        level[at] = shade[hit]

    def photo(self):
        rng = self.rng
        width, height = self.camera.size
        px, py = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
        kind, level = self.look(px, py)
        light = linear(level)
        # Where neighbours differ in kind, many looks a pixel.
        differs = np.zeros(kind.shape, np.uint8)
        differs[:, 1:] |= kind[:, 1:] != kind[:, :-1]
        differs[1:, :] |= kind[1:, :] != kind[:-1, :]
        rows, columns = np.nonzero(cv2.dilate(differs, np.ones((3, 3), np.uint8)))
        steps = (np.arange(LOOKS) + 0.5) / LOOKS
        ox, oy = (grid.ravel() for grid in np.meshgrid(steps, steps))
        for start in range(0, rows.size, 30000):
            r, c = rows[start : start + 30000], columns[start : start + 30000]
            _, fine = self.look(c[:, None] + ox[None, :], r[:, None] + oy[None, :])
            light[r, c] = linear(fine).mean(axis=1)
        if self.easy:
            blur, grey_noise, quality = 0.7, 0.0, 98
        else:
            # Uneven light: a slope, the lens's fall-off, and a soft patch of glare.
            u, v = px / width - 0.5, py / width - 0.375
            turn, slope = rng.uniform(0, 2 * math.pi), rng.uniform(0, 0.5)
            light *= 1 + slope * (u * math.cos(turn) + v * math.sin(turn))
            light *= 1 - rng.uniform(0, 0.5) * (u * u + v * v) / 0.39
            gx, gy, reach = rng.uniform(-0.4, 0.4), rng.uniform(-0.3, 0.3), rng.uniform(0.15, 0.4)
            light += rng.uniform(0, 0.06) * np.exp(-((u - gx) ** 2 + (v - gy) ** 2) / (2 * reach * reach))
            blur, grey_noise, quality = rng.uniform(0.5, 1.6), rng.uniform(0, 8), int(rng.integers(78, 96))
        light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), blur)
        if not self.easy and rng.random() < 0.5:
            light = moved(light, rng.uniform(0, 2.5), rng.uniform(0, math.pi))
        grey = levels(light)
        if not self.easy:
            # The camera's own tone curve: some more contrast in the middle.
            share = grey / 255
            grey += 255 * rng.uniform(0, 0.4) * (share * share * (3 - 2 * share) - share)
        grey += rng.standard_normal(grey.shape, np.float32) * np.float32(grey_noise)
        self.told = {"blur": blur, "noise": grey_noise, "quality": quality}
        picture = np.clip(grey + 0.5, 0, 255).astype(np.uint8)
        return picture, quality

    def case(self):
        rng = self.rng
        w, d = self.size
        camera = self.camera
        corners = np.array([(0, 0), (w, 0), (w, d), (0, d)], float)
        # Fingers: anywhere within five millimetres of the corner.
        turn, far = rng.uniform(0, 2 * math.pi, 4), 5.0 * np.sqrt(rng.uniform(0, 1, 4))
        off = np.column_stack([far * np.cos(turn), far * np.sin(turn)])
        taps = camera.pixels(corners + off)
        taps = np.clip(taps, 0, np.array(camera.size))
        within = 0.0 if self.easy else float(rng.choice([0.0, 0.25]))
        case = {
            "taps": taps.tolist(),
            "corners": camera.pixels(corners).tolist(),
            "size": [w, d],
            "holes": [{**hole, "pixel": camera.pixels(hole["centre"])[0].tolist()} for hole in self.holes],
            "thickness": self.thickness,
            "tilt": math.degrees(camera.tilt),
            "told": self.told,
            "k1": camera.k1,
            "face": self.face_level,
        }
        if self.on_sheet:
            play = 0.0 if self.easy else 0.25
            case["sheet"] = {"check_line": 200.0 * self.print_scale + rng.uniform(-play, play), "within": play}
        else:
            case["sides"] = {
                "width": w + rng.uniform(-within, within),
                "depth": d + rng.uniform(-within, within),
                "within": within,
            }
        return case


def linear(level):
    """Light from grey levels, by the curve of sRGB (IEC 61966-2-1)."""
    value = np.asarray(level, np.float32) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)


def levels(light):
    light = np.clip(light, 0, 1)
    return 255 * np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055).astype(np.float32)


def moved(light, length, turn):
    """Blur by a movement of some pixels."""
    kernel = np.zeros((9, 9), np.float32)
    for share in np.linspace(-0.5, 0.5, 60):
        x, y = 4 + share * length * math.cos(turn), 4 + share * length * math.sin(turn)
        column, row = int(x), int(y)
        fx, fy = x - column, y - row
        for i, j, weight in ((0, 0, (1 - fx) * (1 - fy)), (1, 0, fx * (1 - fy)), (0, 1, (1 - fx) * fy), (1, 1, fx * fy)):
            kernel[row + j, column + i] += weight
    return cv2.filter2D(light, -1, kernel / kernel.sum())


def draw(task):
    number, sheet, folder, easy = task
    cv2.setNumThreads(1)
    scene = Scene(number, sheet, easy)
    picture, quality = scene.photo()
    name = f"{number:03}.jpg"
    cv2.imwrite(str(pathlib.Path(folder) / name), picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return {"photo": name, **scene.case()}


def draw_all(sheet_file, folder, count, easy):
    with open(sheet_file, encoding="utf-8") as file:
        sheet = json.load(file)
    with multiprocessing.Pool(2) as pool:
        cases = pool.map(draw, [(number, sheet, folder, easy) for number in range(count)], chunksize=1)
    with open(pathlib.Path(folder) / "cases.json", "w", encoding="utf-8") as file:
        json.dump(cases, file)
    print(f"{len(cases)} photos, {sum(len(case['holes']) for case in cases)} holes")


def maps(sets_file, out_file):
    with open(sets_file, encoding="utf-8") as file:
        sets = json.load(file)
    answers = []
    for one in sets:
        source, target = (np.array(one[key], np.float64) for key in ("from", "to"))
        found, _ = cv2.findHomography(source, target, 0)
        answer = {"least_squares": found.tolist()}
        if len(source) == 4:
            exact = cv2.getPerspectiveTransform(source.astype(np.float32), target.astype(np.float32))
            answer["exact"] = exact.tolist()
        answers.append(answer)
    with open(out_file, "w", encoding="utf-8") as file:
        json.dump(answers, file)
    print(f"{len(answers)} maps")


def main():
    if sys.argv[1] == "draw":
        draw_all(sys.argv[2], sys.argv[3], int(sys.argv[4]), "--easy" in sys.argv)
    else:
        maps(sys.argv[2], sys.argv[3])


if __name__ == "__main__":
    main()
