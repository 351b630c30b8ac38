"""Sticks for twenty, counted with scipy: the same model as `science/propagation/rooting.rs`, written anew.

python3 tests/choice/rooting.py     (scipy 1.17.1)
"""
import csv, pathlib
import numpy as np
from scipy.stats import beta, betabinom, norm

rows = {r["key"]: r for r in csv.DictReader(open(pathlib.Path(__file__).parents[2] / "seed-data/propagation-priors.csv", encoding="utf-8"))}
number = lambda key, column="value": float(rows[key][column])

for n, a, b, k in [(28, 6.0, 2.0, 20), (40, 1.5, 4.0, 5), (1, 0.3, 0.7, 1), (500, 22.0, 9.0, 330), (60, 0.08, 0.02, 30), (4000, 30.0, 900.0, 100)]:
    print(f"({n}, {a:.2f}, {b:.2f}, {k}, {betabinom.sf(k - 1, n, a, b):.15f}),")

mean, sd = number("rooted_hardwood_soil"), number("rooted_hardwood_soil", "spread")
size = mean * (1 - mean) / sd**2 - 1
shares = (np.arange(80) + 0.5) / 80
rhos = np.minimum(number("batch_correlation") * np.exp(number("batch_correlation", "spread") * norm.ppf((np.arange(15) + 0.5) / 15)), 0.9)
m, rho = np.meshgrid(shares, rhos)
a, b = m * (1 - rho) / rho, (1 - m) * (1 - rho) / rho
for own in [[], [(30, 24), (25, 12), (40, 33), (20, 17)]]:
    weight = beta.pdf(m, mean * size, (1 - mean) * size)
    for n, x in own:
        weight = weight * betabinom.pmf(x, n, a, b)
    weight /= weight.sum()
    chance = lambda n: (weight * betabinom.sf(19, n, a, b)).sum()
    n = next(n for n in range(20, 1000) if chance(n) >= 0.9)
    print(n, f"{chance(n):.9f}", f"{(weight * m).sum():.9f}")
