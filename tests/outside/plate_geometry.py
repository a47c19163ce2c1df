"""Measures solved plates with shapely. Every figure of a fitting is looked up here anew in
seed-data/plate/, so the program's own bodies, holes and gaps are not trusted.

usage: plate_geometry.py PLATES.json
"""

import csv
import json
import math
import pathlib
import sys

from shapely.geometry import Point, box

TABLES = pathlib.Path(__file__).resolve().parents[2] / "seed-data" / "plate"
NEAR = 1e-6


def table(name, key):
    with open(TABLES / name, encoding="utf-8") as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        return {row[key]: row for row in rows}


GLAND = table("gland.csv", "size")
THREAD = table("gland_thread.csv", "thread")
PLASTIC = table("gland_plastic.csv", "thread")
CONDUIT = table("conduit.csv", "size")
FLEXIBLE = table("flexible_conduit.csv", "size")
TAG = table("earth_tag.csv", "thread")


def largest(row, *columns):
    return max(float(row[column]) for column in columns if row[column])


def figures(kind, size):
    """Body across corners, least and largest hole, thread of the tag or None."""
    if kind == "ArmouredGland":
        row = GLAND[size]
        thread = row["thread"].split("x")[0]
        body = max(float(row["ac_mm"]), float(THREAD[thread]["brass_locknut_ac"]))
        return body, float(row["hole_min_mm"]), float(row["hole_max_mm"]), (thread, float(row["ac_mm"]))
    if kind == "CompressionGland":
        row = THREAD[size]
        body = max(float(PLASTIC[size]["ac_mm"]), float(row["plastic_locknut_ac"] or row["brass_locknut_ac"]))
        return body, float(row["hole_min_mm"]), float(row["hole_max_mm"]), None
    if kind in ("Conduit", "Bush"):
        row = CONDUIT[size]
        return largest(row, "bush_ac", "locknut_ac"), float(row["hole_min_mm"]), float(row["hole_max_mm"]), None
    if kind == "FlexibleConduit":
        row = FLEXIBLE[size]
        return largest(row, "hex_ac", "locknut_ac"), float(row["hole_min_mm"]), float(row["hole_max_mm"]), None
    row = THREAD[size]
    return float(row["brass_locknut_ac"]), float(row["hole_min_mm"]), float(row["hole_max_mm"]), None


class Thing:
    """A core with a radius: a disc is a point, a cut-out a box."""

    def __init__(self, core, radius):
        self.core, self.radius = core, radius

    def gap(self, other):
        return self.core.distance(other.core) - self.radius - other.radius

    def bounds(self):
        left, top, right, bottom = self.core.bounds
        return left - self.radius, top - self.radius, right + self.radius, bottom + self.radius


def inside(thing, rect, margin=0.0):
    left, top, right, bottom = thing.bounds()
    x, y, w, h = rect
    return (
        left >= x + margin - NEAR
        and top >= y + margin - NEAR
        and right <= x + w - margin + NEAR
        and bottom <= y + h - margin + NEAR
    )


