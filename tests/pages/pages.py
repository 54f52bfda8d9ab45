"""Every page that the program makes, looked at in a real browser and by the W3C's checker of HTML.

pages.py BUILD [FOLDER]: makes the pages (in FOLDER, which is kept) from the demo's job, a drive grown old, a job with
hostile names and a shelf of 500 jobs; then browser.mjs and vnu say what is wrong with them. GLASSINE_PAGE_CHECKERS names
the folder that .ci/fetch-page-checkers filled. Ends with 77 where the tools are not here.
"""

import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import time

import large_shelf

HERE = pathlib.Path(__file__).resolve().parent
# What a client may be called, and a file.
CLIENT = "<script>alert(1)</script>\"'&=cmd|' /C calc'!A0"
FILE = "\u202egpj.<img src=x onerror=alert(2)>\n\x1b[2J.jpg"

# vnu knows neither that a file's own folder is 'self' to a browser nor digests of scripts; browser.mjs sees whether
# pictures are shown and the page's own script runs.
UNTRUE = re.compile(r"(Resource|Inline script) violates Content Security Policy")


def skip(why):
    print(f"SKIPPED: {why}")
    sys.exit(77)


class Studio:
    """Runs the program in a home of its own; every command has to end as it should."""

    def __init__(self, build, folder):
        self.build, self.folder = build, folder
        self.environment = dict(os.environ, USER="keeper", NO_COLOR="1")
        for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
            self.environment[name] = str(folder / "home")

    def __call__(self, *arguments, code=0):
        command = [str(self.build / "glassine"), "--quiet", *map(str, arguments)]
        ended = subprocess.run(command, cwd=self.folder, env=self.environment, text=True, capture_output=True,
                               check=False, errors="replace")
        if ended.returncode != code:
            sys.exit(f"{' '.join(command)}\nended with {ended.returncode}: {ended.stdout}{ended.stderr}")
        return ended.stdout


def make_pages(build, folder, out):
    glassine = Studio(build, folder)
    job = build / "tests/demo-job"  # made by the test before this one
    if not job.exists():
        subprocess.run([build / "demo/glassine-demo-job", job], check=True, stdout=subprocess.DEVNULL)
    for drive, label, kind in (("a", "SHELF-07", "drive"), ("b", "SHELF-08", "offsite"), ("c", "OFFICE", "server")):
        (folder / drive).mkdir()
        glassine("shelf", "add", drive, "--label", label, "--place", "cupboard B", "--kind", kind)
    who = ("--client", "Maren Holt", "--client", CLIENT, "--date", "2025-06-14", "--about", "harbour gala & regatta")
    glassine("closeout", job, "--to", "a", "--to", "b", *who, "--job-number", "K-17", "--certificate", out / "certificate.html")
    bag = next((folder / "a").glob("2025-*"))
    shutil.copytree(bag / "photo-index", out / "bag/photo-index")
    glassine("audit", "a", "b")
    glassine("audit", "a", "--html", out / "audit-whole.html")
    subprocess.run([build / "demo/glassine-demo-age", folder / "b"], check=True, stdout=subprocess.DEVNULL)
    (next((folder / "b").glob("2025-*")) / "data/web" / FILE).write_text("not sealed", encoding="utf-8")
    glassine("audit", "a", "b", "--html", out / "audit-damaged.html", code=1)
    glassine("audit", "a", "--quick", "--html", out / "audit-quick.html")
    glassine("restore", bag, "--to", out / "gallery", "--section", "web", "--gallery")
    (folder / "d").mkdir()
    (folder / "b" / FILE).write_text("left over", encoding="utf-8")
    glassine("migrate", "b", "--to", "d", "--html", out / "statement.html", code=1)
    glassine("shelf", "overview", "--html", out / "overview.html")
    large_shelf.make(folder / "large")
    large = ("--register", folder / "large.db")
    glassine("shelf", "scan", "large", *large)
    glassine("shelf", "overview", "--html", out / "overview-500.html", *large)
    glassine("shelf", "overview", "--html", out / "overview-none.html", "--register", empty_register(glassine, folder))
    glassine("shelf", "label", *(f"SHELF-{number:02}" for number in range(8)), "--html", out / "labels.html", *large)
    glassine("shelf", "label", "SHELF-07", "--svg", out / "label.svg")


def empty_register(glassine, folder):
    (folder / "bare").mkdir()
    glassine("shelf", "add", "bare", "--label", CLIENT, "--place", CLIENT, "--kind", "drive", "--register", "bare.db")
    return folder / "bare.db"


def code_is_read(out):
    """A reader of codes that did not make them finds the volume's id."""
    if not shutil.which("zbarimg"):
        print("(zbarimg is not here: the code of the label is not read)")
        return True
    read = subprocess.run(["zbarimg", "--quiet", "--raw", out / "label.png"], text=True, capture_output=True, check=False)
    wanted = large_shelf.identity(0)["id"]
    if read.stdout.strip() != wanted:
        print(f"label.png: its code reads \"{read.stdout.strip()}\", not {wanted}")
    return read.stdout.strip() == wanted


def valid_html(checkers, out):
    jar = checkers / "node_modules/vnu-jar/build/dist/vnu.jar"
    ended = subprocess.run(["java", "-jar", jar, "--also-check-svg", "--format", "json", *out.rglob("*.html"),
                            out / "label.svg"], text=True, capture_output=True, check=False)
    messages = [m for m in json.loads(ended.stderr)["messages"] if not UNTRUE.search(m["message"])]
    for m in messages:
        print(f"{m['url'].removeprefix(f'file:{out}/')}:{m.get('lastLine', 0)}: {m['message']}: {m.get('extract', '')}")
    return not messages


def main():
    build = pathlib.Path(sys.argv[1]).resolve()
    checkers = pathlib.Path(os.environ.get("GLASSINE_PAGE_CHECKERS") or skip("GLASSINE_PAGE_CHECKERS names no folder"))
    browser = shutil.which("chromium") or skip("chromium is not installed")
    for tool in ("node", "java"):
        shutil.which(tool) or skip(f"{tool} is not installed")
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None  # thousands of small files
    with tempfile.TemporaryDirectory(prefix="glassine-pages-", dir=memory) as scratch:
        out = pathlib.Path(sys.argv[2]).resolve() if len(sys.argv) > 2 else pathlib.Path(scratch) / "pages"
        out.mkdir(parents=True)
        begun = time.monotonic()
        make_pages(build, pathlib.Path(scratch), out)
        print(f"(made in {time.monotonic() - begun:.0f} s)", flush=True)
        seen = subprocess.run(["node", HERE / "browser.mjs", checkers, out, browser], check=False).returncode == 0
        good = all([seen, code_is_read(out), valid_html(checkers, out)])
        print(f"(all of it in {time.monotonic() - begun:.0f} s)")
    sys.exit(0 if good else 1)


main()
