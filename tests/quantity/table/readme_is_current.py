#!/usr/bin/env python3
"""The tables in lib/quantity/README.md are those that the program prints."""
import subprocess
import sys

program, readme = sys.argv[1:]
with open(readme, encoding="utf-8") as file:
    text = file.read()
stale = False
for what in ("--kinds", "--units"):
    table = subprocess.run([program, what], capture_output=True, text=True, encoding="utf-8", check=True).stdout
    if table not in text:
        print(f"{readme}: the table of 'quantity_table {what}' is not in it. It should be:\n{table}")
        stale = True
sys.exit(1 if stale else 0)
