"""Allocation of circuits to lines: the best that OR-tools CP-SAT finds and proves, against the
answers sent along.

The model is built from the loads as entered, not from the answers: one choice of three lines per
circuit on one pole that may move, one choice of two neighbouring poles per circuit on two poles, no
pole taken twice, pairs of circuits on one line or on two. A current
is a phasor; that its magnitude stays below M is written as one inequality per direction, one degree
apart (the magnitude is thereby at most 0.004 % too small, on the solver's side). Currents count in
milliamperes.

Demanded of each answer:
 - its places exist, are held once, keep every wish and every circuit that has to stay, and lead to
   the currents it claims;
 - the largest line current is not above the solver's by more than 0.1 A (a clamp meter tells no
   more), and its lower bound not above it;
 - where the solver proves the neutral to be least among allocations with the same largest current,
   to 0.1 A, and the answer says that its own is proven: not above it by more than 0.1 A.
Where the solver runs out of time its best so far is compared, and an answer counts as settled where
it is not above the solver's lower bound by more than 0.1 A.

Usage: balance.py cases.json [seconds per board and stage]. Prints one line of JSON; stops with the
first differences.
"""

import json
import sys
import time

import numpy as np
from ortools.sat.python import cp_model

STEP = 0.1
SCALE = 1000
TURN = np.exp(-2j * np.pi / 3 * np.arange(3))
SECONDS = 0.4
# Ten milliamperes: a tenth of what is allowed.
GAP = 10.0


def line_of(pole):
    return int(pole.split("L")[1]) - 1


def own_current(circuit, volts):
    """A load's current against the voltage that drives it: complex, lagging is negative."""
    factor = circuit["factor"]
    if circuit["amps"] is not None:
        size = circuit["amps"]
    else:
        across = {1: volts, 2: np.sqrt(3) * volts, 3: 3 * volts}[len(circuit["poles"])]
        size = circuit["watts"] * (circuit["demand"] or 1) / (circuit["efficiency"] or 1) / factor / across
    return size * np.exp(-1j * np.arccos(factor))


