"""Photos of drilled gland plates, drawn by following rays from a camera through a scene, with the truth.

    draw_photo_hard.py --seed N --count M --out DIR [--megapixels F] [--kind a|b|mixed] [--overlay]

Shares nothing with the other drawings: every pixel is a bundle of rays from one point through a
lens with radial distortion, met with a steel slab of real thickness, bent paper, cables and the
ground below; light, shadow, gamma, noise and JPEG follow. The same seed gives the same photos.

Kind a: the plate's sides are the reference. Kind b: the marker sheet is. Mixed: a and b in turn.
`--overlay` also writes a PNG beside each photo, with the true rims drawn over it by the forward
projection (which the ray casting does not use).

Frame of the truth: millimetres on the plate's upper face, from the corner tapped first, x towards
the second corner, y towards the fourth. Pixels: of the upright photo, from 0 to its width and height
(the middle of the first pixel is 0.5, 0.5).

cases.json is a list; each case has
    photo        file name, beside cases.json
    taps         four corners [x, y] in pixels: left rear, right rear, right front, left front (clockwise),
                 each off by up to 1 % of the photo's long side
    size         true [width, depth] in mm
    holes        [{centre [x, y], diameter, length, angle, occupied, fixing, rim_seen}]: diameter of a
                 slot is its width; length is over all, 0 for a round hole; angle of the long axis from x
                 towards y in degrees; occupied: a cable, or a gland with nut and cable, stands in it;
                 fixing: a small hole for the plate's own screws; rim_seen: share of the rim on the face
                 that is in the photo and not hidden (0 to 1)
    decoys       [{centre, diameter, what}]: things that are no holes
    sides        {width, depth, within} or null: the reference of kind a, off by at most within
    sheet        {check_line, within} or null: the reference of kind b, off by at most within
    recorded     {width, depth, within} or null: kind b only, the size on record
    contradicts  true where the recorded size is wrong by 4 to 10 mm on one side or both
    about        what the scene is, to sort failures by: kind, tilt (degrees), focal (mm, as on 36 x 24 mm),
                 lens [k1, k2], thickness (mm), ground, gap (mm from the plate's face to the ground),
                 place and below (mm that the sheet lies below the face; negative: above), curl (kind,
                 mm), covered (numbers of markers with something on them, 0 to 3), markers_seen (share of each
                 marker that is in the photo and not hidden), print_scale [across, down],
                 corners (true corners in pixels), corners_seen (share of the four not hidden:
                 1, but where no scene without came up), fill (share
                 of the frame along the fuller direction), pixels_per_mm at the plate's middle

The play of a print across and down (up to 0.07 %), paint, light, noise and spread of sizes are common
practice, no source.
"""

import argparse
import json
import math
import pathlib

import cv2
import numpy as np

FAR = 1.0e9
LIGHTS = 12
# Share of a pixel's rays along each direction where a pixel is refined.
FINE = 5

# The marker sheet as printed: A4 lying; millimetres from its top left corner.
SHEET = (297.0, 210.0)
MARKERS = ((12.0, 12.0), (255.0, 12.0), (255.0, 168.0), (12.0, 168.0))
MARKER_SIDE = 30.0
MARKER_BITS = (0xBD30, 0x7484, 0x7ABA, 0x939C)
CHECK_LINE = 200.0
CHECK_FROM = (48.5, 186.0)
WORDS = ((60.0, 24.0, 88), (60.0, 31.0, 112), (60.0, 38.0, 57), (60.0, 180.0, 83))

PAINTS = {
    "light grey": (0.55, 0.56, 0.54),
    "grey": (0.33, 0.35, 0.36),
    "beige": (0.56, 0.52, 0.42),
    "zinc": (0.42, 0.44, 0.46),
    "white": (0.75, 0.75, 0.73),
    "dark grey": (0.13, 0.14, 0.15),
}
KNOCKOUTS = (12.5, 16.2, 16.2, 20.5, 20.5, 20.5, 25.5, 25.5, 32.5, 32.5, 40.5, 50.5, 63.5)


def smooth(low, high, x):
    """0 below low, 1 above high, a cubic between."""
    t = np.clip((x - low) / (high - low), 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


class Noise:
    """Value noise that repeats after 256 cells."""

    def __init__(self, rng):
        self.cells = rng.uniform(-1.0, 1.0, (256, 256))

    def at(self, x, y, size):
        x, y = x / size, y / size
        i, j = np.floor(x), np.floor(y)
        u, v = x - i, y - j
        i, j = i.astype(np.int64) & 255, j.astype(np.int64) & 255
        u, v = u * u * (3 - 2 * u), v * v * (3 - 2 * v)
        c, k, m = self.cells, (i + 1) & 255, (j + 1) & 255
        return (c[j, i] * (1 - u) + c[j, k] * u) * (1 - v) + (c[m, i] * (1 - u) + c[m, k] * u) * v


class Grid:
    """A picture over the scene in millimetres, read with straight-line interpolation."""

    def __init__(self, low, high, step):
        self.low, self.step = low, step
        self.x = np.arange(low[0], high[0] + step, step)
        self.y = np.arange(low[1], high[1] + step, step)
        self.values = np.ones((len(self.y), len(self.x)))

    def mesh(self):
        return np.meshgrid(self.x, self.y)

    def shifted(self, values, dx, dy):
        """values as seen from each place when looking dx, dy millimetres further."""
        i = np.clip(np.arange(len(self.x)) + round(dx / self.step), 0, len(self.x) - 1)
        j = np.clip(np.arange(len(self.y)) + round(dy / self.step), 0, len(self.y) - 1)
        return values[np.ix_(j, i)]

    def at(self, x, y):
        u = np.clip((x - self.low[0]) / self.step, 0, len(self.x) - 1.001)
        v = np.clip((y - self.low[1]) / self.step, 0, len(self.y) - 1.001)
        i, j = u.astype(np.int64), v.astype(np.int64)
        u, v, g = u - i, v - j, self.values
        return (g[j, i] * (1 - u) + g[j, i + 1] * u) * (1 - v) + (g[j + 1, i] * (1 - u) + g[j + 1, i + 1] * u) * v


class Camera:
    """A point, three axes, a focal length in pixels, a principal point and two radial terms.

    Depth d runs from the plate's face away from the camera; the camera is at negative d.
    """

    def __init__(self, width, height, focal, middle, k1, k2, axes):
        self.width, self.height, self.focal, self.middle = width, height, focal, middle
        self.k1, self.k2, self.axes = k1, k2, axes
        self.place = np.zeros(3)
        # From distorted radius back to the straight one, by table.
        straight = np.linspace(0.0, 1.6, 160001)
        bent = straight * (1 + k1 * straight**2 + k2 * straight**4)
        top = int(np.argmax(np.diff(bent) <= 0)) if np.any(np.diff(bent) <= 0) else len(bent)
        self.table = bent[: top or None], straight[: top or None]

    def project(self, points):
        """Pixels of points (x, y, d)."""
        seen = (np.atleast_2d(points) - self.place) @ self.axes.T
        flat = seen[:, :2] / seen[:, 2:]
        r2 = (flat**2).sum(axis=1, keepdims=True)
        return self.middle + self.focal * flat * (1 + self.k1 * r2 + self.k2 * r2 * r2)

    def slopes(self, u, v):
        """For pixels: how far a ray moves across the scene for each millimetre of depth."""
        a, b = (u - self.middle[0]) / self.focal, (v - self.middle[1]) / self.focal
        bent = np.hypot(a, b)
        scale = np.interp(bent, *self.table) / np.maximum(bent, 1e-12)
        away = np.stack([a * scale, b * scale, np.ones_like(a)], axis=-1) @ self.axes
        return away[..., 0] / away[..., 2], away[..., 1] / away[..., 2]


class Opening:
    """A hole through the plate: round, or a slot along an axis."""

    def __init__(self, x, y, diameter, length=0.0, angle=0.0):
        self.x, self.y, self.r, self.length, self.angle = x, y, diameter / 2, length, angle
        half = max(0.0, (length - diameter) / 2)
        self.ax, self.ay = half * math.cos(math.radians(angle)), half * math.sin(math.radians(angle))
        self.reach = half + self.r

    def from_axis(self, x, y):
        x, y = x - self.x, y - self.y
        if self.length > 0:
            t = np.clip((x * self.ax + y * self.ay) / (self.ax**2 + self.ay**2), -1, 1)
            x, y = x - t * self.ax, y - t * self.ay
        return x, y

    def beyond(self, x, y):
        """Distance outside the rim; negative within the opening."""
        return np.hypot(*self.from_axis(x, y)) - self.r

    def rim(self, count):
        t = np.linspace(0, 2 * math.pi, count, endpoint=False)
        c, s = np.cos(t), np.sin(t)
        out = np.where(c * self.ax + s * self.ay >= 0, 1.0, -1.0) if self.length > 0 else np.zeros(count)
        return np.stack([self.x + self.r * c + out * self.ax, self.y + self.r * s + out * self.ay], axis=1)


class Pillar:
    """An upright or leaning round bar from depth `base` up to `height` above the face."""

    def __init__(self, x, y, r, base, height, side, cap, lean=(0.0, 0.0)):
        self.x, self.y, self.r, self.base, self.height = x, y, r, base, height
        self.side, self.cap, self.lean = side, cap, lean

    def box(self):
        far = max(self.height, self.base)
        px, py = abs(self.lean[0]) * far + self.r, abs(self.lean[1]) * far + self.r
        return self.x - px, self.y - py, -self.height, self.x + px, self.y + py, self.base

    def meet(self, x0, y0, vx, vy):
        px, py = x0 - self.x, y0 - self.y
        qx, qy = vx - self.lean[0], vy - self.lean[1]
        a, b, c = qx * qx + qy * qy + 1e-15, px * qx + py * qy, px * px + py * py - self.r**2
        root = b * b - a * c
        d = np.where(root > 0, (-b - np.sqrt(np.maximum(root, 0))) / a, FAR)
        top = -self.height
        tx, ty = px + qx * top, py + qy * top
        capped = tx * tx + ty * ty <= self.r**2
        hit = np.where(capped, top, np.where((d > top) & (d < self.base), d, FAR))
        return hit, capped

    def shade(self, x, y, d, capped):
        rx, ry = (x - self.x - self.lean[0] * d) / self.r, (y - self.y - self.lean[1] * d) / self.r
        albedo, mark = self.cap(rx, ry)
        albedo = np.where(capped[:, None], albedo, np.asarray(self.side))
        flat = np.where(capped, 0.0, 1.0)
        normal = np.stack([rx * flat, ry * flat, np.where(capped, -1.0, 0.0)], axis=1)
        return albedo, normal, np.where(capped, mark + 1, 0)


class Prism:
    """An upright bar whose section is convex: corners in order, from depth `base` up to `height`."""

    def __init__(self, corners, base, height, side):
        self.corners, self.base, self.height, self.side = np.asarray(corners, float), base, height, side
        ahead = np.roll(self.corners, -1, axis=0) - self.corners
        out = np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)
        out /= np.hypot(out[:, 0], out[:, 1])[:, None]
        if ((self.corners.mean(axis=0) - self.corners[0]) @ out[0]) > 0:
            out = -out
        self.out, self.limit = out, (out * self.corners).sum(axis=1)

    def box(self):
        (a, b), (c, d) = self.corners.min(axis=0), self.corners.max(axis=0)
        return a, b, -self.height, c, d, self.base

    def meet(self, x0, y0, vx, vy):
        enter, leave = np.full(x0.shape, -self.height), np.full(x0.shape, float(self.base))
        face = np.full(x0.shape, -1)
        for at, ((nx, ny), limit) in enumerate(zip(self.out, self.limit)):
            speed, room = nx * vx + ny * vy, limit - (nx * x0 + ny * y0)
            d = room / np.where(np.abs(speed) < 1e-12, 1e-12, speed)
            inward = speed < 0
            later = inward & (d > enter)
            face = np.where(later, at, face)
            enter = np.where(later, d, enter)
            leave = np.where(~inward, np.minimum(leave, d), leave)
        return np.where(enter < leave, enter, FAR), face

    def shade(self, x, y, d, face):
        normals = np.concatenate([np.c_[self.out, np.zeros(len(self.out))], [[0.0, 0.0, -1.0]]])
        return np.broadcast_to(np.asarray(self.side), (len(x), 3)), normals[face], face + 1


