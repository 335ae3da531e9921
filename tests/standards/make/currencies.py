"""Records the decimals of every currency from two carriers of ISO 4217, for the outside checks.

Run:  python make/currencies.py > recorded/currencies.csv     (py-moneyed 3.0, Babel 2.18.0 from PyPI)
Where the two differ, both figures are kept; Babel follows what is used in shops rather than the standard.
"""
from importlib.metadata import version

import moneyed
from babel.numbers import get_currency_precision, list_currencies

print(f"# py-moneyed {version('py-moneyed')}, Babel {version('babel')}; command: python make/currencies.py > recorded/currencies.csv")
print("code,moneyed,babel")
known = list_currencies()
for code, currency in sorted(moneyed.CURRENCIES.items()):
    digits = len(str(currency.sub_unit)) - 1
    print(f"{code},{digits},{get_currency_precision(code) if code in known else ''}")
