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
import re
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
AT_ONCE = 0.1  # s, IEC 60898-1 table 7, test e.
LIMITED = [(row["type"], float(row["in_over"]), float(row["in_upto"]), float(row["icn"]), float(row["i2t"]))
           for row in rows("breaker_let_through")]
SLOW = [(row["type"], float(row["multiple"]), float(row["in_over"]), float(row["in_upto"]), float(row["t_max_s"]))
        for row in rows("operating_band") if row["device"] == "breaker" and row["test"] == "d"]
GATES = {float(row["in_a"]): row for row in rows("fuse_gate")}
# Largest loops of gG fuses in 5 s at 0.95·230 V: BS 7671 table 41.4.
FUSE_LOOP = {float(row["in_a"]): float(row["zs_5s"]) for row in rows("fuse_loop")}
K = {(row["use"], row["material"], row["insulation"]): float(row["k"]) for row in rows("k_factor")
     if float(row["over_mm2"]) == 0.0}
C_MIN, C_MAX = 0.95, 1.05  # Voltage factors of IEC 60909-0 table 1, low voltage with a tolerance of 6 %.
COLD = 0.8  # BS 7671 appendix 3: what a loop measured cold may reach of what it may be warm.


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

    def among(self, bounds, made):
        """One of the values that are made, within bounds where there are some."""
        if bounds is not None and bounds[0] == bounds[1]:
            return bounds[0]
        lo, hi = bounds or (made[0], made[-1])
        within = [one for one in made if lo <= one <= hi]
        return self.pick(None, within) if within else self.number([lo, hi])


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


RATINGS = [6.0, 10.0, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0]  # IEC 60898-1, preferred rated currents.
CAPACITIES = [3000.0, 4500.0, 6000.0, 10_000.0, 15_000.0, 25_000.0]  # IEC 60898-1, rated short-circuit capacities.
SIZES = sorted({size for (_, _, size) in RESISTANCE})


def laid(cable, way):
    """A cable as it would be, and as it would lie."""
    known_method = choice(cable["method"])
    method = way.pick(known_method, ["A1", "A2", "B1", "B2", "C", "D1", "D2", "E", "F"])
    usual = "ambient_ground" if known_method in ("D1", "D2") else "ambient_air"
    size = way.among(span(cable["size"]), SIZES)
    metals = [one for one in ("Copper", "Aluminium") if (MATERIAL[one], "2", size) in RESISTANCE
              or (MATERIAL[one], "1", size) in RESISTANCE]
    grouped = choice(cable["grouped"])
    if grouped is None:
        low, high = ASSUMED[("grouped", "any")]
        grouped = way.pick(None, list(range(int(low), int(high) + 1)))
    return {
        "method": method,
        "medium": "ground" if method in ("D1", "D2") else "air",
        "insulation": INSULATION[way.pick(choice(cable["insulation"]), ["Pvc70", "Xlpe90"])],
        "material": MATERIAL[way.pick(choice(cable["material"]), metals)],
        "size": size,
        "cpc": way.among(span(cable.get("cpc_size")), [one for one in SIZES if one <= 35.0]),
        "length": way.number(span(cable["length"])),
        "ambient": way.number(span(cable["ambient"]) or list(ASSUMED[(usual, "any")])),
        "grouped": grouped,
    }


