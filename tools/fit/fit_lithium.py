"""Fits the lithium cell sets to logged discharges. Usage: fit_lithium.py nca|nmc|nmc21700 [--leave FILE ...]

Prints the error on every log (those left out too) and the set as it stands in chemistry.toml."""
import sys

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import least_squares

import cellsim
from cellsim import Log, simulate

GAS = 8.31446261815324 / 96485.33212331002
GAIN, RATE, SURFACE = 2.0 / 3.0, (20.19, 59.68), 0.0225
KNOTS = np.array([0, .004, .008, .012, .02, .03, .045, .06, .08, .10, .125, .15, .175, .2, .225, .25, .275, .3, .35, .4, .45,
                  .5, .55, .6, .65, .7, .75, .8, .85, .9, .94, .97, .985, 1.0])


EXCHANGE_Z = np.array([-.05, 0, .03, .07, .12, .2, .3, .4, .5, .65, .8, .92, 1.0, 1.05])
EXCHANGE_NAMES = [f"exchange_{100 * z:g}" for z in EXCHANGE_Z[1:-1] if z != .5]  # ln of i0 over i0 at half charge
RESISTANCE_Z = np.array([0, .05, .1, .15, .2, .3, .4, .5, .6, .8, 1.0])
DIFFUSION_Z = np.array([-.1, 0, .03, .06, .1, .15, .2, .3, .4, .5, .7, 1.0])


def exchange_knots(p):
    y = np.exp([0.0 if z == .5 else p[f"exchange_{100 * z:g}"] for z in EXCHANGE_Z[1:-1]])
    return np.concatenate([[y[0]], y, [y[-1]]])


def exchange_share(p, zs):
    """i0 over surface charge, relative to half charge; the curve of the engine (same slopes as scipy's PCHIP)."""
    return PchipInterpolator(EXCHANGE_Z, exchange_knots(p))(np.clip(zs, EXCHANGE_Z[0], EXCHANGE_Z[-1]))


def diffusion_shape(p, z):
    """td over charge: 1 + k / (1 + (z / w)^2)."""
    return 1 + p["diffusion_rise"] / (1 + (np.maximum(z, 0) / p["diffusion_width"]) ** 2)


def resistance_shape(p, z):
    """Re over charge: 1 + r (1 - z)^2."""
    return 1 + p["resistance_rise"] * (1 - z) ** p["resistance_power"]


def shapes(p):
    return ((DIFFUSION_Z, diffusion_shape(p, DIFFUSION_Z)) if p["diffusion_rise"] else None,
            (RESISTANCE_Z, resistance_shape(p, RESISTANCE_Z)) if p["resistance_rise"] else None, (EXCHANGE_Z, exchange_knots(p)))


def total_lag_s(p, z):
    return (GAIN * (1 / RATE[0] + 1 / RATE[1]) + SURFACE) * p["diffusion_s"] * diffusion_shape(p, z)


def capacity_from_slow(log, p):
    """Q such that the slow discharge ends at surface charge 0."""
    i = np.mean(log.i[log.i > 0])
    q = log.q[-1]
    for _ in range(20):
        q = log.q[-1] + total_lag_s(p, 1 - log.q[-1] / q) * i
    return q


def ocv_from_slow(log, p, knots=KNOTS, full_v=None):
    """U(zs) from a slow constant discharge: the model's own overpotentials added back to the measured volts."""
    i = np.mean(log.i[log.i > 0])
    z = 1 - log.q / p["capacity_as"]
    t = log.t - log.t[0]
    slow = diffusion_shape(p, z)
    zs = z - SURFACE * p["diffusion_s"] * slow * i / p["capacity_as"]
    for rate in RATE:
        tau = p["diffusion_s"] * slow / rate
        zs = zs - GAIN * i / p["capacity_as"] * tau * (1 - np.exp(-t / tau))
    a = 1 / (np.mean(log.c) + 273.15) - 1 / 298.15
    warm = np.exp(p["electrolyte_activation_k"] * a)
    u = log.v + i * (p["series_ohm"] + warm * (p["electrolyte_ohm"] * resistance_shape(p, np.clip(z, 0, 1)) + p["rc_ohm"] * (1 - np.exp(-t / p["rc_s"]))))
    i0 = p["exchange_a"] * np.exp(-p["exchange_activation_k"] * a) * exchange_share(p, zs)
    u = u + 2 * GAS * (np.mean(log.c) + 273.15) * np.arcsinh(i / (2 * i0))
    order = np.argsort(zs)
    v = np.interp(knots, zs[order], u[order])
    if full_v is not None:
        v[-1] = full_v
    return knots, np.maximum.accumulate(v + 1e-6 * np.arange(len(v))), zs[-1]


