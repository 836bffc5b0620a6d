"""The crank analysis in vectorised numpy, for speed comparison only: the same
steps on the same edges (find the gap, number the teeth, mean cycle, weigh every
firing with a filter of the same length, find misses). It is simpler than the
Go one: no missed or spurious teeth, no cam, one speed, no judgement."""
import sys
import time

import numpy as np

TEETH, MISSING, CYLINDERS = 60, 2, 4
PER_TURN = TEETH - MISSING


def decode(t):
    d = np.diff(t)
    ratio = d[1:-1] / np.minimum(d[:-2], d[2:])
    gaps = np.flatnonzero(ratio > 2) + 2  # first tooth after a gap
    if not np.all(np.diff(gaps) == PER_TURN):
        raise SystemExit("a tooth was missed")
    return gaps[0], (len(t) - gaps[0]) // (2 * PER_TURN)


def angles():
    one = np.arange(PER_TURN) * 360.0 / TEETH
    return np.concatenate([one, one + 360])


def taps(x, top):
    """Least squares of a step of work at top against neighbours and speed."""
    s = lambda a: np.maximum(x - a - 44, 0) / -2
    gap = 720 / CYLINDERS
    cols = [np.ones_like(x), x - top, (x - top) ** 2, s(top)]
    cols += [s(top + k * gap) for k in (-3, -2, -1, 1, 2, 3)]
    for q in (1, 2, 3):
        cols += [np.cos(2 * np.pi * q * x / gap), np.sin(2 * np.pi * q * x / gap)]
    m = np.stack(cols, 1)
    m /= np.linalg.norm(m, axis=0)
    return np.linalg.pinv(m)[3]


def weigh(t, first, cycles):
    a, n = angles(), 2 * PER_TURN
    wide = np.concatenate([a - 720, a, a + 720])
    out = np.empty((cycles - 2, CYLINDERS))
    for k in range(CYLINDERS):
        top = 84 + 720 / CYLINDERS * k
        use = np.flatnonzero((wide >= top - 540) & (wide < top + 720))
        f = taps(wide[use], top)
        view = np.lib.stride_tricks.as_strided(t[first + use[0]:], (cycles - 2, len(use)), (t.strides[0] * n, t.strides[0]))
        rel = view - view[:, :1]
        span = rel[:, -1] / (wide[use[-1]] - wide[use[0]])
        out[:, k] = rel @ f / span
    return out


def profile(t, first, cycles):
    n = 2 * PER_TURN
    c = t[first:first + cycles * n].reshape(cycles, n)
    period = np.diff(c[:, 0])
    late = (c[:-1] - c[:-1, :1]) / period[:, None] * 720 - angles()
    return late.mean(0), late.std(0)


def main():
    t = np.fromfile(sys.argv[1])
    start = time.process_time()
    first, cycles = decode(t)
    late, _ = profile(t, first, cycles)
    work = weigh(t, first, cycles)
    work -= work.mean(0)
    q60, q90 = np.quantile(work, [0.6, 0.9])
    sigma = (q90 - q60) / 1.0283
    misses = np.count_nonzero(work < q60 - 0.2533 * sigma - 5 * sigma)
    print(time.process_time() - start, misses, work.size)


main()
