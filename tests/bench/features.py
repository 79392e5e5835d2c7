"""The full feature set in scipy: milliseconds per channel-second at 3200 samples/s, as JSON. See features.ts."""
import json
import time
import numpy as np
from scipy import signal, stats

RATE = 3200
high_pass = signal.butter(8, 9.3, "highpass", fs=RATE, output="sos")
low_pass = signal.butter(8, 1050, "lowpass", fs=RATE, output="sos")
BAND = signal.butter(4, [800, 1500], "bandpass", fs=RATE, output="sos")


def second(x, high_state, low_state):
    mean = x.mean()
    a, high_state = signal.sosfilt(high_pass, x - mean, zi=high_state)
    v, low_state = signal.sosfilt(low_pass, np.cumsum(a) / RATE, zi=low_state)
    velocity = np.sqrt(np.mean(v**2))
    rms = np.std(x)
    peak = np.max(np.abs(x - mean))
    kurtosis = stats.kurtosis(x, fisher=False)
    # The statistical bandwidth behind the random error of the velocity.
    f, s = signal.periodogram(v, RATE)
    bandwidth = np.sum(s) ** 2 / np.sum(s**2) * f[1]
    density = signal.welch(x, RATE, "hann", nperseg=1024, noverlap=512)
    envelope = np.abs(signal.hilbert(signal.sosfilt(BAND, x)))
    lines = np.abs(np.fft.rfft(envelope - envelope.mean()))
    return (velocity, rms, peak, peak / rms, kurtosis, bandwidth, density, lines), high_state, low_state


x = np.random.default_rng(1).normal(size=RATE)
high_state = np.zeros((4, 2))
low_state = np.zeros((4, 2))
for _ in range(20):
    _, high_state, low_state = second(x, high_state, low_state)
BLOCKS = 400
start = time.process_time()
for _ in range(BLOCKS):
    _, high_state, low_state = second(x, high_state, low_state)
print(json.dumps({"ms": 1000 * (time.process_time() - start) / BLOCKS}))