class Case:
    def __init__(self, path, ambient_c, start_c=None, start_v=None, start_z=1.0, cutoff_v=0.0, capacity=1.0, resistance=1.0,
                 sigma_mv=15.0, weight=1.0, skip_before=None, hppc=False, heat=True):
        self.log = Log(path, skip_before=skip_before)
        self.path, self.ambient_c, self.cutoff_v = path, ambient_c, cutoff_v
        self.start_c = self.log.c[0] if start_c is None else start_c
        self.start_v, self.start_z = start_v, start_z
        self.capacity, self.resistance = capacity, resistance
        self.sigma, self.weight, self.hppc, self.heat = sigma_mv * 1e-3, weight, hppc, heat
        n = len(self.log.t)
        if hppc:
            gap = np.where(np.diff(self.log.t) > 200)[0]
            edges = [0, *(gap + 1), n]
            self.parts = [(a, b) for a, b in zip(edges[:-1], edges[1:]) if b - a > 20]
            self.use = np.arange(0, n, max(1, n // 500))
        else:
            self.use = np.arange(0, n, max(1, n // 400))
        self.end_s = None
        if cutoff_v:
            below = np.where(self.log.v <= cutoff_v)[0]
            self.end_s = self.log.t[below[0]] if len(below) else self.log.t[-1]


def aged(p, case):
    p = dict(p)
    p["capacity_as"] *= case.capacity
    p["electrolyte_ohm"] *= case.resistance
    p["rc_ohm"] *= case.resistance
    p["exchange_a"] /= case.resistance
    return p


def run(case, p, ocv):
    p = aged(p, case)
    shape = shapes(p)
    log = case.log
    if case.hppc:
        v, c, z = np.empty(len(log.t)), np.empty(len(log.t)), np.empty(len(log.t))
        for a, b in case.parts:
            z0 = 1 - log.ah[a] * 3600 / p["capacity_as"]
            # Rested at the start of each level: the level's own rest volts set the charge, as the curve has hysteresis.
            if case.start_v == "rest":
                z0 = np.interp(log.v[a], ocv[1], ocv[0])
            v[a:b], c[a:b], z[a:b], _ = simulate(p, ocv, log.t[a:b].copy(), log.i[a:b].copy(), z0, log.c[a], case.ambient_c, shapes=shape)
        good = np.zeros(len(log.t), bool)
        for a, b in case.parts:
            # Only up to the first pulse above about 1C: the later ones run into the cut-off in the cold.
            strong = np.where(log.i[a:b] > 3.2)[0]
            good[a:a + (strong[0] if len(strong) else b - a)] = True
        return v, c, z, -1.0, good
    z0 = case.start_z if case.start_v is None else np.interp(case.start_v, ocv[1], ocv[0])
    v, c, z, end = simulate(p, ocv, log.t, log.i, z0, case.start_c, case.ambient_c, case.cutoff_v, shapes=shape)
    return v, c, z, end, np.ones(len(log.t), bool)


def report(cases, p, ocv):
    for case in cases:
        v, c, z, end, good = run(case, p, ocv)
        top = (z > 0.10) & good
        err = v - case.log.v
        rms = 1e3 * np.sqrt(np.mean(err[top] ** 2))
        mean = 1e3 * np.mean(err[top])
        line = f"  {case.path:32s} rms {rms:6.1f} mV mean {mean:+6.1f}  all {1e3*np.sqrt(np.mean(err[good]**2)):6.1f}"
        line += f"  dT end {c[-1]-case.log.c[-1]:+5.1f} K (rise {case.log.c[-1]-case.log.c[0]:.1f})"
        if case.end_s:
            line += f"  duration {100*((end-case.log.t[0])/(case.end_s-case.log.t[0])-1):+6.2f} %"
        print(line)


# Resistance after 10 s at 0.5C, ohm, by charge and temperature: the pulse tests of doi:10.17632/wykht8y7tg.1.
PULSES = {"nca": [(25, .9, .042), (25, .6, .042), (25, .5, .0365), (25, .3, .039), (25, .2, .044),
                  (10, .9, .068), (10, .6, .055), (10, .5, .051), (10, .3, .058), (10, .2, .088),
                  (0, .9, .113), (0, .6, .082), (0, .5, .080), (0, .3, .103), (0, .2, .200),
                  (-10, .9, .194), (-10, .6, .138), (-10, .5, .138), (-10, .3, .197), (-10, .2, .389),
                  (-20, .9, .314), (-20, .6, .249), (-20, .5, .258), (-20, .3, .384)]}


def pulse_ohm(p, ocv, t_c, z, amps=1.45):
    t, i = np.array([0.0, 0.001, 2, 4, 6, 8, 10]), np.array([0.0, *[amps] * 6])
    v = simulate(p, ocv, t, i, z, t_c, t_c, shapes=shapes(p))[0]
    return (v[0] - v[-1]) / amps


class Fit:
    """Free parameters by name: log for positive scales, linear for others."""

    def __init__(self, base, free, slow, cases, full_v=None, solve_capacity=True):
        self.base, self.free, self.slow, self.cases, self.full_v = base, free, slow, cases, full_v
        self.pulses, self.pulse_weight = [], 0.5

    def params(self, x):
        p = dict(self.base)
        for name, value in zip(self.free, x):
            p[name] = np.exp(value) if name in LOGS else value * 1000.0 if name in KILO else value
        p["capacity_as"] = capacity_from_slow(self.slow, p)
        return p

    def start(self):
        return np.array([np.log(self.base[n]) if n in LOGS else self.base[n] / 1000.0 if n in KILO else self.base[n] for n in self.free])

    def residuals(self, x):
        p = self.params(x)
        ocv = ocv_from_slow(self.slow, p, full_v=self.full_v)[:2]
        out = []
        for case in self.cases:
            v, c, z, end, good = run(case, p, ocv)
            use = case.use[good[case.use] & (z[case.use] > 0.03)]
            w = case.weight / np.sqrt(max(len(use), 1))
            out.append(np.clip((v[use] - case.log.v[use]) / case.sigma, -20, 20) * w)
            if case.heat and not case.hppc:
                out.append((c[use] - case.log.c[use]) / 1.5 * w)
            if case.end_s:
                out.append([case.weight * 100 * ((end - case.log.t[0]) / (case.end_s - case.log.t[0]) - 1) / 2.0])
        for name, (mean, sd) in PRIORS.items():
            if name in p:
                out.append([0.5 * (np.log(max(p[name], 1e-6) / mean) / sd)])
        for t_c, z, ohm in self.pulses:
            out.append([self.pulse_weight * np.log(max(pulse_ohm(p, ocv, t_c, z), 1e-4) / ohm) / 0.1])
        # The exchange curve leans on sqrt(zs (1 - zs)) (a textbook insertion electrode), loosely, and on smoothness.
        z = EXCHANGE_Z[1:-1]
        d = np.log(exchange_knots(p)[1:-1]) - EXCHANGE_ALPHA * np.log(4 * np.maximum(z * (1 - z), 0.01))
        out.append(0.5 * d / EXCHANGE_SD)
        out.append(np.diff(np.diff(d) / np.diff(z)) * EXCHANGE_SMOOTH)
        # A capped number of entries can change with z: pad to a constant length.
        flat = np.concatenate(out)
        return np.pad(flat, (0, self.length - len(flat)))

    def solve(self, verbose=0):
        self.length = sum(2 * len(c.use) + 1 for c in self.cases) + len(PRIORS) + len(self.pulses) + 2 * len(EXCHANGE_Z)
        fit = least_squares(self.residuals, self.start(), method="trf", x_scale="jac", diff_step=1e-3, max_nfev=60, verbose=verbose)
        return self.params(fit.x), fit


EXCHANGE_ALPHA, EXCHANGE_SD, EXCHANGE_SMOOTH = 0.5, 1.0, 0.03
LOGS = {"resistance_rise", "resistance_power", "cold_tail_width", "diffusion_rise", "diffusion_width", "diffusion_s", "series_ohm", "electrolyte_ohm", "exchange_a", "rc_ohm", "rc_s", "heat_capacity_j_k", "cooling_w_k"}
KILO = {"diffusion_activation_k", "electrolyte_activation_k", "exchange_activation_k"}
PRIORS = {"heat_capacity_j_k": (42.0, 0.2), "diffusion_activation_k": (3500.0, 0.5), "electrolyte_activation_k": (2500.0, 0.5),
          "exchange_activation_k": (6000.0, 0.4), "series_ohm": (0.015, 0.7), "electrolyte_ohm": (0.008, 0.9),
          "rc_ohm": (0.006, 1.0), "rc_s": (35.0, 0.8)}
BASE = dict(capacity_as=2.995 * 3600, gain0=GAIN, gain1=GAIN, rate0=RATE[0], rate1=RATE[1], surface_gain=SURFACE,
            diffusion_s=4000.0, diffusion_activation_k=3500.0, series_ohm=0.015, electrolyte_ohm=0.008,
            electrolyte_activation_k=2500.0, exchange_a=2.5, exchange_activation_k=6000.0, exchange_alpha=0.5, 
            **{n: 0.5 * np.log(4 * max((z := float(n.split("_")[1]) / 100) * (1 - z), 0.01)) for n in EXCHANGE_NAMES}, diffusion_rise=0.0, diffusion_width=0.15, cold_tail=0.0, cold_tail_width=0.2, resistance_rise=0.0, resistance_power=2.0, rc_ohm=0.006,
            rc_s=35.0, heat_capacity_j_k=42.0, cooling_w_k=0.07)
FREE = ["diffusion_s", "diffusion_activation_k", "series_ohm", "electrolyte_ohm", "electrolyte_activation_k", "exchange_a",
        "exchange_activation_k", "rc_ohm", "heat_capacity_j_k", "cooling_w_k", *EXCHANGE_NAMES, "cold_tail", "rc_s"]


def nca_cases():
    """The 25 C C/20 run gives only the shape of the open-circuit curve: by coulombs it disagrees with every other run (rest
    volts of the pulse test lie 10-70 mV under its loaded volts), so the others carry one capacity, 0.965 of it."""
    f, c = "nca18650/", 0.965
    return [
        Case(f + "25C_c20.csv", 25, weight=.3, cutoff_v=2.5, heat=False),
        Case(f + "25C_1C_start1.csv", 25, cutoff_v=2.5, capacity=c),
        Case(f + "25C_hppc.csv", 25, hppc=True, start_v="rest", capacity=c),
        Case(f + "25C_la92.csv", 25, capacity=c), Case(f + "25C_cycle1.csv", 25, capacity=c),
        Case(f + "0C_hppc.csv", 0, hppc=True, start_v="rest", sigma_mv=25, capacity=c),
        Case(f + "0C_us06.csv", 0, sigma_mv=25, capacity=c),
        Case(f + "n10C_hppc.csv", -10, hppc=True, start_v="rest", sigma_mv=40, capacity=c),
        Case(f + "n10C_hwfet.csv", -10, sigma_mv=40, capacity=c),
    ]


def nmc_cases():
    """Measured in the order 25, 40, 10, 0, -10, -20 C, losing about 3 % on the way: 1.8 % by 0 C and 2.4 % by -10 C. The 0.5C
    logs, one sample a minute, begin within the first minute of load."""
    f, a0, a10, late = "nmc18650/", 0.982, 0.976, 0.992
    return [
        Case(f + "25C_c20.csv", 24, weight=.3, cutoff_v=2.8, heat=False),
        Case(f + "25C_0p5C.csv", 24, cutoff_v=2.8, start_z=late), Case(f + "25C_1C.csv", 24, cutoff_v=2.8),
        Case(f + "25C_us06.csv", 24),
        Case(f + "0C_c20.csv", -.5, sigma_mv=25, capacity=a0, cutoff_v=2.8, weight=.5, heat=False),
        Case(f + "0C_1C.csv", -.5, sigma_mv=25, capacity=a0, cutoff_v=2.8),
        Case(f + "0C_us06.csv", -.5, sigma_mv=25, capacity=a0),
        Case(f + "n10C_0p5C.csv", -10, sigma_mv=40, capacity=a10, cutoff_v=2.8, start_z=late),
    ]


def nmc21700_cases():
    f = "nmc21700/"
    return [
        Case(f + "25C_0p1C.csv", 24.5, cutoff_v=2.5, weight=.5, heat=False), Case(f + "25C_1C.csv", 24.6, cutoff_v=2.5),
        Case(f + "0C_0p5C.csv", -.5, start_v=4.1323, cutoff_v=2.5, sigma_mv=25),
        Case(f + "45C_0p5C.csv", 43.1, cutoff_v=2.5),
    ]


# Activation energies seen in the set with five temperatures, as loose priors where a set has only two or three.
NEAR = {"exchange_activation_k": (9000.0, 0.1), "diffusion_activation_k": (5500.0, 0.2), "electrolyte_activation_k": (2100.0, 0.3)}
SMOOTH = {"nmc21700": 0.01}  # how strongly the exchange curve is held smooth, where not EXCHANGE_SMOOTH
SETS = {
    "nca": (nca_cases, "nca18650/25C_c20.csv", dict(diffusion_rise=0.5), 4.178,
            [k for k in FREE if k != "cold_tail"] + ["diffusion_rise"], {}, 0.965),
    "nmc": (nmc_cases, "nmc18650/25C_c20.csv", dict(capacity_as=2.78 * 3600), 4.1927, FREE, NEAR, 1.0),
    "nmc21700": (nmc21700_cases, "nmc21700/25C_0p1C.csv", dict(capacity_as=5.0 * 3600, heat_capacity_j_k=65.0, diffusion_rise=0.5), 4.179,
                 FREE + ["diffusion_rise"],
                 {**NEAR, "heat_capacity_j_k": (65.0, 0.2), "exchange_a": (16.0, 1.0)}, 1.0),
}


def solve(which, leave=()):
    make, slow, extra, full_v, free, priors, capacity = SETS[which]
    global EXCHANGE_SMOOTH
    EXCHANGE_SMOOTH = SMOOTH.get(which, EXCHANGE_SMOOTH)
    PRIORS.update(priors)
    slow = Log(slow)
    cases = make()
    fit = Fit({**BASE, **extra}, free, slow, [c for c in cases if not any(w in c.path for w in leave)], full_v)
    fit.pulses = PULSES.get(which, [])
    p, result = fit.solve()
    return p, ocv_from_slow(slow, p, full_v=full_v)[:2], cases, result, capacity


def toml(p, ocv, capacity):
    number = lambda x: f"{x:.4g}"
    pairs = lambda xs, ys, digits: "[" + ", ".join(f"[{x:g}, {y:.{digits}f}]" for x, y in zip(xs, ys)) + "]"
    print(f"capacity_ah = {p['capacity_as'] * capacity / 3600:.3f}")
    print(f"ocv = {pairs(*ocv, 4)}")
    for name in ["diffusion_s", "diffusion_activation_k", "series_ohm", "electrolyte_ohm", "electrolyte_activation_k", "exchange_a",
                 "exchange_activation_k", "rc_ohm", "rc_s", "heat_capacity_j_k", "cooling_w_k", "cold_tail", "cold_tail_width"]:
        print(f"{name} = {number(p[name])}")
    if p["diffusion_rise"]:
        print(f"diffusion_shape = {pairs(DIFFUSION_Z, diffusion_shape(p, DIFFUSION_Z), 3)}")
    print(f"exchange_shape = {pairs(EXCHANGE_Z, exchange_knots(p), 3)}")


if __name__ == "__main__":
    p, ocv, cases, result, capacity = solve(sys.argv[1], sys.argv[3:] if len(sys.argv) > 3 else [])
    print(f"cost {result.cost:.3f}")
    report(cases, p, ocv)
    for t_c, z, ohm in PULSES.get(sys.argv[1], []):
        print(f"  10 s resistance {t_c} C, charge {z}: measured {1e3 * ohm:.1f} mohm, model {1e3 * pulse_ohm(p, ocv, t_c, z):.1f}")
    toml(p, ocv, capacity)
