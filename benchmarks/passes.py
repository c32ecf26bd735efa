"""The three passes over cells against a scalar twin and against the same passes in C, all in one process.

The twin is the same Python compiled without vectorisation; the C below is compiled on the spot by the
system's compiler and works on the very same record. Promises: at least 2 times its scalar twin, at least
0.8 of the speed of C. All three must leave the same numbers behind. Times are of processor time.
"""

from __future__ import annotations

import ctypes
import json
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numba
import numpy as np

from pulsewright.bench.sheet import read_setup
from pulsewright.kernel import cells
from pulsewright.kernel.layout import FIELDS, TILE, on_cache_lines
from pulsewright.network.case import build_case
from pulsewright.network.options import Options
from pulsewright.physics.compiled import COMPILE_OPTIONS
from pulsewright.simulate.settle import settle

SHEET = Path(__file__).resolve().parent.parent / "examples" / "narrow-twin" / "setup.toml"
RPM, DT = 3500.0, 1e-12
TIMES, ROUNDS = 4_000, 9
TWIN_PROMISE, C_PROMISE = 2.0, 0.8
SAME = 1e-9  # relative: the order of a sum may differ

C_PASSES = r"""
#include <math.h>
#define MIN(a, b) ((a) < (b) ? (a) : (b))
#define MAX(a, b) ((a) > (b) ? (a) : (b))
typedef struct { FIELDS double gas_constant[4], gas_energy[4][6], correct_fuel, rich_fuel; } Cells;
static inline double slope(double b, double h, double a) {
  double back = h - b, ahead = a - h, size = MIN(2.0 * MIN(fabs(back), fabs(ahead)), 0.5 * fabs(back + ahead));
  return back * ahead > 0.0 ? (back > 0.0 ? size : -size) : 0.0;
}
#define SLOPE(f) slope(c->f[i - 1], c->f[i], c->f[i + 1])
static void face_states(Cells *restrict c, double dt) {
#pragma omp simd
  for (int i = 1; i <= M; i++) {
    double r = c->rho[i], u = c->u[i], p = c->p[i], e = c->e[i];
    double ub = c->u[i - 1] * c->wider_before[i], ua = c->u[i + 1] * c->wider_after[i];
    double pb = c->p[i - 1] + 0.5 * c->rho[i - 1] * (c->u[i - 1] * c->u[i - 1] - ub * ub);
    double pa = c->p[i + 1] + 0.5 * c->rho[i + 1] * (c->u[i + 1] * c->u[i + 1] - ua * ua);
    double dr = SLOPE(rho), de = SLOPE(e), du = slope(ub, u, ua), dp = slope(pb, p, pa);
    double vl = u - 0.5 * du, vr = u + 0.5 * du, ul = vl * c->over_left[i], ur = vr * c->over_right[i];
    double pl = p - 0.5 * dp + 0.5 * r * (vl * vl - ul * ul), pr = p + 0.5 * dp + 0.5 * r * (vr * vr - ur * ur);
    double w = 0.5 * dt * c->inverse_length[i], s = w * (ur - ul) + 0.5 * dt * u * c->stretch[i], por = p / r;
    double rm = r - w * u * dr - r * s, em = e - w * u * de - por * s;
    double bu = w * u * (ur - ul) + w * (pr - pl) / r, bp = w * u * (pr - pl) + c->gamma[i] * p * s;
    int ok = (rm - 0.5 * fabs(dr) > 0.05 * r) & (MIN(pl, pr) - bp > 0.05 * p) & (em - 0.5 * fabs(de) > 0.05 * e);
    c->left_rho[i] = ok ? rm - 0.5 * dr : r; c->right_rho[i] = ok ? rm + 0.5 * dr : r;
    c->left_u[i] = ok ? ul - bu : u;         c->right_u[i] = ok ? ur - bu : u;
    c->left_p[i] = ok ? pl - bp : p;         c->right_p[i] = ok ? pr - bp : p;
    c->left_e[i] = ok ? em - 0.5 * de : e;   c->right_e[i] = ok ? em + 0.5 * de : e;
  }
#pragma omp simd
  for (int i = 1; i <= M; i++) {
    double w = 0.5 * dt * c->inverse_length[i] * c->u[i], b = SLOPE(yb), v = SLOPE(yv), z = SLOPE(yz);
    c->left_yb[i] = c->yb[i] - (w + 0.5) * b; c->right_yb[i] = c->yb[i] - (w - 0.5) * b;
    c->left_yv[i] = c->yv[i] - (w + 0.5) * v; c->right_yv[i] = c->yv[i] - (w - 0.5) * v;
    c->left_yz[i] = c->yz[i] - (w + 0.5) * z; c->right_yz[i] = c->yz[i] - (w - 0.5) * z;
  }
}
static void face_flows(Cells *restrict c) {
#pragma omp simd
  for (int i = 1; i <= M; i++) {
    double rl = c->right_rho[i], ul = c->right_u[i], pl = c->right_p[i], el = c->right_e[i], al = c->sound[i];
    double rr = c->left_rho[i + 1], ur = c->left_u[i + 1], pr = c->left_p[i + 1], er = c->left_e[i + 1];
    double ar = c->sound[i + 1], slow = MIN(ul - al, ur - ar), fast = MAX(ul + al, ur + ar);
    double ml = rl * (slow - ul), mr = rr * (fast - ur);
    double middle = (pr - pl + ml * ul - mr * ur) / (ml - mr);
    int left = middle >= 0.0;
    double r = left ? rl : rr, u = left ? ul : ur, p = left ? pl : pr, e = left ? el : er;
    double edge = left ? slow : fast, ram = left ? ml : mr;
    double total = r * (e + 0.5 * u * u), m = r * u, q = (edge - u) / (edge - middle);
    double ts = q * (total + (middle - u) * (r * middle + r * p / ram));
    int inside = (slow < 0.0) & (fast > 0.0);
    double flow = (m + (inside ? edge * (r * q - r) : 0.0)) * c->area[i];
    c->flow_mass[i] = flow;
    c->flow_momentum[i] = (m * u + p + (inside ? edge * (r * q * middle - m) : 0.0)) * c->area[i];
    c->flow_energy[i] = (u * (total + p) + (inside ? edge * (ts - total) : 0.0)) * c->area[i];
    double bl = c->right_yb[i], br = c->left_yb[i + 1], vl = c->right_yv[i], vr = c->left_yv[i + 1];
    double zl = c->right_yz[i], zr = c->left_yz[i + 1];
    c->flow_b[i] = flow * (flow > 0.0 ? bl : br);
    c->flow_v[i] = flow * (flow > 0.0 ? vl : vr);
    c->flow_z[i] = flow * (flow > 0.0 ? zl : zr);
  }
}
static inline double kept(double x) { return fabs(x) > 1e-60 ? x : 0.0; }
static void new_states(Cells *restrict c, double dt) {
#pragma omp simd
  for (int i = 1; i <= M; i++) {
    double per = dt * c->inverse_volume[i], push = 0.5 * (c->left_p[i] + c->right_p[i]) * c->area_step[i];
    double heat = c->heat[i] * fabs(c->momentum[i]) * c->cp[i] * (c->wall[i] - c->T[i]);
    double drag = 1.0 + dt * c->friction[i] * fabs(c->u[i]);
    c->rho[i] += per * (c->flow_mass[i - 1] - c->flow_mass[i] + c->mass_source[i]);
    c->momentum[i] = (c->momentum[i] + per * (c->flow_momentum[i - 1] - c->flow_momentum[i] + push)) / drag;
    c->energy[i] += per * (c->flow_energy[i - 1] - c->flow_energy[i] + c->energy_source[i]) + dt * heat;
    c->burned[i] = kept(c->burned[i] + per * (c->flow_b[i - 1] - c->flow_b[i] + c->burned_source[i]));
    c->vapour[i] = kept(c->vapour[i] + per * (c->flow_v[i - 1] - c->flow_v[i] + c->vapour_source[i]));
    c->burned_fuel[i] = kept(c->burned_fuel[i] + per * (c->flow_z[i - 1] - c->flow_z[i] + c->burned_fuel_source[i]));
  }
  double g[4][6], k[4], cf = c->correct_fuel, rf = c->rich_fuel;
  for (int s = 0; s < 4; s++) { k[s] = c->gas_constant[s]; for (int n = 0; n < 6; n++) g[s][n] = c->gas_energy[s][n]; }
#pragma omp simd
  for (int i = 1; i <= M; i++) {
    double inv = 1.0 / c->rho[i], u = c->momentum[i] * inv, e = c->energy[i] * inv - 0.5 * u * u;
    double yb = c->burned[i] * inv, yv = c->vapour[i] * inv, yz = c->burned_fuel[i] * inv;
    double rich = MAX(0.0, (yz - cf * yb) / (rf - cf)), good = MIN(yz / cf, yb - rich);
    double air = 1.0 - yv - rich - good;
#define MIX(a, b, d, f) (air * (a) + yv * (b) + good * (d) + rich * (f))
    double R = MIX(k[0], k[1], k[2], k[3]);
    double k0 = MIX(g[0][0], g[1][0], g[2][0], g[3][0]), k1 = MIX(g[0][1], g[1][1], g[2][1], g[3][1]);
    double k2 = MIX(g[0][2], g[1][2], g[2][2], g[3][2]), k3 = MIX(g[0][3], g[1][3], g[2][3], g[3][3]);
    double k4 = MIX(g[0][4], g[1][4], g[2][4], g[3][4]), k5 = MIX(g[0][5], g[1][5], g[2][5], g[3][5]);
#define CV(t) (0.001 * (k0 + t * (2 * k1 + t * (3 * k2 + t * (4 * k3 + t * (5 * k4 + t * 6 * k5))))))
    double old = c->T[i], t = 0.001 * old, here = t * (k0 + t * (k1 + t * (k2 + t * (k3 + t * (k4 + t * k5)))));
    double T = MAX(old + (e - here) / CV(t), 0.2 * old), tn = 0.001 * T, cv = CV(tn), gamma = 1.0 + R / cv;
    double a = sqrt(gamma * R * T);
    c->u[i] = u; c->e[i] = e; c->yb[i] = yb; c->yv[i] = yv; c->yz[i] = yz; c->R[i] = R; c->cp[i] = cv + R;
    c->T[i] = T; c->gamma[i] = gamma; c->p[i] = c->rho[i] * R * T; c->sound[i] = a;
    c->speed[i] = (fabs(u) + a) * c->inverse_length[i];
  }
}
void passes(Cells *c, double dt, long times) {
  for (long n = 0; n < times; n++) { face_states(c, dt); face_flows(c); new_states(c, dt); }
}
"""


