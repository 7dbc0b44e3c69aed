#!/usr/bin/env python3
"""Every unit, simple and composed, against GNU units (its own definitions file, its own parser).

GNU units reads the same grammar ("mbar L/s/cm2"), so that texts go to it as they are, but for the few
symbols it gives another meaning or name. Exit 77: GNU units is not installed.
"""
import math
import os
import re
import shutil
import subprocess
import sys

# Symbols that GNU units reads as something else or under another name only.
OTHER_NAMES = {
    "h": "hour",  # Planck's constant there
    "rad": "radian",  # the unit of absorbed dose there
    "Torr": "torr",
    # Standard gas: its pressure-volume at 0 degC, which is how GNU units defines sccm.
    "slm": "(atm L/min)",
    "scc": "(atm cc)",
    "ratio": "1",
    "count": "1",
}
PREFIXED = {"rad", "Torr"}
# Turns that the unit does not name, or not so.
OTHER_UNITS = {"1/min": "turn/min", "min^-1": "turn/min", "U/min": "turn/min"}
# The SI unit of each kind. For standard gas the room counts m3 at 101325 Pa, hence atm.
SI = {
    "length": "m", "area": "m2", "volume": "m3", "duration": "s", "mass": "kg", "density": "kg/m3",
    "deposition rate": "m/s", "pressure": "Pa", "power": "W", "energy": "J", "voltage": "V", "current": "A",
    "charge": "C", "frequency": "1/s", "angle": "radian", "rotation speed": "radian/s", "pumping speed": "m3/s",
    "gas flow": "Pa m3/s", "gas flow per area": "Pa m/s", "film per energy": "m/J", "mass per energy": "kg/J",
    "power density": "W/m2", "power ramp": "W/s", "voltage rate": "V/s", "heat per area": "J/m2",
    "charge per area": "C/m2", "pressure times length": "Pa m", "pressure rate": "Pa/s",
    "thermal conductivity": "W/m/K", "specific heat": "J/kg/K", "temperature difference": "K",
    "temperature": "K", "ratio": "1", "count": "1",
}
TOLERANCE = 4e-15  # a few roundings on either side


def in_gnu(unit):
    unit = OTHER_UNITS.get(unit, unit)

    def symbol(match):
        word = match.group(0)
        if word in OTHER_NAMES:
            return OTHER_NAMES[word]
        if word[1:] in PREFIXED and word[0] in "mun\u00b5\u03bc":
            return word[0] + OTHER_NAMES[word[1:]]
        return word

    return re.sub(r"[^\W\d_]+", symbol, unit)


def target(kind, unit):
    if re.search(r"\b(sccm|slm|scc)\b", unit):
        return {"gas flow": "atm m3/s", "gas flow per area": "atm m/s"}[kind]
    if "mol" in unit:
        return {"gas flow": "mol/s", "gas flow per area": "mol/s/m2"}[kind]
    return SI[kind]


def question(kind, unit, value):
    if kind == "temperature" and unit in ("degC", "\u00b0C"):
        return f"tempC({value})"
    return f"{value} ({in_gnu(unit)})"


def main():
    units = shutil.which("units")
    if units is None:
        print("skipped: GNU units is not installed (Debian package 'units')")
        return 77
    table = subprocess.run([sys.argv[1]], capture_output=True, text=True, encoding="utf-8", check=True).stdout
    rows = [line.split("\t") for line in table.splitlines()]
    asked = "".join(f"{question(k, u, v)}\n{target(k, u)}\n" for k, u, v, _ in rows)
    environment = dict(os.environ, LC_ALL="C.UTF-8")
    answer = subprocess.run([units, "--quiet", "--terse", "--output-format", "%.17g"], input=asked,
                            capture_output=True, text=True, encoding="utf-8", env=environment)
    answers = answer.stdout.split("\n")[: len(rows)]
    if len(answers) != len(rows):
        print("GNU units did not answer every question:", answer.stderr)
        return 1
    wrong = 0
    for (kind, unit, value, ours), theirs in zip(rows, answers):
        try:
            same = math.isclose(float(ours), float(theirs), rel_tol=TOLERANCE, abs_tol=0)
        except ValueError:
            same = False
        if not same:
            print(f"{value} {unit} as {kind}: {ours} here, {theirs} in GNU units")
            wrong += 1
    distinct = len({(k, u) for k, u, _, _ in rows})
    print(f"{len(rows)} values in {distinct} units compared with GNU units, {wrong} differ")
    return 1 if wrong or distinct < 200 else 0


sys.exit(main())