class Rod:
    """A round bar with round ends between two points (x, y, d): a cable lying, a finger."""

    def __init__(self, a, b, r, side):
        self.a, self.b, self.r, self.side = np.asarray(a, float), np.asarray(b, float), r, side
        self.axis = self.b - self.a
        self.length = np.linalg.norm(self.axis)
        self.axis = self.axis / self.length

    def box(self):
        low, high = np.minimum(self.a, self.b) - self.r, np.maximum(self.a, self.b) + self.r
        return *low, *high

    def meet(self, x0, y0, vx, vy):
        start = np.stack([x0, y0, np.zeros_like(x0)], axis=1) - self.a
        way = np.stack([vx, vy, np.ones_like(vx)], axis=1)
        p, q = start - np.outer(start @ self.axis, self.axis), way - np.outer(way @ self.axis, self.axis)
        best = self._root(p, q)
        along = (start + way * np.minimum(best, 1e6)[:, None]) @ self.axis
        best = np.where((along >= 0) & (along <= self.length), best, FAR)
        for end in (np.zeros(3), self.axis * self.length):
            best = np.minimum(best, self._root(start - end, way))
        return best, np.zeros(x0.shape, int)

    def _root(self, p, q):
        a, b, c = (q * q).sum(axis=1) + 1e-15, (p * q).sum(axis=1), (p * p).sum(axis=1) - self.r**2
        root = b * b - a * c
        return np.where(root > 0, (-b - np.sqrt(np.maximum(root, 0))) / a, FAR)

    def shade(self, x, y, d, _):
        at = np.stack([x, y, d], axis=1) - self.a
        along = np.clip(at @ self.axis, 0, self.length)
        normal = (at - along[:, None] * self.axis) / self.r
        return np.broadcast_to(np.asarray(self.side), (len(x), 3)), normal, np.zeros(len(x), int)


class Paper:
    """The printed sheet, bent along one or more straight folds without being stretched."""

    def __init__(self, corner, angle, below, bends, scale):
        self.corner, self.below, self.bends, self.scale = np.asarray(corner, float), below, bends, scale
        self.c, self.s = math.cos(math.radians(angle)), math.sin(math.radians(angle))

    def flat(self, x, y):
        x, y = x - self.corner[0], y - self.corner[1]
        return x * self.c + y * self.s, y * self.c - x * self.s

    def scene(self, u, v):
        return self.corner[0] + u * self.c - v * self.s, self.corner[1] + u * self.s + v * self.c

    def bent(self, u, v):
        """Height above its lowest, slopes, and where on the paper that is (it bends, it does not stretch)."""
        height, su, sv, pu, pv = np.zeros_like(u), np.zeros_like(u), np.zeros_like(u), u, v
        for (nu, nv), zero, length, rise, kind in self.bends:
            s = u * nu + v * nv - zero
            if kind == "corner":
                s = np.clip(s, 0, 3 * length)
            else:
                s = np.clip(s, -2 * length, 2 * length)
            t = s / length
            sign = -1.0 if kind == "arch" else 1.0
            height = height + (rise if kind == "arch" else 0.0) + sign * rise * t * t
            slope = sign * 2 * rise * t / length
            su, sv = su + slope * nu, sv + slope * nv
            # Arc length less its shadow on the plane, to second order in the slope.
            longer = 2 * rise**2 * s**3 / (3 * length**4)
            pu, pv = pu + longer * nu, pv + longer * nv
        return height, su, sv, pu, pv

    def points(self, left, top):
        """Points all over a marker, in the scene (to within the bending's shortening)."""
        u, v = np.meshgrid(left + np.linspace(0.5, 29.5, 20), top + np.linspace(0.5, 29.5, 20))
        u, v = u.ravel(), v.ravel()
        return np.stack([*self.scene(u, v), self.below - self.bent(u, v)[0]], axis=1)

    def meet(self, x0, y0, vx, vy):
        d = np.full(x0.shape, self.below)
        for _ in range(5):
            u, v = self.flat(x0 + vx * d, y0 + vy * d)
            height = self.bent(u, v)[0]
            d = self.below - height
        _, su, sv, pu, pv = self.bent(*self.flat(x0 + vx * d, y0 + vy * d))
        on = (pu >= 0) & (pu <= SHEET[0]) & (pv >= 0) & (pv <= SHEET[1])
        return np.where(on, d, FAR), su, sv, pu, pv

    def printed(self, pu, pv):
        """Ink at places on the paper: 1 where black."""
        u = (pu - SHEET[0] / 2) / self.scale[0] + SHEET[0] / 2
        v = (pv - SHEET[1] / 2) / self.scale[1] + SHEET[1] / 2
        black = np.zeros(u.shape, bool)
        cell = MARKER_SIDE / 6
        for (x, y), bits in zip(MARKERS, MARKER_BITS):
            i, j = np.floor((u - x) / cell).astype(int), np.floor((v - y) / cell).astype(int)
            inside = (i >= 0) & (i < 6) & (j >= 0) & (j < 6)
            ring = (i == 0) | (i == 5) | (j == 0) | (j == 5)
            bit = 15 - ((j - 1) * 4 + (i - 1))
            black |= inside & (ring | ((bits >> np.clip(bit, 0, 15)) & 1 == 1))
        x, y = CHECK_FROM
        black |= (u >= x) & (u <= x + CHECK_LINE) & (np.abs(v - y) <= 0.15)
        ends = ((u >= x - 0.3) & (u <= x)) | ((u >= x + CHECK_LINE) & (u <= x + CHECK_LINE + 0.3))
        black |= ends & (np.abs(v - y) <= 4)
        for x, y, letters in WORDS:
            i = np.floor((u - x) / 1.7).astype(int)
            on = (v <= y) & (v >= y - 2.2) & (i >= 0) & (i < letters) & (i * 7919 % 6 != 1)
            part_u, part_v = (u - x) / 1.7 - i, (y - v) / 2.2
            tall = np.where(i * 31 % 5 < 2, 1.0, 0.7)
            stroke = (part_u < 0.22) | ((np.abs(part_v - 0.5 * tall) < 0.08) & (part_u < 0.75)) | (
                (np.abs(part_u - 0.7) < 0.1) & (i % 3 > 0)
            )
            black |= on & stroke & (part_v < tall)
        return black


