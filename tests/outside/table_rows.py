"""Rows of the shipped tables worked out again: each row marked "derived" against its residual.

Nothing here reads a row that is from memory. A derivation starts from rows that were read on a
public page, from resistances of IEC 60228, or from the heat balance of a cable:

- Heat balance, IEC 60287-1-1 and 60287-2-1: losses I2R of the loaded conductors, with skin and
  proximity effect, through insulation and sheath to soil, duct or still air. Conductors have the
  diameter of their area; insulation, lay and sheath follow the fictitious method of IEC 60502-1
  annex A. The heat's way from the cores to the sheath is solved as a potential problem, by
  sources at the cores and their images, and not by the standard's curves. Thermal resistivities
  of PVC 5 and XLPE 3.5 K.m/W are read in a public course; insulation and sheath thicknesses and
  the constants of free air (Z, E, g) and of ducts (U, V, Y) are from memory.
- D1: a plastic duct of thickness ratio 21, at least 1.5 times the cable's diameter inside and no
  smaller than 63 mm. This least size is our own choice and the only one: 50 mm moves the smallest
  cables by 2 percent.
- C: the read PVC row of the same size times the ratio of two heat balances.
- Aluminium: the copper row times the root of the ratio of a.c. resistances in the same make.
- XLPE in A2 and B2: the PVC row times what A1 or B1 gains from XLPE; both rows read.
- Grouped cables in the ground: images of IEC 60287-2-1 in one row, the hottest cable, the mean
  over the sizes of the capacity tables as the standard says of its own.
- Ambient, soil, depth: roots of ratios of temperature differences or of thermal resistances.
- k: the formula of IEC 60364-5-54 table A.54.1, on read constants or the read row beside.

Agreement within the limit says that two ways meet, not that the standard prints the figure.

Usage: table_rows.py cases.json, a list of {"table", "line", "row"}. Prints one line of JSON; stops
with the first rows whose residual differs or passes the limit.
"""

import functools
import json
import math
import sys

import numpy as np

LIMIT = 5.0
"""Largest residual of a derived row, in percent."""

RHO20 = {"Cu": 17.241, "Al": 28.264}
ALPHA20 = {"Cu": 0.00393, "Al": 0.00403}
HOT = {"PVC70": 70.0, "XLPE90": 90.0}
THERMAL = {"PVC70": 5.0, "XLPE90": 3.5, "sheath": 5.0}
SIZES = [1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120, 150, 185, 240, 300, 400, 500, 630]
THICK = {
    "PVC70": [0.8, 0.8, 1, 1, 1, 1, 1.2, 1.2, 1.4, 1.4, 1.6, 1.6, 1.8, 2, 2.2, 2.4, 2.6, 2.8, 2.8],
    "XLPE90": [0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.9, 0.9, 1, 1.1, 1.1, 1.2, 1.4, 1.6, 1.7, 1.8, 2, 2.2, 2.4],
}
LAID_UP = {1: 1.0, 2: 2.0, 3: 2.16}
DUCTS = [(63, 3.0), (75, 3.6), (90, 4.3), (110, 5.3), (125, 6.0), (160, 7.7), (200, 9.6)]
DUCT_WALL = 6.0
UVY = (1.87, 0.312, 0.0037)
SOIL, DEPTH, GROUND, AIR = 2.5, 0.7, 20.0, 30.0
FREE = {
    "E": (0.21, 3.94, 0.60),
    "C": (1.69, 0.63, 0.25),
    "F": (0.29, 2.35, 0.50),
    "F_trefoil": (0.96, 1.25, 0.20),
    "F_flat": (0.62, 1.95, 0.25),
    "G_horiz": (0.21, 3.94, 0.60),
    "G_vert": (1.31, 2.00, 0.20),
}

RESISTANCE = {}
"""Ohm/m at 20 C by (material, class, size), the rows that were read."""

CAPACITY = {}
"""Amperes by (material, insulation, loaded, method, size), the rows that were read."""


def cold(material, size):
    for grade in ("2", "1"):
        if (material, grade, size) in RESISTANCE:
            return RESISTANCE[material, grade, size]
    return cold("Cu", size) * RHO20["Al"] / RHO20["Cu"]


