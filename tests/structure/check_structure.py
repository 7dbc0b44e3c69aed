#!/usr/bin/env python3
"""Holds the tree against what DEVELOPERS.md says of it.

 - a room includes only the rooms that lib/CMakeLists.txt lets it use (directly or through them);
 - heavy headers stay in few source files;
 - the visible top-level entries are the agreed ones.
"""
import pathlib
import re
import subprocess
import sys

root = pathlib.Path(sys.argv[1])
complaints = []

uses = {}
for name, rest in re.findall(r"^vacuary_room\((\w+)([^)]*)\)", (root / "lib/CMakeLists.txt").read_text(), re.M):
    match = re.search(r"USES ([a-z_ ]+)", rest)
    uses[name] = set(match.group(1).split()) if match else set()


def reachable(room):
    seen, todo = set(), [room]
    while todo:
        here = todo.pop()
        if here not in seen:
            seen.add(here)
            todo += uses.get(here, ())
    return seen


sources = sorted(p for d in ("lib", "tools") for p in (root / d).rglob("*") if p.suffix in (".cpp", ".hpp"))
heavy = {"toml++/": 1, "CLI/": 1, "nlohmann/": 5, "boost/numeric/odeint": 1, "Eigen/": 3, "date/": 3}
heavy_users = {key: [] for key in heavy}
for path in sources:
    room = path.relative_to(root / "lib").parts[0] if path.is_relative_to(root / "lib") else None
    for line_number, line in enumerate(path.read_text().splitlines(), 1):
        include = re.match(r'\s*#include [<"]([^">]+)', line)
        if not include:
            continue
        header = include.group(1)
        target = header.split("/")[0]
        if room and target in uses and target not in reachable(room):
            complaints.append(f"{path.relative_to(root)}:{line_number}: room '{room}' may not include '{header}'")
        for key, users in heavy_users.items():
            if header.startswith(key):
                users.append(str(path.relative_to(root)))
for key, users in heavy_users.items():
    if len(set(users)) > heavy[key]:
        complaints.append(f"{key} is included by {len(set(users))} files, at most {heavy[key]}: {', '.join(sorted(set(users)))}")

allowed = {"CMakeLists.txt", "README.md", "DEVELOPERS.md", "LICENSE", "lib", "tools", "recipes", "tests", "schemas",
           "logs-example"}
listed = subprocess.run(["git", "ls-files"], cwd=root, capture_output=True, text=True)
if listed.returncode == 0:
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    for entry in sorted(e for e in top if not e.startswith(".") and e not in allowed):
        complaints.append(f"'{entry}' is not one of the agreed top-level entries")

if not uses or not sources:
    complaints.append("no rooms or no sources found: the check itself is broken")
print("\n".join(complaints) or f"{len(sources)} sources in {len(uses)} rooms keep to the structure")
sys.exit(1 if complaints else 0)