class Board:
    def __init__(self, case):
        self.case = case
        circuits = case["circuits"]
        self.currents = [own_current(circuit, case["volts"]) for circuit in circuits]
        fixed = set(case["fixed"])
        self.free = [i for i, one in enumerate(circuits) if len(one["poles"]) == 1 and i not in fixed]
        self.twos = [i for i, one in enumerate(circuits) if len(one["poles"]) == 2 and i not in fixed]
        self.stay = [i for i in range(len(circuits)) if i not in set(self.free) | set(self.twos)]
        self.base, self.base_neutral = np.zeros(3, complex), 0j
        held = set()
        for i in self.stay:
            lines = [line_of(pole) for pole in circuits[i]["poles"]]
            held.update(circuits[i]["poles"])
            current = self.currents[i]
            if len(lines) == 1:
                # Against its own line's voltage, as all line currents here.
                self.base[lines[0]] += current
                self.base_neutral += current * TURN[lines[0]]
            elif len(lines) == 2:
                self.base += self.between(i, lines)
            else:
                self.base += current
        self.room = [sum(line_of(p) == line and p not in held for p in case["all_poles"]) for line in range(3)]
        self.neighbours = [two for two in case["neighbours"] if not set(two) & held]
        self.after = dict(case["neighbours"])
        # The lines that two neighbouring poles can be on.
        self.spans = sorted({tuple(map(line_of, two)) for two in case["neighbours"]})

    def between(self, i, lines):
        """What a load between two lines puts on each line, against that line's voltage."""
        across = TURN[lines[0]] - TURN[lines[1]]
        flows = self.currents[i] * across / abs(across)
        found = np.zeros(3, complex)
        found[lines[0]] = flows / TURN[lines[0]]
        found[lines[1]] = -flows / TURN[lines[1]]
        return found

    def measure(self, line):
        """Largest line and neutral current; a circuit on two poles is given by both its lines."""
        lines, neutral = self.base.copy(), self.base_neutral
        for i in self.free:
            lines[line[i]] += self.currents[i]
            neutral += self.currents[i] * TURN[line[i]]
        for i in self.twos:
            lines += self.between(i, line[i])
        return max(abs(lines)), abs(neutral)

    def model(self):
        model = cp_model.CpModel()
        on = {i: {line: model.new_bool_var(f"{i}L{line + 1}") for line in range(3)} for i in self.free}
        for i in self.free:
            model.add_exactly_one(on[i].values())
        covered = {pole: [] for pole in self.case["all_poles"]}
        for i in self.twos:
            on[i] = {span: model.new_bool_var(f"{i} on {span}") for span in self.spans}
            seats = {tuple(two): model.new_bool_var(f"{i} at {two[0]}") for two in self.neighbours}
            model.add_exactly_one(seats.values())
            for span in self.spans:
                model.add(sum(v for two, v in seats.items() if tuple(map(line_of, two)) == span) == on[i][span])
            for two, taken in seats.items():
                for pole in two:
                    covered[pole].append(taken)
        for taken in covered.values():
            model.add_at_most_one(taken)
        for line in range(3):
            two = [v for pole, taken in covered.items() if line_of(pole) == line for v in taken]
            model.add(sum(on[i][line] for i in self.free) + sum(two) <= self.room[line])
        standing = {i: line_of(self.case["circuits"][i]["poles"][0]) for i in self.stay}

        def at(i, line):
            return on[i][line] if i in on else int(standing[i] == line)

        for a, b in self.case["together"]:
            for line in range(3):
                model.add(at(a, line) == at(b, line))
        for a, b in self.case["apart"]:
            for line in range(3):
                model.add(at(a, line) + at(b, line) <= 1)
        return model, on

    def parts(self, on, line):
        """Each choice with the current that it puts on a line."""
        single = [(on[i][line], self.currents[i]) for i in self.free]
        two = [(on[i][span], self.between(i, span)[line]) for i in self.twos for span in self.spans if line in span]
        return single + two

    def below(self, model, on, most, line):
        """|current of the line| <= most, by every direction that can matter."""
        parts = self.parts(on, line)
        angles = np.angle([part for part in [self.base[line], *(c for _, c in parts)] if abs(part) > 0] or [1.0])
        low, high = int(np.floor(np.degrees(angles.min()))), int(np.ceil(np.degrees(angles.max())))
        for degrees in range(low, high + 1):
            to = np.exp(-1j * np.radians(degrees))
            project = lambda part: int(round((part * to).real * SCALE))
            model.add(project(self.base[line]) + sum(project(c) * v for v, c in parts) <= most)

    def neutral_below(self, model, on, most):
        for degrees in range(0, 360):
            to = np.exp(-1j * np.radians(degrees))
            project = lambda part: int(round((part * to).real * SCALE))
            terms = [
                project(self.currents[i] * TURN[line]) * on[i][line] for i in self.free for line in range(3)
            ]
            model.add(project(self.base_neutral) + sum(terms) <= most)

    def solve(self, model, on, seconds, hint):
        model.clear_hints()
        for i, choices in on.items():
            for choice, variable in choices.items():
                model.add_hint(variable, int(hint[i] == choice))
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = seconds
        solver.parameters.num_workers = 2
        solver.parameters.absolute_gap_limit = GAP
        began = time.perf_counter()
        status = solver.solve(model)
        took = time.perf_counter() - began
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, False, 0.0, took
        line = {i: next(l for l, v in choices.items() if solver.boolean_value(v)) for i, choices in on.items()}
        bound = solver.best_objective_bound / SCALE
        return line, status == cp_model.OPTIMAL, bound, took


def kept(board, number):
    """What is wrong with the places of an answer."""
    case = board.case
    places, circuits = case["ours"]["places"], case["circuits"]
    wrong = []
    held = [pole for i in board.stay for pole in circuits[i]["poles"]] + [places[i] for i in board.free]
    held += [pole for i in board.twos for pole in (places[i], board.after.get(places[i]))]
    if len(set(held)) != len(held) or not set(held) <= set(case["all_poles"]):
        wrong.append("a pole is held twice or does not exist")
    for i in board.stay:
        if places[i] != circuits[i]["poles"][0]:
            wrong.append(f"circuit {i} had to stay")
    for a, b in case["together"]:
        if line_of(places[a]) != line_of(places[b]):
            wrong.append(f"circuits {a} and {b} belong together")
    for a, b in case["apart"]:
        if line_of(places[a]) == line_of(places[b]):
            wrong.append(f"circuits {a} and {b} belong apart")
    return [f"board {number}: {text}" for text in wrong]


