"""Makes channel-meter.json: reference levels by scipy on samples that both sides can make exactly.

Run: /usr/bin/python3 tests/golden/channel-meter.py
Samples are 16-bit whole numbers: a triangle wave of 25 Hz, plus linear congruential noise x' = (1664525 x +
1013904223) mod 2^32 (constants of Knuth and of "Numerical Recipes"), with now and then a spike:
  s[k] = triangle(k) + (x >> 18) - 8192 + (12000 where k % 997 = 0)
Velocity by another road than the station's: scipy's Butterworth sections (order 8) over the samples followed by
silence until they have rung out, and integration of the whole by division by j 2 pi f over its spectrum.
"""
import json
import pathlib
import numpy as np
import scipy
from scipy import signal, stats

FULL_SCALE = 16 * 9.80665
SECONDS = 8


def samples(rate):
    k = np.arange(SECONDS * rate)
    half = rate // 50
    place = k % (2 * half)
    triangle = np.where(place < half, place, 2 * half - place) * 8000 // half - 4000
    x, noise = 12345, np.empty(len(k), dtype=np.int64)
    for i in range(len(k)):
        x = (1664525 * x + 1013904223) % 2**32
        noise[i] = (x >> 18) - 8192
    return triangle + noise + np.where(k % 997 == 0, 12000, 0)


def velocity_rms(acceleration, rate, low, top, skip):
    padded = np.concatenate([acceleration - acceleration.mean(), np.zeros(10 * rate)])
    high_pass = signal.butter(8, 0.93 * low, "highpass", fs=rate, output="sos")
    low_pass = signal.butter(8, 1.05 * top, "lowpass", fs=rate, output="sos")
    spectrum = np.fft.rfft(signal.sosfilt(low_pass, signal.sosfilt(high_pass, padded)))
    f = np.fft.rfftfreq(len(padded), 1 / rate)
    spectrum[1:] /= 2j * np.pi * f[1:]
    spectrum[0] = 0
    velocity = np.fft.irfft(spectrum, len(padded))[skip * rate:len(acceleration)]
    return 1000 * float(np.sqrt(np.mean(velocity**2)))


cases = []
for rate in [1600, 3200, 6400, 25600, 51200]:
    a = samples(rate) / 32768 * FULL_SCALE
    top = min(1000, rate / 2.56)
    cases.append({
        "sampleRateHz": rate,
        "velocityRmsMmPerS": {"10-1000": velocity_rms(a, rate, 10, top, 1), "2-1000": velocity_rms(a, rate, 2, top, 5)},
        "accelerationRmsMPerS2": float(np.std(a)),
        "accelerationPeakMPerS2": float(np.max(np.abs(a - a.mean()))),
        "crestFactor": float(np.max(np.abs(a - a.mean())) / np.std(a)),
        "kurtosis": float(stats.kurtosis(a, fisher=False, bias=True)),
    })
path = pathlib.Path(__file__).with_suffix(".json")
path.write_text(json.dumps({"scipy": scipy.__version__, "seconds": SECONDS, "cases": cases}, indent=1) + "\n")