class Decal:
    """Something flat on the face: `albedo(x, y, old)` gives the new colours and a mark for its edges."""

    def __init__(self, x, y, reach, albedo):
        self.x, self.y, self.reach, self.albedo = x, y, reach, albedo


def cable_end(rng, cores=None):
    """The cut end of a cable: sheath, then insulated cores; radii as shares of the cable's."""
    sheath = np.array([0.02, 0.02, 0.022]) if rng.random() < 0.6 else np.array([0.16, 0.17, 0.18])
    cores = cores or int(rng.integers(2, 6))
    colours = [(0.12, 0.05, 0.02), (0.01, 0.01, 0.01), (0.22, 0.22, 0.22), (0.02, 0.08, 0.35), (0.25, 0.35, 0.03)]
    spin = rng.uniform(0, math.pi)
    ring, size = (0.44, 0.32) if cores < 4 else (0.5, 0.28)
    places = [(ring * math.cos(spin + k * 2 * math.pi / cores), ring * math.sin(spin + k * 2 * math.pi / cores)) for k in range(cores)]
    copper, fill = np.array([0.55, 0.24, 0.12]), np.array([0.3, 0.29, 0.27])

    def cap(x, y):
        radius = np.hypot(x, y)
        albedo = np.where((radius > 0.84)[:, None], sheath, fill if cores > 3 else sheath * 1.3)
        mark = (radius > 0.84).astype(int)
        for k, (cx, cy) in enumerate(places):
            off = np.hypot(x - cx, y - cy)
            albedo = np.where((off < size)[:, None], np.array(colours[k]), albedo)
            albedo = np.where((off < size * 0.66)[:, None], copper, albedo)
            mark = np.where(off < size * 0.66, 2, np.where(off < size, 3 + k, mark))
        return albedo, mark

    return sheath, cap


def plain_cap(colour):
    colour = np.asarray(colour, float)
    return lambda x, y: (np.broadcast_to(colour, (len(x), 3)), np.zeros(len(x), int))


def slotted_cap(rng, colour):
    turn, colour, cross = rng.uniform(0, math.pi), np.asarray(colour, float), rng.random() < 0.6
    c, s = math.cos(turn), math.sin(turn)

    def cap(x, y):
        u, v = x * c + y * s, y * c - x * s
        cut = (np.abs(u) < 0.13) & (np.abs(v) < 0.7)
        if cross:
            cut |= (np.abs(v) < 0.13) & (np.abs(u) < 0.7)
        return np.where(cut[:, None], colour * 0.12, colour), cut.astype(int)

    return cap