def resistance(material, size, hot, near, three):
    """Ohm/m at 50 Hz; near = conductor's diameter over the distance of axes."""
    plain = cold(material, size) * (1 + ALPHA20[material] * (hot - 20))
    x = (8e-7 * math.pi * 50 / plain) ** 2
    skin = x / (192 + 0.8 * x)
    beside = skin * near**2 * (0.312 * near**2 + 1.18 / (skin + 0.27)) if three else 2.9 * skin * near**2
    return plain * (1 + skin + beside)


def make(insulation, size, cores):
    """Diameters of conductor, core, laid-up cores and cable, mm."""
    conductor = math.sqrt(4 * size / math.pi)
    core = conductor + 2 * THICK[insulation][SIZES.index(size)]
    laid = LAID_UP[cores] * core
    return conductor, core, laid, laid + 2 * max(1.4 if cores == 1 else 1.8, 0.035 * laid + 1)


@functools.lru_cache(maxsize=None)
def shape(cores, conductor, core):
    """Heat per kelvin and unit of conductivity from all cores to the circle around them (radius 1).

    Every core carries the same source and the same multipoles, turned with its place; each has its
    image in the circle. The coefficients make core 0 an isotherm.
    """
    away = core / math.sin(math.pi / cores)
    edge = away + conductor * np.exp(1j * np.linspace(0, 2 * math.pi, 120, endpoint=False))
    mirror = 1 / np.conj(edge)
    turns = [np.exp(2j * math.pi * k / cores) for k in range(cores)]
    columns = [sum(np.log(np.abs((1 - np.conj(away * turn) * edge) / (edge - away * turn))) for turn in turns)]
    for order in range(1, 13):
        pole = [lambda at, turn=turn: np.real((conductor * turn / (at - away * turn)) ** order) for turn in turns]
        columns.append(sum(one(edge) - one(mirror) for one in pole))
    found = np.linalg.lstsq(np.array(columns).T, np.ones(edge.size), rcond=None)[0]
    return 2 * math.pi * cores * found[0]


def shell(rho, outer, inner):
    return rho / (2 * math.pi) * math.log(outer / inner)


def inside(insulation, size, cores):
    """K.m/W from the conductors to the surface, for all the heat of the cable."""
    conductor, core, laid, cable = make(insulation, size, cores)
    if cores == 1:
        first = shell(THERMAL[insulation], core, conductor)
    else:
        first = THERMAL[insulation] / shape(cores, conductor / laid, core / laid)
    return first + shell(THERMAL["sheath"], cable, laid)


def buried(diameter, soil, depth):
    """K.m/W from a surface of this diameter in mm to the ground's surface."""
    u = 2 * depth / (diameter / 1000)
    return soil / (2 * math.pi) * math.log(u + math.sqrt(u * u - 1))


def trefoil(diameter, soil, depth):
    """The same for one of three that touch."""
    u = 2 * depth / (diameter / 1000)
    return buried(diameter, soil, depth) + soil / math.pi * math.log(u)


def in_ground(method, insulation, size, cores, soil=SOIL, depth=DEPTH, around=buried):
    """K.m/W from the conductors to the ground's surface, and the width of cable or duct, mm."""
    first, cable = inside(insulation, size, cores), make(insulation, size, cores)[3]
    if method == "D2":
        return first + around(cable, soil, depth), cable
    duct, wall = next(one for one in DUCTS if one[0] - 2 * one[1] >= 1.5 * cable)
    beyond, through = around(duct, soil, depth), shell(DUCT_WALL, duct, duct - 2 * wall)
    u, v, y = UVY
    mean = 60.0
    for _ in range(40):
        gap = u / (1 + 0.1 * (v + y * mean) * cable)
        total = first + gap + through + beyond
        mean = GROUND + (HOT[insulation] - GROUND) / total * (beyond + through + gap / 2)
    return total, duct


def in_air(insulation, size, cores, law):
    """Heat in W/m that warms the conductors to their limit in still air, by bisection on the surface."""
    z, e, g = law
    cable, way = make(insulation, size, cores)[3], inside(insulation, size, cores)
    rise = HOT[insulation] - AIR
    heat = lambda warm: math.pi * cable / 1000 * (z / (cable / 1000) ** g + e) * warm**1.25
    low, high = 0.0, rise
    for _ in range(60):
        warm = (low + high) / 2
        low, high = (low, warm) if heat(warm) * way + warm > rise else (warm, high)
    return heat(low)


