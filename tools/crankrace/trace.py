"""Teeth in an analogue trace in vectorised numpy and scipy, for speed comparison
only: averaged down to 125 kHz, envelope over a few teeth, middle, hysteresis,
passages placed between samples, the steadier kind of passage chosen. It does less
than the Go one: one width of envelope for all speeds, and all of the trace at
once."""
import sys
import time

import numpy as np
from scipy.ndimage import maximum_filter1d, minimum_filter1d, uniform_filter1d

RATE, WORKING, HYSTERESIS = 1_000_000, 125_000, 0.22


def passages(x, middle, side):
    """Times of the last passage through the middle before each change of side."""
    state = np.flatnonzero(side)  # samples that are surely above or below
    change = state[1:][side[state][1:] != side[state][:-1]]
    cross = np.flatnonzero((x[1:] > middle[1:]) != (x[:-1] > middle[:-1])) + 1
    last = cross[np.maximum(np.searchsorted(cross, change, side="right") - 1, 0)]
    a, b = x[last - 1] - middle[last], x[last] - middle[last]
    times = (last - 1 + a / (a - b)) / WORKING
    slope = np.abs(x[last] - x[last - 1])
    up = side[change] > 0
    return times[up], slope[up].mean(), times[~up], slope[~up].mean()


def unevenness(t):
    d = np.diff(t[:20000])
    off = np.sort(np.abs(np.log(d[1:] / d[:-1])))
    return off[: len(off) * 9 // 10].mean()


def main():
    x = np.fromfile(sys.argv[1], dtype=np.float32)
    start = time.process_time()
    step = RATE // WORKING
    x = x[: len(x) // step * step].reshape(-1, step).mean(1).astype(np.float64)
    tooth = int(WORKING * 60 / 3000 / 60)
    high, low = maximum_filter1d(x, 6 * tooth), minimum_filter1d(x, 6 * tooth)
    middle = uniform_filter1d((high + low) / 2, 12 * tooth)
    reach = HYSTERESIS * np.maximum(high - low, 0.6 * np.median(high - low))
    side = (x > middle + reach).astype(np.int8) - (x < middle - reach)
    up, upslope, down, downslope = passages(x, middle, side)
    best = up if unevenness(up) < unevenness(down) else down
    if upslope > 1.25 * downslope:
        best = up
    elif downslope > 1.25 * upslope:
        best = down
    print(time.process_time() - start, len(best), 0)


main()
