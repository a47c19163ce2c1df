"""Sets small plates out with OR-tools CP-SAT and compares: the same plates have room, and the
program's sum is within 5 % of the best there is on the grid. Bodies and holes are looked up here.

usage: plate_best.py PLATES.json
"""

import json
import math
import sys
import time

from ortools.sat.python import cp_model

from plate_geometry import figures

SCALE = 100


def spots(plate, radius):
    x, y, w, h = plate["usable"]
    grid = plate["grid"]
    across = range(math.ceil((x + radius - 1e-6) / grid), math.floor((x + w - radius + 1e-6) / grid) + 1)
    down = range(math.ceil((y + radius - 1e-6) / grid), math.floor((y + h - radius + 1e-6) / grid) + 1)
    found = []
    for column in across:
        for row in down:
            at = (column * grid, row * grid)
            clear = True
            for left, top, wide, high in plate["keep_outs"]:
                dx = max(left - at[0], at[0] - left - wide, 0.0)
                dy = max(top - at[1], at[1] - top - high, 0.0)
                clear &= math.hypot(dx, dy) >= radius - 1e-6
            if clear:
                found.append(at)
    return found


def before(a, b):
    """True where a's way lies before b's, so that a's entry must not lie after b's."""
    if a is None or b is None:
        return False
    if abs(a[0] - b[0]) > 1.0:
        return a[0] < b[0]
    return a[1] < b[1]


def best(plate):
    model = cp_model.CpModel()
    weights = plate["weights"]
    metal = max(5.0, 1.5 * plate["thickness"])
    items = []
    for entry in plate["entries"]:
        across, _, _, _ = figures(entry["kind"], entry["size"])
        radius = across / 2
        places = spots(plate, radius)
        if not places:
            return None, True
        chosen = [model.new_bool_var("") for _ in places]
        model.add_exactly_one(chosen)
        items.append((radius, entry["hole"] / 2, entry["target"], places, chosen, entry["hole"]))
    cost = []
    rows, columns, sizes = {}, {}, {}
    for radius, _, target, places, chosen, size in items:
        for at, here in zip(places, chosen):
            if target is not None:
                cost.append(round(SCALE * weights["length"] * abs(at[0] - target[0])) * here)
            for store, key in ((columns, at[0]), (rows, at[1]), (sizes, (at[1], size))):
                if key not in store:
                    store[key] = model.new_bool_var("")
                model.add_implication(here, store[key])
    for store, name in ((rows, "row"), (columns, "column"), (sizes, "size")):
        cost.extend(round(SCALE * weights[name]) * used for used in store.values())
    for index, (radius, hole, target, places, chosen, _) in enumerate(items):
        for other_radius, other_hole, other_target, others, taken, _ in items[index + 1 :]:
            apart = max(radius + other_radius + 3.0, hole + other_hole + metal) - 1e-6
            for at, here in zip(places, chosen):
                near = [there for place, there in zip(others, taken) if math.dist(at, place) < apart]
                if near:
                    model.add(sum(near) + here <= 1)
            x = sum(int(at[0]) * here for at, here in zip(places, chosen))
            other_x = sum(int(at[0]) * here for at, here in zip(others, taken))
            if before(target, other_target) or before(other_target, target):
                low, high = (x, other_x) if before(target, other_target) else (other_x, x)
                crossed = model.new_bool_var("")
                model.add(low <= high).only_enforce_if(~crossed)
                cost.append(round(SCALE * weights["crossing"]) * crossed)
    model.minimize(sum(cost))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = 15
    solver.parameters.num_workers = 2
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None, True
    return solver.objective_value / SCALE, status == cp_model.OPTIMAL


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        plates = json.load(file)
    bad, roomless, proved, ours, theirs, worst = 0, 0, 0, 0.0, 0.0, 0.0
    for number, plate in enumerate(plates):
        start = time.perf_counter()
        value, sure = best(plate)
        theirs += time.perf_counter() - start
        ours += plate["seconds"]
        total = plate["total"]
        if not sure:
            print(f"plate {number}: not decided in time")
            continue
        proved += 1
        roomless += value is None
        if (value is None) != (total is None):
            bad += 1
            print(f"plate {number}: best {value}, ours {total}: one has room, the other has not")
        elif value is not None:
            worst = max(worst, total / value - 1.0)
            if total > value * 1.05 + 0.1 or total < value - 0.1:
                bad += 1
                print(f"plate {number}: best {value}, ours {total}")
            if plate["bound"] > value + 0.1:
                bad += 1
                print(f"plate {number}: the bound {plate['bound']} is over the best {value}")
    print(
        f"{len(plates)} plates, {proved} proved, {roomless} without room; worst {100 * worst:.2f} % over the best; "
        f"ours {ours:.2f} s, theirs {theirs:.2f} s, ratio {theirs / max(ours, 1e-9):.1f}"
    )
    sys.exit(1 if bad or proved < 50 else 0)


if __name__ == "__main__":
    main()