def settled_cells() -> np.ndarray:
    """The cells of the example twin after it has settled. (1,) record"""
    case = build_case(read_setup(SHEET), Options(), RPM)
    settle(case, RPM)
    return case.arrays["cells"]


def compiled_passes(vectorised: bool) -> Callable:
    """The passes over and over, compiled afresh with or without vectorisation."""
    before = numba.config.LOOP_VECTORIZE, numba.config.SLP_VECTORIZE  # type: ignore[attr-defined]
    if not vectorised:
        numba.config.LOOP_VECTORIZE = numba.config.SLP_VECTORIZE = 0  # type: ignore[attr-defined]
    try:
        gas_states = numba.njit(**COMPILE_OPTIONS)(cells.gas_states.py_func)
        room = {**vars(cells), "gas_states": gas_states}
        steps = {}
        for name in ("face_states", "face_flows", "new_states"):
            plain = getattr(cells, name).py_func
            own = type(plain)(plain.__code__, room, name)
            steps[name] = numba.njit(**COMPILE_OPTIONS)(own)
        face_states, face_flows, new_states = steps.values()

        def repeat(c, dt, times):
            for _ in range(times):
                face_states(c, dt)
                face_flows(c)
                new_states(c, dt)

        compiled = numba.njit(**COMPILE_OPTIONS)(repeat)
        compiled(settled_cells()[0], DT, 1)
        return compiled
    finally:
        numba.config.LOOP_VECTORIZE, numba.config.SLP_VECTORIZE = before  # type: ignore[attr-defined]