def balance(material, insulation, loaded, method, size):
    """Amperes by the heat balance of one circuit."""
    single = method[0] in "FG"
    cores = 1 if single else loaded
    conductor, core, _, cable = make(insulation, size, cores)
    apart = cable * (2 if method[0] == "G" else 1) if single else core
    if method in ("D1", "D2"):
        heat = (HOT[insulation] - GROUND) / in_ground(method, insulation, size, cores)[0]
    else:
        heat = in_air(insulation, size, cores, FREE[method])
    return math.sqrt(heat / (cores * resistance(material, size, HOT[insulation], conductor / apart, loaded == 3)))


def metals(insulation, loaded, method, size):
    """Aluminium's share of copper's current in the same make."""
    single = method[0] in "FG" or method in ("A1", "B1")
    conductor, core, _, cable = make(insulation, size, 1 if single else loaded)
    near = conductor / (cable * (2 if method[0] == "G" else 1) if single else core)
    of = lambda metal: resistance(metal, size, HOT[insulation], near, loaded == 3)
    return math.sqrt(of("Cu") / of("Al"))


def capacity(row):
    key = row["material"], row["insulation"], int(row["loaded"]), row["method"], float(row["size_mm2"])
    material, insulation, loaded, method, size = key
    if method in ("D1", "D2", "E"):
        return balance(*key)
    if method == "C":
        start = ("Cu", "PVC70", loaded, "C", size)
        return CAPACITY[start] * balance(*key) / balance(*start) if start in CAPACITY else None
    if material == "Al":
        copper = CAPACITY.get(("Cu", *key[1:])) or capacity(row | {"material": "Cu"})
        return copper * metals(*key[1:]) if copper else None
    if method in ("A2", "B2") and insulation == "XLPE90":
        with_pvc = [(kind, one) for kind, one in (("PVC70", method), ("XLPE90", method[0] + "1"), ("PVC70", method[0] + "1"))]
        found = [CAPACITY.get((material, kind, loaded, one, size)) for kind, one in with_pvc]
        return found[0] * found[1] / found[2] if all(found) else None
    return balance(*key) if method[0] in "FG" else None


def everywhere(value, cores=(2, 3), sizes=SIZES[:16]):
    """Mean over the makes and sizes of the capacity tables."""
    return np.mean([value(kind, size, count) for kind in HOT for count in cores for size in sizes])


def neighbours(count, apart):
    """K.m/W that a row of equal neighbours adds to the hottest, axes apart in mm."""
    step = apart / 1000
    adds = lambda i, j: SOIL / (2 * math.pi) * math.log(math.hypot((i - j) * step, 2 * DEPTH) / (abs(i - j) * step))
    return max(sum(adds(i, j) for j in range(count) if j != i) for i in range(count))


def grouping(row):
    """Tables B.52.18 and B.52.19; single-core circuits as three ducts that touch, side by side."""
    method = {"B.52.18": "D2", "B.52.19": "D1"}.get(row["table"])
    if not method:
        return None
    count, single = int(row["n"]), row["arrangement"].startswith("single-core")
    space = row["spacing"]

    def one(kind, size, cores):
        own, width = in_ground(method, kind, size, cores, around=trefoil if single else buried)
        clear = {"touch": 0.0, "d": width}.get(space)
        clear = float(space) * 1000 if clear is None else clear
        more = 3 * neighbours(count, 2 * width + clear) if single else neighbours(count, width + clear)
        return math.sqrt(own / (own + more))

    return everywhere(one, (1,), SIZES[6:16]) if single else everywhere(one)


def ground(row):
    """Table B.52.16 and depths."""
    value, method = float(row["value"]), row["method"]
    way = lambda kind, size, cores, **laid: in_ground(method, kind, size, cores, **laid)[0]
    if row["kind"] == "resistivity":
        return everywhere(lambda *make: math.sqrt(way(*make) / way(*make, soil=value)))
    return everywhere(lambda *make: math.sqrt(way(*make, depth=0.8) / way(*make, depth=value)))


