"""The checks of a board worked out again from the standards, on boards that are sent along as survey files.

Nothing here is taken from the program: the figures are the published tables in seed-data/tables, the formulas those of
the clauses named beside them. A board that is known throughout gives numbers, which must be those of the program
within 0.5 %. A board of which something is not known is completed at random, each time to a board that could be: what
the program says holds or fails whatever the unknowns turn out to be must be so in every completion.

Usage: checks.py cases.json. Prints one line of JSON; stops with the first differences.
"""

import cmath
import csv
import json
import math
import pathlib
import random
import sys

TABLES = pathlib.Path(__file__).resolve().parent.parent.parent / "seed-data" / "tables"
WITHIN = 0.005
ROOT3 = math.sqrt(3)
UNITS = {"A": 1, "mA": 1e-3, "kA": 1e3, "V": 1, "ohm": 1, "mohm": 1e-3, "W": 1, "kW": 1e3, "m": 1, "mm": 1e-3, "mm2": 1,
         "degC": 1, "%": 0.01, "": 1}


def rows(name):
    lines = [line for line in (TABLES / f"{name}.csv").read_text(encoding="utf-8").splitlines() if line and line[0] != "#"]
    return list(csv.DictReader(lines))


AMPACITY = {
    (row["material"], row["insulation"], int(row["loaded"]), row["method"], float(row["size_mm2"])): float(row["amps"])
    for row in rows("ampacity")
}
AMBIENT = {}
for row in rows("ambient_factor"):
    AMBIENT.setdefault((row["medium"], row["insulation"]), []).append((float(row["temp_c"]), float(row["factor"])))
RESISTANCE = {(row["material"], row["class"], float(row["size_mm2"])): float(row["ohm_per_km"]) for row in rows("conductor_resistance")}
BUNCHED = {float(row["n"]): float(row["factor"]) for row in rows("grouping_factor")
           if row["table"] == "B.52.17" and row["arrangement"].startswith("item 1 ")}
DUCTS = {float(row["n"]): float(row["factor"]) for row in rows("grouping_factor")
         if row["table"] == "B.52.19" and row["spacing"] == "touch" and row["arrangement"].startswith("multicore")}
GROUND = {float(row["n"]): float(row["factor"]) for row in rows("grouping_factor")
          if row["table"] == "B.52.18" and row["spacing"] == "touch"}
ASSUMED = {(row["field"], row["load"]): (float(row["low"]), float(row["high"])) for row in rows("assumed_range")}
MATERIAL = {"Copper": "Cu", "Aluminium": "Al"}
INSULATION = {"Pvc70": ("PVC70", 70.0), "Xlpe90": ("XLPE90", 90.0)}
KINDS = {"Lighting": "lighting", "Sockets": "socket-outlets", "FixedEquipment": "fixed equipment", "Motor": "motor",
         "Heating": "heating", "Distribution": "distribution circuit"}
TRIPS = {"B": 5.0, "C": 10.0, "D": 20.0}  # IEC 60898-1 table 7: surely at once.


def quantity(text):
    number, _, unit = text.partition(" ")
    return float(number) * UNITS[unit]


def span(reading):
    """Bounds of a reading, or none."""
    if not reading or reading.get("known", "unknown") == "unknown":
        return None
    if "between" in reading:
        return [quantity(one) for one in reading["between"]]
    value = quantity(reading["value"])
    tolerance = quantity(reading["tolerance"]) if reading.get("tolerance") else 0.0
    return [value - tolerance, value + tolerance]


def choice(fact):
    return fact.get("value") if fact and fact.get("known", "unknown") != "unknown" else None


class Way:
    """One way that what is not known may turn out: the ends of ranges, or a draw."""

    def __init__(self, dice):
        self.dice = dice

    def number(self, bounds):
        if bounds is None:
            return None
        lo, hi = bounds
        if lo == hi or self.dice is None:
            return lo
        # The ends are where a bound breaks first.
        return self.dice.choice([lo, hi, self.dice.uniform(lo, hi)])

    def pick(self, known, others):
        return known if known is not None or self.dice is None else self.dice.choice(others)


