"""Makes spectra.json: reference values by scipy on samples that both sides can make exactly.

Run: /usr/bin/python3 tests/golden/spectra.py
The samples are the linear congruential generator x' = (1664525 x + 1013904223) mod 2^32 (constants of Knuth,
"Seminumerical Algorithms", and of Press et al., "Numerical Recipes"), as x / 2^31 - 1, plus a sine that swells:
  s[k] = noise[k] + (1 + 0.8 cos(2 pi 37 k / 5000)) cos(2 pi 1200 k / 5000)
"""
import json
import pathlib
import numpy as np
import scipy
from scipy import signal

RATE = 5000.0


def samples(n):
    x, noise = 1, []
    for _ in range(n):
        x = (1664525 * x + 1013904223) % 2**32
        noise.append(x / 2**31 - 1)
    t = np.arange(n) / RATE
    return np.array(noise) + (1 + 0.8 * np.cos(2 * np.pi * 37 * t)) * np.cos(2 * np.pi * 1200 * t)


def some(values, every):
    return [float(v) for v in values[::every]]


out = {"scipy": scipy.__version__, "welch": [], "amplitude": [], "envelope": []}
for n, segment, overlap, window in [(8192, 1024, 512, "hann"), (6000, 750, 375, "flattop"), (4999, 333, 0, "hann"),
                                    (4096, 512, 384, "boxcar")]:
    _, density = signal.welch(samples(n), RATE, window=window, nperseg=segment, noverlap=overlap,
                              detrend="constant", scaling="density")
    out["welch"].append({"samples": n, "segmentSamples": segment, "overlapSamples": overlap, "window": window,
                         "every": 7, "density": some(density, 7)})
for n, window in [(1000, "hann"), (3200, "flattop"), (1023, "hann")]:
    x = samples(n)
    _, power = signal.periodogram(x, RATE, window=window, detrend="constant", scaling="spectrum")
    out["amplitude"].append({"samples": n, "window": window, "every": 11,
                             "amplitudeRms": some(np.sqrt(power), 11)})
n = 8000
x = samples(n)
spectrum = np.fft.rfft(x)
hz = np.fft.rfftfreq(n, 1 / RATE)
spectrum[(hz < 1000) | (hz > 1400)] = 0
envelope = np.abs(signal.hilbert(np.fft.irfft(spectrum, n)))
out["envelope"].append({"samples": n, "bandHz": [1000, 1400], "every": 97, "magnitude": some(envelope, 97)})
path = pathlib.Path(__file__).with_suffix(".json")
path.write_text(json.dumps(out, indent=1) + "\n")
