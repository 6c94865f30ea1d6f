"""Monte Carlo of the joint estimate for five_rows.json, in numpy.

The same work as Fit.Trials of package estimate does for one million trials:
draw every reading (rectangular half a step, normal repeatability), the zero
(rectangular half a step), the coils in use (rectangular), the EMF and the
source's resistance (normal); work out the ten readings by the closed forms;
take one Gauss-Newton step of the least-squares fit in ln G and ln(E/k); then
means, standard uncertainties, correlation, symmetric and shortest 95 %
intervals of G and k.

Trials go in blocks of 8192, so that the columns stay in the processor's
cache: twice as fast as columns of a million.

    /usr/bin/python3 montecarlo.py [TRIALS [BLOCK]]

prints the results and, on standard error, the time of the trials and the
statistics, the best of three.
"""

import json
import os
import sys
import time

import numpy as np

with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "five_rows.json")) as f:
    IN = json.load(f)

OBS = IN["Observations"]
SHUNTED = [o["Shunted"] for o in OBS]
STEP, SD = IN["Step"], IN["Repeatability"]


def in_use(name, ohms):
    """The coils that any setting uses, and ohms of each in each setting."""
    counts = np.array([o[name] or [0] * len(ohms) for o in OBS], float)
    used = counts.any(axis=0)
    return counts[:, used] * np.array(ohms, float)[used]


SERIES, SHUNT = in_use("Series", IN["SeriesCoils"]), in_use("Shunt", IN["ShuntCoils"])
NS, NH = SERIES.shape[1], SHUNT.shape[1]
R0, S0 = SERIES.sum(axis=1), SHUNT.sum(axis=1)


def readings(p):
    """All readings for parameters ln(E/k), ln G, r, zero, coils."""
    loop, g = np.exp(p[0]), np.exp(p[1])
    r = R0 + p[2] + SERIES @ p[4:4 + NS]
    s = S0 + SHUNT @ p[4 + NS:]
    return np.where(SHUNTED, loop * s / (r * (g + s) + g * s), loop / (r + g)) + p[3]


def jacobian(p):
    """Central differences: good to some 1e-10, more than trials show."""
    j = np.empty((len(OBS), len(p)))
    for i in range(len(p)):
        h = 1e-5 * max(1, abs(p[i]))
        d = np.zeros(len(p))
        d[i] = h
        j[:, i] = (readings(p + d) - readings(p - d)) / (2 * h)
    return j


def fit():
    """The least-squares estimate and its gain in ln(E/k) and ln G."""
    prior = np.concatenate([[0, 0, IN["SourceResistance"], IN["Zeros"][0]], np.zeros(NS + NH)])
    u = np.concatenate([[IN["USourceResistance"], IN["UZeros"][0]],
                        np.full(NS, IN["SeriesTolerance"] / np.sqrt(3)), np.full(NH, IN["ShuntTolerance"] / np.sqrt(3))])
    weight = np.concatenate([[0, 0], 1 / u**2])
    w = 1 / (STEP**2 / 12 + SD**2)
    y = np.array([o["Div"] for o in OBS])
    p = prior.copy()
    p[1] = np.log(S0.max())
    p[0] = np.log(y[0] * (R0[0] + np.exp(p[1])))
    for _ in range(50):
        j = jacobian(p)
        a = w * j.T @ j + np.diag(weight)
        p = p + np.linalg.solve(a, w * j.T @ (y - readings(p)) + weight * (prior - p))
    return p, np.linalg.solve(a, w * j.T)[:2]


def draw(rng, n, p, gain, fitted):
    """n trials of G and k."""
    loop, g = np.exp(p[0]), np.exp(p[1])
    tol, tolh = IN["SeriesTolerance"], IN["ShuntTolerance"]
    errors = rng.uniform(-STEP / 2, STEP / 2, (len(OBS), n))
    errors += SD * rng.standard_normal((len(OBS), n))
    errors += rng.uniform(-STEP / 2, STEP / 2, n)
    coils = rng.uniform(-tol, tol, (NS, n)) + p[4:4 + NS, None]
    coilsh = rng.uniform(-tolh, tolh, (NH, n)) + p[4 + NS:, None]
    source = p[2] + IN["USourceResistance"] * rng.standard_normal(n)
    emf = IN["EMF"] + IN["UEMF"] * rng.standard_normal(n)
    r, s = SERIES_AT @ coils, SHUNT_AT @ coilsh
    for i in range(len(OBS)):
        q = R_AT[i] + r[BRANCH[i]] + source
        if SHUNTED[i]:
            sh = S_AT[i] + s[SHUNTOF[i]]
            theta = loop * sh / (q * (g + sh) + g * sh)
        else:
            theta = loop / (q + g)
        errors[i] += theta
        errors[i] -= fitted[i]
    step = gain @ errors
    return g * np.exp(step[1]), emf / (loop * np.exp(step[0]))


# Rows share their series setting: each is worked out once.
SERIES_AT, BRANCH = np.unique(SERIES, axis=0, return_inverse=True)
SHUNT_AT, SHUNTOF = np.unique(SHUNT, axis=0, return_inverse=True)
R_AT, S_AT = R0, S0


def intervals(y):
    y = np.sort(y)
    n = len(y)
    q = int(0.95 * n + 0.5)
    low = (n - q) // 2
    at = np.argmin(y[q:] - y[:n - q])
    return y[low], y[low + q], y[at], y[at + q]


def main():
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 1000000
    block = int(sys.argv[2]) if len(sys.argv) > 2 else 8192
    p, gain = fit()
    fitted = readings(p) - p[3]
    best = np.inf
    for _ in range(3):
        rng = np.random.Generator(np.random.PCG64(20251))
        start = time.perf_counter()
        g, k = np.empty(n), np.empty(n)
        for i in range(0, n, block):
            m = min(block, n - i)
            g[i:i + m], k[i:i + m] = draw(rng, m, p, gain, fitted)
        out = {"trials": n, "correlation": float(np.corrcoef(g, k)[0, 1])}
        for name, y in (("G_ohm", g), ("k_A_per_div", k)):
            a, b, c, d = intervals(y)
            out[name] = {"mean": y.mean(), "u": y.std(ddof=1), "interval95": [a, b], "shortest95": [c, d]}
        best = min(best, time.perf_counter() - start)
    out["G_ohm"]["estimate"], out["k_A_per_div"]["estimate"] = np.exp(p[1]), IN["EMF"] / np.exp(p[0])
    print(json.dumps(out, indent=1))
    print("%.3f s" % best, file=sys.stderr)


main()