def ambient_factor(medium, insulation, temperature):
    """IEC 60364-5-52 tables B.52.14 and B.52.15, a straight line between rows."""
    steps = AMBIENT[(medium, insulation)]
    if temperature <= steps[0][0]:
        return steps[0][1]
    for (t0, f0), (t1, f1) in zip(steps, steps[1:]):
        if temperature <= t1:
            return f0 + (f1 - f0) * (temperature - t0) / (t1 - t0)
    return 0.0


def grouping_factor(method, count):
    """IEC 60364-5-52 tables B.52.17 item 1, B.52.18 and B.52.19; a count between rows takes the next row."""
    if count <= 1:
        return 1.0
    table = DUCTS if method == "D1" else GROUND if method == "D2" else BUNCHED
    return min(factor for n, factor in table.items() if n >= count and factor == table[min(k for k in table if k >= count)])


def complete(board, circuit, way):
    """The circuit as it would be: a flat record of plain values."""
    device, cable, load = board["devices"][circuit["device"]], board["cables"][circuit["cable"]], circuit["load"]
    kind = KINDS[circuit["kind"]]
    method = way.pick(choice(cable["method"]), ["A1", "A2", "B1", "B2", "C", "D1", "D2", "E", "F"])
    known_method = choice(cable["method"])
    medium = "ground" if method in ("D1", "D2") else "air"
    usual = "ambient_ground" if known_method in ("D1", "D2") else "ambient_air"
    insulation = way.pick(choice(cable["insulation"]), ["Pvc70", "Xlpe90"])
    sizes = sorted({size for (_, _, size) in RESISTANCE})
    bounds = span(cable["size"])
    size = bounds[0] if bounds[0] == bounds[1] else way.pick(None, [one for one in sizes if bounds[0] <= one <= bounds[1]])
    factor = span(load["power_factor"]) or list(ASSUMED.get(("power_factor", kind), ASSUMED[("power_factor", "any")]))
    efficiency = span(load["efficiency"])
    if efficiency is None:
        efficiency = list(ASSUMED[("efficiency", "any")]) if kind == "motor" else [1.0, 1.0]
    grouped = choice(cable["grouped"])
    if grouped is None:
        lo, hi = ASSUMED[("grouped", "any")]
        grouped = way.pick(None, list(range(int(lo), int(hi) + 1)))
    return {
        "kind": kind,
        "three": device["poles"] in ("P3", "P3N"),
        "line": int(device["at"].split("L")[1]) - 1,
        "rated": way.number(span(device["rated"])),
        "curve": way.pick(choice(device["curve"]), ["B", "C", "D"]),
        "breaking": way.number(span(device["breaking"])),
        "power": way.number(span(load["power"])),
        "current": way.number(span(load["current"])),
        "factor": way.number(factor),
        "efficiency": way.number(efficiency),
        "demand": way.number(span(load["demand"]) or [1.0, 1.0]),
        "method": method,
        "medium": medium,
        "insulation": INSULATION[insulation],
        "material": MATERIAL[way.pick(choice(cable["material"]), ["Copper", "Aluminium"])],
        "size": size,
        "cpc": way.number(span(cable["cpc_size"])),
        "length": way.number(span(cable["length"])),
        "ambient": way.number(span(cable["ambient"]) or list(ASSUMED[(usual, "any")])),
        "grouped": grouped,
        # How far its neighbours are loaded is nobody's reading: both ends may be.
        "warm": way.pick(None, [False, True]),
    }


def amps(one, volts):
    """Design current as a phasor against its own line's voltage, lagging: P·g/(k·U·cos φ·η), IEC 60364-4-43, 433.1."""
    angle = math.acos(min(one["factor"], 1.0))
    if one["current"] is not None:
        size = one["current"]
    else:
        # Heating runs for hours: no demand factor counts.
        demand = 1.0 if one["kind"] == "heating" else one["demand"]
        size = one["power"] * demand / ((3 if one["three"] else 1) * volts * one["factor"] * one["efficiency"])
    return cmath.rect(size, -angle)


