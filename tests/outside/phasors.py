"""Line and neutral currents of boards, against the answers sent along.

First by phasors with numpy's complex numbers, from the loads as entered: within 1e-6 A, for sums of
some dozens of numbers in double precision. Then, for the first boards on three phases, as an
unbalanced power flow with pandapower behind a stiff source and one metre of heavy cable. There the
loads take constant power, so that a line's current rises as its voltage sinks: with this source
(10 GVA, 1 m of 0.001 ohm/km) the voltage stays within some 1e-5 of nominal, and 0.02 % of the
largest line current, plus a milliampere, is allowed.

Usage: phasors.py cases.json. Prints one line of JSON; stops with the first differences.
"""

import json
import sys
import time
import warnings

warnings.simplefilter("ignore")

import numpy as np

EXACT = 1e-6
FLOWS = 32
TURN = np.exp(-2j * np.pi / 3 * np.arange(3))


def line_of(pole):
    return int(pole.split("L")[1]) - 1 if "L" in pole else 0


def load(circuit, volts, single):
    """Lines it is on and its complex power."""
    lines = [line_of(pole) for pole in circuit["poles"]]
    if single:
        lines = [0]
    factor = circuit["factor"]
    angle = np.arccos(factor)
    across = {1: volts, 2: np.sqrt(3) * volts, 3: 3 * volts}[len(lines)]
    if circuit["amps"] is not None:
        apparent = across * circuit["amps"]
    else:
        apparent = circuit["watts"] / factor * (circuit["demand"] or 1) / (circuit["efficiency"] or 1)
    return lines, apparent * np.exp(1j * angle)


def by_phasors(case):
    """Currents of the lines against a common reference, and what comes back by the neutral."""
    volts = case["volts"] * TURN
    lines, neutral = np.zeros(3, complex), 0j
    for circuit in case["circuits"]:
        where, power = load(circuit, case["volts"], case["single"])
        if len(where) == 1:
            current = np.conj(power / volts[where[0]])
            lines[where[0]] += current
            neutral += current
        elif len(where) == 2:
            current = np.conj(power / (volts[where[0]] - volts[where[1]]))
            lines[where[0]] += current
            lines[where[1]] -= current
        else:
            lines += np.conj(power / 3 / volts)
    return lines, neutral


def by_flow(case):
    import pandapower as pp

    net = pp.create_empty_network(f_hz=50)
    kilovolts = case["volts"] * np.sqrt(3) / 1000
    source, board = pp.create_bus(net, kilovolts), pp.create_bus(net, kilovolts)
    pp.create_ext_grid(
        net, source, s_sc_max_mva=10_000, rx_max=0.1, r0x0_max=0.1, x0x_max=1.0
    )
    pp.create_line_from_parameters(
        net, source, board, 0.001, r_ohm_per_km=0.001, x_ohm_per_km=0.001, c_nf_per_km=0, max_i_ka=1,
        r0_ohm_per_km=0.004, x0_ohm_per_km=0.004, c0_nf_per_km=0,
    )
    star, delta = np.zeros(3, complex), np.zeros(3, complex)
    for circuit in case["circuits"]:
        where, power = load(circuit, case["volts"], False)
        if len(where) == 2:
            # Of a delta the first leg lies between lines 1 and 2, the last between 3 and 1.
            leg = {frozenset((0, 1)): 0, frozenset((1, 2)): 1, frozenset((2, 0)): 2}[frozenset(where)]
            delta[leg] += power
        else:
            star[where] += power / len(where)
    for kind, power in (("wye", star), ("delta", delta)):
        parts = {
            f"{part}_{name}_{unit}": value / 1e6
            for part, unit, values in (("p", "mw", power.real), ("q", "mvar", power.imag))
            for name, value in zip("abc", values)
        }
        pp.create_asymmetric_load(net, board, type=kind, **parts)
    pp.runpp_3ph(net, tolerance_mva=1e-10)
    row = net.res_line_3ph.iloc[0]
    return [row[f"i_{name}_from_ka"] * 1000 for name in "abc"], row["i_n_from_ka"] * 1000


def main():
    cases = json.load(open(sys.argv[1]))
    wrong, worst = [], {"amps": 0.0, "flow_percent": 0.0}

    def check(number, what, ours, theirs, allowed, kind, scale=1.0):
        low, high = ours
        off = max(low - theirs, theirs - high, 0.0)
        worst[kind] = max(worst[kind], off / scale)
        if not (off <= allowed and high - low <= EXACT):
            wrong.append(f"board {number}, {what}: {ours} against {theirs}; {cases[number]}")

    began = time.perf_counter()
    for number, case in enumerate(cases):
        lines, neutral = by_phasors(case)
        own = np.conj(lines / TURN)
        count = 1 if case["single"] else 3
        ours = case["ours"]
        assert len(ours["lines"]) == count, number
        for line in range(count):
            found = ours["lines"][line]
            check(number, f"line {line + 1}", found["size"], abs(lines[line]), EXACT, "amps")
            check(number, f"active {line + 1}", found["active"], own[line].real, EXACT, "amps")
            check(number, f"reactive {line + 1}", found["reactive"], own[line].imag, EXACT, "amps")
        check(number, "neutral", ours["neutral"], abs(neutral), EXACT, "amps")
        sizes = np.abs(lines)
        if ours["unbalance"] is None:
            if count == 3 and sizes.sum() > 0:
                wrong.append(f"board {number}: no unbalance given")
        else:
            mean = sizes.mean()
            check(number, "unbalance", ours["unbalance"], max(abs(sizes - mean)) / mean * 100, EXACT, "amps")
    phasor_seconds = time.perf_counter() - began
    import pandapower  # noqa: F401  (its import is not part of the work that is timed)

    began = time.perf_counter()
    flows = 0
    for number, case in enumerate(cases):
        if case["single"] or flows == FLOWS:
            continue
        lines, neutral = by_flow(case)
        largest = max(lines)
        allowed = 2e-4 * largest + 1e-3
        for line in range(3):
            ours = case["ours"]["lines"][line]["size"]
            check(number, f"flow in line {line + 1}", ours, lines[line], allowed, "flow_percent", largest / 100)
        check(number, "flow in the neutral", case["ours"]["neutral"], neutral, allowed, "flow_percent", largest / 100)
        flows += 1
    if wrong:
        print(f"{len(wrong)} currents differ")
        print("\n".join(wrong[:5]))
        sys.exit(1)
    print(json.dumps({
        "compared": len(cases), "flows": flows, "worst": worst, "phasor_seconds": phasor_seconds,
        "seconds": time.perf_counter() - began,
    }))


main()
