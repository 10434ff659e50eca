"""Friction, weirs and full pipes against PyPI `fluids`, and all of it by hand from the formulas.

The demo's figures come from the command line as JSON; the second opinion is reckoned here from the
same inputs. Run by .ci/run in a venv of requirements.txt.
"""

import json
import math
import os
import subprocess
import unittest

import fluids

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
BRIMLINE = os.environ.get("BRIMLINE", os.path.join(ROOT, "target", "debug", "brimline"))
FOOT, GALLON, G = 0.3048, 0.003785411784, 9.80665


def water(job):
    out = subprocess.run(
        [BRIMLINE, "water", os.path.join(ROOT, job), "--json"], capture_output=True, check=True
    )
    return json.loads(out.stdout)


class Flow(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.demo = water("surveys/demo.ron")

    def close(self, found, wanted, relative, what):
        self.assertLessEqual(abs(found - wanted), relative * abs(wanted), f"{what}: {found}, {wanted}")

    def test_darcy_weisbach_with_colebrook(self):
        pump = self.demo["pumps"][0]
        q = pump["flow_wanted_m3_s"]
        for pipe in pump["pipes"]:
            d = pipe["diameter_m"]
            v = q / (math.pi / 4 * d * d)
            re = fluids.Reynolds(V=v, D=d, nu=1.004e-6)
            f = fluids.friction.Colebrook(re, eD=1.5e-6 / d)
            head = f * pump["length_m"] / d * v * v / (2 * G)
            self.close(pipe["velocity_m_s"], v, 1e-12, "velocity")
            self.close(pipe["darcy_weisbach_m"], head, 1e-9, pipe["pipe"])
            # Two empirical formulas for the same smooth pipe: within a tenth.
            self.close(pipe["hazen_williams_m"], head, 0.1, pipe["pipe"])

    def test_francis_contracted(self):
        """USBR Water Measurement Manual, ch. 7: Q = 3.33 (L - 0.2 H) H^1.5 in feet."""
        for cascade in self.demo["cascades"]:
            for lip in cascade["lips"]:
                h, width = lip["francis_m"] / FOOT, lip["width_m"] / FOOT
                q = 3.33 * (width - 0.2 * h) * h**1.5 * FOOT**3
                self.close(q, cascade["flow_m3_s"], 1e-9, lip["pool"])

    def test_full_pipe_by_manning(self):
        for pipe in self.demo["overflows"]:
            d = pipe["diameter_m"]
            v = fluids.open_flow.V_Manning(Rh=d / 4, S=pipe["gradient"], n=0.010)
            self.close(pipe["full_m3_s"], v * math.pi / 4 * d * d, 1e-9, pipe["overflow"])

    def test_rain_on_the_catchment(self):
        """2 in/h on all the water, and 0.4 of it from the ground above."""
        for pipe in self.demo["overflows"]:
            area = pipe["catchment"]["water_m2"] + 0.4 * pipe["catchment"]["ground_m2"]
            self.close(pipe["wanted_m3_s"], 2 * 0.0254 / 3600 * area, 1e-9, "rain")


if __name__ == "__main__":
    unittest.main()
