#!/usr/bin/env python3
"""Clean rehearsals of the sample recipe, ingested: what the program says of vacuum and film when nothing is wrong.

Usage: clean_seeds.py PROGRAM [SEEDS]     from the top of the source tree; exit 1 when anything is wrongly called.
"""
import collections
import json
import pathlib
import subprocess
import sys
import tempfile

program = pathlib.Path(sys.argv[1]).resolve()
seeds = int(sys.argv[2]) if len(sys.argv) > 2 else 30
root = pathlib.Path(__file__).resolve().parents[3]
recipe = root / "recipes/tarn-ridge/aluminium-90nm.toml"
channels = root / "recipes/tarn-ridge/channels.toml"
said, wrong, outside = collections.Counter(), [], 0
with tempfile.TemporaryDirectory() as folder:
    for seed in range(1, seeds + 1):
        log = pathlib.Path(folder) / f"{seed}.csv"
        subprocess.run([program, "rehearse", recipe, "--channels", channels, "-o", log, "--seed", str(seed)], check=True,
                       stdout=subprocess.DEVNULL)
        done = subprocess.run([program, "ingest", recipe, log, "--channels", channels, "--format", "json"],
                              stdout=subprocess.PIPE, check=False)
        account = json.loads(done.stdout)
        verdicts = [v["what"] for v in account["vacuum"]["verdicts"]]
        said.update(verdicts)
        if verdicts != ["normal"]:
            wrong.append((seed, verdicts))
        truth = json.loads(log.with_suffix("").with_suffix(".truth.json").read_text())
        mean = truth.get("film", {}).get("mean_nm")
        film = account["film"]["mean_thickness"]
        if mean is not None and abs(film["value"] - mean) > film["expanded_uncertainty"]:
            outside += 1
        log.unlink()
print(f"{seeds} clean runs: " + ", ".join(f"{what} {n}" for what, n in sorted(said.items())))
print(f"true mean outside the 95 % interval: {outside} times")
for seed, verdicts in wrong:
    print(f"seed {seed}: {', '.join(verdicts) or 'no verdict'}")
sys.exit(1 if wrong else 0)