def c_passes(slots: int, last: int, folder: Path) -> Callable | None:
    """The same in C up to slot `last`, None where there is no compiler."""
    compiler = shutil.which("cc")
    if compiler is None:
        return None
    fields = "double " + ", ".join(f"{name}[N]" for name in FIELDS) + ";"
    source, library = folder / "passes.c", folder / "passes.so"
    source.write_text(f"#define N {slots}\n#define M {last}\n" + C_PASSES.replace("FIELDS", fields), encoding="ascii")
    flags = ["-O3", "-march=native", "-ffast-math", "-fopenmp-simd", "-fPIC", "-shared"]
    subprocess.run([compiler, *flags, "-o", str(library), str(source), "-lm"], check=True)
    function = ctypes.CDLL(str(library)).passes
    function.argtypes = [ctypes.c_void_p, ctypes.c_double, ctypes.c_long]
    return lambda c, dt, times: function(c.ctypes.data, dt, times)


def seconds_a_step(functions: dict[str, Callable], start: np.ndarray) -> dict[str, float]:
    """Shortest processor time of one round of passes, the functions by turns. [s]"""
    best = dict.fromkeys(functions, float("inf"))
    for _ in range(ROUNDS):
        for name, function in functions.items():
            c = on_cache_lines(start)
            begin = time.thread_time()
            function(c if name == "c" else c[0], DT, TIMES)
            best[name] = min(best[name], (time.thread_time() - begin) / TIMES)
    return best


