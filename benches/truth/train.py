"""Trains the network of the learned evidence on strips written by `cargo bench --bench truth -- --strips FILE`.

    python train.py STRIPS --out FILE.bin [--without STYLE,STYLE] [--steps N] [--check STRIPS]

Needs numpy, scipy and jax. One thread, fixed seed. `--without` leaves styles out, `--check` judges other strips by the result.
"""

import argparse
import os

os.environ.setdefault("XLA_FLAGS", "--xla_cpu_multi_thread_eigen=false intra_op_parallelism_threads=1")

import time

import jax
import jax.numpy as jnp
import numpy as np
from scipy.ndimage import gaussian_filter1d

STYLES = ["perch-scale", "trout-scale", "sunfish-scale", "cisco-scale", "pike-scale", "shad-scale",
          "section-reflected", "section-transmitted", "broken-burnt", "whole-reflected", "whole-transmitted"]
GRADES = ["easy", "medium", "hard"]
LENGTH = 512
STRIDE = 2
SPREAD = 2.5  # of the wanted bump at an annulus, samples of the output
DILATIONS = (1, 2, 4, 8)
CHANNELS = 2


def strips(path):
    """Every strip of a file: style, grade, edge, annuli, checks, lines present, values [channel, line, sample]."""
    data = open(path, "rb").read()
    at, out = 0, []
    while at < len(data):
        head = np.frombuffer(data, "<f4", 8, at)
        lines, samples, annuli, checks = (int(head[i]) for i in (3, 4, 6, 7))
        at += 32
        present = np.frombuffer(data, "<f4", lines, at) > 0.5
        at += 4 * lines
        places = np.frombuffer(data, "<f4", annuli + checks, at)
        at += 4 * (annuli + checks)
        count = CHANNELS * lines * samples
        values = np.frombuffer(data, np.int8, count, at).reshape(CHANNELS, lines, samples)
        at += count
        out.append(dict(style=STYLES[int(head[0])], grade=GRADES[int(head[1])], edge=float(head[5]),
                        annuli=places[:annuli], checks=places[annuli:], present=present, values=values))
    return out


def shapes(base=8, wide=16, pooled=24):
    """Name, taps, channels in and out of each layer, in order."""
    rows = [("a", 9, CHANNELS, base), ("b", 9, base, wide), ("c", 5, wide, wide), ("d", 7, 3 * wide, pooled)]
    rows += [(f"e{d}", 7, pooled, pooled) for d in DILATIONS[1:]]
    rows += [("f", 1, pooled, 1)]
    return rows


def fresh(seed=1):
    rng = np.random.default_rng(seed)
    out = {}
    for name, taps, n, m in shapes():
        scale = np.sqrt(2.0 / (taps * n)) * (0.5 if name.startswith("e") else 1.0)
        out[name] = (rng.normal(size=(taps * n, m)).astype(np.float32) * scale, np.zeros(m, np.float32))
    out["f"] = (out["f"][0] * 0.1, np.array([-2.5], np.float32))
    return out


