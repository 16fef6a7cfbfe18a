"""The cell equations of src/cell, called from Python (ctypes), and the logged discharges they are fitted to."""
import ctypes
import os
import pathlib
import subprocess

import numpy as np

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
DATA = pathlib.Path(os.environ.get("TILLWRAP_DATA", ROOT.parent / "shared" / "data"))
BUILD = pathlib.Path(os.environ.get("TILLWRAP_FIT_BUILD", ROOT / "build" / "fit"))

NAMES = ["capacity_as", "gain0", "gain1", "rate0", "rate1", "surface_gain", "diffusion_s", "diffusion_activation_k",
         "series_ohm", "electrolyte_ohm", "electrolyte_activation_k", "exchange_a", "exchange_activation_k",
         "exchange_alpha", "rc_ohm", "rc_s", "heat_capacity_j_k", "cooling_w_k", "cold_tail", "cold_tail_width"]


def library():
    BUILD.mkdir(parents=True, exist_ok=True)
    target = BUILD / "libcellsim.so"
    sources = [HERE / "cellsim.cpp", ROOT / "src/cell/cell.cpp", ROOT / "src/cell/pack.cpp",
               ROOT / "src/forecast/bench_run.cpp", ROOT / "src/quantity/curve.cpp"]
    headers = list((ROOT / "src/cell").glob("*.hpp")) + list((ROOT / "src/quantity").glob("*.hpp"))
    if not target.exists() or any(f.stat().st_mtime > target.stat().st_mtime for f in sources + headers):
        subprocess.run(["g++", "-std=c++20", "-O3", "-ffp-contract=off", "-fPIC", "-shared", f"-I{ROOT / 'src'}",
                        *map(str, sources), "-o", str(target)], check=True)
    return ctypes.CDLL(str(target))


_LIB = library()
_D = ctypes.POINTER(ctypes.c_double)


def _ptr(a):
    return a.ctypes.data_as(_D)


class Log:
    """One logged discharge; current positive, one cell."""

    def __init__(self, path, cells=1, skip_before=None):
        d = np.genfromtxt(DATA / path, delimiter=",", names=True)
        if skip_before is not None:
            d = d[d["time_s"] >= skip_before]
        self.path = path
        self.t = np.ascontiguousarray(d["time_s"])
        self.v = np.ascontiguousarray(d["voltage_v"]) / cells
        self.i = np.ascontiguousarray(d["current_a"])
        self.c = np.ascontiguousarray(d["surface_c"])
        self.ah = d["discharged_ah"] if "discharged_ah" in d.dtype.names else None
        self.q = np.concatenate([[0.0], np.cumsum(np.diff(self.t) * (self.i[1:] + self.i[:-1]) / 2)])  # A s


def _cell(params, ocv, shapes):
    p = np.array([params.get(k, 0.0) for k in NAMES])
    z, u = np.ascontiguousarray(ocv[0], float), np.ascontiguousarray(ocv[1], float)
    counts = (ctypes.c_int * 3)(*[0 if s is None else len(s[0]) for s in shapes])
    used = [s for s in shapes if s is not None]
    sx = np.concatenate([s[0] for s in used]).astype(float) if used else np.zeros(1)
    sy = np.concatenate([s[1] for s in used]).astype(float) if used else np.zeros(1)
    return (p, z, u, sx, sy), (_ptr(p), len(z), _ptr(z), _ptr(u), counts, _ptr(sx), _ptr(sy))


def bench(params, ocv, kind, value, stop_v, duty=(), t_c=21.0, shapes=(None, None, None)):
    """kind: "W", "A" or "ohm"; duty: (on, period) pairs in s. Returns duration_s, on_s, Ah, Wh."""
    keep, head = _cell(params, ocv, shapes)
    on, period = np.array([d[0] for d in duty] or [0.0], float), np.array([d[1] for d in duty] or [0.0], float)
    out = np.zeros(4)
    _LIB.bench(*head, ["W", "A", "ohm"].index(kind), ctypes.c_double(value), len(duty), _ptr(on), _ptr(period),
               ctypes.c_double(t_c + 273.15), ctypes.c_double(stop_v), _ptr(out))
    return out


def simulate(params, ocv, log_t, log_i, start_charge, start_c, ambient_c, cutoff_v=0.0, shapes=(None, None, None), most_s=20.0):
    """params: dict of NAMES; shapes: (x, y) over charge of diffusion, resistance and exchange. Returns volts, temperature in Celsius, charge, seconds to the cut-off (-1: not reached)."""
    keep, head = _cell(params, ocv, shapes)
    n = len(log_t)
    out = [np.empty(n) for _ in range(3)]
    end = ctypes.c_double()
    _LIB.simulate(*head, n, _ptr(log_t), _ptr(log_i), ctypes.c_double(start_charge), ctypes.c_double(start_c + 273.15),
                  ctypes.c_double(ambient_c + 273.15), ctypes.c_double(cutoff_v), ctypes.c_double(most_s),
                  _ptr(out[0]), _ptr(out[1]), _ptr(out[2]), ctypes.byref(end))
    return out[0], out[1] - 273.15, out[2], end.value
