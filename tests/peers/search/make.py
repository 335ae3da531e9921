"""Makes a catalogue of ten kinds with so many parts each, fifteen rules in Rhai and two briefs, for `dryfit plan` and for cp.py.

    python3 make.py DIR PARTS [SEED]

Everything is invented; the same numbers give the same files. Prices rise with what a part can do, with some chance on top.
"""

import random
import sys
from pathlib import Path

KINDS = {
    "processor": {"socket": "text", "draw_w": "number", "index": "number"},
    "board": {"socket": "text", "memory": "text", "size": "number", "m2": "number"},
    "memory": {"memory": "text", "gb": "number", "height_mm": "number"},
    "graphics": {"length_mm": "number", "draw_w": "number", "index": "number"},
    "storage": {"gb": "number", "on_board": "flag", "draw_w": "number"},
    "chassis": {"size": "number", "card_mm": "number", "cooler_mm": "number", "exchange": "number"},
    "supply": {"rated_w": "number", "length_mm": "number"},
    "cooler": {"height_mm": "number", "rated_w": "number", "sockets": "list", "over_memory_mm": "number"},
    "fan": {"moves": "number", "draw_w": "number"},
    "display": {"pixels": "number", "refresh": "number"},
}

RULES = """//! Fifteen rules over ten kinds.

/// 1. The socket fits.
/// Basis: made up for this comparison.
fn socket(build) { if build.processor.socket != build.board.socket { stop("socket", #{}); } }
/// 2. The memory fits.
/// Basis: made up for this comparison.
fn memory(build) { if build.memory.memory != build.board.memory { stop("memory", #{}); } }
/// 3. The board fits.
/// Basis: made up for this comparison.
fn board(build) { if build.board.size > build.chassis.size { stop("board", #{}); } }
/// 4. The card fits.
/// Basis: made up for this comparison.
fn card(build) { if build.graphics.length_mm > build.chassis.card_mm { stop("card", #{}); } }
/// 5. The cooler fits.
/// Basis: made up for this comparison.
fn cooler(build) { if build.cooler.height_mm > build.chassis.cooler_mm { stop("cooler", #{}); } }
/// 6. The cooler suffices.
/// Basis: made up for this comparison.
fn cooling(build) { if build.cooler.rated_w < build.processor.draw_w { stop("cooling", #{}); } }
/// 7. The supply has a quarter in hand.
/// Basis: made up for this comparison.
fn power(build) { let draw = build.sum("draw_w"); if draw * 1.25 > build.supply.rated_w { stop("power", #{}); } }
/// 8. Enough memory.
/// Basis: made up for this comparison.
fn much_memory(build) { if build.memory.gb < 16 { stop("much", #{}); } }
/// 9. Enough storage.
/// Basis: made up for this comparison.
fn much_storage(build) { if build.storage.gb < 1000 { stop("much", #{}); } }
/// 10. A socket for the drive.
/// Basis: made up for this comparison.
fn drive(build) { if build.storage.on_board && build.board.m2 < 1 { stop("drive", #{}); } }
/// 11. The cooler's kit has the socket.
/// Basis: made up for this comparison.
fn kit(build) { if !(build.processor.socket in build.cooler.sockets) { stop("kit", #{}); } }
/// 12. The memory fits under the cooler.
/// Basis: made up for this comparison.
fn under(build) { if build.memory.height_mm > build.cooler.over_memory_mm { stop("under", #{}); } }
/// 13. Card and processor go together.
/// Basis: made up for this comparison.
fn together(build) { if abs(build.graphics.index - build.processor.index) > 60 { stop("together", #{}); } }
/// 14. The card drives the display.
/// Basis: made up for this comparison.
fn drives(build) { if build.display.pixels * build.display.refresh > build.graphics.index * 4000000 { stop("drives", #{}); } }
/// 15. Air for the heat.
/// Basis: made up for this comparison.
fn air(build) { if build.fan.moves + build.chassis.exchange < build.sum("draw_w") * 0.3 { stop("air", #{}); } }

/// What it can do.
/// Basis: made up for this comparison.
/// Unit: index
/// Better: more
fn index(build) { build.processor.index + build.graphics.index }
"""

NEEDS = "needs = [" + ", ".join(f'"{k}"' for k in KINDS) + "]\n"


