"""Comparison of two figs and the chance that one of three bears, by plain simulation with numpy: writes monte_carlo.json beside itself.

Run with Python 3.11 and numpy 1.26 or later: `python3 tests/choice/monte_carlo.py`. Every number that goes in stands in the file that comes
out, so that a change of starting values breaks nothing.
"""
import json
import os

import numpy as np

DRAWS = 400_000
GAPS = {"tips": 6.5, "wood": 4.0, "dead": 14.0}
BETA = 0.75
DELAY = [(0.0, 0.0), (7.0, 3.0), (14.0, 5.0), (30.0, 8.0)]  # days after damage 0..3
WOOD_WITHOUT_REGROWTH = 0.4

FIGS = [
    {"h": [-18.0, 1.6], "need": [1750.0, 180.0], "base": [100.0, 75.0], "regrowth": True},
    {"h": [-15.0, 1.5], "need": [1600.0, 150.0], "base": [100.0, 75.0], "regrowth": None},
    {"h": [-13.5, 1.8], "need": [1450.0, 200.0], "base": [100.0, 75.0], "regrowth": False},
]
PLACES = [
    {"name": "cold, long summers", "minimum": [-19.0, 3.5], "deficit": [0.5, 1.5, 1.0], "event": 3.0, "degree_days": [2300.0, 150.0, 120.0, 9.0]},
    {"name": "mild, cool summers", "minimum": [-9.0, 3.0], "deficit": [-0.5, 1.2, 0.8], "event": 3.0, "degree_days": [1650.0, 140.0, 160.0, 6.0]},
    {"name": "middling", "minimum": [-14.0, 4.0], "deficit": [0.0, 1.6, 1.2], "event": 2.5, "degree_days": [1950.0, 160.0, 100.0, 8.0]},
]
REGROWTH_SHARE = 0.58


def phi(z):
    """Standard normal distribution function by integration of its density on a fine grid."""
    grid = np.linspace(-9, 9, 36_001)
    density = np.exp(-grid**2 / 2) / np.sqrt(2 * np.pi)
    cumulative = np.concatenate([[0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(grid))])
    return np.interp(z, grid, cumulative)


def softened(sd):
    """P(harm) by x - E on a grid, the logistic averaged over normal luck of this spread."""
    noise = np.linspace(-6, 6, 2_001)
    weight = np.exp(-noise**2 / 2)
    weight /= weight.sum()
    grid = np.linspace(-80, 80, 3_201)
    values = (1 / (1 + np.exp(-BETA * (grid[:, None] + sd * noise[None, :])))) @ weight
    return grid, values


def regrows(fig, rng):
    if fig["regrowth"] is None:
        return rng.random(DRAWS) < REGROWTH_SHARE
    return np.full(DRAWS, fig["regrowth"])


def crop(fig, mean_heat, heat_sd, rate, need, base, bears):
    """Chance of ripe figs after damage 0..3 over the years, for draws of the rest."""
    out = []
    for level, (days, sd) in enumerate(DELAY):
        needed = need + days * rate + (base if level == 3 else 0.0)
        p = phi((mean_heat - needed) / np.hypot(heat_sd, sd * rate))
        if level == 2:
            p = p * np.where(bears, 1.0, WOOD_WITHOUT_REGROWTH)
        if level == 3:
            p = p * np.where(bears, 1.0, 0.0)
        out.append(p)
    return out


def long_run(place, rng):
    deficit, deficit_sd, doubt = place["deficit"]
    mean, spread = place["minimum"]
    luck = np.sqrt(spread**2 + deficit_sd**2 - doubt**2 + place["event"] ** 2)
    grid, values = softened(luck)
    shared = doubt * rng.standard_normal(DRAWS)
    heat, heat_sd, heat_doubt, rate = place["degree_days"]
    summer = heat + heat_doubt * rng.standard_normal(DRAWS)
    shares = []
    for fig in FIGS:
        h = fig["h"][0] + fig["h"][1] * rng.standard_normal(DRAWS) + shared + deficit
        at_least = [np.interp(h + gap - mean, grid, values) for gap in (GAPS["tips"], GAPS["wood"], 0.0, -GAPS["dead"])]
        levels = [1 - at_least[0]] + [a - b for a, b in zip(at_least, at_least[1:])]
        # The need of shoots from the base moves with the need of the crop: one standard normal for both.
        z = rng.standard_normal(DRAWS)
        need, base = fig["need"][0] + fig["need"][1] * z, fig["base"][0] + fig["base"][1] * z
        bears = crop(fig, summer, heat_sd, rate, need, base, regrows(fig, rng))
        shares.append(sum(p * c for p, c in zip(levels, bears)))
    pairs = []
    for a in range(3):
        for b in range(a + 1, 3):
            gap = shares[a] - shares[b]
            pairs.append({"a": a, "b": b, "first": float((gap >= 0.05).mean()), "second": float((gap <= -0.05).mean()),
                          "first_ahead": float((gap > 0).mean() + 0.5 * (gap == 0).mean())})
    best = np.argmax(np.stack(shares), axis=0)
    return {"pairs": pairs, "best": [float((best == i).mean()) for i in range(3)], "quartiles": [float(np.quantile(s, 0.25)) for s in shares],
            "means": [float(s.mean()) for s in shares]}


def one_bears(place, rng):
    deficit, deficit_sd, _ = place["deficit"]
    mean, spread = place["minimum"]
    felt = mean + spread * rng.standard_normal(DRAWS) + np.hypot(deficit_sd, place["event"]) * rng.standard_normal(DRAWS)
    heat, heat_sd, heat_doubt, rate = place["degree_days"]
    summer = heat + np.hypot(heat_sd, heat_doubt) * rng.standard_normal(DRAWS)
    borne = np.zeros(DRAWS, bool)
    for fig in FIGS:
        h = fig["h"][0] + fig["h"][1] * rng.standard_normal(DRAWS) + deficit
        u = rng.random(DRAWS)
        luck = np.log(u / (1 - u)) / BETA
        bears = regrows(fig, rng)
        reached = [h + gap - felt + luck > 0 for gap in (GAPS["tips"], GAPS["wood"], 0.0, -GAPS["dead"])]
        level = sum(r.astype(int) for r in reached)
        need = fig["need"][0] + fig["need"][1] * rng.standard_normal(DRAWS)
        base = fig["base"][0] + fig["base"][1] * rng.standard_normal(DRAWS)
        ripe = np.zeros(DRAWS, bool)
        for k, (days, sd) in enumerate(DELAY):
            needed = need + (days + sd * rng.standard_normal(DRAWS)) * rate + (base if k == 3 else 0.0)
            kept = {0: True, 1: True, 2: bears | (rng.random(DRAWS) < WOOD_WITHOUT_REGROWTH), 3: bears}[k]
            ripe |= (level == k) & (summer > needed) & kept
        borne |= ripe
    return float(borne.mean())


def main():
    rng = np.random.default_rng(20261128)
    cases = [{**place, "long_run": long_run(place, rng), "one_of_three": one_bears(place, rng)} for place in PLACES]
    doc = {"made_with": f"numpy {np.__version__}, {DRAWS} draws", "beta": BETA, "gaps": GAPS, "delay_days": DELAY,
           "wood_share_without_regrowth": WOOD_WITHOUT_REGROWTH, "regrowth_share": REGROWTH_SHARE, "figs": FIGS, "cases": cases}
    path = os.path.join(os.path.dirname(os.path.abspath(__file__)), "monte_carlo.json")
    with open(path, "w", encoding="utf-8") as out:
        json.dump(doc, out, indent=1)
        out.write("\n")


main()
