"""Charging as docs/model.md and docs/model-recharge.md write it, integrated by SciPy (LSODA, dense enough to be exact here):
independent of the engine but for the parameters. Reads a list of cases as JSON, writes how long each takes and what goes in.

Charging current is negative, as there. A pack: Ns cells in series, Np in parallel, one of the Ns weak by w."""

import json
import math
import sys

from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

R_GAS, FARADAY = 8.31446261815324, 96485.33212331002


def curve(points):
    """Fritsch and Butland's monotone cubic (SciPy's PCHIP), straight beyond both ends."""
    if not points:
        return lambda x: 1.0
    xs, ys = zip(*points)
    inside = PchipInterpolator(xs, ys)
    slope = inside.derivative()
    first, last = float(slope(xs[0])), float(slope(xs[-1]))

    def value(x):
        if x <= xs[0]:
            return ys[0] + first * (x - xs[0])
        if x >= xs[-1]:
            return ys[-1] + last * (x - xs[-1])
        return float(inside(x))

    return value


class Pack:
    def __init__(self, case):
        self.c = case
        self.ocv = curve(case["ocv"])
        self.f_d, self.f_r = curve(case["diffusion_shape"]), curve(case["resistance_shape"])
        self.f_i = curve(case["exchange_shape"]) if case["exchange_shape"] else self.by_alpha

    def by_alpha(self, z):
        q = 4.0 * z * (1.0 - z)
        return (0.5 * (q + math.hypot(q, 0.01))) ** self.c["exchange_alpha"]

    def arrhenius(self, key, kelvin):
        return math.exp(self.c[key] * (1.0 / kelvin - 1.0 / 298.15))

    def cell(self, z, lag, rc_v, transfer_a, kelvin, amps, w):
        """Volts of one cell of w times the capacity, and what of its open volts is lost."""
        c = self.c
        t_d = c["diffusion_s"] * self.f_d(z) * self.arrhenius("diffusion_activation_k", kelvin)
        surface = z - sum(lag) - c["surface_gain"] * t_d * amps / (w * c["capacity_as"])
        reach = surface
        a = 1.0 / kelvin - 1.0 / 298.15
        if a > 0.0 and c["cold_tail"] > 0.0 and surface < c["cold_tail_width"]:
            k = c["cold_tail"] * a / (1.0 / 273.15 - 1.0 / 298.15)
            reach = surface - k * (1.0 - surface / c["cold_tail_width"]) ** 2
        ohm = c["series_ohm"] + c["electrolyte_ohm"] * self.f_r(z) * self.arrhenius("electrolyte_activation_k", kelvin)
        transfer_v = 0.0
        if c["exchange_a"] > 0.0:
            i_0 = c["exchange_a"] * self.f_i(surface) / self.arrhenius("exchange_activation_k", kelvin)
            across = transfer_a if c["exchange_s"] > 0.0 else amps
            transfer_v = c["exchange_electrodes"] * 2.0 * R_GAS * kelvin / FARADAY * math.asinh(across / (2.0 * i_0))
        volts = self.ocv(reach) - amps * ohm - rc_v - transfer_v
        return volts, self.ocv(z)

    def pack(self, y, amps):
        c, w = self.c, self.c["weak"]
        z, z_w, x_0, x_1, rc_v, transfer_a, kelvin = y[:7]
        each = amps / c["parallel"]
        volts, open_v = self.cell(z, (x_0, x_1), rc_v, transfer_a, kelvin, each, 1.0)
        weak_v, weak_open_v = self.cell(z_w, (x_0 / w, x_1 / w), rc_v, transfer_a, kelvin, each, w)
        n = c["series"] - 1
        return n * volts + weak_v - amps * c["electronics_ohm"], n * open_v + weak_open_v

    def current(self, y):
        c = self.c
        q_ah = c["capacity_as"] * c["parallel"] / 3600.0
        most = c["current_a"]
        if c["way"] == "by_coulombs":
            return -most
        taper_ohm = 0.0
        if c["way"] == "three_stages":
            most = min(most, max(0.0, (1.0 - y[0]) * q_ah))  # 1 A for each Ah missing
        else:
            taper_ohm = c["series"] * c["taper_v"] / (q_ah * (1.01 - y[0]))

        def over(amps):
            return self.pack(y, amps)[0] - amps * taper_ohm - c["end_v"]

        if over(-most) <= 0.0:
            return -most
        return brentq(over, -most, 0.0, xtol=1e-12, rtol=1e-13) if over(0.0) < 0.0 else 0.0

    def slope(self, _, y):
        c = self.c
        amps = self.current(y)
        each = amps / c["parallel"]
        z, _, x_0, x_1, rc_v, transfer_a, kelvin = y[:7]
        full = c["way"] != "constant_volts" and z >= 1.0
        kept = 0.0 if full else c["charge_efficiency"]
        rate = c["charge_efficiency"] * each / c["capacity_as"]
        t_d = c["diffusion_s"] * self.f_d(z) * self.arrhenius("diffusion_activation_k", kelvin)
        lags = [(-x * lam / t_d if lam > 0.0 else 0.0) + gain * rate
                for x, gain, lam in zip((x_0, x_1), c["lag_gain"], c["lag_rate"])]
        rc_ohm = c["rc_ohm"] * self.arrhenius("electrolyte_activation_k", kelvin)
        tau_t = c["exchange_s"] * self.arrhenius("exchange_activation_k", kelvin)
        volts, open_v = self.pack(y, amps)
        heat_w = amps * (open_v - volts) - amps * open_v * (1.0 - kept)
        moved = 0.0 if full else -rate
        return [moved, moved / c["weak"], *lags, (rc_ohm * each - rc_v) / c["rc_s"] if rc_ohm > 0.0 else 0.0,
                (each - transfer_a) / tau_t if tau_t > 0.0 else 0.0,
                (heat_w - c["cooling_w_k"] * (kelvin - c["around_k"])) / c["heat_capacity_j_k"], -amps, -amps * volts]

    def charged(self):
        c = self.c
        z = c["charge"]
        begin = [z, z, 0.0, 0.0, 0.0, 0.0, c["start_k"], 0.0, 0.0]
        needed_as = c["put_in"] * (1.0 - z) * c["capacity_as"] * c["parallel"]

        def done(_, y):
            if c["way"] == "by_coulombs":
                return needed_as - y[7]
            return -self.current(y) - c["end_a"]

        done.terminal, done.direction = True, -1
        run = solve_ivp(self.slope, (0.0, 3.0 * 86400.0), begin, "LSODA", events=done, rtol=1e-7, atol=1e-9, max_step=60.0)
        if run.status != 1:
            raise RuntimeError(f"{c['name']}: it does not end: {run.message}")
        return {"name": c["name"], "duration_s": run.t[-1], "put_in_as": run.y[7][-1], "put_in_j": run.y[8][-1],
                "charge": run.y[0][-1], "warmest_k": max(run.y[6])}


json.dump([Pack(case).charged() for case in json.load(sys.stdin)], sys.stdout)
