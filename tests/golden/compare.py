"""Reference values for the comparison code, from scipy: t distribution, coherence, band powers.

Run with: python3 tests/golden/compare.py > tests/golden/compare.json
Samples come from the linear congruential generator of tests/support/signals.ts, so that both languages see the same.
"""

import json

import numpy as np
from scipy import signal, stats


def uniform(seed, count):
    x, out = seed, np.empty(count)
    for k in range(count):
        x = (1664525 * x + 1013904223) % 2**32
        out[k] = x / 2**32 - 0.5
    return out


rate, count = 3200, 3200 * 8
a, n1, n2 = (uniform(seed, count) for seed in (1, 2, 3))
x = a + 0.5 * n1
y = signal.lfilter([1, 0.6, 0, 0, -0.4], [1, -0.5], a) + 0.8 * n2

# Half-second segments, half overlapping, none across a whole second: as the comparison takes its windows.
length = rate // 2
window = signal.get_window("hann", length)
f = np.fft.rfftfreq(length, 1 / rate)
sxx, syy, sxy, segments = 0, 0, 0, 0
for second in range(8):
    for start in (0, length // 2, length):
        part = slice(second * rate + start, second * rate + start + length)
        fx, fy = (np.fft.rfft(signal.detrend(v[part], type="constant") * window) for v in (x, y))
        sxx, syy, sxy = sxx + abs(fx) ** 2, syy + abs(fy) ** 2, sxy + fx.conj() * fy
        segments += 1


def third(middle):
    low, high = middle * 10**-0.05, middle * 10**0.05
    k = (f >= low) & (f <= high)
    bias = 1.055 / segments
    return float(((abs(sxy[k]) ** 2).sum() / (sxx[k] * syy[k]).sum() - bias) / (1 - bias))


print(
    json.dumps(
        {
            "tQuantiles": [
                {"tail": tail, "dof": dof, "t": float(stats.t.isf(tail, dof))}
                for tail in (0.2, 0.05, 0.01, 0.001)
                for dof in (1, 2.5, 5, 13.7, 200)
            ],
            "coherence": [{"middleHz": m, "value": third(m)} for m in (10**2.5, 10**2.7, 10**3)],
        },
        indent=1,
    )
)
