"""Every example in the documents and in --help does what it says.

examples.py BUILD documents: runs the ```console blocks of README.md and docs/guide.md, one after the
other, in a folder with the demo's job, and compares what is printed. A line of three dots stands for any
lines; rates, seals and today's date are not compared. `<!-- run: COMMAND -->` before a block is run first,
out of the reader's sight.
examples.py BUILD help: runs each example that a command's help shows, against a small job and drives
that stand for those it names; it has to end with 0 or 1.
"""

import csv
import difflib
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

TREE = pathlib.Path(__file__).resolve().parent.parent.parent
BLOCK = re.compile(r"^<!-- run: (.*?) -->$|^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)
SAME = [
    (re.compile(r" · read at [\d.]+ [kMG]?B(ytes)?/s"), ""),
    (re.compile(r"[\d.]+ [kMG]B/s"), "RATE"),
    (re.compile(r"Seal [0-9a-f]{16}…"), "Seal SEAL…"),
    (re.compile(r"\d{4}-\d\d-\d\dT[\d:]+Z"), "MOMENT"),
    (re.compile(r"\d{8}T\d{6}Z"), "MOMENT"),
    # How well the cache can be passed by depends on the file system.
    (re.compile(r"read back (from the medium|after dropping the cache)|"
                r"read back, but the cache could not be passed by"), "read back"),
]


def shell(build, folder, command):
    environment = dict(os.environ, PATH=f"{build}:{build}/demo:{os.environ['PATH']}", NO_COLOR="1",
                       USER="keeper", TERM="dumb")
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
        environment[name] = str(folder / "home")
    return subprocess.run(["bash", "-c", command], cwd=folder, env=environment, text=True,
                          capture_output=True, check=False)


def plain(line):
    for pattern, by in SAME:
        line = pattern.sub(by, line)
    return line.rstrip()


def agrees(wanted, got):
    """Whether the lines are the same, with dots standing for any."""
    if not wanted:
        return not got
    if wanted[0].strip() in ("…", "..."):
        return any(agrees(wanted[1:], got[at:]) for at in range(len(got) + 1))
    return bool(got) and same(plain(wanted[0]), plain(got[0])) and agrees(wanted[1:], got[1:])


def same(wanted, got):
    """Dots at the end of a line stand for its rest."""
    return got.startswith(wanted[:-1]) if wanted.endswith("…") else wanted == got


def steps(block):
    """(command, lines that follow) for each `$ ` of a block."""
    found = []
    for line in block.splitlines():
        if line.startswith("$ "):
            found.append([line[2:], []])
        elif found and not found[-1][1] and found[-1][0].endswith("\\"):
            found[-1][0] = found[-1][0][:-1] + line.strip()
        elif found:
            found[-1][1].append(line)
    for command, lines in found:
        while lines and not lines[-1]:
            lines.pop()
        yield command, lines


def run_block(build, folder, page, block):
    for command, wanted in steps(block):
        ended = shell(build, folder, command)
        # How fast a drive was, beside its earlier audits, is another matter each time.
        got = [line for line in ended.stdout.replace(f"{folder}/", "").splitlines()
               if " in its earlier audits at " not in line and "  slow-read  " not in line]
        if ended.returncode not in (0, 1) or not agrees(wanted, got):
            print(f"{page}: $ {command}\nended with {ended.returncode}\n{ended.stderr}")
            print("\n".join(difflib.unified_diff(wanted, got, "said on the page", "printed", lineterm="")))
            return False
    return True


def on_the_shelf(volumes):
    """What makes volumes of folders."""
    return " && ".join(f"glassine shelf add {folder} --label {label} --place 'cupboard B' --kind drive"
                       for folder, label in volumes.items())


def demo_job(build, folder):
    """What ctest has made before, or made now."""
    job = build / "tests/demo-job"
    if not job.exists():
        job = folder / "demo-job"
        made = shell(build, folder, f"glassine-demo-job '{job}'")
        if made.returncode:
            sys.exit(made.stderr)
    return job


def documents(build, folder):
    job = demo_job(build, folder)
    good = True
    for name in ("README.md", "docs/guide.md"):
        page = (TREE / name).read_text(encoding="utf-8")
        here = folder / pathlib.Path(name).stem
        here.mkdir()
        shell(build, here, f"mkdir driveA driveB && cp -a '{job}' harbour-wedding && " + on_the_shelf(
            {"driveA": "SHELF-A", "driveB": "SHELF-B"}))
        blocks = list(BLOCK.finditer(page))
        if not any(block.group(2) for block in blocks):
            print(f"{name}: no example was found")
            good = False
        for block in blocks:
            if block.group(1):
                good &= shell(build, here, block.group(1)).returncode in (0, 1)
            elif not run_block(build, here, name, block.group(2)):
                good = False
                break  # what follows on this page builds on it
    return good


def small_world(build, folder):
    """A job of three frames, closed out onto two drives, under the names that help uses."""
    shell(build, folder, f"mkdir all && glassine closeout '{demo_job(build, folder)}' --to all "
          "--client Holt --date 2025-06-14 --about all --recovery none")
    job = folder / "world/jobs/harbour-gala"
    with open(folder / "all/2025-06-14_holt_all/photo-index/frames.csv", newline="", encoding="utf-8") as index:
        frames = [row for row in csv.DictReader(index) if row["originals"] and row["print"] and row["web"]]
    for frame in frames[:3]:
        for section in ("originals", "print", "web"):
            (job / section).mkdir(parents=True, exist_ok=True)
            for path in frame[section].split("//"):
                shutil.copy2(folder / "all/2025-06-14_holt_all" / path, job / section)
    for drive in ("shelf-a", "shelf-b", "shelf-old", "old", "new", "upload"):
        (folder / "world/mnt" / drive).mkdir(parents=True)
    for place in ("srv/out", "srv/archive"):
        (folder / "world" / place).mkdir(parents=True)
    for card in ("media/card-1", "srv/ingest/card-1", "mnt/backup/card-1"):
        shutil.copytree(job / "originals", folder / "world" / card)
    ended = shell(build, folder, "cd world && glassine closeout jobs/harbour-gala --to mnt/shelf-a "
                  "--to mnt/shelf-b --client Holt --date 2025-06-14 --about gala")
    if ended.returncode:
        sys.exit(ended.stderr + ended.stdout)
    shutil.copytree(folder / "world/mnt/shelf-a", folder / "world/mnt/old", dirs_exist_ok=True)
    (folder / "world/received").mkdir()
    shell(build, folder, "tar -C world/mnt/shelf-a -cf world/received/2025-06-14_holt_gala.tar 2025-06-14_holt_gala")
    shutil.copy2(TREE / "docs/studio-profile.json", folder / "world/agreed.json")


def help_examples(build, folder):
    """(command, example) for every example of every command's help."""
    def commands(*above):
        said = shell(build, folder, " ".join(("glassine", *above, "--help"))).stdout
        below = re.search(r"^Commands:\n(.*?)\n\n", said, re.MULTILINE | re.DOTALL)
        examples = re.search(r"^Examples:\n(.*?)\n\n", said, re.MULTILINE | re.DOTALL)
        if examples:
            text = examples.group(1).replace("\\\n", " ")
            for line in text.splitlines():
                if line.startswith("    "):
                    yield " ".join(above), line.strip()
        elif not below:
            print(f"glassine {' '.join(above)} --help shows no example")
        if below:
            for name in re.findall(r"^  ([a-z-]+) ", below.group(1), re.MULTILINE):
                yield from commands(*above, name)
    yield from commands()


def help_of_commands(build, folder):
    small_world(build, folder)
    good, count = True, 0
    for _, example in help_examples(build, folder):
        count += 1
        here = folder / f"example-{count}"
        shutil.copytree(folder / "world", here)
        command = re.sub(r"(?<![\w.])/(mnt|jobs|srv|media)/", rf"{here}/\1/", example)
        # Bags that are made anew need drives that do not hold them yet.
        if "closeout" in example:
            for drive in ("shelf-a", "shelf-b"):
                shutil.rmtree(here / "mnt" / drive)
                (here / "mnt" / drive).mkdir()
        if "shelf" in example.split()[:2] and "--place" not in example or "--change" in example:
            shell(build, here, on_the_shelf({"mnt/shelf-a": "SHELF-07", "mnt/shelf-b": "SHELF-08"})
                  + " && glassine shelf scan mnt/shelf-a mnt/shelf-b")
        if "restore" in example.split()[:2] and "/" not in example.split()[2]:  # words, no path
            shell(build, here, on_the_shelf({"mnt/shelf-a": "SHELF-07"}) + " && glassine shelf scan mnt/shelf-a")
        ended = shell(build, here, command)
        if ended.returncode not in (0, 1):
            good = False
            print(f"$ {example}\nended with {ended.returncode}: {ended.stderr}")
    print(f"{count} examples")
    return good and count > 10


with tempfile.TemporaryDirectory(prefix="glassine-examples-") as scratch:
    work = {"documents": documents, "help": help_of_commands}[sys.argv[2]]
    sys.exit(0 if work(pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(scratch)) else 1)
