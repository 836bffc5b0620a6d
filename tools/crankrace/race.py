"""The crank analysis in vectorised numpy, for speed comparison only: the same
steps on the same edges, as plainly as numpy allows (number the teeth past pulses
and missed ones, mean cycle of each speed with acceleration removed and its
scatter, jitter of the edges, work of each position in the mean cycle with
spacing errors, inertia and road as unknowns, each firing weighed with a filter of
the same length, its time and speed, middle and scatter of each position, two
heaps, echoes of misses, stumbles, counts over 200 and 1000 turns). It does less
than the Go one: no cam, wheels of one gap only, turns with a fault are left out
instead of mended, weak cylinders are not told from dead ones."""
import sys
import time

import numpy as np

TEETH, MISSING, CYLINDERS = 60, 2, 4
PER_TURN = TEETH - MISSING
BEFORE, AFTER = 3, 4


def decode(t):
    """First tooth after the first gap and the number of whole cycles."""
    if not np.all(np.diff(t) > 0):
        raise SystemExit("edges do not rise")
    d = np.diff(t)
    a, b, c = d[:-2], d[1:-1], d[2:]
    usual = np.maximum(np.minimum(a, c), np.minimum(np.maximum(a, c), b))  # median of three
    places = np.rint(b / usual).astype(np.int32)
    pulses = np.flatnonzero(b < 0.6 * usual)
    if len(pulses):
        return decode(np.delete(t, pulses + 2))
    at = np.cumsum(places)
    gaps = np.flatnonzero(places == MISSING + 1)
    turn = at[gaps] // TEETH
    whole = (np.diff(at[gaps]) == TEETH) & (np.diff(gaps) == PER_TURN) & (np.diff(turn) == 1)
    if not np.all(whole):
        raise SystemExit("a tooth was missed: turns left out are not in this race")
    first = gaps[0] + 2
    return first, (len(t) - first) // (2 * PER_TURN)


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
    shape = (cycles - 2, CYLINDERS)
    work, rpm, at = np.empty(shape), np.empty(shape), np.empty(shape)
    gains = np.zeros((CYLINDERS, BEFORE + AFTER + 1))
    for k in range(CYLINDERS):
        top = 84 + 720 / CYLINDERS * k
        use = np.flatnonzero((wide >= top - 180 * BEFORE) & (wide < top + 180 * AFTER))
        f = taps(wide[use], top)
        for lag in range(-BEFORE, AFTER + 1):
            gains[k, lag + BEFORE] = f @ (np.maximum(wide[use] - top - 180 * lag - 44, 0) / -2)
        gains[k] /= gains[k, BEFORE]
        view = np.lib.stride_tricks.as_strided(t[first + use[0]:], (cycles - 2, len(use)), (t.strides[0] * n, t.strides[0]))
        rel = view - view[:, :1]
        slow = rel[:, -1] / (wide[use[-1]] - wide[use[0]])
        work[:, k] = rel @ f / slow
        rpm[:, k] = 1 / (6 * slow)
        at[:, k] = view[:, np.searchsorted(wide[use], top)]
    return work, rpm, at, gains


def profile(t, first, cycles):
    """Mean lateness and its scatter for each speed: [(cycles, rpm, late, var)]."""
    n = 2 * PER_TURN
    c = t[first:first + cycles * n].reshape(cycles, n)
    period = np.diff(c[:, 0])
    kappa = (period[2:] - period[:-2]) / (2 * period[1:-1])
    u = angles() / 720
    late = (c[1:-2] - c[1:-2, :1]) / period[1:-1, None] * 720 - angles() + 360 * kappa[:, None] * u * (1 - u)
    rpm = 120 / period[1:-1]
    bins = np.floor(np.log(rpm) / np.log(1.25))
    out = []
    for b in np.unique(bins):
        here = late if np.all(bins == b) else late[bins == b]
        if len(here) >= 3:
            out.append((len(here), rpm[bins == b].mean(), here.mean(0), here.var(0)))
    return out


def jitter(t, first, cycles):
    """Scatter of an edge from third differences, one cycle against the next."""
    n = 2 * PER_TURN
    few = t[first:first + min(cycles, 1000) * n].reshape(-1, n)[:, :PER_TURN]
    third = np.diff(few, 3, axis=1)
    return np.median(np.abs(np.diff(third, axis=0))) / 0.6745 / np.sqrt(2 * 20)