def parts(kind, count, chance):
    for at in range(count):
        q = chance.random()  # how good it is
        pick, whole = chance.choice, chance.randint
        if kind == "processor":
            row, price = dict(socket=pick("abc"), draw_w=45 + int(150 * q), index=40 + int(160 * q) + whole(0, 15)), 60 + 400 * q
        elif kind == "board":
            row, price = dict(socket=pick("abc"), memory=pick(["d4", "d5"]), size=whole(1, 4), m2=whole(0, 3)), 50 + 150 * q
        elif kind == "memory":
            row, price = dict(memory=pick(["d4", "d5"]), gb=pick([8, 16, 16, 32, 32, 64]), height_mm=whole(30, 56)), 0
            price = 15 + 2.2 * row["gb"] + 10 * q
        elif kind == "graphics":
            row, price = dict(length_mm=160 + int(160 * q) + whole(0, 20), draw_w=60 + int(280 * q), index=40 + int(160 * q) + whole(0, 15)), 110 + 800 * q
        elif kind == "storage":
            row, price = dict(gb=pick([250, 500, 1000, 2000, 4000]), on_board=pick([True, False]), draw_w=whole(3, 9)), 0
            price = 20 + 0.04 * row["gb"] + 10 * q
        elif kind == "chassis":
            row, price = dict(size=whole(1, 4), card_mm=whole(200, 420), cooler_mm=whole(60, 185), exchange=whole(10, 60)), 35 + 100 * q
        elif kind == "supply":
            row, price = dict(rated_w=300 + 50 * int(16 * q), length_mm=whole(120, 200)), 30 + 130 * q
        elif kind == "cooler":
            row, price = dict(height_mm=40 + int(120 * q), rated_w=65 + int(190 * q), sockets=sorted(chance.sample("abc", whole(1, 3))), over_memory_mm=whole(28, 60)), 15 + 70 * q
        elif kind == "fan":
            row, price = dict(moves=30 + int(90 * q), draw_w=whole(1, 4)), 6 + 20 * q
        else:
            row, price = dict(pixels=pick([2073600, 3686400, 8294400]), refresh=pick([60, 75, 100, 144, 165])), 90 + 400 * q
        yield f"p{at}", row, round(price * chance.uniform(0.85, 1.25), 2)


def toml(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "[" + ", ".join(f'"{v}"' for v in value) + "]"
    return f'"{value}"' if isinstance(value, str) else str(value)


def main(folder, count, seed):
    chance = random.Random(seed)
    root = Path(folder)
    for below in ["catalogue/kinds", "catalogue/parts", "catalogue/offers", "rules"]:
        (root / below).mkdir(parents=True, exist_ok=True)
    (root / "catalogue/layer.toml").write_text("alone = true\n")
    (root / "rules/layer.toml").write_text("alone = true\n")
    (root / "rules/settings.toml").write_text("")
    (root / "rules/pc.rhai").write_text(RULES)
    offers = ["part,seller,seen_on,price,currency,shipping,stock"]
    for kind, fields in KINDS.items():
        head = f'kind = "{kind}"\nsingle = true\n'
        text = "".join(f'[field.{name}]\ntype = "{ty}"\nrequired = true\n' for name, ty in fields.items())
        (root / f"catalogue/kinds/{kind}.toml").write_text(head + text)
        lines = [f'kind = "{kind}"']
        for name, row, price in parts(kind, count, chance):
            lines.append(f"[{name}]\nname = \"{kind.title()} {name[1:]}\"\n" + "\n".join(f"{k} = {toml(v)}" for k, v in row.items()))
            offers.append(f"{kind}/{name},The Shed,2026-11-01,{price:.2f},EUR,0.00,5")
        (root / f"catalogue/parts/{kind}.toml").write_text("\n".join(lines) + "\n")
    (root / "catalogue/offers/all.csv").write_text("\n".join(offers) + "\n")
    day = "priced_on = 2026-11-20\n"
    wants = 'wants = ["build.processor.index >= 100", "build.graphics.index >= 110"]\n'
    (root / "cheapest.toml").write_text(day + NEEDS + wants + 'minimise = "price"\n')
    (root / "best.toml").write_text('budget = "1400.00 EUR"\n' + day + NEEDS + 'maximise = "pc.index"\n')


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]) if len(sys.argv) > 3 else 1)
