"""The haul's linear model solved a second time, by scipy's linprog (HiGHS), from the supplies, demands
and costs that the command hands out; built here in another way: the pile's stock is a variable of its own,
when each stage begins and after each work."""

import json
import os
import pathlib
import subprocess
import tempfile
import unittest

import numpy as np
from scipy.optimize import linprog

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = os.environ.get("BRIMLINE", str(ROOT / "target" / "debug" / "brimline"))


def models(path):
    out = subprocess.run([PROGRAM, "soil", str(ROOT / path), "--json"], capture_output=True, check=True)
    return json.loads(out.stdout)["haul_models"]


def least(models):
    """All soils together: they share the machines' hours."""
    # Moments of the pile: what leaves the site when a stage begins, then its works in their order.
    clocks = [
        sorted(
            {(s, -1) for s in range(len(m["stages"]))}
            | {(n["stage"], n["order"]) for n in m["sources"] + m["sinks"]}
        )
        for m in models
    ]
    sizes = [len(m["arcs"]) + len(m["piles"]) * len(c) for m, c in zip(models, clocks)]
    columns = sum(sizes)
    cost = np.zeros(columns)
    equal, right, upper, most = [], [], [], []
    begin = 0
    for model, size, clock in zip(models, sizes, clocks):
        arcs, piles = model["arcs"], len(model["piles"])
        n = begin + len(arcs)
        cost[begin:n] = [a["cost_per_m3"] for a in arcs]

        def row(pick):
            r = np.zeros(columns)
            r[begin:n] = [pick(a) for a in arcs]
            return r

        for i, s in enumerate(model["sources"]):
            equal.append(row(lambda a: a["kind"] in ("direct", "to_pile", "off") and a["from"] == i))
            right.append(s["bank_m3"])
        for j, t in enumerate(model["sinks"]):
            equal.append(row(lambda a: a["kind"] in ("direct", "from_pile", "in") and a["to"] == j))
            right.append(t["bank_m3"])
        def when(a):
            """The moment at which soil comes onto the pile or leaves it."""
            if a["kind"] == "to_pile":
                return a["stage"], model["sources"][a["from"]]["order"]
            if a["kind"] == "from_pile":
                return a["stage"], model["sinks"][a["to"]]["order"]
            return a["stage"], -1

        for p in range(piles):
            placed = model["piles"][p]["at"] is not None
            for t, moment in enumerate(clock):
                here = n + p * len(clock) + t
                taken = row(lambda a: a["kind"] in ("from_pile", "pile_off") and a["from"] == p and when(a) == moment)
                brought = row(lambda a: a["kind"] == "to_pile" and a["to"] == p and when(a) == moment)
                # stock[t] = stock[t-1] - taken + brought, and no stock is negative.
                r = taken - brought
                r[here] = 1
                if t > 0:
                    r[here - 1] = -1
                equal.append(r)
                right.append(0)
                if not placed:
                    # A pile without a place gives only what lay there before the stage: its stock less
                    # what came in the stage so far.
                    u = row(
                        lambda a: a["kind"] == "to_pile" and a["to"] == p
                        and a["stage"] == moment[0] and when(a) <= moment
                    )
                    u[here] = -1
                    upper.append(u)
                    most.append(0)
            if not model["keeps"]:
                r = np.zeros(columns)
                r[n + p * len(clock) + len(clock) - 1] = 1
                equal.append(r)
                right.append(0)
        # What leaves and comes in each stage is the ledger's, to a cubic centimetre.
        for kinds, amounts in ((("off", "pile_off"), model["off_bank_m3"]), (("in",), model["in_bank_m3"])):
            for s, amount in enumerate(amounts):
                r = row(lambda a: a["kind"] in kinds and a["stage"] == s)
                upper += [r, -r]
                most += [amount + 1e-6, 1e-6 - amount]
        begin += size
    for c, hours in enumerate(models[0]["hours"]):
        if hours is None:
            continue
        for s in range(len(models[0]["stages"])):
            r = np.zeros(columns)
            begin = 0
            for model, size in zip(models, sizes):
                for k, a in enumerate(model["arcs"]):
                    if a["by"] == c and a["stage"] == s:
                        r[begin + k] = a["hours_per_m3"]
                begin += size
            upper.append(r)
            most.append(hours)
    answer = linprog(cost, A_ub=np.array(upper), b_ub=most, A_eq=np.array(equal), b_eq=right, method="highs")
    assert answer.status == 0, answer.message
    return answer.fun


class Haul(unittest.TestCase):
    def check(self, path):
        found = models(path)
        self.assertTrue(found)
        self.assertTrue(all(m["solved"] for m in found))
        best = least(found)
        self.assertAlmostEqual(sum(m["cost"] for m in found), best, delta=1e-7 * max(best, 1))
        return best

    def test_demo(self):
        self.check("surveys/demo.ron")

    def test_metric(self):
        self.check("surveys/terrace-metric.ron")

    def test_one_stage(self):
        """The demo with pond and falls in one stage."""
        text = (ROOT / "surveys/demo.ron").read_text()
        one = text.replace('works: ["pond"]),', 'works: ["pond", "falls", "pipe run"]),')
        one = one.replace('        (name: "falls", works: ["falls", "pipe run"]),\n', "")
        self.assertNotEqual(one, text)
        with tempfile.TemporaryDirectory() as folder:
            job = pathlib.Path(folder) / "one.ron"
            job.write_text(one)
            self.check(job)

    def test_few_hours(self):
        """The demo with one hour of its loader in a stage: dearer, and still the least."""
        free = self.check("surveys/demo.ron")
        text = (ROOT / "surveys/demo.ron").read_text()
        short = text.replace('radius: "5 ft",', 'radius: "5 ft", hours: 1,')
        self.assertNotEqual(short, text)
        with tempfile.TemporaryDirectory() as folder:
            job = pathlib.Path(folder) / "short.ron"
            job.write_text(short)
            self.assertGreater(self.check(job), free * 1.01)


if __name__ == "__main__":
    unittest.main()
