"""Solves random flow networks with scipy and records them, for the outside checks.

Run:  python make/network.py > recorded/networks.csv     (numpy 2.4.6, scipy 1.17.1 from PyPI)

Method, unlike the one under test: the unknowns are the pressures alone. Each edge's flow is written out as a function of its two pressures,
q = sign(x) sqrt(|x| / K) with x = drive + p_from - p_to, the sum of |x|^1.5 is minimised by BFGS from several starts, and the balance is
polished by a root finder. A network is recorded only if the balance holds within 1e-9 m3/s.
"""
import math
import random
from importlib.metadata import version

import numpy as np
from scipy.optimize import minimize, root

dice = random.Random(20261120)


def make():
    nodes = dice.randint(2, 7)
    edges = []
    for node in range(1, nodes):  # every chamber hangs on one before it
        edges.append([dice.randrange(node), node])
    for _ in range(dice.randint(1, 7)):
        edges.append(dice.sample(range(nodes), 2))
    out = []
    for a, b in edges:
        if dice.random() < 0.5:
            a, b = b, a
        fan = dice.random() < 0.45
        shutoff, free = (round(dice.uniform(5, 45), 2), round(dice.uniform(0.01, 0.09), 4)) if fan else (0.0, 0.0)
        out.append((a, b, shutoff, free, round(10 ** dice.uniform(2.5, 6), 1)))
    return nodes, out


def flows(pressures, edges):
    at = np.concatenate([[0.0], pressures])
    found = []
    for a, b, shutoff, free, k in edges:
        total = k + (shutoff / free**2 if free else 0.0)
        drop = shutoff + at[a] - at[b]
        found.append(math.copysign(math.sqrt(abs(drop) / total), drop))
    return np.array(found)


def balance(pressures, nodes, edges):
    sums = np.zeros(nodes)
    for (a, b, *_), flow in zip(edges, flows(pressures, edges)):
        sums[a] -= flow
        sums[b] += flow
    return sums[1:]


def energy(pressures, nodes, edges):
    at = np.concatenate([[0.0], pressures])
    total = 0.0
    for a, b, shutoff, free, k in edges:
        whole = k + (shutoff / free**2 if free else 0.0)
        total += abs(shutoff + at[a] - at[b]) ** 1.5 / math.sqrt(whole) * 2 / 3
    return total


print(f"# numpy {version('numpy')}, scipy {version('scipy')}; command: python make/network.py > recorded/networks.csv")
print("network,nodes,from,to,shutoff_pa,free_m3s,resistance,flow_m3s")
kept = 0
while kept < 40:
    nodes, edges = make()
    if not any(edge[2] for edge in edges):
        continue
    best = None
    for start in range(6):
        guess = np.array([dice.uniform(-20, 20) for _ in range(nodes - 1)])
        low = minimize(energy, guess, args=(nodes, edges), method="BFGS", options={"gtol": 1e-12, "maxiter": 4000})
        for method in ("hybr", "lm"):
            end = root(balance, low.x, args=(nodes, edges), method=method, tol=1e-14)
            left = np.max(np.abs(balance(end.x, nodes, edges)))
            if best is None or left < best[0]:
                best = (left, end.x)
    if best[0] > 1e-9:
        continue
    for edge, flow in zip(edges, flows(best[1], edges)):
        print(f"{kept},{nodes},{','.join(map(str, edge))},{flow:.10f}")
    kept += 1
