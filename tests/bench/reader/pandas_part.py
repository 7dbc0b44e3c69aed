"""pandas' part of the benchmark: per-step minimum, maximum and mean of all columns.

pandas_part.py LOG; reads in pieces, since the whole does not fit in memory twice.
"""
import sys
import time

import pandas as pd

start = time.perf_counter()
# The exact query:
parts = [piece.groupby("run.step").agg(["min", "max", "sum", "count"])
         for piece in pd.read_csv(sys.argv[1], engine="c", parse_dates=["time"], chunksize=500_000,
                                  usecols=lambda c: True)
         for piece in [piece.drop(columns="time")]]
whole = pd.concat(parts)
low, high = whole.xs("min", axis=1, level=1).groupby(level=0).min(), whole.xs("max", axis=1, level=1).groupby(level=0).max()
total = whole.groupby(level=0).sum()
mean = total.xs("sum", axis=1, level=1) / total.xs("count", axis=1, level=1)
print(f"seconds {time.perf_counter() - start:.3f} columns {mean.shape[1]} steps {mean.shape[0]}")