def judge(speed, edge):
    """Work of each position in a mean cycle by generalised least squares."""
    cycles, rpm, late, var = speed
    a = angles()
    full = 0.15 * (800 / rpm) ** 2
    wave = lambda x: (np.maximum(x % 720 - 44, 0) - (x % 720) ** 2 / 1440) / -2
    tops = 84 + 180 * np.arange(CYLINDERS)
    work = np.stack([wave(a - k) - wave(a[0] - k) for k in tops], 1)
    common = np.stack([f(h * a * np.pi / 360) for h in (4, 8, 12) for f in (np.cos, np.sin)], 1)
    road = np.stack([np.maximum(a - k, 0) / -2 for k in range(0, 720, 45)], 1)
    tooth = np.tile(np.eye(PER_TURN), (2, 1)) - np.eye(PER_TURN)[0]
    noise = np.diag(var / cycles + (6 * rpm * edge) ** 2 / cycles + 0.004 ** 2)
    noise += 16 * common @ common.T + (0.05 * full) ** 2 / cycles * road @ road.T + 0.12 ** 2 * tooth @ tooth.T
    f = np.linalg.solve(noise, work)
    prior = np.eye(CYLINDERS) / full ** 2
    return np.linalg.solve(work.T @ f + prior, f.T @ late) / full


def core(x):
    q60, q90 = np.quantile(x, [0.6, 0.9])
    sigma = (q90 - q60) / 1.0283
    return q60 - 0.2533 * sigma, sigma


def second_heap(x, centre, sigma):
    best, found = 9.0, (0.0, 0.0)
    u = (x - centre) / sigma
    heap = np.exp(-u * u / 2) + 0.005 * np.exp(-u * u / 8)
    for d in 5 * sigma * 1.08 ** np.arange(32):
        wide = np.hypot(1.15 * sigma, 0.15 * d)
        w = (x - centre + d) / wide
        likely = sigma / wide * np.exp(-w * w / 2) / np.maximum(heap, 1e-300)
        for r in (0.0005, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.35):
            gain = len(x) * np.log(1 - r) + np.log1p(r / (1 - r) * likely).sum()
            if gain > best:
                best, found = gain, (d, r)
    return found


def detect(work, gains):
    raw = (work - np.median(work, axis=0)).ravel()
    excess, miss = raw.copy(), np.zeros(len(raw), bool)
    depth = 0.0
    for _ in range(4):
        excess = raw.copy()
        for lag in range(-BEFORE, AFTER + 1):  # what a miss does to its neighbours
            if lag == 0 or depth == 0:
                continue
            hit = np.flatnonzero(miss) - lag
            hit = hit[(hit >= 0) & (hit < len(raw))]
            excess[hit] += gains[hit % CYLINDERS, lag + BEFORE] * depth
        centre, sigma = core(excess[::17])
        depth, _ = second_heap(excess[::len(excess) // 10000 + 1], centre, sigma)
        now = excess < centre - max(depth / 2, 2.8 * sigma)
        changed = np.count_nonzero(now != miss)
        miss = now
        if changed * 5000 < len(raw):
            break
    return miss, 1 + excess / depth


def worst(miss, firings):
    c = np.cumsum(miss)
    return (c[firings:] - c[:-firings]).max()


def stumbles(t, first, cycles):
    speed = 120 / np.diff(t[first:first + cycles * 2 * PER_TURN:2 * PER_TURN])
    drop = np.log(speed[:-2] / speed[2:])
    usual = 1.4826 * np.median(np.abs(drop))
    return np.count_nonzero(drop > max(0.1, 6 * usual))


def main():
    t = np.fromfile(sys.argv[1])
    start = time.process_time()
    first, cycles = decode(t)
    speeds = profile(t, first, cycles)
    edge = jitter(t, first, cycles)
    means = [judge(s, edge) for s in speeds]
    work, rpm, at, gains = weigh(t, first, cycles)
    dev = 1.4826 * np.median(np.abs(work - np.median(work, axis=0)), axis=0)
    miss, share = detect(work, gains)
    counts = miss.reshape(work.shape).sum(0)
    windows = worst(miss, 400), worst(miss, 2000), stumbles(t, first, cycles)
    print(time.process_time() - start, np.count_nonzero(miss), work.size)


main()