def main():
    cases = json.load(open(sys.argv[1]))
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else SECONDS
    wrong = []
    tally = dict(
        largest_settled=0, largest_proven=0, largest_proven_by_ours=0, neutral_proven=0, neutral_proven_by_ours=0,
        neutral_compared=0, neutral_worse_unproven=0, worst_largest=0.0, worst_neutral=0.0, seconds=0.0,
        ours_seconds=0.0,
    )
    for number, case in enumerate(cases):
        board, ours = Board(case), case["ours"]
        found = kept(board, number)
        wrong += found
        if found:
            continue
        line = {i: line_of(ours["places"][i]) for i in board.free}
        line |= {i: (line_of(ours["places"][i]), line_of(board.after[ours["places"][i]])) for i in board.twos}
        largest, neutral = board.measure(line)
        for what, claimed, real in (("largest", ours["largest"], largest), ("neutral", ours["neutral"], neutral)):
            if abs(claimed - real) > 1e-6:
                wrong.append(f"board {number}: {what} {claimed} A is claimed, {real} A it is")
        today = {i: line_of(case["circuits"][i]["poles"][0]) for i in board.free}
        today |= {i: tuple(map(line_of, case["circuits"][i]["poles"])) for i in board.twos}

        model, on = board.model()
        most = model.new_int_var(0, 10_000_000, "largest")
        for each in range(3):
            board.below(model, on, most, each)
        model.minimize(most)
        theirs, proven, bound, took = board.solve(model, on, seconds, today)
        tally["seconds"] += took
        tally["ours_seconds"] += ours["seconds"]
        tally["largest_proven"] += proven
        tally["largest_proven_by_ours"] += ours["largest_proven"]
        tally["neutral_proven_by_ours"] += ours["neutral_proven"]
        if theirs is None:
            continue
        best, _ = board.measure(theirs)
        tally["worst_largest"] = max(tally["worst_largest"], largest - best)
        tally["largest_settled"] += int(largest <= bound + STEP)
        if largest > best + STEP + 1e-6:
            wrong.append(f"board {number}: largest {largest} A, the solver has {best} A")
        if ours["bound"] > best + 1e-6:
            wrong.append(f"board {number}: bound {ours['bound']} A, the solver has {best} A")

        # Among allocations in the same step of the largest current, the least neutral.
        model, on = board.model()
        step = int(np.ceil(largest / STEP - 1e-6) * STEP * SCALE + 0.5)
        for each in range(3):
            board.below(model, on, step, each)
        most = model.new_int_var(0, 10_000_000, "neutral")
        board.neutral_below(model, on, most)
        model.minimize(most)
        theirs, proven, bound, took = board.solve(model, on, seconds, line)
        tally["seconds"] += took
        tally["neutral_proven"] += proven
        if theirs is None:
            continue
        best_largest, best_neutral = board.measure(theirs)
        if best_largest > step / SCALE + 0.02:
            continue
        worse = neutral - best_neutral
        if ours["neutral_proven"]:
            tally["neutral_compared"] += proven
            tally["worst_neutral"] = max(tally["worst_neutral"], worse)
            if worse > STEP + 1e-6:
                wrong.append(f"board {number}: neutral {neutral} A is said to be proven, the solver has {best_neutral} A")
        elif worse > STEP:
            tally["neutral_worse_unproven"] += 1
    if wrong:
        print(f"{len(wrong)} differences; so far {tally}")
        print("\n".join(wrong[:8]))
        sys.exit(1)
    tally["ratio"] = tally["seconds"] / tally["ours_seconds"]
    print(json.dumps({"compared": len(cases), **tally}, default=float))


main()
