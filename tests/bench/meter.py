"""The channel meter's work in scipy: milliseconds per channel-second at 3200 samples/s, as JSON. See meter.ts."""
import json
import time
import numpy as np
from scipy import signal, stats

RATE = 3200
high_pass = signal.butter(8, 9.3, "highpass", fs=RATE, output="sos")
low_pass = signal.butter(8, 1050, "lowpass", fs=RATE, output="sos")


def block(x, high_state, low_state):
    """One block of one second, filter state carried on; rows are channels."""
    mean = x.mean(axis=-1, keepdims=True)
    a, high_state = signal.sosfilt(high_pass, x - mean, axis=-1, zi=high_state)
    v, low_state = signal.sosfilt(low_pass, np.cumsum(a, axis=-1) / RATE, axis=-1, zi=low_state)
    velocity = np.sqrt(np.mean(v**2, axis=-1))
    rms = np.std(x, axis=-1)
    peak = np.max(np.abs(x - mean), axis=-1)
    return velocity, rms, peak, peak / rms, stats.kurtosis(x, axis=-1, fisher=False), high_state, low_state


def milliseconds_per_channel_second(channels, blocks):
    x = np.random.default_rng(1).normal(size=(channels, RATE))
    high_state = np.zeros((4, channels, 2))
    low_state = np.zeros((4, channels, 2))
    for _ in range(3):
        *_, high_state, low_state = block(x, high_state, low_state)
    start = time.process_time()
    for _ in range(blocks):
        *_, high_state, low_state = block(x, high_state, low_state)
    return 1000 * (time.process_time() - start) / (channels * blocks)


print(json.dumps({"single": milliseconds_per_channel_second(1, 400),
                  "batch": milliseconds_per_channel_second(300, 5)}))