class Scene:
    """All that rays can meet."""

    def __init__(self):
        self.openings, self.solids, self.decals, self.paper = [], [], [], None

    def rect_beyond(self, x, y):
        """Distance outside the plate's outline, negative within (its corners a little rounded)."""
        w, h, r = self.width / 2, self.depth / 2, self.round
        ox, oy = np.abs(x - w) - w + r, np.abs(y - h) - h + r
        return np.hypot(np.maximum(ox, 0), np.maximum(oy, 0)) + np.minimum(np.maximum(ox, oy), 0) - r

    def plate_mask(self, x, y, step):
        """How much of the plate covers each place."""
        cover = np.clip(0.5 - self.rect_beyond(x, y) / step, 0, 1)
        for hole in self.openings:
            cover = np.minimum(cover, np.clip(0.5 + hole.beyond(x, y) / step, 0, 1))
        return cover

    def set_light(self, rng):
        """Works out what light reaches the ground and the face."""
        golden = math.pi * (3 - math.sqrt(5))
        spots = []
        for k in range(LIGHTS):
            r, t = self.light_radius * math.sqrt((k + 0.5) / LIGHTS), k * golden
            tall, turn = self.light_height + r * math.sin(t), self.light_turn + r * math.cos(t) / math.cos(self.light_height)
            spots.append((math.cos(turn) / math.tan(tall), math.sin(turn) / math.tan(tall)))
        self.spots = spots
        high, turn = self.light_height, self.light_turn
        self.light = np.array([math.cos(high) * math.cos(turn), math.cos(high) * math.sin(turn), -math.sin(high)])
        reach = self.gap / math.tan(high - self.light_radius) + 60
        ground = Grid((-reach, -reach), (self.width + reach, self.depth + reach), 0.5 if self.width < 400 else 0.7)
        x, y = ground.mesh()
        mask = self.plate_mask(x, y, ground.step)
        sheet = self._sheet_mask(x, y) if self.paper is not None and self.paper.below < self.gap - 0.5 else None
        seen = np.zeros_like(mask)
        for lx, ly in spots:
            shade = np.maximum(ground.shifted(mask, lx * self.gap, ly * self.gap),
                               ground.shifted(mask, lx * (self.gap - self.thick), ly * (self.gap - self.thick)))
            if sheet is not None:
                rise = self.gap - self.paper.below
                shade = np.maximum(shade, ground.shifted(sheet, lx * rise, ly * rise))
            seen += 1 - shade
        ground.values = seen / LIGHTS
        self.ground_light = ground
        # Sky seen from the ground: not through the plate, but through its openings.
        sky = Grid(ground.low, (ground.x[-1], ground.y[-1]), 1.0)
        x, y = sky.mesh()
        open_share = 1 - rectangle_share(x, y, 0, 0, self.width, self.depth, self.gap)
        for hole in self.openings:
            far = (x - hole.x) ** 2 + (y - hole.y) ** 2
            # Through the rim at the face and the rim below: the smaller one seen, the lower rim thinned by the upper.
            area = hole.r**2 if hole.length == 0 else hole.r**2 + 2 * hole.r * math.hypot(hole.ax, hole.ay) * 2 / math.pi
            open_share = open_share + disc_share(far, area, self.gap)
        sky.values = np.clip(open_share, 0.01, 1)
        self.ground_sky = sky
        low = np.array([-30.0, -30.0])
        top = np.array([self.width + 30, self.depth + 30])
        if self.paper is not None:
            for u, v in ((0, 0), (SHEET[0], 0), (0, SHEET[1]), SHEET):
                at = np.array(self.paper.scene(u, v))
                low, top = np.minimum(low, at - 30), np.maximum(top, at + 30)
        self.object_light = Grid(low, top, 0.7)
        x, y = self.object_light.mesh()
        seen = np.zeros_like(x)
        for lx, ly in spots:
            dark = np.zeros(x.shape, bool)
            for solid in self.solids:
                dark |= self._shadow(solid, x, y, lx, ly)
            seen += ~dark
        self.object_light.values = seen / LIGHTS
        self.sheet_light = None
        if self.paper is not None and self.paper.below <= 0:
            self.sheet_light = Grid(low, top, 0.7)
            seen = np.zeros_like(x)
            for lx, ly in spots:
                px, py = x, y
                for _ in range(2):
                    height = self.paper.bent(*self.paper.flat(px, py))[0] - self.paper.below
                    px, py = x + lx * height, y + ly * height
                seen += 1 - self._sheet_mask(px, py)
            self.sheet_light.values = seen / LIGHTS

    def _sheet_mask(self, x, y):
        u, v = self.paper.flat(x, y)
        return ((u >= 0) & (u <= SHEET[0]) & (v >= 0) & (v <= SHEET[1])).astype(float)

    @staticmethod
    def _shadow(solid, x, y, lx, ly):
        """Whether the face at x, y lies in a solid's shadow from one point of the lamp."""
        dark = np.zeros(x.shape, bool)
        a, b, top, c, d, _ = solid.box()
        rise = max(-top, 0)
        rows = (y[:, 0] > min(b, b - ly * rise) - 1) & (y[:, 0] < max(d, d - ly * rise) + 1)
        cols = (x[0] > min(a, a - lx * rise) - 1) & (x[0] < max(c, c - lx * rise) + 1)
        if rise == 0 or not rows.any() or not cols.any():
            return dark
        at = np.ix_(rows, cols)
        px, py = x[at], y[at]
        if isinstance(solid, Pillar):
            mx, my = lx + solid.lean[0], ly + solid.lean[1]
            t = np.clip(-((px - solid.x) * mx + (py - solid.y) * my) / (mx * mx + my * my), 0, rise)
            dark[at] = np.hypot(px + mx * t - solid.x, py + my * t - solid.y) < solid.r
        elif isinstance(solid, Rod):
            (ax, ay, ad), (bx, by, bd) = solid.a, solid.b
            # The rod's axis thrown onto the face along the light, as thick as the rod is across it.
            ax, ay, bx, by = ax + lx * ad, ay + ly * ad, bx + lx * bd, by + ly * bd
            ex, ey = bx - ax, by - ay
            t = np.clip(((px - ax) * ex + (py - ay) * ey) / (ex * ex + ey * ey + 1e-9), 0, 1)
            dark[at] = np.hypot(px - ax - t * ex, py - ay - t * ey) < solid.r * 1.1
        else:
            enter, leave = np.zeros(px.shape), np.full(px.shape, rise)
            for (nx, ny), limit in zip(solid.out, solid.limit):
                speed, room = nx * lx + ny * ly, limit - (nx * px + ny * py)
                t = room / (speed if abs(speed) > 1e-12 else 1e-12)
                if speed < 0:
                    enter = np.maximum(enter, t)
                else:
                    leave = np.minimum(leave, t)
            dark[at] = enter < leave
        return dark

    def lit(self, x, y):
        """The lamp's fall-off over the scene and somebody's shadow across it."""
        u, v = (x - self.width / 2) / 300, (y - self.depth / 2) / 300
        level = np.clip(1 + self.fall[0] * u + self.fall[1] * v, 0.25, 2.0)
        if self.shade is not None:
            nx, ny, at, soft, deep = self.shade
            level = level * (1 - deep * smooth(-soft, soft, x * nx + y * ny - at))
        return level

    def face_colour(self, x, y):
        n = self.noise
        grain = 1 + self.grain * n.at(x, y, 0.9) + self.grime * n.at(x, y, 23.0) + 0.5 * self.grime * n.at(x + 91, y, 7.0)
        if self.brush > 0:
            grain = grain + self.brush * n.at(x, y * 40, 9.0)
        albedo = np.outer(grain, self.paint)
        mark = np.zeros(len(x), int)
        for at, decal in enumerate(self.decals):
            near = np.flatnonzero((np.abs(x - decal.x) < decal.reach) & (np.abs(y - decal.y) < decal.reach))
            if len(near):
                albedo[near], new = decal.albedo(x[near], y[near], albedo[near])
                mark[near] = np.where(new > 0, (at + 1) * 8 + new, mark[near])
        return albedo, mark

    def ground_colour(self, x, y):
        n = self.noise
        if self.ground == "wood":
            across = y + 6 * n.at(x / 9, y / 2, 30.0) + 1.5 * n.at(x / 4, y, 9.0)
            stripe = 0.5 + 0.5 * np.sin(across * 0.45 + 3 * n.at(x / 12, y, 40.0))
            fine = n.at(x / 12, y, 0.8)
            return np.outer(0.55 + 0.4 * stripe + 0.12 * fine, (0.36, 0.21, 0.1))
        level = 1 + 0.12 * n.at(x, y, 40.0) + 0.08 * n.at(x, y, 3.0)
        return np.outer(level, self.ground_paint)

    def trace(self, camera, x0, y0, vx, vy, lit=True):
        """Light and a mark for rays through the face at x0, y0; with lit false, the depth met instead."""
        count = len(x0)
        depth = np.full(count, self.gap)
        kind = np.zeros(count, int)
        mark = np.zeros(count, int)
        outside = self.rect_beyond(x0, y0)
        over = outside <= 0
        depth[over], kind[over] = 0.0, 1
        extra = np.zeros(count, int)
        for at, hole in enumerate(self.openings):
            near = np.flatnonzero((np.abs(x0 - hole.x) < hole.reach) & (np.abs(y0 - hole.y) < hole.reach) & over)
            near = near[hole.beyond(x0[near], y0[near]) < 0]
            if not len(near):
                continue
            depth[near], kind[near] = self.gap, 0
            a, b, p, q = x0[near], y0[near], vx[near], vy[near]
            walls = np.flatnonzero(hole.beyond(a + p * self.thick, b + q * self.thick) > 0)
            low, high = np.zeros(len(walls)), np.full(len(walls), self.thick)
            for _ in range(22):
                mid = (low + high) / 2
                out = hole.beyond(a[walls] + p[walls] * mid, b[walls] + q[walls] * mid) > 0
                low, high = np.where(out, low, mid), np.where(out, mid, high)
            depth[near[walls]], kind[near[walls]], extra[near[walls]] = high, 2, at
        rim = np.flatnonzero(~over & (outside < 12 * self.thick))
        rim = rim[self.rect_beyond(x0[rim] + vx[rim] * self.thick, y0[rim] + vy[rim] * self.thick) < 0]
        if len(rim):
            low, high = np.zeros(len(rim)), np.full(len(rim), self.thick)
            for _ in range(22):
                mid = (low + high) / 2
                out = self.rect_beyond(x0[rim] + vx[rim] * mid, y0[rim] + vy[rim] * mid) > 0
                low, high = np.where(out, mid, low), np.where(out, high, mid)
            depth[rim], kind[rim] = high, 3
        paper = None
        if self.paper is not None:
            d, su, sv, pu, pv = self.paper.meet(x0, y0, vx, vy)
            on = d < depth
            depth[on], kind[on] = d[on], 4
            paper = su, sv, pu, pv
        part = np.zeros(count, int)
        for at, solid in enumerate(self.solids):
            a, b, top, c, d, base = solid.box()
            # The box's shadow on the face as thrown by the camera.
            corners = np.array([(x, y, z) for x in (a, c) for y in (b, d) for z in (top, base)])
            share = camera.place[2] / (camera.place[2] - corners[:, 2])
            thrown = camera.place[:2] + (corners[:, :2] - camera.place[:2]) * share[:, None]
            (a, b), (c, d) = thrown.min(axis=0), thrown.max(axis=0)
            near = np.flatnonzero((x0 > a) & (x0 < c) & (y0 > b) & (y0 < d))
            if not len(near):
                continue
            met, side = solid.meet(x0[near], y0[near], vx[near], vy[near])
            hit = met < depth[near]
            depth[near[hit]], kind[near[hit]], extra[near[hit]], part[near[hit]] = met[hit], 5, at, side[hit]
        if not lit:
            return depth, kind
        x, y = x0 + vx * depth, y0 + vy * depth
        colour = np.zeros((count, 3))
        level = self.lit(x, y)
        straight = -self.light[2]
        full = lambda vis, facing: np.outer(vis * facing, self.lamp)

        on = np.flatnonzero(kind == 0)
        if len(on):
            vis, sky = self.ground_light.at(x[on], y[on]), self.ground_sky.at(x[on], y[on])
            bounce = 0.05 * (1 - sky)
            colour[on] = self.ground_colour(x[on], y[on]) * (full(vis, straight) + np.outer(sky + bounce, self.sky))
            # Whether it is seen through a hole or beside the plate.
            mark[on] = np.where(over[on], 2, 1) + np.where(vis > 0.5, 4, 0)
        on = np.flatnonzero(kind == 1)
        if len(on):
            albedo, decal = self.face_colour(x[on], y[on])
            vis = self.object_light.at(x[on], y[on])
            if self.sheet_light is not None:
                vis = vis * self.sheet_light.at(x[on], y[on])
            seen = camera.place - np.stack([x[on], y[on], np.zeros(len(on))], axis=1)
            seen /= np.linalg.norm(seen, axis=1)[:, None]
            half = seen + self.light
            half /= np.linalg.norm(half, axis=1)[:, None]
            gloss = self.gloss * np.maximum(-half[:, 2], 0) ** self.shine
            colour[on] = albedo * (full(vis, straight) + self.sky) + full(vis, gloss)
            mark[on] = 16 + decal * 4 + np.where(vis > 0.5, 1, 0)
        on = np.flatnonzero(kind == 2)
        if len(on):
            for at in np.unique(extra[on]):
                these = on[extra[on] == at]
                hole = self.openings[at]
                nx, ny = hole.from_axis(x[these], y[these])
                nx, ny = -nx / hole.r, -ny / hole.r
                facing = np.maximum(nx * self.light[0] + ny * self.light[1], 0)
                vis = np.zeros(len(these))
                for lx, ly in self.spots[::2]:
                    vis += hole.beyond(x[these] + lx * depth[these], y[these] + ly * depth[these]) < 0
                vis *= 2 / LIGHTS
                sky = 0.5 * (1 - depth[these] / np.hypot(depth[these], 2 * hole.r)) + 0.08
                colour[these] = self.wall_paint * (full(vis, facing) + np.outer(sky, self.sky))
            mark[on] = 3
        on = np.flatnonzero(kind == 3)
        if len(on):
            w, h = self.width / 2, self.depth / 2
            ox, oy = np.abs(x[on] - w) - w, np.abs(y[on] - h) - h
            along = ox > oy
            facing = np.where(along, np.sign(x[on] - w) * self.light[0], np.sign(y[on] - h) * self.light[1])
            colour[on] = self.edge_paint * (full(np.ones(len(on)), np.maximum(facing, 0)) + 0.5 * self.sky)
            mark[on] = 8 + along
        on = np.flatnonzero(kind == 4)
        if len(on):
            su, sv, pu, pv = (part_of[on] for part_of in paper)
            black = self.paper.printed(pu, pv)
            lu = self.light[0] * self.paper.c + self.light[1] * self.paper.s
            lv = self.light[1] * self.paper.c - self.light[0] * self.paper.s
            facing = np.maximum(-su * lu - sv * lv + straight, 0) / np.sqrt(1 + su * su + sv * sv)
            white = 0.8 + 0.01 * self.noise.at(pu, pv, 2.0)
            albedo = np.outer(np.where(black, self.ink, white), (1.0, 1.0, 0.985))
            vis = self.object_light.at(x[on], y[on])
            colour[on] = albedo * (full(vis, facing) + self.sky)
            mark[on] = 10 + black * 2 + np.where(vis > 0.5, 1, 0)
        for at in np.unique(extra[kind == 5]):
            on = np.flatnonzero((kind == 5) & (extra == at))
            albedo, normal, piece = self.solids[at].shade(x[on], y[on], depth[on], part[on])
            facing = np.maximum(normal @ self.light, 0)
            deep = depth[on] > 0
            sky = np.where(deep, 0.15, 0.55 - 0.45 * normal[:, 2])
            colour[on] = albedo * (full(np.where(deep, 0.2, 1.0), facing) + np.outer(sky, self.sky))
            mark[on] = 1_000_000 + at * 64 + piece
        return colour * level[:, None], mark