def conv(x, layer, taps, dilation=1, stride=1):
    """Along the last axis but one, channels last; zeros beyond the ends."""
    w, b = layer
    half = (taps // 2) * dilation
    pad = [(0, 0)] * (x.ndim - 2) + [(half, half), (0, 0)]
    p = jnp.pad(x, pad)
    n = x.shape[-2]
    parts = [p[..., k * dilation:k * dilation + n:stride, :] for k in range(taps)]
    return jnp.concatenate(parts, -1) @ w + b


def leaky(x):
    return jnp.maximum(x, 0.1 * x)


def forward(params, x, lines, centre):
    """x: [batch, line, sample, channel]; lines: weight of each line [batch, line]; centre: likewise, near the axis."""
    h = leaky(conv(x, params["a"], 9))
    h = leaky(conv(h, params["b"], 9, stride=STRIDE))
    h = leaky(conv(h, params["c"], 5))
    w = lines[:, :, None, None]
    mean = (h * w).sum(1) / (lines.sum(1)[:, None, None] + 1e-6)
    c = (lines * centre)[:, :, None, None]
    middle = (h * c).sum(1) / (c.sum(1) + 1e-6)
    spread = jnp.sqrt((w * (h - mean[:, None]) ** 2).sum(1) / (lines.sum(1)[:, None, None] + 1e-6) + 1e-4)
    h = leaky(conv(jnp.concatenate([mean, middle, spread], -1), params["d"], 7))
    for d in DILATIONS[1:]:
        h = h + leaky(conv(h, params[f"e{d}"], 7, dilation=d))
    return (h @ params["f"][0] + params["f"][1])[..., 0]


def blurred(x, sigma):
    return gaussian_filter1d(x, sigma, axis=-1, mode="constant")


def lesson(strip, rng, keep):
    """A random part of a strip, altered; the lines kept; the wanted output."""
    values = strip["values"]
    lines, samples = values.shape[1:]
    factor = np.exp(rng.normal() * 0.12)
    span = LENGTH / factor
    if rng.random() < 0.3:
        start = samples - span * rng.uniform(0.75, 1.02)
    else:
        start = rng.uniform(-0.1 * span, max(samples - 0.6 * span, 0.0))
    middle = lines // 2
    chosen = np.sort(np.append(rng.choice(np.delete(np.arange(lines), middle), keep - 1, replace=False), middle))
    at = start + np.arange(LENGTH) / factor
    at = at[None, :] + rng.normal(size=(keep, 1)) * 0.5
    low = np.floor(at).astype(int)
    f = (at - low).astype(np.float32)
    inside = (low >= 0) & (low < samples - 1)
    low = np.clip(low, 0, samples - 2)
    row = np.arange(keep)[:, None]
    part = values[:, chosen].astype(np.float32) * (3.0 / 127.0)
    x = part[:, row, low] * (1 - f) + part[:, row, low + 1] * f
    x = np.where(inside, x, 0.0)
    if rng.random() < 0.5:
        x[0] = -x[0]
    if rng.random() < 0.5:
        x[1] = -x[1]
    if rng.random() < 0.25:
        x[0] = blurred(x[0], rng.uniform(0.5, 1.3))
    if rng.random() < 0.7:
        x[0] += rng.normal(size=x[0].shape) * rng.uniform(0.0, 0.6)
    if rng.random() < 0.3:
        x[1] = 0.0
    if rng.random() < 0.5:
        x[0] *= np.exp(rng.normal(size=(keep, 1)) * 0.2)
    power = blurred(x[0] ** 2, 10.0)
    x[0] = np.clip(x[0] / np.sqrt(power + 0.1), -3, 3)
    x = np.where(inside, x, 0.0)
    weight = strip["present"][chosen].astype(np.float32) * (rng.random(keep) > 0.1)
    centre = np.exp(-0.5 * ((chosen - middle) / 2.5) ** 2).astype(np.float32)
    out_at = start + np.arange(LENGTH // STRIDE) * STRIDE / factor
    places = (strip["annuli"][:, None] - out_at[None, :]) * factor / STRIDE
    want = np.exp(-0.5 * (places / SPREAD) ** 2).max(0) if len(places) else np.zeros(len(out_at))
    mask = (out_at >= 0) & (out_at < samples)
    return np.moveaxis(x, 0, -1).astype(np.float32), weight, centre, want.astype(np.float32), mask.astype(np.float32)


def loss(params, batch):
    x, lines, centre, want, mask = batch
    z = forward(params, x, lines, centre)
    each = jnp.logaddexp(0.0, z) - want * z
    return (each * mask).sum() / mask.sum()


def train(data, steps, batch, keep, path, seed=1, rate=4e-3):
    rng = np.random.default_rng(seed)
    params = jax.tree.map(jnp.asarray, fresh(seed))
    m = jax.tree.map(jnp.zeros_like, params)
    v = jax.tree.map(jnp.zeros_like, params)
    steady = params

    @jax.jit
    def step(params, m, v, steady, batch, t, rate):
        value, g = jax.value_and_grad(loss)(params, batch)
        norm = jnp.sqrt(sum((x ** 2).sum() for x in jax.tree.leaves(g)))
        g = jax.tree.map(lambda x: x * jnp.minimum(1.0, 1.0 / (norm + 1e-9)), g)
        m = jax.tree.map(lambda a, b: 0.9 * a + 0.1 * b, m, g)
        v = jax.tree.map(lambda a, b: 0.99 * a + 0.01 * b * b, v, g)
        c1, c2 = 1 - 0.9 ** t, 1 - 0.99 ** t
        params = jax.tree.map(
            lambda p, a, b: p - rate * ((a / c1) / (jnp.sqrt(b / c2) + 1e-8) + 0.01 * p), params, m, v)
        pull = jnp.minimum(0.97, t / (t + 10.0))
        steady = jax.tree.map(lambda a, b: pull * a + (1 - pull) * b, steady, params)
        return params, m, v, steady, value

    weight = np.array([{"easy": 0.6, "medium": 1.0, "hard": 1.6}[s["grade"]] for s in data])
    weight /= weight.sum()
    begun, seen = time.time(), []
    for t in range(1, steps + 1):
        picks = rng.choice(len(data), batch, p=weight)
        lessons = [lesson(data[i], rng, keep) for i in picks]
        arrays = tuple(np.stack(column) for column in zip(*lessons))
        now = rate * min(1.0, t / 30) * 0.5 * (1 + np.cos(np.pi * t / steps))
        params, m, v, steady, value = step(params, m, v, steady, arrays, float(t), float(now))
        seen.append(float(value))
        if t % 25 == 0:
            print(f"{t:5d} loss {np.mean(seen[-25:]):.4f}  {time.time() - begun:.0f} s", flush=True)
            save(jax.tree.map(np.asarray, steady), path)
    return jax.tree.map(np.asarray, steady)


def outputs(params, strip):
    """The network's log odds along a whole strip, one for each second sample."""
    samples = strip["values"].shape[2]
    padded = -(-samples // 256) * 256
    x = np.zeros((CHANNELS, strip["values"].shape[1], padded), np.float32)
    x[:, :, :samples] = strip["values"].astype(np.float32) * (3.0 / 127.0)
    lines = strip["present"].astype(np.float32)
    middle = len(lines) // 2
    centre = np.exp(-0.5 * ((np.arange(len(lines)) - middle) / 2.5) ** 2).astype(np.float32)
    z = run(params, np.moveaxis(x, 0, -1)[None], lines[None], centre[None])
    return np.asarray(z)[0][:(samples + 1) // 2]


run = jax.jit(forward)


def peaks(z, least):
    """Maxima at least `least` apart, best first kept; places in samples of the strip."""
    tops = [i for i in range(1, len(z) - 1) if z[i] >= z[i - 1] and z[i] > z[i + 1]]
    tops.sort(key=lambda i: -z[i])
    kept = []
    for i in tops:
        if all(abs(i - j) >= least for j in kept):
            kept.append(i)
    out = []
    for i in kept:
        bend = z[i - 1] - 2 * z[i] + z[i + 1]
        out.append((z[i], STRIDE * (i + (0.5 * (z[i - 1] - z[i + 1]) / bend if bend < 0 else 0))))
    return out


def hits(found, truth, edge):
    pairs = []
    for j, t in enumerate(truth):
        before = t - truth[j - 1] if j else t
        after = truth[j + 1] - t if j + 1 < len(truth) else np.inf
        limit = min(0.03 * edge, 0.5 * min(before, after))
        pairs += [(abs(f - t), i, j) for i, f in enumerate(found) if abs(f - t) <= limit]
    pairs.sort()
    a, b = set(), set()
    for _, i, j in pairs:
        if i not in a and j not in b:
            a.add(i)
            b.add(j)
    return len(a)


def scores(judged, level):
    """F1 by grade and in all."""
    out = {}
    for grade in GRADES + ["all"]:
        h = f = t = 0
        for strip, tops in judged:
            if grade in (strip["grade"], "all"):
                found = [p for z, p in tops if z > level and p < 0.985 * strip["edge"]]
                h += hits(found, strip["annuli"], strip["edge"])
                f += len(found)
                t += len(strip["annuli"])
        out[grade] = 2 * h / max(f + t, 1)
    return out


def check(params, data):
    judged = [(s, peaks(outputs(params, s), 5)) for s in data]
    best = max((scores(judged, level)["all"], level) for level in np.arange(-2.5, 2.0, 0.25))
    for level in (best[1], -0.75):
        print(f"  level {level}: " + " ".join(f"{k} {v:.3f}" for k, v in scores(judged, level).items()), flush=True)
    for style in sorted({s["style"] for s in data}):
        part = [j for j in judged if j[0]["style"] == style]
        print(f"  {style}: " + " ".join(f"{k} {v:.3f}" for k, v in scores(part, best[1]).items()), flush=True)


def save(params, path):
    """32-bit little-endian numbers, layer by layer in the order of `shapes`: weights [tap, in, out], then offsets."""
    with open(path, "wb") as out:
        for name, *_ in shapes():
            for part in params[name]:
                out.write(np.ascontiguousarray(part, "<f4").tobytes())


def main():
    words = argparse.ArgumentParser()
    words.add_argument("strips")
    words.add_argument("--out", required=True)
    words.add_argument("--without", default="")
    words.add_argument("--steps", type=int, default=500)
    words.add_argument("--batch", type=int, default=16)
    words.add_argument("--keep", type=int, default=8)
    words.add_argument("--check", default="")
    given = words.parse_args()
    left = [s for s in given.without.split(",") if s]
    data = [s for s in strips(given.strips) if s["style"] not in left]
    print(len(data), "strips", sum(p[0].size + p[1].size for p in fresh().values()), "numbers", flush=True)
    params = train(data, given.steps, given.batch, given.keep, given.out)
    save(params, given.out)
    if given.check:
        others = strips(given.check)
        check(params, [s for s in others if s["style"] in left] if left else others)


if __name__ == "__main__":
    main()