def check(plate):
    wrong = []
    metal = max(5.0, 1.5 * plate["thickness"])
    keep = [Thing(box(x, y, x + w, y + h), 0.0) for x, y, w, h in plate["keep_outs"]]
    whole = [0.0, 0.0, plate["width"], plate["depth"]]
    things = []
    for entry in plate["entries"]:
        x, y = entry["at"]
        label = entry["label"]
        if x != int(x) or y != int(y):
            wrong.append(f"{label} is not on whole millimetres")
        if entry["kind"] == "TrunkingCutOut":
            w, h = (float(side) for side in entry["size"].split("x"))
            body = Thing(box(x - w / 2 - 5, y - h / 2 - 5, x + w / 2 + 5, y + h / 2 + 5), 0.0)
            hole = Thing(box(x - w / 2, y - h / 2, x + w / 2, y + h / 2), 0.0)
            ear = None
        else:
            across, least, most, tag = figures(entry["kind"], entry["size"])
            if not least - NEAR <= entry["hole"] <= most + NEAR:
                wrong.append(f"{label}: hole {entry['hole']} is not {least} to {most}")
            body, hole = Thing(Point(x, y), across / 2), Thing(Point(x, y), entry["hole"] / 2)
            ear = None
            if tag and entry["bolt"]:
                row = TAG[tag[0]]
                wide = float(row["ear_width_mm"])
                far = tag[1] / 2 + float(row["beyond_mm"]) - wide / 2
                bolt = Point(entry["bolt"])
                if abs(bolt.distance(Point(x, y)) - far) > 1e-6:
                    wrong.append(f"{label}: its bolt stands {bolt.distance(Point(x, y))} off, not {far}")
                ear = Thing(bolt, wide / 2), Thing(bolt, float(row["bolt_hole_mm"]) / 2)
            elif tag and plate["tags"]:
                wrong.append(f"{label} has no room for its tag")
        things.append((label, body, hole, ear))
        if plate["usable"]:
            if not inside(body, plate["usable"]):
                wrong.append(f"{label} reaches out of the usable part")
        elif not (inside(body, whole) and inside(hole, whole, 10.0)):
            wrong.append(f"{label} is too near to the edge")
        if ear and not inside(ear[0], plate["usable"] or whole):
            wrong.append(f"the ear of {label} reaches out")
        for rect in keep:
            if body.gap(rect) < -NEAR or body.core.within(rect.core):
                wrong.append(f"{label} reaches into a part kept whole")
            if ear and ear[0].gap(rect) < -NEAR:
                wrong.append(f"the ear of {label} reaches into a part kept whole")
    for index, (a, body, hole, ear) in enumerate(things):
        for b, other_body, other_hole, other_ear in things[index + 1 :]:
            if body.gap(other_body) < 3.0 - NEAR:
                wrong.append(f"{a} and {b}: bodies {body.gap(other_body)} apart")
            if hole.gap(other_hole) < metal - NEAR:
                wrong.append(f"{a} and {b}: {hole.gap(other_hole)} of metal")
            for one, there, there_hole in ((ear, other_body, other_hole), (other_ear, body, hole)):
                if one and (one[0].gap(there) < 1.0 - NEAR or one[1].gap(there_hole) < metal - NEAR):
                    wrong.append(f"{a} and {b}: a tag's ear or bolt is in the way")
            if ear and other_ear and (ear[0].gap(other_ear[0]) < 1.0 - NEAR or ear[1].gap(other_ear[1]) < metal - NEAR):
                wrong.append(f"{a} and {b}: their ears are in the way")
    # A quarter of the plate stays along every line through a hole, by cutting it with shapely.
    for horizontal in (True, False):
        length = plate["width"] if horizontal else plate["depth"]
        for label, _, hole, _ in things:
            level = hole.core.centroid.y if horizontal else hole.core.centroid.x
            lost = 0.0
            for _, _, cut, _ in things:
                left, top, right, bottom = cut.core.bounds
                low, high = (top, bottom) if horizontal else (left, right)
                off = max(low - level, level - high, 0.0)
                if off < cut.radius or (off == 0.0 and high > low):
                    side = right - left if horizontal else bottom - top
                    lost += side + 2 * math.sqrt(max(cut.radius**2 - off**2, 0.0))
            if 1.0 - lost / length < 0.25 - NEAR:
                wrong.append(f"only {1.0 - lost / length:.3f} of the plate is left beside {label}")
    return wrong


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        plates = json.load(file)
    bad = 0
    for number, plate in enumerate(plates):
        for text in check(plate):
            bad += 1
            print(f"plate {number}: {text}")
    entries = sum(len(plate["entries"]) for plate in plates)
    tags = sum(bool(entry["bolt"]) for plate in plates for entry in plate["entries"])
    print(f"{len(plates)} plates, {entries} entries, {tags} tags: {bad} clearances violated")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