def disc_share(far2, r2, d):
    """Share of the sky that a disc of squared radius r2 takes, seen straight below by d and aside by the root of far2."""
    return 0.5 * (1 - (far2 + d * d - r2) / np.sqrt((far2 + d * d + r2) ** 2 - 4 * far2 * r2))


def rectangle_share(x, y, x0, y0, x1, y1, d):
    """Share of the sky that a level rectangle takes from a point d below it (sum over its four corners)."""
    total = 0.0
    for px, sx in ((x1 - x, 1), (x0 - x, -1)):
        for py, sy in ((y1 - y, 1), (y0 - y, -1)):
            a, b = np.sqrt(px**2 + d * d), np.sqrt(py**2 + d * d)
            total = total + sx * sy * (px / a * np.arctan(py / a) + py / b * np.arctan(px / b))
    return total / (2 * math.pi)


def make_scene(rng, kind):
    """A scene and what is true of it."""
    scene = Scene()
    about = {"kind": kind}
    scene.noise = Noise(rng)
    place = None
    if kind == "b":
        place = str(rng.choice(["on the plate", "beside, level", "on the ground"], p=[0.3, 0.45, 0.25]))
    if place == "on the plate":
        width, depth = float(rng.integers(460, 640)), float(rng.integers(340, 470))
    else:
        usual = [(300, 120), (300, 120), (250, 100), (220, 180), (400, 200), (350, 150), (500, 180), (450, 250)]
        width, depth = (float(side) for side in usual[int(rng.integers(len(usual)))])
        if rng.random() < 0.4:
            width, depth = round(rng.uniform(160, 480), 1), round(rng.uniform(90, 300), 1)
    # A plate as cut is not quite its nominal size.
    scene.width, scene.depth = round(width + rng.normal(0, 0.3), 2), round(depth + rng.normal(0, 0.3), 2)
    scene.round = float(rng.choice([0.0, 0.3, 1.0]))
    scene.thick = float(rng.choice([1.5, 2.0, 2.5, 3.0]))
    flat = place == "on the ground" or rng.random() < 0.25
    scene.gap = scene.thick if flat else scene.thick + float(rng.choice([2, 5, 10, 20, 40, 70])) * rng.uniform(0.7, 1.3)
    paint = list(PAINTS)[int(rng.choice(len(PAINTS), p=[0.34, 0.2, 0.12, 0.16, 0.08, 0.1]))]
    scene.paint = np.array(PAINTS[paint]) * rng.uniform(0.9, 1.1)
    scene.ground = str(rng.choice(["same grey", "dark", "wood", "light"], p=[0.27, 0.33, 0.25, 0.15]))
    scene.ground_paint = {
        "same grey": scene.paint * rng.uniform(0.93, 1.05),
        "dark": np.array([0.05, 0.05, 0.055]) * rng.uniform(0.4, 1.5),
        "wood": scene.paint,
        "light": np.array([0.6, 0.59, 0.56]),
    }[scene.ground]
    scene.grain, scene.grime = rng.uniform(0.005, 0.03), rng.uniform(0.01, 0.07)
    scene.brush = rng.uniform(0.03, 0.1) if paint == "zinc" else 0.0
    scene.gloss, scene.shine = rng.uniform(0.0, 0.25), rng.uniform(10, 50)
    bare = np.array([0.4, 0.39, 0.38]) * rng.uniform(0.5, 1.3)
    scene.wall_paint = scene.paint * 0.95 if rng.random() < 0.35 else bare
    scene.edge_paint = scene.paint * 0.95 if rng.random() < 0.6 else bare
    scene.ink = rng.uniform(0.03, 0.08)
    scene.light_height, scene.light_turn = math.radians(rng.uniform(38, 80)), rng.uniform(0, 2 * math.pi)
    scene.light_radius = math.radians(rng.uniform(1.5, 10))
    share = rng.uniform(0.25, 0.75)
    warm = rng.uniform(-0.08, 0.08)
    scene.lamp = np.array([1 + warm, 1.0, 1 - warm]) * share / math.sin(scene.light_height)
    scene.sky = np.array([1 - 0.6 * warm, 1.0, 1 + 0.6 * warm]) * (1 - share)
    slope, turn = rng.uniform(0, 0.45), rng.uniform(0, 2 * math.pi)
    scene.fall = slope * math.cos(turn), slope * math.sin(turn)
    scene.shade = None
    if rng.random() < 0.4:
        turn = rng.uniform(0, 2 * math.pi)
        nx, ny = math.cos(turn), math.sin(turn)
        at = nx * rng.uniform(0.2, 0.8) * scene.width + ny * rng.uniform(0.2, 0.8) * scene.depth
        scene.shade = nx, ny, at, float(rng.choice([3, 10, 30, 60])), rng.uniform(0.25, 0.6)

    taken = []
    if kind == "b":
        place_sheet(rng, scene, place, about)
    fixings = rng.random() < 0.45

    def free(x, y, reach, room):
        if min(x, scene.width - x, y, scene.depth - y) < reach + room:
            return False
        if place == "on the plate":
            u, v = scene.paper.flat(np.array(x), np.array(y))
            if -reach - 6 < u < SHEET[0] + reach + 6 and -reach - 6 < v < SHEET[1] + reach + 6:
                return False
        return all(math.hypot(x - a, y - b) > reach + r + room for a, b, r in taken)

    def spot(reach, room, tries=60):
        for _ in range(tries):
            x, y = rng.uniform(0, scene.width), rng.uniform(0, scene.depth)
            if free(x, y, reach, room):
                taken.append((x, y, reach))
                return round(x, 3), round(y, 3)
        return None

    holes, decoys = [], []

    def add_hole(opening, **more):
        scene.openings.append(opening)
        holes.append({"centre": [opening.x, opening.y], "diameter": opening.r * 2, "length": opening.length,
                      "angle": opening.angle, "occupied": False, "fixing": False, **more})

    if fixings:
        inset, size = rng.uniform(8, 12), float(rng.choice([5.5, 6.5, 7.0]))
        screwed = rng.random() < 0.5
        for x, y in ((inset, inset), (scene.width - inset, inset), (scene.width - inset, scene.depth - inset), (inset, scene.depth - inset)):
            x, y = round(x + rng.normal(0, 0.2), 3), round(y + rng.normal(0, 0.2), 3)
            if not free(x, y, 5, -2):
                continue
            taken.append((x, y, 6))
            if screwed:
                screw(rng, scene, decoys, x, y)
            else:
                add_hole(Opening(x, y, size), fixing=True)
    wanted = int(rng.integers(2, 10))
    row = rng.random() < 0.4
    row_y = scene.depth * rng.uniform(0.35, 0.65)
    for _ in range(wanted):
        size = float(KNOCKOUTS[int(rng.integers(len(KNOCKOUTS)))])
        size = round(size + rng.uniform(-0.2, 0.2), 2)
        if size > 0.55 * min(scene.width, scene.depth):
            continue
        if rng.random() < 0.14:
            length = round(size * rng.uniform(1.4, 3.0), 2)
            at = spot(length / 2, 7)
            if at:
                add_hole(Opening(*at, size, length, round(rng.choice([0.0, 90.0, rng.uniform(-90, 90)]), 2)))
            continue
        if row and free(x := rng.uniform(0, scene.width), row_y, size / 2, 6):
            taken.append((x, row_y, size / 2))
            at = round(x, 3), round(row_y, 3)
        else:
            at = spot(size / 2, 6)
        if at is None:
            continue
        add_hole(Opening(*at, size))
        if size > 15 and rng.random() < 0.16:
            holes[-1]["occupied"] = True
            occupy(rng, scene, *at, size)
    for _ in range(int(rng.integers(0, 6))):
        decoy(rng, scene, decoys, spot)
    about.update(thickness=scene.thick, ground=scene.ground, gap=round(scene.gap, 2), paint=paint)
    return scene, holes, decoys, about


