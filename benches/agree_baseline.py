"""The statistics of the agreement bench with numpy and scipy, on the table that the bench wrote.

python3 benches/agree_baseline.py TABLE.csv
Whole-array code as an analyst would write it, pandas-free: the table of agreement by bincount, everything else from it
or from the columns. Prints the same lines as the bench, so that the two can be compared.
"""
import sys
import time

import numpy as np
from scipy import stats

REPEATS = 5


def load(path):
    table = np.loadtxt(path, delimiter=",", skiprows=1, usecols=(1, 2), dtype=np.int64)
    return table[:, 0], table[:, 1]


def agreement(a, b):
    out = {}
    n = len(a)
    out["n"] = n
    apart = np.abs(a - b)
    out["exact_percent"] = 100 * np.mean(apart == 0)
    out["within_1"] = 100 * np.mean(apart <= 1)
    out["within_2"] = 100 * np.mean(apart <= 2)
    both = np.stack([a, b], axis=1).astype(float)
    mean = both.mean(axis=1)
    safe = np.where(mean == 0, 1.0, mean)
    deviation = np.abs(both - mean[:, None]).mean(axis=1) / safe
    cv = both.std(axis=1, ddof=1) / safe
    out["ape_percent"] = 100 * deviation.mean()
    out["cv_percent"] = 100 * cv.mean()
    out["d_percent"] = 100 * (cv / np.sqrt(2)).mean()
    low, high = min(a.min(), b.min()), max(a.max(), b.max())
    size = high - low + 1
    table = np.bincount((a - low) * size + (b - low), minlength=size * size).reshape(size, size)
    share = table / n
    rows, columns = share.sum(axis=1), share.sum(axis=0)
    expected = np.outer(rows, columns)
    distance = np.abs(np.subtract.outer(np.arange(size), np.arange(size))) / max(size - 1, 1)
    kappas = []
    for weights in ((distance == 0).astype(float), 1 - distance, 1 - distance**2):
        observed, by_chance = (weights * share).sum(), (weights * expected).sum()
        estimate = (observed - by_chance) / (1 - by_chance)
        row_mean, column_mean = weights @ columns, rows @ weights
        inner = weights - (row_mean[:, None] + column_mean[None, :]) * (1 - estimate)
        variance = (share * inner**2).sum() - (estimate - by_chance * (1 - estimate)) ** 2
        kappas.append((estimate, np.sqrt(max(variance, 0)) / ((1 - by_chance) * np.sqrt(n))))
    out["kappas"] = kappas
    grand = both.mean()
    between = 2 * ((mean - grand) ** 2).sum() / (n - 1)
    by_reader = n * ((both.mean(axis=0) - grand) ** 2).sum()
    rest = ((both - grand) ** 2).sum() - between * (n - 1) - by_reader
    residual = rest / (n - 1)
    out["icc_2_1"] = (between - residual) / (between + residual + 2 * (by_reader - residual) / n)
    upper, lower = np.triu(table, 1), np.tril(table, -1).T
    total = upper + lower
    filled = total > 0
    bowker = (((upper - lower) ** 2)[filled] / total[filled]).sum()
    out["bowker"] = (bowker, stats.chi2.sf(bowker, filled.sum()))
    hoenig, df = 0.0, 0
    for step in range(1, size):
        above, below = np.diag(table, step).sum(), np.diag(table, -step).sum()
        if above + below:
            hoenig += (above - below) ** 2 / (above + below)
            df += 1
    out["evans-hoenig"] = (hoenig, stats.chi2.sf(hoenig, max(df, 1)))
    above, below = upper.sum(), lower.sum()
    mcnemar = (above - below) ** 2 / max(above + below, 1)
    out["mcnemar"] = (mcnemar, stats.chi2.sf(mcnemar, 1))
    difference = b - a
    out["mean_difference"] = difference.mean()
    out["paired_t"] = stats.ttest_1samp(difference, 0)
    out["limits"] = difference.mean() + np.array([-1.96, 1.96]) * difference.std(ddof=1)
    out["bias"] = []
    for reference, other in ((a, b), (b, a)):
        for age in np.unique(reference):
            ages = other[reference == age]
            if len(ages) > 1 and ages.std() > 0:
                test = stats.ttest_1samp(ages, age)
                out["bias"].append((age, len(ages), ages.mean(), test.pvalue))
    return out


def fastest(work):
    best, result = float("inf"), None
    for _ in range(REPEATS):
        start = time.perf_counter()
        result = work()
        best = min(best, time.perf_counter() - start)
    return best, result


def main(path):
    a, b = load(path)
    seconds, found = fastest(lambda: agreement(a, b))
    print(f"memory_seconds {seconds:.4f}")
    print(f"n {found['n']}")
    for name in ("exact_percent", "ape_percent", "cv_percent", "d_percent"):
        print(f"{name} {found[name]:.9f}")
    for estimate, _ in found["kappas"]:
        print(f"kappa {estimate:.9f}")
    print(f"icc_2_1 {found['icc_2_1']:.9f}")
    for name in ("bowker", "evans-hoenig", "mcnemar"):
        print(f"{name} {found[name][0]:.6f}")
    print(f"mean_difference {found['mean_difference']:.9f}")
    seconds, n = fastest(lambda: agreement(*load(path))["n"])
    print(f"table_seconds {seconds:.4f}")
    print(f"table_n {n}")


if __name__ == "__main__":
    main(sys.argv[1])