def complete(board, circuit, way):
    """The circuit as it would be: a flat record of plain values."""
    device, load = board["devices"][circuit["device"]], circuit["load"]
    kind = KINDS[circuit["kind"]]
    factor = span(load["power_factor"]) or list(ASSUMED.get(("power_factor", kind), ASSUMED[("power_factor", "any")]))
    efficiency = span(load["efficiency"])
    if efficiency is None:
        efficiency = list(ASSUMED[("efficiency", "any")]) if kind == "motor" else [1.0, 1.0]
    rated = way.among(span(device["rated"]), RATINGS)
    power, current = span(load.get("power")), span(load.get("current"))
    entered = power is not None or current is not None
    if not entered:
        # Nobody entered a load: at most what its device is for.
        current = [0.0, rated]
    # Windings and resistance never lead.
    leads = ["No"] if kind in ("motor", "heating") else ["No", "Yes"]
    return laid(board["cables"][circuit["cable"]], way) | {
        "kind": kind,
        "three": device["poles"] in ("P3", "P3N"),
        "line": int(device["at"].split("L")[1]) - 1,
        "rated": rated,
        "device_read": span(device["rated"]) is not None,
        "curve": way.pick(choice(device["curve"]), ["B", "C", "D"]),
        "breaking": way.among(span(device.get("breaking")), CAPACITIES),
        "class3": way.pick(choice(device.get("energy_class")), ["One", "Three"]) == "Three",
        "measured": way.number(span(circuit["tests"].get("zs"))),
        "entered": entered,
        "power": way.number(power),
        "current": way.number(current),
        "factor": way.number(factor),
        "leads": way.pick(choice(load.get("leading")), leads) == "Yes",
        "efficiency": way.number(efficiency),
        "demand": way.number(span(load["demand"]) or [1.0, 1.0]),
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
    return cmath.rect(size, angle if one["leads"] else -angle)


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


def working_temperature(one, current, warm):
    """Temperature of the conductors at a current: alone what is around them and their own heat; in a group whose members
    all carry what they may, theirs as well (BS 7671 appendix 4, 6.1)."""
    top = one["insulation"][1]
    carried = capacity(one)
    if carried is None:
        return top
    tabulated = carried[0]
    rise = top - (20.0 if one["medium"] == "ground" else 30.0)
    own = (current / tabulated) ** 2 * rise
    temperature = one["ambient"] + own
    if warm and one["grouped"] > 1:
        ca = ambient_factor(one["medium"], one["insulation"][0], one["ambient"])
        cg = grouping_factor(one["method"], one["grouped"])
        temperature = top - (ca * ca * cg * cg) * rise + own
    return min(max(temperature, min(one["ambient"], top)), top)


def drop(one, current, volts, warm):
    """Volt drop along the cable as a share, IEC 60364-5-52 annex G, conductors at the temperature they get."""
    cold = resistance(one, one["size"])
    if capacity(one) is None or cold is None:
        return None
    per_metre = cold * warmed(one, working_temperature(one, abs(current), warm))
    lost = abs(current.real) * per_metre - current.imag * REACTANCE
    return max(0.0, (1.0 if one["three"] else 2.0) * lost * one["length"] / volts)


def leg(one):
    """Cable out and back to earth, and one conductor of it: impedances cold (20 °C) and at the highest temperature of
    service, Ω. IEC 60228, IEC 60364-5-52 annex G."""
    line, cpc = resistance(one, one["size"]), resistance(one, one["cpc"])
    if line is None or cpc is None:
        return None
    found = {}
    for state, factor in (("cold", 1.0), ("warm", warmed(one, one["insulation"][1]))):
        metres = one["length"]
        found[state] = {
            "line": complex(line * factor, REACTANCE) * metres,
            "earth": complex((line + cpc) * factor, 2.0 * REACTANCE) * metres,
        }
    return found


def together(size, along):
    """A loop of which only the size was read, and conductors after it: smallest and largest sum over every angle from
    resistive to inductive."""
    angles = [math.pi / 2.0 * step / 720 for step in range(721)] + [cmath.phase(along)]
    sums = [abs(cmath.rect(size, angle) + along) for angle in angles]
    return min(sums), max(sums)


def fault_currents(volts, size, parts):
    """Largest and smallest current of one kind of fault, each as a range: IEC 60909-0. Of a loop that was read nobody
    says whether the voltage factor is in it. `parts`: what follows it, cold and warm."""
    cold, warm = together(size, parts[0]), together(size, parts[1])
    return [[volts / cold[1], volts * C_MAX / cold[0]], [volts * C_MIN / warm[1], volts / warm[0]]]


def times(one, volts):
    """Longest disconnection time in a TN system: IEC 60364-4-41, table 41.1 and 411.3.2.2 (final circuits up to 63 A with
    socket-outlets, up to 32 A with fixed equipment), else 5 s (411.3.2.3)."""
    if one["kind"] == "distribution circuit" or one["rated"] > (63.0 if one["kind"] == "socket-outlets" else 32.0):
        return 5.0
    return 0.8 if volts <= 120.0 else 0.4 if volts <= 230.0 else 0.2 if volts <= 400.0 else 0.1


def breaker_opens(one, seconds):
    """Currents in A that open a breaker in a time: what is published for it, and what surely does. A type D in 5 s:
    10 In (BS 7671 table 41.3); test d of IEC 60898-1 table 7 gives it 4 s there up to 32 A; the 8 s above prove nothing."""
    at_once = TRIPS[one["curve"]] * one["rated"]
    if one["curve"] != "D" or seconds < 5.0:
        return [at_once, at_once]
    [(current, longest)] = [(multiple * one["rated"], longest) for curve, multiple, over, upto, longest in SLOW
                            if curve == "D" and over < one["rated"] <= upto]
    return [10.0 * one["rated"], current if longest <= seconds else at_once]


def fuse_opens(rated):
    """Currents in A that open a gG fuse in 5 s: as BS 7671 table 41.4 prints it; of a rating that it leaves out the gates
    of IEC 60269-1, between what leaves it closed for 10 s and what opens it in 5 s."""
    if rated in FUSE_LOOP:
        return [0.95 * 230.0 / FUSE_LOOP[rated]] * 2
    return [float(GATES[rated]["imin_10s"]), float(GATES[rated]["imax_5s"])]


def breaker_energy(one, least, most):
    """What a breaker lets through at worst of faults from the least to the largest current, A²s: bounds of that worst.

    At once: 0.1 s at the largest current, or the limit of class 3 up to its capacity (EN 60898-1 annex ZA). Below the
    instantaneous band's upper end at least what test d allows, if the fault may be so small; no more is said there."""
    quick = most * most * AT_ONCE
    if one["class3"] and most <= one["breaking"]:
        for curve, over, upto, icn, energy in LIMITED:
            if curve == one["curve"] and over < one["rated"] <= upto and icn == one["breaking"]:
                quick = min(quick, energy)
    if least >= TRIPS[one["curve"]] * one["rated"] * (1.0 + 1e-9):
        return quick, quick
    for curve, multiple, over, upto, seconds in SLOW:
        current = multiple * one["rated"]
        if curve == one["curve"] and over < one["rated"] <= upto and least <= current <= most:
            return max(quick, current * current * seconds), math.inf
    return quick, math.inf


def fuse_energy(rated, least):
    """The same for a gG fuse, by its gates (IEC 60269-1): from the gate at 0.1 s up I²t only falls with the current."""
    gate = GATES[rated]
    upper = float(gate["imax_0_1s"])
    return upper * upper * AT_ONCE, upper * upper * AT_ONCE if least >= upper * (1.0 + 1e-9) else math.inf


def by_line(size):
    """IEC 60364-5-54 table 54.2."""
    return size if size <= 16.0 else 16.0 if size <= 35.0 else size / 2.0


def sizes(one, energy_line, energy_earth):
    """Bounds of the sizes that the line and the protective conductor need: IEC 60364-4-43, 434.5.2; IEC 60364-5-54,
    543.1.2 or 543.1.4, whichever asks for less: the latter's table for a line of which nothing says that it does not bear
    the fault itself (543.1.1)."""
    line, core = (K[use, one["material"], one["insulation"][0]] for use in ("line", "core"))
    needed = [math.sqrt(energy) / line for energy in energy_line]
    back = [math.sqrt(energy) / core for energy in energy_earth]
    back = [min(energy, by_line(one["size"])) if bears else energy
            for energy, bears in zip(back, (needed[0] <= one["size"] or not one.get("device_read", True), needed[1] <= one["size"]))]
    return [[*needed, one["size"]], [*back, one["cpc"]]]


def checks(supply, incomer, made):
    """Every number of a completed board: {(subject, rule): value over limit}."""
    volts = supply["voltage"]
    found, bounds, around = {}, {}, {}
    lines = [0j, 0j, 0j]
    own = {}
    for name, one in made.items():
        current = amps(one, volts)
        for line in range(3):
            if one["three"] or line == one["line"]:
                lines[line] += current * cmath.rect(1.0, -2.0 * math.pi / 3.0 * line)
        size = abs(current)
        # IEC 60898-1: In is that in air of up to 40 °C. How warm it gets inside is not worked out here: no more than In.
        (found if supply["cool"] else around)[name, "device-current"] = [(size, one["rated"])]
        cap = capacity(one)
        if cap is not None:
            iz = cap[1]
            found[name, "cable-current"] = [(one["rated"], iz)]
            # IEC 60898-1: I2 = 1.45 In; IEC 60364-4-43, 433.1: I2 ≤ 1.45 Iz.
            found[name, "overload-trip"] = [(1.45 * one["rated"], 1.45 * iz)]
        found[name, "breaking-capacity"] = [(supply["ipf"], one["breaking"])]
        at_once = TRIPS[one["curve"]] * one["rated"]
        # IEC 60364-4-41, 411.4.4 with Cmin 0.95: Zs ≤ 0.95 U0/Ia.
        opens = breaker_opens(one, times(one, volts))
        if supply["dice"]:
            opens = [supply["dice"].choice(opens)]
        if one["measured"] is not None:
            found[name, "fault-loop-measured"] = [(one["measured"], COLD * C_MIN * volts / each) for each in opens]
        wire = leg(one)
        if wire is not None:
            # Of the loop before the board the size alone is read: any angle. The plain sum, the most it may be, proves a
            # loop; what it does not prove may be as little as the vectors allow.
            least, loop = together(supply["ze"], wire["warm"]["earth"])
            limits = [C_MIN * volts / each for each in opens]
            if supply["dice"]:
                turned = abs(cmath.rect(supply["ze"], supply["dice"].uniform(0.0, math.pi / 2.0)) + wire["warm"]["earth"])
                around[name, "fault-loop"] = [(turned, limits[0])]
            else:
                ends = [loop] if supply["ze most"] <= min(limits) - abs(wire["warm"]["earth"]) else [least, loop]
                found[name, "fault-loop"] = [(end, limit) for limit in limits for end in ends]
            # The smallest short circuit: IEC 60364-4-43, 434.5. The neutral's way before the board is not read: none, or
            # as long as the line's. Between two lines √3 U0 drives through two of them.
            before, out = volts / supply["ipf"], 2.0 * abs(wire["warm"]["line"])
            if one["three"]:
                least = [ROOT3 * C_MIN * volts / (2.0 * before + out)]
            else:
                least = [C_MIN * volts / (before * share + out) for share in (1.0, 2.0)]
            found[name, "short-circuit-trip"] = [(at_once, current) for current in least]
            needs = sizes(one, breaker_energy(one, min(least), supply["ipf"]),
                          breaker_energy(one, C_MIN * volts / loop, C_MAX * volts / supply["ze"]))
            bounds[name, "line-energy"], bounds[name, "cpc-energy"] = needs
        wanted = [one["warm"]] if supply["dice"] else [False, True]
        lost = [drop(one, current, volts, warm) for warm in wanted]
        if None not in lost:
            own[name] = lost
    most, neutral = max(abs(one) for one in lines), abs(sum(lines))
    found["board", "incomer-current"] = [(most, incomer)]
    found["board", "neutral-current"] = [(neutral, incomer)]
    found["board", "busbar-current"] = [(most, supply["busbars"])]
    found["board", "upstream-current"] = [(most, supply["upstream"])]
    # A fault at the board: 5 s of a distribution circuit (IEC 60364-4-41, 411.3.2.3). A loop that was read cold warms
    # with the cable before it.
    limits = [C_MIN * volts / opens for opens in fuse_opens(supply["upstream"])]
    if supply["dice"]:
        limits = [supply["dice"].choice(limits)]
    warmer = 1.0 if supply["cable"] is None else COLD
    at_board = [(ze, limit) for limit in limits for ze in (supply["ze"], supply["ze"] / warmer)]
    # Worked out from the origin it is warm already.
    # A board of whose supply neither cable nor device was entered is only begun: nothing is said of it.
    if supply["entered"]:
        found["board", "supply-disconnection"] = at_board if supply["origin"] is None else at_board[::2]
    before = [[supply["before"][0]] * 3, [supply["before"][-1]] * 3]
    if supply["cable"] is not None:
        # The supply cable by the device upstream, a gG fuse: I2 = 1.6 In (IEC 60269-1, 16 A and above).
        cable = supply["cable"]
        carried = capacity(cable)
        if carried is not None:
            iz = carried[1]
            found["board", "supply-cable-current"] = [(supply["upstream"], iz)]
            found["board", "supply-overload-trip"] = [(1.6 * supply["upstream"], 1.45 * iz)]
        # Each line's own drop and that of the neutral, as phasors, at the coldest and the hottest that it may be.
        before = []
        for temperature in (cable["ambient"], working_temperature(cable, most, True)):
            ohms = complex(resistance(cable, cable["size"]) * warmed(cable, temperature), REACTANCE) * cable["length"]
            turned = [cmath.rect(1.0, 2.0 * math.pi / 3.0 * line) for line in range(3)]
            before.append([(ohms * (lines[line] + sum(lines)) * turned[line]).real / volts for line in range(3)])
        kinds = [one["kind"] for one in made.values()]
        limit = 0.03 if "lighting" in kinds else 0.05
        around["board", "supply-drop"] = [(max(each), limit) for each in before]
        if supply["origin"] is not None:
            wire, origin = leg(cable), supply["origin"]
            between = ROOT3 * C_MIN * volts / (2.0 * volts / origin["ipf"] + 2.0 * abs(wire["warm"]["line"]))
            to_earth = C_MIN * volts / (origin["ze"] + abs(wire["warm"]["earth"]))
            needs = sizes(cable, *(fuse_energy(supply["upstream"], least) for least in (between, to_earth)))
            bounds["board", "supply-line-energy"], bounds["board", "supply-cpc-energy"] = needs
    for name, lost in own.items():
        one = made[name]
        limit = 0.03 if one["kind"] == "lighting" else 0.05
        on = range(3) if one["three"] else [one["line"]]
        drops = [(lost[place] + max(before[place][line] for line in on), limit) for place in (0, -1)]
        (found if supply["cable"] is None else around)[name, "volt-drop"] = drops
    return found, bounds, around


class Board:
    """A board as it would be: what a supply and its cable turn out to be, and every circuit."""

    def __init__(self, board, dice):
        way = Way(dice)
        supply = board["supply"]
        self.made = {name: complete(board, circuit, way) for name, circuit in board["circuits"].items()}
        self.volts = way.number(span(supply["voltage"]))
        self.cable = self.origin = None
        if supply.get("cable"):
            self.cable = laid(board["cables"][supply["cable"]], way) | {"three": True}
        if span(supply.get("origin_ze")):
            self.origin = {key: way.number(span(supply["origin_" + key])) for key in ("ze", "ipf")}
        self.ze, self.ipf = self.at_board(supply, dice)
        low, high = ASSUMED[("drop_before", "any")]
        self.rest = {
            "voltage": self.volts, "upstream": way.among(span(supply.get("upstream")), [one for one in GATES if one >= 16.0]), "cable": self.cable, "dice": dice,
            "before": [low, high] if dice is None else [way.number([low, high])], "origin": self.origin,
            "entered": self.cable is not None or span(supply.get("upstream")) is not None,
            "cool": choice(board.get("surroundings", {}).get("mounting")) == "Recessed",
            "busbars": quantity(board["enclosure"]["value"]["rated"]),
        }
        self.incomer = span(board["incomer"]["rated"])[0]
        self.way = way

    def at_board(self, supply, dice):
        """Loop and fault current at the board, each as a range: as read, else from the origin along the supply cable,
        conductors cold or warm, the voltage lowest or highest, the origin's loop of any angle (IEC 60909-0)."""
        if self.origin is None:
            return span(supply["ze"]), span(supply["ipf"])
        wire = leg(self.cable)
        sizes_of = {"earth": self.origin["ze"], "line": self.volts / self.origin["ipf"]}
        if dice is None:
            around = {way: [together(size, wire[state][way]) for state in ("cold", "warm")] for way, size in sizes_of.items()}
            most = [self.volts * C_MIN / around["line"][1][1], self.volts * C_MAX / around["line"][0][0]]
            return [around["earth"][0][0], around["earth"][1][1]], most
        state = dice.uniform(0.0, 1.0)
        whole = {}
        for way, size in sizes_of.items():
            along = wire["cold"][way] * (1.0 - state) + wire["warm"][way] * state
            whole[way] = abs(cmath.rect(size, dice.uniform(0.0, math.pi / 2.0)) + along)
        current = self.volts * dice.uniform(C_MIN, C_MAX) / whole["line"]
        return [whole["earth"]] * 2, [current] * 2

    def worked_out(self):
        """All checks; where loop and fault current are ranges, over their ends."""
        whole = None
        if self.way.dice is None:
            ends = [(ze, ipf) for ze in sorted(set(self.ze)) for ipf in sorted(set(self.ipf))]
        else:
            ends = [(self.way.number(self.ze), self.way.number(self.ipf))]
        for ze, ipf in ends:
            found, bounds, around = checks(self.rest | {"ze": ze, "ipf": ipf, "ze most": self.ze[-1]}, self.incomer, self.made)
            if whole is None:
                whole = found, bounds, around
                continue
            for mine, more in zip((whole[0], whole[2]), (found, around)):
                for key, pairs in more.items():
                    mine[key] = mine[key] + pairs
            for key, (low, high, size) in bounds.items():
                whole[1][key] = [max(low, whole[1][key][0]), max(high, whole[1][key][1]), size]
        return whole

    def currents(self):
        """Currents of circuits and board: {name: A}."""
        found, lines = {}, [0j, 0j, 0j]
        for name, one in self.made.items():
            current = amps(one, self.volts)
            if one["entered"]:
                found[f"Ib of {name}"] = abs(current)
            for line in range(3):
                if one["three"] or line == one["line"]:
                    lines[line] += current * cmath.rect(1.0, -2.0 * math.pi / 3.0 * line)
        for line, current in enumerate(lines):
            found[f"IL of L{line + 1}"] = abs(current)
        found["IN of board"] = abs(sum(lines))
        return found

    def plain(self):
        """Numbers that stand in no check: {name: [smallest, largest]}."""
        found = {name: [current] * 2 for name, current in self.currents().items()}
        # Before the board: the sizes read there, or those of the origin and the supply cable after them.
        if self.origin is None:
            start, before = {"earth": self.ze[0], "line": self.volts / self.ipf[0]}, None
        else:
            start, before = {"earth": self.origin["ze"], "line": self.volts / self.origin["ipf"]}, leg(self.cable)
            for kind, way in (("earth", "earth"), ("three-phase", "line")):
                parts = [before[state][way] for state in ("cold", "warm")]
                self.add_faults(found, "board", kind, fault_currents(self.volts, start[way], parts))
        for name, one in self.made.items():
            wire = leg(one)
            if wire is None:
                continue
            for kind, way in (("earth", "earth"), ("three-phase", "line")):
                if way == "line" and not one["three"]:
                    continue
                parts = [wire[state][way] + (before[state][way] if before else 0.0) for state in ("cold", "warm")]
                self.add_faults(found, name, kind, fault_currents(self.volts, start[way], parts))
        return found

    @staticmethod
    def add_faults(found, name, kind, currents):
        for word, bounds in zip(("largest (cold)", "smallest (warm)"), currents):
            found[f"{word} {kind} fault of {name}"] = bounds


SHOWN = re.compile("([0-9.]+)(?: to ([0-9.]+))?\u00a0(kA|A|Ω|%|mm²|V)")
SHOWN_UNITS = {"kA": 1e3, "A": 1.0, "Ω": 1.0, "%": 0.01, "mm²": 1.0, "V": 1.0}


def shown(text):
    """Value and limit in an inequality, each as bounds and what its last digit may round off."""
    found = []
    for low, high, unit in SHOWN.findall(text):
        ends = [low, high or low]
        scale = SHOWN_UNITS[unit]
        # Three digits, without the zeros that end them.
        half = [0.5 * 10.0 ** (math.floor(math.log10(float(one))) - 2) if float(one) else 0.005 for one in ends]
        found.append(([float(one) * scale for one in ends], [one * scale for one in half]))
    return found


class Judge:
    def __init__(self):
        self.worst, self.wrong, self.numbers, self.judged, self.sided = {}, [], 0, 0, {}
        # Most that a line's rise lies below the least drop here, as a share of the limit.
        self.rise = 0.0
        self.within = 0

    def number(self, board, name, kind, mine, other):
        off = abs(other - mine) / max(abs(mine), 1e-6)
        self.worst[kind] = max(self.worst.get(kind, 0.0), off)
        self.numbers += 1
        if not off <= WITHIN:
            self.wrong.append(f"board {board}: {name}: {other} here, {mine} by the standard ({off:.2%} off)")

    def count(self, kind):
        self.sided[kind] = self.sided.get(kind, 0) + 1

    def known(self, number, case):
        """Every number of a board that is known throughout."""
        ours = {(one["subject"], one["rule"]): one for one in case["checks"]}
        board = Board(case["board"], None)
        found, bounds, around = board.worked_out()
        for name, mine in board.plain().items():
            theirs = case["plain"].get(name)
            if theirs is None:
                self.wrong.append(f"board {number}: {name} is not told")
                continue
            for one, other in zip(mine, theirs):
                self.number(number, name, name.split(" of ")[0], one, other)
        for key, pairs in (found | around).items():
            theirs = ours.get(key)
            if theirs is None or theirs["margin"] is None:
                self.wrong.append(f"board {number}: {key} has no number to compare: {theirs}")
                continue
            lo, hi = 1.0 - theirs["margin"][1], 1.0 - theirs["margin"][0]
            ratios = [value / limit if limit else math.inf for value, limit in pairs]
            if key in around:
                self.count(key[1] + " within")
                if max(ratios) > hi + WITHIN * abs(hi):
                    self.wrong.append(f"board {number}: {key}: up to {hi} here leaves out {max(ratios)} by the standard")
                # Annex G knows no rise of a light line by the current in the neutral; as phasors there is one. The
                # program takes no drop at least: counted, and the verdict must stand all the same.
                if min(ratios) < lo - WITHIN * abs(lo):
                    self.count(key[1] + " risen below the least here")
                    self.rise = max(self.rise, lo - min(ratios))
                if theirs["verdict"] in ("fails", "advised") and min(ratios) < 1.0 - 1e-9:
                    self.wrong.append(f"board {number}: {key} {theirs['verdict']}, but it may be {min(ratios)} of the limit")
                continue
            self.number(number, key, key[1], min(ratios), lo)
            self.number(number, key, key[1], max(ratios), hi)
            # Both sides apart as well: errors of value and limit could hide each other.
            told = shown(theirs["inequality"])
            if len(told) != 2:
                self.wrong.append(f"board {number}: {key}: two numbers expected in {theirs['inequality']}")
                continue
            for side, (ends, halves) in enumerate(told):
                wanted = [min(pair[side] for pair in pairs), max(pair[side] for pair in pairs)]
                for mine, other, half in zip(wanted, ends, halves):
                    self.count("shown")
                    if abs(mine - other) > half + WITHIN * abs(mine):
                        self.wrong.append(f"board {number}: {key}: {theirs['inequality']}, {mine} by the standard")
        for key, (low, high, size) in bounds.items():
            theirs = ours.get(key)
            if theirs is None:
                self.wrong.append(f"board {number}: {key} has no check")
                continue
            at_worst = None if theirs["margin"] is None else 1.0 - theirs["margin"][0]
            if high <= size * (1.0 - 1e-6):
                self.count(key[1] + " holds")
                if theirs["verdict"] != "holds" or at_worst is None:
                    self.wrong.append(f"board {number}: {key}: {high} of {size} mm² does, here {theirs}")
                elif low == high:
                    self.number(number, key, key[1], high / size, at_worst)
                elif not low * (1.0 - WITHIN) <= at_worst * size <= high * (1.0 + WITHIN):
                    self.wrong.append(f"board {number}: {key}: {at_worst} of the size here, {low} to {high} of {size} mm²")
            elif low > size * (1.0 + 1e-6):
                self.count(key[1] + " not proven")
                if theirs["verdict"] == "holds":
                    self.wrong.append(f"board {number}: {key} holds, but {low} of {size} mm² may be needed")
            else:
                self.count(key[1] + " slow, one-sided")
                if at_worst is not None and at_worst < low / size * (1.0 - WITHIN):
                    self.wrong.append(f"board {number}: {key}: {at_worst} of the size here, {low / size} at least")

    def completed(self, number, case, dice):
        """No verdict is denied by what the board may turn out to be, and no number lies outside of what was told."""
        ours = {(one["subject"], one["rule"]): one for one in case["checks"]}
        board = Board(case["board"], dice)
        for name, mine in board.currents().items():
            told = case["plain"].get(name)
            if told is None:
                self.count(name.split(" of ")[0] + " not told")
            else:
                self.inside(number, name, mine, *told)
        found, bounds, around = board.worked_out()
        sides = {key: (value, value, limit) for key, pairs in (found | around).items() for value, limit in pairs[:1]}
        for key, (low, high, limit) in (sides | bounds).items():
            theirs = ours.get(key)
            if theirs is None:
                self.wrong.append(f"board {number}: {key} has no check")
                continue
            self.judged += 1
            self.count(f"{key[1]} {theirs['verdict']}")
            if theirs["verdict"] == "holds" and low > limit * (1.0 + 1e-9):
                self.wrong.append(f"board {number}: {key} holds, but a completion has {low} against {limit}")
            if theirs["verdict"] in ("fails", "advised") and high < limit * (1.0 - 1e-9):
                self.wrong.append(f"board {number}: {key} {theirs['verdict']}, but a completion has {high} against {limit}")
            if key not in bounds and theirs["margin"] is not None and limit:
                # Of a drop behind a supply cable the upper end alone: see `known`.
                least = -math.inf if key in around else 1.0 - theirs["margin"][1]
                self.inside(number, key, low / limit, least, 1.0 - theirs["margin"][0])

    def inside(self, board, name, mine, low, high):
        self.within += 1
        slack = 1e-9 * max(1.0, abs(mine))
        if not low - slack <= mine <= high + slack:
            self.wrong.append(f"board {board}: {name}: a completion has {mine}, outside of {low} to {high}")


def main():
    cases = json.loads(pathlib.Path(sys.argv[1]).read_text(encoding="utf-8"))
    judge, completions = Judge(), 0
    for number, case in enumerate(cases):
        if case["completions"] == 0:
            judge.known(number, case)
        dice = random.Random(number)
        for _ in range(case["completions"]):
            completions += 1
            judge.completed(number, case, dice)
    if judge.wrong:
        print(f"{len(judge.wrong)} differ")
        print("\n".join(judge.wrong[:12]))
        sys.exit(1)
    print(json.dumps({"compared": len(cases), "numbers": judge.numbers, "completions": completions, "judged": judge.judged,
                      "worst": judge.worst, "counts": judge.sided, "rise": judge.rise, "within": judge.within}))


main()