def place_sheet(rng, scene, place, about):
    scale = 1.0 if rng.random() < 0.4 else float(rng.choice([0.94, 0.96, 0.97, 0.985, 1.01, 1.02])) + rng.normal(0, 0.002)
    scale = scale, scale * (1 + rng.uniform(-0.0007, 0.0007))
    angle = float(rng.choice([0, 90, 180, 270], p=[0.5, 0.15, 0.2, 0.15])) + rng.normal(0, 4)
    rise = 0.0 if rng.random() < 0.25 else rng.uniform(0.3, 3.0)
    bends, kind = [], "flat"
    if rise > 0:
        kind = str(rng.choice(["arch", "valley", "corners"]))
        if kind == "corners":
            for cu, cv in ((0, 0), (1, 0), (1, 1), (0, 1)):
                if rng.random() < 0.6:
                    length = rng.uniform(50, 95)
                    nu, nv = (1 if cu else -1), (1 if cv else -1)
                    t = math.radians(rng.uniform(25, 65))
                    n = nu * math.cos(t), nv * math.sin(t)
                    zero = n[0] * cu * SHEET[0] + n[1] * cv * SHEET[1] - length
                    bends.append((n, zero, length, rise * rng.uniform(0.5, 1.0), "corner"))
        else:
            long = rng.random() < 0.65
            side = SHEET[0] if long else SHEET[1]
            bends.append(((1.0, 0.0) if long else (0.0, 1.0), side / 2, side / 2, rise, kind))
    if not bends:
        kind, rise = "flat", 0.0
    below = {"on the plate": -0.12, "beside, level": rng.uniform(-0.3, 0.3), "on the ground": scene.gap - 0.12}[place]
    paper = Paper((0, 0), angle, below, bends, scale)
    corners = np.array([paper.scene(u, v) for u, v in ((0, 0), (SHEET[0], 0), SHEET, (0, SHEET[1]))])
    low, high = corners.min(axis=0), corners.max(axis=0)
    if place == "on the plate":
        if high[0] - low[0] > scene.width - 30 or high[1] - low[1] > scene.depth - 20:
            # It would hang over: lay it straight.
            paper = Paper((0, 0), rng.normal(0, 1.5), below, bends, scale)
            corners = np.array([paper.scene(u, v) for u, v in ((0, 0), (SHEET[0], 0), SHEET, (0, SHEET[1]))])
            low, high = corners.min(axis=0), corners.max(axis=0)
        left = bool(rng.random() < 0.5)
        x = rng.uniform(8, 25) if left else scene.width - rng.uniform(8, 25) - (high[0] - low[0])
        y = rng.uniform(8, max(9, scene.depth - (high[1] - low[1]) - 8))
        paper.corner = np.array([x, y]) - low
    else:
        away = rng.uniform(6, 30)
        side = int(rng.choice(4, p=[0.35, 0.15, 0.35, 0.15]))
        middle = np.array([scene.width, scene.depth]) / 2 - (low + high) / 2 + rng.normal(0, 15, 2)
        if side == 0:
            middle[1] = -away - high[1]
        elif side == 1:
            middle[0] = scene.width + away - low[0]
        elif side == 2:
            middle[1] = scene.depth + away - low[1]
        else:
            middle[0] = -away - high[0]
        paper.corner = middle
    scene.paper = paper
    covered = []
    if rng.random() < 0.35:
        covered = cover(rng, scene)
    about.update(place=place, below=round(below, 2), curl=[kind, round(rise, 2)], covered=covered,
                 print_scale=[round(scale[0], 5), round(scale[1], 5)])


def cover(rng, scene):
    """Something lies over one marker or two."""
    paper = scene.paper
    first = int(rng.integers(4))
    centre = lambda k: np.array([MARKERS[k][0] + 15, MARKERS[k][1] + 15])
    middle = np.array(SHEET) / 2
    base = paper.below - 1.5

    def at(place, r):
        return (*paper.scene(*place), base - r)

    what = str(rng.choice(["hand", "cable", "rule"]))
    if what == "hand":
        skin = np.array([0.46, 0.27, 0.19]) * rng.uniform(0.35, 1.1)
        out = centre(first) - middle
        out = out / np.linalg.norm(out)
        side = np.array([-out[1], out[0]])
        for k, long in enumerate((12.0, 20.0, 17.0)):
            tip = centre(first) - out * (long - 8) + side * (k - 1) * 17
            scene.solids.append(Rod(at(tip, 8.0), at(tip + out * 90, 14.0), 8.0, skin * (1 - 0.04 * k)))
        return [first]
    second = None if rng.random() < 0.5 else (first + int(rng.choice([1, 3]))) % 4
    if second is None:
        turn = rng.uniform(0, math.pi)
        way = np.array([math.cos(turn), math.sin(turn)])
        # Across the sheet's corner, not over the other markers.
        out = centre(first) - middle
        way = np.array([-out[1], out[0]]) / np.linalg.norm(out) + 0.2 * way
        way /= np.linalg.norm(way)
        a, b, covered = centre(first) - way * 60, centre(first) + way * 60, [first]
    else:
        way = centre(second) - centre(first)
        way = way / np.linalg.norm(way)
        a, b, covered = centre(first) - way * 45, centre(second) + way * 45, sorted([first, second])
    if what == "cable":
        r = rng.uniform(4, 7)
        scene.solids.append(Rod(at(a, r), at(b, r), r, np.array([0.02, 0.02, 0.022]) if rng.random() < 0.6 else np.array([0.3, 0.31, 0.32])))
    else:
        half = np.array([-way[1], way[0]]) * rng.uniform(8, 15)
        corners = [paper.scene(*p) for p in (a + half, b + half, b - half, a - half)]
        colour = np.array([(0.5, 0.51, 0.52), (0.6, 0.45, 0.05), (0.4, 0.05, 0.04)][int(rng.integers(3))])
        scene.solids.append(Prism(corners, base, -base + rng.uniform(1, 6), colour))
    return covered


def screw(rng, scene, decoys, x, y):
    r = rng.uniform(2.8, 3.9)
    colour = np.array([0.45, 0.45, 0.44]) * rng.uniform(0.4, 1.3)
    scene.solids.append(Pillar(x, y, r, 0.0, rng.uniform(1.2, 3.5), colour * 0.8, slotted_cap(rng, colour)))
    decoys.append({"centre": [x, y], "diameter": round(2 * r, 2), "what": "screw head"})


def occupy(rng, scene, x, y, size):
    """A cable, or a gland with its nut and cable, stands in a hole."""
    lean = rng.uniform(-0.12, 0.12), rng.uniform(-0.12, 0.12)
    sheath, cap = cable_end(rng)
    if rng.random() < 0.5:
        r = size / 2 * rng.uniform(0.45, 0.85)
        away, turn = (size / 2 - r) * rng.uniform(0, 0.7), rng.uniform(0, 2 * math.pi)
        base = min(scene.gap, 60.0)
        scene.solids.append(Pillar(x + away * math.cos(turn), y + away * math.sin(turn), r, base, rng.uniform(20, 70), sheath, cap, lean if scene.gap < 12 else (0, 0)))
        return
    across = size * rng.uniform(1.2, 1.35)
    colour = np.array([(0.03, 0.03, 0.032), (0.35, 0.36, 0.37), (0.55, 0.42, 0.2)][int(rng.integers(3))])
    turn, tall = rng.uniform(0, math.pi / 3), rng.uniform(5, 10)
    corner = across / math.sqrt(3)
    hexagon = [(x + corner * math.cos(turn + k * math.pi / 3), y + corner * math.sin(turn + k * math.pi / 3)) for k in range(6)]
    scene.solids.append(Prism(hexagon, 0.0, tall, colour))
    r = size / 2
    scene.solids.append(Pillar(x, y, r, -tall, tall + rng.uniform(6, 12), colour * 0.9, plain_cap(colour * 0.9)))
    scene.solids.append(Pillar(x, y, r * rng.uniform(0.5, 0.75), -tall, tall + rng.uniform(20, 60), sheath, cap, lean))