def ambient(row):
    hot, start = HOT[row["insulation"]], AIR if row["medium"] == "air" else GROUND
    return math.sqrt((hot - float(row["temp_c"])) / (hot - start))


def adiabatic(row):
    """k from the limits of temperature; steel by the read row of a separate conductor from 30 C."""
    metal, use = row["material"], row["use"]
    end = {"PVC70": 140 if float(row["over_mm2"]) >= 300 else 160, "XLPE90": 250}[row["insulation"]]
    start = 30 if use == "separate" else HOT[row["insulation"]]
    share = lambda beta, warm: math.log((beta + end) / (beta + warm))
    if metal == "steel":
        read = {"PVC70": 52, "XLPE90": 64}[row["insulation"]]
        return read * math.sqrt(share(202, start) / share(202, 30))
    factor, beta = {"Cu": (226, 234.5), "Al": (148, 228)}[metal]
    return factor * math.sqrt(share(beta, start))


def by_resistivity(row):
    """Stranded aluminium from stranded copper of the same size."""
    return RESISTANCE["Cu", row["class"], float(row["size_mm2"])] * 1000 * RHO20["Al"] / RHO20["Cu"]


def run(row):
    """Conduit terms, the cell that differs most: each bend doubles the run's length."""
    length = float(row["a"]) * 2 ** int(row["b"])
    forms = {"c16": (6000, 30), "c20": (10000, 31), "c25": (19000, 33), "c32": (36000, 36)}
    worst = max(forms, key=lambda size: abs(round(forms[size][0] / (forms[size][1] + length)) / float(row[size]) - 1))
    return round(forms[worst][0] / (forms[worst][1] + length)) / float(row[worst])


DERIVE = {
    "ampacity": (capacity, "amps"),
    "grouping_factor": (grouping, "factor"),
    "soil_factor": (ground, "factor"),
    "ambient_factor": (ambient, "factor"),
    "k_factor": (adiabatic, "k"),
    "conductor_resistance": (by_resistivity, "ohm_per_km"),
    "conduit_terms": (run, None),
}


def residual(table, row):
    """Percent by which the derivation passes the row; None where there is no derivation."""
    derive, column = DERIVE[table]
    found = derive(row)
    return None if found is None else (found / (float(row[column]) if column else 1.0) - 1) * 100


def roots(cases):
    for case in cases:
        row = case["row"]
        if row["checked"] == "read" and case["table"] == "conductor_resistance":
            RESISTANCE[row["material"], row["class"], float(row["size_mm2"])] = float(row["ohm_per_km"]) / 1000
        if row["checked"] == "read" and case["table"] == "ampacity":
            key = row["material"], row["insulation"], int(row["loaded"]), row["method"], float(row["size_mm2"])
            CAPACITY[key] = float(row["amps"])


def against_read():
    """Root mean square in percent, by method, of the plain heat balance against capacities that were read."""
    off = {}
    for key, amps in CAPACITY.items():
        if key[3] in FREE or key[3] in ("D1", "D2"):
            off.setdefault(key[3], []).append((balance(*key) / amps - 1) * 100)
    return {method: round(math.sqrt(np.mean(np.square(all_of))), 2) for method, all_of in sorted(off.items())}


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        cases = json.load(file)
    roots(cases)
    wrong, derived, worst = [], {}, {}
    for case in cases:
        table, row = case["table"], case["row"]
        if row["checked"] != "derived":
            continue
        found = residual(table, row) if table in DERIVE else None
        where = f"{table}, line {case['line']}"
        if found is None:
            wrong.append(f"{where}: no derivation starts from rows that were read; mark it memory")
        elif abs(found) > LIMIT:
            wrong.append(f"{where}: residual {found:+.1f} %, more than {LIMIT:g} %; mark it memory")
        elif abs(found - float(row["residual"])) > 0.051:
            wrong.append(f"{where}: residual {row['residual']} is written, {found:+.1f} found")
        else:
            derived[table] = derived.get(table, 0) + 1
            worst[table] = max(worst.get(table, 0.0), round(abs(found), 1))
    if wrong:
        sys.exit("\n".join(wrong[:20]) + f"\n{len(wrong)} rows differ")
    print(json.dumps({"compared": len(cases), "derived": derived, "worst": worst, "against_read": against_read()}))


if __name__ == "__main__":
    main()
