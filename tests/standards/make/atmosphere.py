"""Records the pressure of the U.S. Standard Atmosphere 1976, for the outside checks.

Run:  python make/atmosphere.py > recorded/atmosphere.csv     (fluids 1.3.1 from PyPI)
"""
from importlib.metadata import version

from fluids.atmosphere import ATMOSPHERE_1976

print(f"# fluids {version('fluids')}, ATMOSPHERE_1976; command: python make/atmosphere.py > recorded/atmosphere.csv")
print("altitude_m,pressure_pa")
for altitude in (-400, 0, 250, 500, 1000, 1500, 2000, 3000, 4000, 5000, 8000):
    print(f"{altitude},{ATMOSPHERE_1976(altitude).P:.3f}")
