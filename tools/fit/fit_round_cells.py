"""Bound-charge-well sets for alkaline, iron-disulfide and nickel AA cells from published delivered capacities and rating tests.
Usage: fit_round_cells.py alkaline|lithium-iron-disulfide|nimh|nimh-lsd"""
import sys

import numpy as np
from scipy.optimize import least_squares

from cellsim import bench

H, D = 3600.0, 86400.0
# (kind, value, cut-off V, duty, which of s/Ah, target, relative spread): published points, see docs/model.md.
TARGETS = {
    "alkaline": [
        ("A", .025, .8, [], "Ah", 3.0, .03), ("A", .1, .8, [], "Ah", 2.2, .04), ("A", .5, .8, [], "Ah", 1.4, .06),
        ("A", 1.0, .8, [], "Ah", 1.0, .10), ("A", .5, .8, [(2 * H, D)], "Ah", 2.0, .06), ("W", .675, 1.0, [], "h", 1.8, .06),
        ("ohm", 43, .9, [(4 * H, D)], "h", 78, .2), ("ohm", 24, 1.0, [(15, 60), (8 * H, D)], "h", 40, .2),
        ("A", .1, .9, [(1 * H, D)], "h", 22, .2), ("ohm", 3.9, .8, [(1 * H, D)], "h", 6.8, .2)],
    "lithium-iron-disulfide": [
        ("A", .025, .9, [], "Ah", 3.1, .05), ("A", 1.0, .9, [], "Ah", 2.95, .04), ("A", 2.0, .9, [], "Ah", 2.75, .06),
        ("W", .675, 1.0, [], "h", 6.15, .02)],
    "nimh": [
        ("A", .5, 1.0, [], "Ah", 2.5, .01), ("A", 2.5, 1.0, [], "Ah", 2.2, .02), ("W", .675, 1.0, [], "h", 4.3, .03)],
    "nimh-lsd": [
        ("A", .4, 1.0, [], "Ah", 2.0, .01), ("A", 2.0, 1.0, [], "Ah", 1.78, .02)],
}
BASE = dict(gain1=0.0, rate0=1.0, rate1=1.0, surface_gain=0.0, exchange_a=0.0, exchange_activation_k=0.0, exchange_alpha=0.0,
            cold_tail=0.0, cold_tail_width=0.2, diffusion_activation_k=3000.0)
CURVES = {  # z, V at rest; from memory, bent by "bend" below
    "alkaline": [[0, .80], [.02, .96], [.05, 1.05], [.1, 1.12], [.2, 1.19], [.3, 1.235], [.4, 1.27], [.5, 1.30], [.6, 1.33], [.7, 1.37],
                 [.8, 1.42], [.9, 1.49], [1, 1.61]],
    "lithium-iron-disulfide": [[0, .90], [.02, 1.20], [.05, 1.40], [.1, 1.48], [.2, 1.52], [.3, 1.535], [.4, 1.545], [.5, 1.555],
                               [.55, 1.575], [.6, 1.62], [.7, 1.66], [.8, 1.69], [.9, 1.72], [1, 1.80]],
    "nimh": [[0, .95], [.02, 1.10], [.05, 1.19], [.1, 1.235], [.2, 1.268], [.3, 1.282], [.4, 1.29], [.5, 1.296], [.6, 1.302], [.7, 1.309],
             [.8, 1.319], [.9, 1.342], [1, 1.42]],
}
CURVES["nimh-lsd"] = CURVES["nimh"]
START = {  # capacity Ah, well gain, well seconds, Re, resistance rise at empty
    "alkaline": (3.05, 1.0, 9000, .12, 3.0), "lithium-iron-disulfide": (3.13, .1, 2500, .08, 1.0),
    "nimh": (2.53, .06, 1500, .020, 1.0), "nimh-lsd": (2.03, .05, 1500, .018, 1.0)}
FIXED = {  # series, Ee, R1, tau1, heat capacity, cooling
    "alkaline": (.02, 2005.0, .08, 90.0, 24.0, .05), "lithium-iron-disulfide": (.06, 1500.0, .03, 35.0, 15.0, .05),
    "nimh": (.008, 3500.0, .008, 35.0, 26.0, .05), "nimh-lsd": (.007, 3500.0, .007, 35.0, 25.0, .05)}
COLD = {  # from memory
    "alkaline": dict(cold_tail=.18, cold_tail_width=1.0, diffusion_activation_k=3000.0), "lithium-iron-disulfide": {},
    "nimh": dict(cold_tail=.08, cold_tail_width=1.0, diffusion_activation_k=5000.0),
    "nimh-lsd": dict(cold_tail=.08, cold_tail_width=1.0, diffusion_activation_k=5000.0)}
SPREAD = np.array([.03, .7, .7, .35, 1.0])  # how loosely the start holds each, ln


def cell(which, x):
    q, gain, well, ohm, rise = np.exp(x)
    m, ee, r1, tau1, heat, cool = FIXED[which]
    p = dict({**BASE, **COLD[which]}, capacity_as=q * H, gain0=gain, diffusion_s=well, series_ohm=m, electrolyte_ohm=ohm, electrolyte_activation_k=ee,
             rc_ohm=r1, rc_s=tau1, heat_capacity_j_k=heat, cooling_w_k=cool)
    ocv = np.array(CURVES[which]).T
    z = np.array([0, .1, .2, .35, .5, .75, 1.0])
    return p, (ocv[0].copy(), ocv[1].copy()), (None, (z, 1 + rise * (1 - z) ** 3), None)


def answers(which, x):
    p, ocv, shapes = cell(which, x)
    for kind, value, stop, duty, what, target, spread in TARGETS[which]:
        r = bench(p, ocv, kind, value, stop, duty, t_c=20.0 if which.startswith("nimh") else 21.0, shapes=shapes)
        yield (r[2] if what == "Ah" else r[1] / H), target, spread


if __name__ == "__main__":
    which = sys.argv[1]
    x0 = np.log(START[which])
    fun = lambda x: np.array([*(np.log(max(g, 1e-3) / t) / s for g, t, s in answers(which, x)), *((x - x0) / SPREAD)])
    fit = least_squares(fun, x0, diff_step=1e-2, max_nfev=25)
    for (kind, value, stop, duty, what, *_), (got, target, _) in zip(TARGETS[which], answers(which, fit.x)):
        print(f"  {value:g} {kind} to {stop} V, duty {duty}: {got:.2f} {what}, aimed at {target}")
    p, ocv, shapes = cell(which, fit.x)
    print(f"capacity_ah = {p['capacity_as'] / H:.3f}")
    print("ocv = [" + ", ".join(f"[{a:g}, {b:.3f}]" for a, b in zip(*ocv)) + "]")
    print(f"lag_gain = [{p['gain0']:.4g}, 0.0]\nlag_rate = [1.0, 1.0]\nsurface_gain = 0.0")
    for k in ("diffusion_s", "diffusion_activation_k", "cold_tail", "cold_tail_width", "series_ohm", "electrolyte_ohm", "electrolyte_activation_k"):
        print(f"{k} = {p[k]:.4g}")
    print("resistance_shape = [" + ", ".join(f"[{a:g}, {b:.3f}]" for a, b in zip(*shapes[1])) + "]")
    print("exchange_a = 0.0\nexchange_activation_k = 0.0\nexchange_alpha = 0.0")
    for k in ("rc_ohm", "rc_s", "heat_capacity_j_k", "cooling_w_k"):
        print(f"{k} = {p[k]:.4g}")
