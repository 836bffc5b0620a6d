#!/usr/bin/env python3
"""The plain numpy/scipy version of what measure/order does with a sound file:
bands, comb over the half orders with a path through time, phase lock, folding
and slots. For comparing speed only:

    python3 tools/soundrace/plain.py FILE.wav CYLINDERS

prints the speed, the strengths of the firings, and as its last line the
processor seconds taken after the imports. Debian: python3-scipy.
"""
import sys
import time

import numpy as np
import scipy.io.wavfile
import scipy.signal as ss


def bands(x, rate):
    """The low band and the loudness of each octave, near 1500 frames/s."""
    rows, low = [], x
    while rate >= 2 * 1000 * 1.0:
        half = ss.firwin(15, 0.5)
        lower = ss.lfilter(half, 1, low)
        upper = low - lower
        rows.append((upper[::2] ** 2, rate / 2))
        low, rate = lower[::2], rate / 2
    out = [low]
    for square, r in rows:
        per = int(round(r / rate))
        if per >= 2:
            n = len(square) // per
            out.append(np.sqrt(square[: n * per].reshape(n, per).mean(1)))
    n = min(map(len, out))
    return np.array([row[:n] for row in out]), rate


def track(rows, rate, n):
    """Cycle rate by half seconds: comb and a path of least change."""
    window, hop = int(rate), int(rate / 2)
    size = 1 << (window - 1).bit_length()
    upper = sum(r / r.mean() - 1 for r in rows[1:])
    grid = 200 / 120 * 1.004 ** np.arange(int(np.log(7500 / 200) / np.log(1.004)))
    comb = np.zeros((len(grid), size // 2 + 1))
    for g, f in enumerate(grid):
        h = np.arange(1, 8 * n + 1)
        h = h[h * f < 0.45 * rate]
        w = np.where(h % n == 0, 1.0, np.where(h <= 3 * n, 0.2, 0.0))
        place = h * f * size / rate
        np.add.at(comb[g], place.astype(int), w * (1 - place % 1) / np.sqrt((w * w).sum()))
        np.add.at(comb[g], place.astype(int) + 1, w * (place % 1) / np.sqrt((w * w).sum()))
    scores = []
    for at in range(0, rows.shape[1] - window + 1, hop):
        lines = 0
        for row in (rows[0], upper):
            part = row[at:at + window]
            p = np.abs(np.fft.rfft((part - part.mean()) * np.hanning(window), size)) ** 2
            reach = int(80 / (rate / size)) | 1
            lines = lines + np.sqrt(p / np.convolve(p, np.ones(reach) / reach, "same"))
        use = lines[int(4 * size / rate):int(0.45 * size)]
        score = comb @ (lines - use.mean()) / use.std()
        scores.append(score)
    scores = np.array(scores)
    cost = (np.abs(np.arange(len(grid))[:, None] - np.arange(len(grid))[None, :]) * 0.004 / 0.045) ** 2 / 2
    total, back = scores[0], []
    for s in scores[1:]:
        m = total[None, :] - cost
        back.append(m.argmax(1))
        total = m.max(1) + s
    path = [int(total.argmax())]
    for b in reversed(back):
        path.append(int(b[path[-1]]))
    return grid[path[::-1]], (np.arange(len(path)) * hop + window / 2) / rate


def fold(rows, rate, hz, at, n):
    """Cycles at a locked phase, averaged: one waveform a row."""
    points, start, template, sums, cycles = 96, 0.0, None, 0, 0
    while True:
        length = rate / np.interp(start / rate, at, hz)
        if start + length + 2 > rows.shape[1]:
            return sums / cycles, cycles
        t = start + (np.arange(points) + 0.5) / points * length
        near = slice(int(start), int(start + length) + 3)
        x = np.fft.rfft([np.interp(t - near.start, np.arange(near.stop - near.start), r[near]) for r in rows], axis=1)
        x = x[:, 1:6 * n + 1]
        late = 0.0
        if template is not None:
            tries = np.linspace(-0.08, 0.08, 25)
            turn = np.exp(2j * np.pi * np.outer(tries, np.arange(1, x.shape[1] + 1)))
            fit = (turn * (x * template.conj()).sum(0)).real.sum(1)
            late = tries[fit.argmax()]
            x = x * np.exp(2j * np.pi * late * np.arange(1, x.shape[1] + 1))
        template = x if template is None else template + (x - template) / 16
        sums, cycles = sums + x, cycles + 1
        start += length * (1 + 0.6 * late)


def main():
    path, n = sys.argv[1], int(sys.argv[2])
    began = time.process_time()
    rate, x = scipy.io.wavfile.read(path)
    x = x.astype(np.float32) / 32768
    rows, frames = bands(x, rate)
    hz, at = track(rows, frames, n)
    mean, cycles = fold(rows, frames, hz, at, n)
    for row in mean:
        wave = np.fft.irfft(np.concatenate([[0], row]), 48 * n).reshape(n, 48)
        shape = np.median(wave, 0) - np.median(wave, 0).min()
        s = (wave * shape).sum(1)
        print("strengths", np.round(s / np.median(np.abs(s)), 2))
    print(f"{hz.mean() * 120:.0f} rpm, {cycles} cycles")
    print(f"{time.process_time() - began:.3f}")


main()