def farthest(functions: dict[str, Callable], start: np.ndarray) -> float:
    """Largest relative difference between what the functions leave after 200 steps of a march. [-]"""
    ends, fields = [], ("rho", "p", "T", "yb")
    for name, function in functions.items():
        c = start.copy()
        function(c if name == "c" else c[0], 5e-8, 200)
        ends.append(np.stack([c[0][field] for field in fields]))
    scale = np.abs(ends[0]) + 1e-12
    return max(float(np.max(np.abs(end - ends[0]) / scale)) for end in ends)


def main(arguments: list[str]) -> int:
    start = settled_cells()
    last = TILE * int(start["tiles"][0])
    with tempfile.TemporaryDirectory() as folder:
        functions = {"packed": compiled_passes(True), "scalar": compiled_passes(False)}
        in_c = c_passes(start["rho"].shape[1], last, Path(folder))
        if in_c is not None:
            functions["c"] = in_c
        apart = farthest(functions, start)
        times = seconds_a_step(functions, start)
    found = {
        "format": "pulsewright pass benchmark 1",
        "microseconds": {name: round(1e6 * t, 3) for name, t in times.items()},
        "over_scalar_twin": round(times["scalar"] / times["packed"], 2),
        "over_c": round(times["c"] / times["packed"], 2) if "c" in times else None,
        "largest_difference": apart,
    }
    kept = found["over_scalar_twin"] >= TWIN_PROMISE and (found["over_c"] or 1.0) >= C_PROMISE and apart < SAME
    if "--json" in arguments:
        print(json.dumps(found))
    else:
        print(f"passes over {last} cells: {found['microseconds']} us a step")
        print(f"{found['over_scalar_twin']} times the scalar twin (promise {TWIN_PROMISE})")
        print(f"{found['over_c']} of the speed of C (promise {C_PROMISE}); results differ by {apart:.1e} at most")
        print("kept" if kept else "BROKEN")
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
