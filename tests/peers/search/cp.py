"""The same questions put to a constraint solver of the Python registry, on one thread.

    python3 cp.py DIR [SECONDS]

Prints, for each question, the optimum, whether it is proven, and the milliseconds of building the model and of solving it, both
of processor time.
"""

import csv
import sys
import time
import tomllib
from pathlib import Path

from ortools.sat.python import cp_model

root = Path(sys.argv[1])
limit = float(sys.argv[2]) if len(sys.argv) > 2 else 120.0
prices = {row["part"]: round(float(row["price"]) * 100) for row in csv.DictReader((root / "catalogue/offers/all.csv").open())}
kinds = {}
for file in sorted((root / "catalogue/parts").glob("*.toml")):
    table = tomllib.loads(file.read_text())
    kind = table.pop("kind")
    kinds[kind] = [{**{k: v for k, v in row.items() if k != "name"}, "price": prices[f"{kind}/{name}"]} for name, row in table.items()]


def ask(best):
    start = time.process_time()
    model = cp_model.CpModel()
    chosen = {kind: [model.new_bool_var("") for _ in rows] for kind, rows in kinds.items()}
    for bools in chosen.values():
        model.add_exactly_one(bools)

    def of(kind, field, number=lambda v: v):
        return sum(int(number(row[field])) * b for row, b in zip(kinds[kind], chosen[kind]) if number(row[field]))

    letter = "abc".index
    generation = ["d4", "d5"].index
    model.add(of("processor", "socket", letter) == of("board", "socket", letter))
    model.add(of("memory", "memory", generation) == of("board", "memory", generation))
    model.add(of("board", "size") <= of("chassis", "size"))
    model.add(of("graphics", "length_mm") <= of("chassis", "card_mm"))
    model.add(of("cooler", "height_mm") <= of("chassis", "cooler_mm"))
    model.add(of("cooler", "rated_w") >= of("processor", "draw_w"))
    draw = sum(of(kind, "draw_w") for kind in ["processor", "graphics", "storage", "fan"])
    model.add(5 * draw <= 4 * of("supply", "rated_w"))
    model.add(of("memory", "gb") >= 16)
    model.add(of("storage", "gb") >= 1000)
    model.add(of("board", "m2") >= of("storage", "on_board"))
    for socket in "abc":
        model.add(of("cooler", "sockets", lambda s: socket in s) >= of("processor", "socket", lambda s: s == socket))
    model.add(of("memory", "height_mm") <= of("cooler", "over_memory_mm"))
    model.add(of("graphics", "index") - of("processor", "index") <= 60)
    model.add(of("processor", "index") - of("graphics", "index") <= 60)
    pixels = sum(row["pixels"] * row["refresh"] * b for row, b in zip(kinds["display"], chosen["display"]))
    model.add(pixels <= 4000000 * of("graphics", "index"))
    model.add(10 * (of("fan", "moves") + of("chassis", "exchange")) >= 3 * draw)
    price = sum(of(kind, "price") for kind in kinds)
    if best:
        model.add(price <= 140000)
        # Of builds that can do as much the cheapest, as dryfit answers.
        model.maximize((of("processor", "index") + of("graphics", "index")) * 1000000 - price)
    else:
        model.add(of("processor", "index") >= 100)
        model.add(of("graphics", "index") >= 110)
        model.minimize(price)
    built = time.process_time()
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = limit
    status = solver.solve(model)
    done = time.process_time()
    value = solver.objective_value if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else None
    if best and value is not None:
        index = -(-value // 1000000)
        words = f"{index:.0f} {(index * 1000000 - value) / 100:.2f}"
    else:
        words = "none" if value is None else f"{value / 100:.2f}"
    sure = "proven" if status in (cp_model.OPTIMAL, cp_model.INFEASIBLE) else "not proven"
    print(f"{'best' if best else 'cheapest'}\t{words}\t{sure}\t{(built - start) * 1000:.1f}\t{(done - built) * 1000:.1f}", flush=True)


ask(False)
ask(True)
