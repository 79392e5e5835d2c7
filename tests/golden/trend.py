"""Makes trend.json: reference values by scipy on integers that both sides can make exactly.

Run: /usr/bin/python3 tests/golden/trend.py
Integers are the linear congruential generator x' = (1664525 x + 1013904223) mod 2^32 (constants of Knuth and of Press
et al.), its upper 16 bits modulo `modulus`; series add `rise` x index // 4. Small moduli make ties.
"""
import json
import pathlib
import numpy as np
import scipy
from scipy import stats


def integers(seed, count, modulus):
    x, out = seed, []
    for _ in range(count):
        x = (1664525 * x + 1013904223) % 2**32
        out.append((x >> 16) % modulus)
    return out


def series(seed, count, modulus, rise):
    return [v + rise * k // 4 for k, v in enumerate(integers(seed, count, modulus))]


def instants(seed, count):
    return [int(v) for v in np.cumsum([1 + g for g in integers(seed, count, 5)])]


out = {"scipy": scipy.__version__, "slopes": [], "tau": [], "tails": [], "bivariate": [], "quantiles": [], "mad": []}
for seed, count, modulus, rise, confidence in [(1, 8, 1000, 40, 0.95), (2, 12, 1000, 0, 0.95), (3, 25, 1000, 30, 0.9),
                                               (4, 60, 1000, 9, 0.95), (5, 40, 7, 1, 0.99), (6, 15, 3, 0, 0.8)]:
    t, y = instants(seed + 100, count), series(seed, count, modulus, rise)
    r = stats.theilslopes(y, t, alpha=confidence, method="separate")
    out["slopes"].append({"seed": seed, "count": count, "modulus": modulus, "rise": rise, "confidence": confidence,
                          "slope": r.slope, "intercept": r.intercept, "low": r.low_slope, "high": r.high_slope})
for seed, count, modulus, rise in [(11, 8, 100000, 0), (12, 8, 100000, 40000), (13, 20, 100000, 3000),
                                   (14, 33, 100000, 800), (15, 34, 100000, 800), (16, 90, 100000, 500),
                                   (17, 30, 6, 0), (18, 50, 10, 1), (19, 5, 100000, 400000)]:
    y = series(seed, count, modulus, rise)
    r = stats.kendalltau(range(count), y)
    out["tau"].append({"seed": seed, "count": count, "modulus": modulus, "rise": rise, "tau": r.statistic,
                       "pValue": r.pvalue})
for z in [-3.0, -0.5, 0.25, 1.0, 1.96, 2.49, 2.51, 4.0, 6.5, 9.0, 20.0]:
    out["tails"].append({"z": z, "upper": float(stats.norm.sf(z))})
for a, b, r in [(0, 0, 0.5), (1, 1, 0.3), (3, 3, 0.3), (3, 3, 0.6), (2, -1, 0.9), (4, 2, 0.5), (-2, -2, 0.3)]:
    p = stats.multivariate_normal.cdf([-a, -b], mean=[0, 0], cov=[[1, r], [r, 1]])
    out["bivariate"].append({"a": a, "b": b, "correlation": r, "upper": float(p)})
for seed, count, share in [(21, 9, 0.1), (22, 10, 0.5), (23, 31, 0.9), (24, 1, 0.3)]:
    out["quantiles"].append({"seed": seed, "count": count, "share": share,
                             "value": float(np.quantile(integers(seed, count, 1000), share))})
for seed, count in [(31, 8), (32, 13)]:
    out["mad"].append({"seed": seed, "count": count,
                       "value": float(stats.median_abs_deviation(integers(seed, count, 1000)))})
path = pathlib.Path(__file__).with_suffix(".json")
path.write_text(json.dumps(out, indent=1) + "\n")
