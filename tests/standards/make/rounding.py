"""Records amounts rounded to a currency's decimals with Python's decimal module, for the outside checks.

Run:  python make/rounding.py > recorded/rounding.csv     (Python 3.11)
"""
import platform
import random
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal

dice = random.Random(4217)
print(f"# Python {platform.python_version()} decimal; command: python make/rounding.py > recorded/rounding.csv")
print("amount,currency,half_up,half_even")
for _ in range(200):
    currency, digits = dice.choice([("EUR", 2), ("JPY", 0), ("KWD", 3), ("CLF", 4)])
    decimals = dice.randint(0, 9)
    whole, rest = dice.choice([0, 1, 2, 9, 99, 1249, 123456789]), "".join(dice.choice("0159") for _ in range(decimals))
    if dice.random() < 0.5 and decimals > digits:  # many exact halves
        rest = rest[:digits] + "5" + "0" * (decimals - digits - 1)
    text = f"{dice.choice(['', '-'])}{whole}" + (f".{rest}" if rest else "")
    step = Decimal(1).scaleb(-digits)
    up, even = (Decimal(text).quantize(step, how) + 0 for how in (ROUND_HALF_UP, ROUND_HALF_EVEN))
    up, even = (abs(x) if x == 0 else x for x in (up, even))
    print(f"{text},{currency},{up:f},{even:f}")