def capacity(one):
    """It and Iz, IEC 60364-5-52, 523; none where the tables have no such cable."""
    loaded = 3 if one["three"] else 2
    names = [one["method"]]
    if one["method"] == "F" and loaded == 3:
        names = ["F_trefoil", "F_flat"]
    found = [AMPACITY.get((one["material"], one["insulation"][0], loaded, name, one["size"])) for name in names]
    if None in found:
        return None
    tabulated = found[0]
    factor = ambient_factor(one["medium"], one["insulation"][0], one["ambient"]) * grouping_factor(one["method"], one["grouped"])
    return tabulated, tabulated * factor


def resistance(one, size):
    """IEC 60228, stranded, else solid: Ω/m at 20 °C."""
    found = RESISTANCE.get((one["material"], "2", size), RESISTANCE.get((one["material"], "1", size)))
    return None if found is None else found / 1000.0


def warmed(one, temperature):
    return 1.0 + {"Cu": 0.00393, "Al": 0.00403}[one["material"]] * (temperature - 20.0)


REACTANCE = 0.08e-3  # Ω/m, IEC 60364-5-52 annex G.


def drop(one, current, volts, warm):
    """Volt drop along the cable as a share, IEC 60364-5-52 annex G, conductors at the temperature they get."""
    found = capacity(one)
    cold = resistance(one, one["size"])
    if found is None or cold is None:
        return None
    top = one["insulation"][1]
    rise = top - (20.0 if one["medium"] == "ground" else 30.0)
    tabulated, _ = found
    own = (abs(current) / tabulated) ** 2 * rise
    # Alone: what is around it, and its own heat. In a group whose members all carry what they may, theirs as well:
    # BS 7671 appendix 4, 6.1.
    temperature = one["ambient"] + own
    if warm and one["grouped"] > 1:
        ca = ambient_factor(one["medium"], one["insulation"][0], one["ambient"])
        cg = grouping_factor(one["method"], one["grouped"])
        temperature = top - (ca * ca * cg * cg) * rise + own
    temperature = min(max(temperature, min(one["ambient"], top)), top)
    per_metre = cold * warmed(one, temperature)
    lost = abs(current.real) * per_metre + abs(current.imag) * REACTANCE
    return (1.0 if one["three"] else 2.0) * lost * one["length"] / volts


def checks(supply, incomer, made):
    """Every number of a completed board: {(subject, rule): value over limit}."""
    volts = supply["voltage"]
    found = {}
    lines = [0j, 0j, 0j]
    for name, one in made.items():
        current = amps(one, volts)
        for line in range(3):
            if one["three"] or line == one["line"]:
                lines[line] += current * cmath.rect(1.0, -2.0 * math.pi / 3.0 * line)
        size = abs(current)
        found[name, "device-current"] = [size / one["rated"]]
        cap = capacity(one)
        if cap is not None:
            iz = cap[1]
            found[name, "cable-current"] = [one["rated"] / iz if iz else math.inf]
            # IEC 60898-1: I2 = 1.45 In; IEC 60364-4-43, 433.1: I2 ≤ 1.45 Iz.
            found[name, "overload-trip"] = [1.45 * one["rated"] / (1.45 * iz) if iz else math.inf]
        found[name, "breaking-capacity"] = [supply["ipf"] / one["breaking"]]
        line, cpc = resistance(one, one["size"]), resistance(one, one["cpc"])
        if line is not None and cpc is not None:
            warm = warmed(one, one["insulation"][1])
            along = math.hypot((line + cpc) * warm * one["length"], 2.0 * REACTANCE * one["length"])
            # IEC 60364-4-41, 411.4.4 with Cmin 0.95: Zs ≤ 0.95 U0/Ia.
            found[name, "fault-loop"] = [(supply["ze"] + along) * TRIPS[one["curve"]] * one["rated"] / (0.95 * volts)]
        limit = 0.03 if one["kind"] == "lighting" else 0.05
        wanted = [one["warm"]] if supply["dice"] else [False, True]
        lost = [drop(one, current, volts, warm) for warm in wanted]
        if None not in lost and supply["cable"] is None:
            before = supply["before"]
            found[name, "volt-drop"] = [(lost[0] + before[0]) / limit, (lost[-1] + before[1]) / limit]
    found["board", "incomer-current"] = [max(abs(one) for one in lines) / incomer]
    found["board", "neutral-current"] = [abs(sum(lines)) / incomer]
    if supply["cable"] is not None:
        # The supply cable by the device upstream, a gG fuse: I2 = 1.6 In (IEC 60269-1, 16 A and above).
        _, iz = capacity(supply["cable"])
        found["board", "supply-cable-current"] = [supply["upstream"] / iz]
        found["board", "supply-overload-trip"] = [1.6 * supply["upstream"] / (1.45 * iz)]
    return found