def decoy(rng, scene, decoys, spot):
    what = str(rng.choice(["ring", "stain", "screw head", "cable end", "sticker", "knockout not punched"], p=[0.22, 0.22, 0.12, 0.2, 0.14, 0.1]))
    if what == "screw head":
        at = spot(4, 3)
        if at:
            screw(rng, scene, decoys, *at)
        return
    size = {"ring": float(rng.choice(KNOCKOUTS)), "stain": rng.uniform(8, 40), "cable end": rng.uniform(12, 30),
            "sticker": float(rng.choice([8, 12, 15, 20, 25, 32])), "knockout not punched": float(rng.choice([16.2, 20.5, 25.5, 32.5]))}[what]
    size = round(size, 2)
    at = spot(size / 2, 4)
    if at is None:
        return
    x, y = at
    r = size / 2
    decoys.append({"centre": [x, y], "diameter": size, "what": what})
    if what == "cable end":
        sheath, cap = cable_end(rng)
        scene.solids.append(Pillar(x, y, r, 0.0, rng.uniform(3, 16), sheath, cap))
        return
    if what == "ring":
        thin = rng.choice([0.2, 0.35, 0.8])
        ink = np.array([(0.12, 0.12, 0.13), (0.02, 0.02, 0.02), (0.03, 0.05, 0.3), (0.4, 0.03, 0.03)][int(rng.integers(4))])
        strong, cross = rng.uniform(0.6, 1.0), rng.random() < 0.6

        def albedo(px, py, old):
            far = np.hypot(px - x, py - y)
            on = np.abs(far - r) < thin
            if cross:
                on |= ((np.abs(px - x) < thin) & (np.abs(py - y) < r * 1.3)) | ((np.abs(py - y) < thin) & (np.abs(px - x) < r * 1.3))
            return np.where(on[:, None], old * (1 - strong) + ink * strong, old), on.astype(int)

        scene.decals.append(Decal(x, y, r * 1.35 + 2, albedo))
    elif what == "knockout not punched":
        turn, thin = rng.uniform(0, math.pi), rng.uniform(0.2, 0.4)

        def albedo(px, py, old):
            far, way = np.hypot(px - x, py - y), np.arctan2(py - y, px - x)
            tab = np.abs(np.sin(way - turn)) < 1.6 / r
            on = (np.abs(far - r) < thin) & ~tab
            return np.where(on[:, None], old * 0.2, old), on.astype(int)

        scene.decals.append(Decal(x, y, r + 2, albedo))
    elif what == "stain":
        soft = float(rng.choice([0.15, 0.6, 3.0, 6.0]))
        soft = min(soft, r * 0.6)
        phase, rough = rng.uniform(0, 6.28, 4), rng.uniform(0, 0.06)
        ink = np.array([0.03, 0.025, 0.02]) * rng.uniform(0.5, 4)
        strong = rng.uniform(0.6, 0.97)

        def albedo(px, py, old):
            far, way = np.hypot(px - x, py - y), np.arctan2(py - y, px - x)
            edge = r * (1 + rough * sum(np.sin((k + 2) * way + phase[k]) / (k + 1) for k in range(4)))
            on = strong * (1 - smooth(-soft, soft, far - edge))
            return old * (1 - on[:, None]) + ink * on[:, None], (far < edge).astype(int)

        scene.decals.append(Decal(x, y, r * 1.2 + soft + 1, albedo))
    else:
        colour = np.array([(0.8, 0.8, 0.78), (0.7, 0.5, 0.03), (0.5, 0.04, 0.03), (0.03, 0.03, 0.03), (0.03, 0.15, 0.45)][int(rng.integers(5))])
        inner = rng.random() < 0.4

        def albedo(px, py, old):
            far = np.hypot(px - x, py - y)
            on = far < r
            new = np.where(on[:, None], colour, old)
            if inner:
                band = (np.abs(py - y) < r * 0.18) & (np.abs(px - x) < r * 0.6)
                new = np.where(band[:, None], colour * 0.1 + 0.05, new)
                return new, on.astype(int) + band
            return new, on.astype(int)

        scene.decals.append(Decal(x, y, r + 1, albedo))


def make_camera(rng, scene, megapixels, about):
    """A camera that has in view what must be."""
    long = round(math.sqrt(megapixels * 1e6 * 4 / 3) / 8) * 8
    width, height = long, round(long * 3 / 4 / 8) * 8
    corners = np.array([(0, 0, 0), (scene.width, 0, 0), (scene.width, scene.depth, 0), (0, scene.depth, 0)], float)
    must = corners
    if scene.paper is not None:
        ends = [(*scene.paper.scene(u, v), scene.paper.below) for u, v in ((0, 0), (SHEET[0], 0), SHEET, (0, SHEET[1]))]
        must = np.concatenate([corners, ends])
    spread = must.max(axis=0) - must.min(axis=0)
    roll = rng.normal(0, 5)
    if (spread[1] > spread[0]) != (rng.random() < 0.12):
        width, height = (height, width) if rng.random() < 0.6 else (width, height)
        roll += 0 if height > width else 90 * rng.choice([-1, 1])
    elif rng.random() < 0.12:
        roll += 180
    focal_as = rng.uniform(24, 35)
    focal = focal_as / 43.2666 * math.hypot(width, height)
    middle = np.array([width, height]) / 2 + rng.normal(0, 0.003, 2) * width
    k1, k2 = float(np.clip(rng.normal(0, 0.02), -0.05, 0.05)), rng.uniform(-0.012, 0.012)
    tilt, turn, roll = math.radians(rng.uniform(0, 38)), rng.uniform(0, 2 * math.pi), math.radians(roll)
    look = np.array([math.sin(tilt) * math.cos(turn), math.sin(tilt) * math.sin(turn), math.cos(tilt)])
    ex = np.array([1.0, 0, 0]) - look[0] * look
    ex /= np.linalg.norm(ex)
    ey = np.cross(look, ex)
    ex, ey = ex * math.cos(roll) + ey * math.sin(roll), ey * math.cos(roll) - ex * math.sin(roll)
    camera = Camera(width, height, focal, middle, k1, k2, np.array([ex, ey, look]))
    fill = rng.uniform(0.4, 0.85)
    frame = np.array([width, height])
    aim, away = must.mean(axis=0), 3.0 * spread.max()
    drift = rng.uniform(-1, 1, 2)
    for _ in range(40):
        camera.place = aim - away * look
        all_of, plate = camera.project(must), camera.project(corners)
        share = ((plate.max(axis=0) - plate.min(axis=0)) / frame).max() / fill
        whole = ((all_of.max(axis=0) - all_of.min(axis=0)) / frame).max() / 0.93
        away *= max(share, whole) ** 0.7
        room = frame * 0.97 - (all_of.max(axis=0) - all_of.min(axis=0))
        target = frame / 2 + drift * np.clip(room, 0, None) / 2 * 0.7
        miss = (all_of.max(axis=0) + all_of.min(axis=0)) / 2 - target
        aim = aim + (ex * miss[0] + ey * miss[1]) / focal * away * 0.8
    plate = camera.project(corners)
    filled = ((plate.max(axis=0) - plate.min(axis=0)) / frame).max()
    centre = np.array([scene.width / 2, scene.depth / 2, 0.0])
    near = camera.project([centre, centre + (1, 0, 0), centre + (0, 1, 0)])
    scale = math.sqrt(abs(np.linalg.det(near[1:] - near[0])))
    about.update(tilt=round(math.degrees(tilt), 2), focal=round(focal_as, 2), lens=[round(k1, 5), round(k2, 5)],
                 distance=round(float(away), 1), fill=round(float(filled), 3), pixels_per_mm=round(scale, 3),
                 corners=np.round(plate, 3).tolist())
    return camera, corners


