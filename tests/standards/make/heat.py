"""Temperatures of the chambers of the recorded networks, by following them in time until they no longer change.

Run:  python make/heat.py > recorded/heat.csv     (numpy 2.4.6 from PyPI; reads recorded/networks.csv)

Each chamber holds some air and starts at the room's 22 degrees; in small steps it gains its heat and mixes with what flows in. Chamber n has
10 n + 5 W, air carries 1200 J/(m3 K). Networks in which some chamber's air barely moves are left out: they would take for ever.
"""
import csv
from importlib.metadata import version

import numpy as np

ROOM, AIR = 22.0, 1200.0
networks = {}
with open("recorded/networks.csv") as file:
    for row in csv.DictReader(line for line in file if not line.startswith("#")):
        networks.setdefault(row["network"], (int(row["nodes"]), []))[1].append(row)

print(f"# numpy {version('numpy')}; command: python make/heat.py > recorded/heat.csv")
print("network,node,celsius")
for name, (nodes, rows) in networks.items():
    carry = np.zeros((nodes, nodes))  # W/K from row to column
    for row in rows:
        a, b, flow = int(row["from"]), int(row["to"]), float(row["flow_m3s"])
        if flow < 0:
            a, b, flow = b, a, -flow
        carry[a, b] += flow * AIR
    through = carry.sum(axis=0)
    if through[1:].min() < 0.5:
        continue
    heat = np.array([0.0] + [10.0 * n + 5.0 for n in range(1, nodes)])
    now = np.full(nodes, ROOM)
    step = 0.2 / through.max()
    for _ in range(400_000):
        change = heat + carry.T @ now - through * now
        change[0] = 0.0
        now = now + step * change
        if np.abs(change).max() < 1e-9:
            for node in range(1, nodes):
                print(f"{name},{node},{now[node]:.6f}")
            break
