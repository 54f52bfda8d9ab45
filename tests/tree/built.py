"""Every source file is in the build, every test case is run. `built.py BUILD`: compares the tree with BUILD."""

import json
import pathlib
import re
import sys

import tree

build = pathlib.Path(sys.argv[1])
commands = json.loads((build / "compile_commands.json").read_text(encoding="utf-8"))
compiled = {pathlib.Path(entry["file"]).resolve() for entry in commands}
for together in [path for path in compiled if path.name.startswith("unity_")]:
    text = together.read_text(encoding="utf-8")
    compiled.update(pathlib.Path(name).resolve() for name in re.findall(r'^#include "(.*)"', text, re.MULTILINE))
sanitizes = any("-fsanitize=" in entry["command"] for entry in commands)
fuzzes = any("-fsanitize=fuzzer-no-link" in entry["command"] for entry in commands)
broken = []
for path in tree.files("src", "tests", "demo", "bench", suffixes={".cpp"}):
    if path.name.endswith("_fuzz.cpp") and not fuzzes:
        continue
    if path.is_relative_to(tree.ROOT / "tests/install/consumer"):
        continue  # a tree of its own, built by its tests
    if sanitizes and any(path.is_relative_to(tree.ROOT / room) for room in ("tests/store/real", "tests/store/maker")):
        continue  # run against the plain program alone
    if path not in compiled:
        broken.append(f"{path.relative_to(tree.ROOT)}: nothing builds it")
    for name in re.findall(r'TEST_CASE\("([^"]*)"', path.read_text(encoding="utf-8")):
        if ";" in name:
            broken.append(f"{path.relative_to(tree.ROOT)}: CMake makes two tests of \"{name}\", and runs neither")
tree.end(broken)