def render(rng, scene, camera):
    """Linear light of the whole frame."""
    width, height = camera.width, camera.height

    def cast(u, v):
        vx, vy = camera.slopes(u, v)
        x0, y0 = camera.place[0] - vx * camera.place[2], camera.place[1] - vy * camera.place[2]
        return scene.trace(camera, x0, y0, vx, vy)

    picture, marks = np.empty((height, width, 3)), np.empty((height, width), np.int64)
    rows = max(1, 150_000 // width)
    across = np.arange(width) + 0.5
    for top in range(0, height, rows):
        high = min(rows, height - top)
        u, v = np.meshgrid(across, np.arange(top, top + high) + 0.5)
        colour, mark = cast(u.ravel(), v.ravel())
        picture[top : top + high] = colour.reshape(high, width, 3)
        marks[top : top + high] = mark.reshape(high, width)
    level = np.log(picture[..., 1] + 0.01)
    rough = np.zeros((height, width), bool)
    for axis in (0, 1):
        here, there = [slice(None)] * 2, [slice(None)] * 2
        here[axis], there[axis] = slice(None, -1), slice(1, None)
        here, there = tuple(here), tuple(there)
        edge = (marks[here] != marks[there]) | (np.abs(level[here] - level[there]) > 0.12)
        rough[here] |= edge
        rough[there] |= edge
    wide = rough.copy()
    wide[1:] |= rough[:-1]
    wide[:-1] |= rough[1:]
    wide[:, 1:] |= rough[:, :-1]
    wide[:, :-1] |= rough[:, 1:]
    j, i = np.nonzero(wide)
    batch = 8_000
    for start in range(0, len(i), batch):
        a, b = i[start : start + batch], j[start : start + batch]
        steps = (np.arange(FINE) + 0.0) / FINE
        su, sv = np.meshgrid(steps, steps)
        u = a[:, None] + su.ravel() + rng.uniform(0, 1 / FINE, (len(a), FINE * FINE))
        v = b[:, None] + sv.ravel() + rng.uniform(0, 1 / FINE, (len(a), FINE * FINE))
        colour, _ = cast(u.ravel(), v.ravel())
        picture[b, a] = colour.reshape(len(a), FINE * FINE, 3).mean(axis=1)
    return picture


def blurred(picture, sigma):
    reach = max(1, math.ceil(3 * sigma))
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    weights /= weights.sum()
    for axis in (0, 1):
        size = picture.shape[axis]
        out = np.zeros_like(picture)
        for weight, off in zip(weights, range(-reach, reach + 1)):
            out += weight * np.take(picture, np.clip(np.arange(size) + off, 0, size - 1), axis=axis)
        picture = out
    return picture


def develop(rng, picture, camera):
    """From light to the bytes of a JPEG, as a camera does it."""
    height, width = picture.shape[:2]
    picture = blurred(picture.astype(np.float32), rng.uniform(0.45, 0.95) * max(1.0, math.sqrt(width * height / 6e6)))
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    r2 = ((x + 0.5 - camera.middle[0]) ** 2 + (y + 0.5 - camera.middle[1]) ** 2) / (width**2 + height**2) * 4
    picture *= (1 - rng.uniform(0.05, 0.4) * r2 / (1 + 0.3 * r2))[..., None]
    picture *= np.array([1, 1, 1]) + rng.normal(0, 0.025, 3)
    top = np.quantile(picture[::7, ::7, 1], 0.985)
    picture *= rng.uniform(0.62, 0.95) / top
    shot, read = rng.uniform(0.003, 0.014), rng.uniform(0.001, 0.004)
    noise = rng.standard_normal(picture.shape, dtype=np.float32)
    picture += noise * np.sqrt(shot**2 * np.clip(picture, 0, None) + read**2)
    # Phones smooth their noise: some of it is spread to the neighbours.
    picture = blurred(picture, 0.4)
    sharp = rng.uniform(0.1, 0.5) if rng.random() < 0.5 else 0.0
    picture = np.clip(picture, 0, 1)
    picture = np.where(picture <= 0.0031308, 12.92 * picture, 1.055 * picture ** (1 / 2.4) - 0.055)
    curve = rng.uniform(0, 0.35)
    picture = picture * (1 - curve) + curve * picture * picture * (3 - 2 * picture)
    if sharp:
        picture = picture + sharp * (picture - blurred(picture, 1.0))
    eight = np.clip(picture * 255 + 0.5, 0, 255).astype(np.uint8)
    return eight, int(rng.integers(80, 96))


def recorded(rng, size, within, wrong):
    sides = [round(float(side + rng.uniform(-within, within)), 2) for side in size]
    if wrong:
        which = [0, 1] if rng.random() < 0.35 else [int(rng.integers(2))]
        for at in which:
            sides[at] = round(float(size[at] + rng.choice([-1, 1]) * rng.uniform(4, 10)), 1)
    return {"width": sides[0], "depth": sides[1], "within": within}


def draw(seed, number, kind, megapixels, folder, overlay):
    rng = np.random.default_rng([seed, number])
    if kind == "mixed":
        kind = "ab"[number % 2]

    def seen(points, play=0.05):
        """Which points (x, y, d) are in the photo and not hidden."""
        slope = (points[:, :2] - camera.place[:2]) / (points[:, 2:] - camera.place[2])
        start = camera.place[:2] - slope * camera.place[2]
        depth, _ = scene.trace(camera, *start.T, *slope.T, lit=False)
        at = camera.project(points)
        return (depth > points[:, 2] - play) & (at >= 0).all(axis=1) & (at <= (camera.width, camera.height)).all(axis=1)

    # Whoever takes the photo moves what hides a corner of the plate.
    for _ in range(50):
        scene, holes, decoys, about = make_scene(rng, kind)
        camera, corners = make_camera(rng, scene, megapixels, about)
        about["corners_seen"] = float(seen(corners).mean())
        if about["corners_seen"] == 1 and any(not hole["fixing"] for hole in holes):
            break
    for opening, hole in zip(scene.openings, holes):
        hole["rim_seen"] = round(float(seen(np.c_[opening.rim(180), np.zeros(180)]).mean()), 3)
    if scene.paper is not None:
        about["markers_seen"] = [round(float(seen(scene.paper.points(*at), 0.3).mean()), 3) for at in MARKERS]
    scene.set_light(rng)
    eight, quality = develop(rng, render(rng, scene, camera), camera)
    name = f"hard-{number:03d}.jpg"
    cv2.imwrite(str(folder / name), eight[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    frame = (camera.width, camera.height)
    taps = []
    for corner in camera.project(corners):
        turn, off = rng.uniform(0, 2 * math.pi), 0.01 * max(frame) * math.sqrt(rng.random())
        tap = corner + off * np.array([math.cos(turn), math.sin(turn)])
        taps.append([round(float(np.clip(t, 0, side)), 1) for t, side in zip(tap, frame)])
    size, within = (scene.width, scene.depth), float(rng.choice([0.5, 1.0]))
    contradicts = bool(kind == "b" and rng.random() < 0.18)
    case = {"photo": name, "taps": taps, "size": list(size), "holes": holes, "decoys": decoys,
            "sides": None, "sheet": None, "recorded": None, "contradicts": contradicts, "about": about}
    if kind == "a":
        case["sides"] = recorded(rng, size, within, False)
    else:
        play = float(rng.choice([0.2, 0.3, 0.5]))
        line = CHECK_LINE * scene.paper.scale[0] + rng.uniform(-play, play)
        case["sheet"] = {"check_line": round(line, 2), "within": play}
        case["recorded"] = recorded(rng, size, within, contradicts)
    about["jpeg"] = quality
    if overlay:
        over = np.ascontiguousarray(eight[..., ::-1])
        for at, opening in enumerate(scene.openings):
            points = camera.project(np.c_[opening.rim(720), np.zeros(720)])
            colour = (0, 165, 255) if holes[at]["occupied"] else (0, 255, 0)
            cv2.polylines(over, [np.round((points - 0.5) * 16).astype(np.int32)], True, colour, 1, cv2.LINE_AA, 4)
        points = camera.project(corners)
        cv2.polylines(over, [np.round((points - 0.5) * 16).astype(np.int32)], True, (255, 255, 0), 1, cv2.LINE_AA, 4)
        for k, tap in enumerate(taps):
            cv2.putText(over, str(k + 1), (int(tap[0]), int(tap[1])), cv2.FONT_HERSHEY_SIMPLEX, 1.2, (0, 0, 255), 3)
        for one in decoys:
            at = camera.project([(*one["centre"], 0.0)])[0]
            cv2.putText(over, one["what"], (int(at[0]), int(at[1])), cv2.FONT_HERSHEY_SIMPLEX, 0.7, (255, 0, 255), 2)
        cv2.imwrite(str(folder / name.replace(".jpg", "-truth.png")), over)
    return case


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--count", type=int, required=True)
    parser.add_argument("--out", type=pathlib.Path, required=True)
    parser.add_argument("--megapixels", type=float, default=12.0)
    parser.add_argument("--kind", choices=("a", "b", "mixed"), default="mixed")
    parser.add_argument("--overlay", action="store_true")
    asked = parser.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    cases = [draw(asked.seed, number, asked.kind, asked.megapixels, asked.out, asked.overlay) for number in range(asked.count)]
    (asked.out / "cases.json").write_text(json.dumps(cases, indent=1))


if __name__ == "__main__":
    main()
