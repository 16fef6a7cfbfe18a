"""Bound-charge-well set for one VRLA cell from the three logs of one 17 Ah battery (arXiv:1902.01771), which lost capacity on the
way: each log has its own capacity factor, everything else is shared."""
import numpy as np
from scipy.optimize import least_squares

from cellsim import Log, simulate

FILES = ["lead17/3p0A.csv", "lead17/2p0A.csv", "lead17/1p0A_a.csv"]
LOGS = [Log(f, cells=6) for f in FILES]
BASE = dict(gain1=0.0, rate0=1.0, rate1=1.0, surface_gain=0.0, exchange_a=0.0, exchange_activation_k=0.0, exchange_alpha=0.0, cold_tail=0.28,
            cold_tail_width=1.0, diffusion_activation_k=5000.0, electrolyte_activation_k=2500.0, series_ohm=0.001, heat_capacity_j_k=830.0,
            cooling_w_k=0.25)
Z = np.array([0, .03, .06, .1, .15, .2, .3, .4, .5, .6, .7, .8, .9, 1.0])
RZ = np.array([0, .1, .2, .35, .5, .75, 1.0])


def model(x):
    """x: ln capacity, gain, tau, Re, R1, tau1, rise; then three capacity factors (ln), then the rises between curve knots (ln)."""
    q, gain, well, ohm, r1, tau1, rise = np.exp(x[:7])
    factors = np.exp([0.0, *x[7:9]])
    u = np.cumsum([x[9], *np.exp(x[10:])])
    return dict(BASE, capacity_as=q * 3600, gain0=gain, diffusion_s=well, electrolyte_ohm=ohm, rc_ohm=r1, rc_s=tau1), factors, \
        (Z, u), (None, (RZ, 1 + rise * (1 - RZ) ** 3), None)


def errors(x):
    p, factors, ocv, shapes = model(x)
    for log, f in zip(LOGS, factors):
        on = log.i > 0.3
        end = log.t[on][-1] + 1
        v, c, z, _ = simulate(dict(p, capacity_as=p["capacity_as"] * f), ocv, log.t, log.i, 1.0, log.c[0], np.mean(log.c), shapes=shapes)
        use = on & (log.t <= end)
        yield log, (v - log.v)[use], z[use]


U0 = np.array([1.86, 1.92, 1.945, 1.965, 1.985, 2.0, 2.025, 2.048, 2.068, 2.085, 2.1, 2.113, 2.127, 2.15])
X0 = np.concatenate([np.log([21.0, .15, 7000, .006, .004, 300, 1.5]), [-.02, -.05], [U0[0]], np.log(np.diff(U0))])
SD = np.concatenate([[.1, .7, .7, .5, .7, .8, .8], [.05, .05], [.1], np.full(len(Z) - 1, .5)])

if __name__ == "__main__":
    fun = lambda x: np.concatenate([*[e / .005 / np.sqrt(len(e)) for _, e, _ in errors(x)], 0.3 * (x - X0) / SD])
    fit = least_squares(fun, X0, diff_step=1e-3, max_nfev=40)
    p, factors, ocv, shapes = model(fit.x)
    for log, e, z in errors(fit.x):
        print(f"  {log.path}: rms {1e3 * np.sqrt(np.mean(e[z > .1] ** 2)):.1f} mV a cell above 10 %, all {1e3 * np.sqrt(np.mean(e ** 2)):.1f}, end charge {z[-1]:.3f}")
    print("capacity factors", factors.round(4))
    print(f"capacity_ah = {p['capacity_as'] / 3600:.3f}\nocv = [" + ", ".join(f"[{a:g}, {b:.4f}]" for a, b in zip(*ocv)) + "]")
    print(f"lag_gain = [{p['gain0']:.4g}, 0.0]\nlag_rate = [1.0, 1.0]\nsurface_gain = 0.0")
    for k in ("diffusion_s", "diffusion_activation_k", "series_ohm", "electrolyte_ohm", "electrolyte_activation_k"):
        print(f"{k} = {p[k]:.4g}")
    print("resistance_shape = [" + ", ".join(f"[{a:g}, {b:.3f}]" for a, b in zip(*shapes[1])) + "]")
    print("exchange_a = 0.0\nexchange_activation_k = 0.0\nexchange_alpha = 0.0")
    for k in ("rc_ohm", "rc_s", "heat_capacity_j_k", "cooling_w_k"):
        print(f"{k} = {p[k]:.4g}")