def one_board(board, dice):
    way = Way(dice)
    supply = board["supply"]
    made = {name: complete(board, circuit, way) for name, circuit in board["circuits"].items()}
    feeding = None
    if supply.get("cable"):
        cable = board["cables"][supply["cable"]]
        feeding = {
            "three": True, "method": choice(cable["method"]),
            "medium": "ground" if choice(cable["method"]) in ("D1", "D2") else "air",
            "insulation": INSULATION[choice(cable["insulation"])], "material": MATERIAL[choice(cable["material"])],
            "size": span(cable["size"])[0], "ambient": span(cable["ambient"])[0], "grouped": choice(cable["grouped"]),
        }
    low, high = ASSUMED[("drop_before", "any")]
    before = [low, high] if dice is None else [way.number([low, high])] * 2
    return checks(
        {
            "voltage": way.number(span(supply["voltage"])), "ze": way.number(span(supply["ze"])),
            "ipf": way.number(span(supply["ipf"])), "upstream": span(supply["upstream"])[0], "cable": feeding,
            "before": before, "dice": dice,
        },
        span(board["incomer"]["rated"])[0],
        made,
    )


def main():
    cases = json.loads(pathlib.Path(sys.argv[1]).read_text(encoding="utf-8"))
    worst, wrong, numbers, judged, completions = {}, [], 0, 0, 0
    for number, case in enumerate(cases):
        board, ours = case["board"], {(one["subject"], one["rule"]): one for one in case["checks"]}
        if case["completions"] == 0:
            for key, ratios in one_board(board, None).items():
                theirs = ours.get(key)
                if theirs is None or theirs["margin"] is None:
                    wrong.append(f"board {number}: {key} has no number to compare: {theirs}")
                    continue
                lo, hi = 1.0 - theirs["margin"][1], 1.0 - theirs["margin"][0]
                for mine, other in ((min(ratios), lo), (max(ratios), hi)):
                    off = abs(other - mine) / max(abs(mine), 1e-6)
                    worst[key[1]] = max(worst.get(key[1], 0.0), off)
                    numbers += 1
                    if off > WITHIN:
                        wrong.append(f"board {number}: {key}: {other} here, {mine} by the standard ({off:.2%} off)")
            continue
        dice = random.Random(number)
        for _ in range(case["completions"]):
            completions += 1
            for key, ratios in one_board(board, dice).items():
                theirs = ours.get(key)
                if theirs is None:
                    wrong.append(f"board {number}: {key} has no check")
                    continue
                judged += 1
                ratio = ratios[0]
                if theirs["verdict"] == "holds" and ratio > 1.0 + 1e-9:
                    wrong.append(f"board {number}: {key} holds, but a completion has {ratio}")
                if theirs["verdict"] in ("fails", "advised") and ratio < 1.0 - 1e-9:
                    wrong.append(f"board {number}: {key} {theirs['verdict']}, but a completion has {ratio}")
    if wrong:
        print(f"{len(wrong)} differ")
        print("\n".join(wrong[:12]))
        sys.exit(1)
    print(json.dumps({"compared": len(cases), "numbers": numbers, "completions": completions, "judged": judged, "worst": worst}))


main()
