"""Records properties of dry air from CoolProp, for the outside checks.

Run:  python make/air.py > recorded/air.csv     (CoolProp 8.0.0 from PyPI)
The pressure is the standard atmosphere's formula, written out here on its own.
"""
import CoolProp
from CoolProp.CoolProp import PropsSI

CFM = 0.3048**3 / 60
print(f"# CoolProp {CoolProp.__version__}, fluid Air; command: python make/air.py > recorded/air.csv")
print("altitude_m,celsius,density,heat_j_per_kg_k,cfm_k_per_w")
for altitude in (0, 500, 1500, 3000):
    pressure = 101325 * (1 - 2.25577e-5 * altitude) ** 5.25588
    for celsius in (0, 10, 20, 25, 35, 40, 50):
        state = ("T", celsius + 273.15, "P", pressure, "Air")
        density, heat = PropsSI("D", *state), PropsSI("C", *state)
        print(f"{altitude},{celsius},{density:.6f},{heat:.3f},{1 / (density * heat * CFM):.6f}")
