"""A studio of its own for each test: a home, a studio file with an object store, jobs, drives, the real program."""
import base64
import json
import os
import shutil
import signal
import subprocess
import tempfile
import time
import unittest
import urllib.parse
from pathlib import Path

import rig
from fault_proxy import FaultProxy

BAG = "2025-06-14_maren-holt_harbour-gala"
TAG_FILES = ("manifest-sha512.txt", "tagmanifest-sha512.txt")


class Studio(unittest.TestCase):
    """Each test has a bucket of its own, and a proxy between it and the program."""
    SETTINGS = {"connections": 4, "part_size": "5 MiB"}
    maxDiff = None

    def setUp(self):
        self.folder = Path(tempfile.mkdtemp(prefix="glassine-store-"))
        self.addCleanup(shutil.rmtree, self.folder)
        self.keys = dict(rig.store()["users"]["studio"])
        self.bucket = rig.bucket()
        self.proxy = self.enterContext(FaultProxy(rig.store()["endpoint"]))
        self.said = []  # everything the program ever printed
        self.write_studio_file()

    def tearDown(self):
        self.no_secret_anywhere()

    # The studio.

    def write_studio_file(self, **settings):
        settings = self.SETTINGS | settings
        home = self.folder / "home" / "glassine"
        home.mkdir(parents=True, exist_ok=True)
        lines = ["[object_store]", f'endpoint = "{self.proxy.endpoint}"', f'region = "{rig.store()["region"]}"']
        lines += [f"{name} = {json.dumps(value)}" for name, value in settings.items()]
        (home / "studio.toml").write_text("\n".join(lines) + "\n")

    def environment(self):
        environment = {name: os.environ[name] for name in ("PATH",)}
        for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
            environment[name] = str(self.folder / "home")
        return environment | {"USER": "keeper", "NO_COLOR": "1", "TERM": "dumb", "LC_ALL": "C.UTF-8",
                              "AWS_ACCESS_KEY_ID": self.keys["access_key"],
                              "AWS_SECRET_ACCESS_KEY": self.keys["secret_key"]}

    def job(self, name="job", kept=2, rejected=1, film=0):
        folder = self.folder / name
        subprocess.run([rig.BUILD / "tests" / "small_job", folder, str(kept), str(rejected), str(film)], check=True)
        return folder

    def drive(self, name):
        folder = self.folder / name
        folder.mkdir(exist_ok=True)
        return folder

    def place(self, prefix="archive"):
        return f"s3://{self.bucket}/{prefix}"

    # The program.

    def start(self, *arguments):
        return subprocess.Popen([rig.BUILD / "glassine", *map(str, arguments)], env=self.environment(),
                                cwd=self.folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE, text=True)

    def ended(self, process):
        process.out, process.err = process.communicate(timeout=300)
        self.said.append(process.out + process.err)
        return process

    def run_any(self, *arguments):
        return self.ended(self.start(*arguments))

    def glassine(self, *arguments, code=0):
        run = self.run_any(*arguments)
        self.assertEqual(run.returncode, code, f"{' '.join(map(str, arguments))}\n{run.out}{run.err}")
        return run

    def ask(self, *arguments, code=0):
        return json.loads(self.glassine(*arguments, "--json", code=code).out)

    def closeout(self, job, *destinations, recovery="none"):
        to = [word for destination in destinations for word in ("--to", destination)]
        return ["closeout", job, *to, "--client", "Maren Holt", "--date", "2025-06-14", "--about", "harbour gala",
                "--recovery", recovery]

    def killed_when(self, process, reached):
        """kill -9, as soon as something is so; whether it came to that before the program ended."""
        while process.poll() is None and not reached():
            time.sleep(0.005)
        met = process.poll() is None
        process.send_signal(signal.SIGKILL)
        self.ended(process)
        return met

    # What is looked at without Glassine.

    def keys_below(self, prefix):
        return rig.listing(self.bucket, prefix)

    def sealed(self, prefix=f"archive/{BAG}"):
        return f"{prefix}/bagit.txt" in self.keys_below(prefix)

    def fetched(self, prefix=f"archive/{BAG}", bucket=None):
        folder = Path(tempfile.mkdtemp(dir=self.folder))
        rig.fetch(bucket or self.bucket, prefix, folder)
        return folder

    def accepted_by_sha512sum(self, bag):
        """Every file that the manifests name, by coreutils; every file of the payload stands in the manifest."""
        for manifest in TAG_FILES:
            # BagIt writes % as %25 (RFC 8493 §2.1.3), which sha512sum does not know.
            lines = (bag / manifest).read_text().replace("%25", "%")
            done = subprocess.run(["sha512sum", "--strict", "-c", "-"], cwd=bag, input=lines, text=True,
                                  capture_output=True, check=False)
            self.assertEqual(done.returncode, 0, f"{manifest}: {done.stdout}{done.stderr}")
        listed = {line.split("  ", 1)[1].replace("%25", "%")
                  for line in (bag / TAG_FILES[0]).read_text().splitlines()}
        there = {str(path.relative_to(bag)) for path in (bag / "data").rglob("*") if path.is_file()}
        self.assertEqual(listed, there)

    def tree(self, folder):
        return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}

    def no_secret_anywhere(self):
        """Not in what was printed, not in any file that the program wrote: home, drives, what is in the store."""
        secret = self.keys["secret_key"].encode()
        forms = {secret, base64.b64encode(secret).rstrip(b"="), urllib.parse.quote(secret, safe="").encode()}
        written = [path.read_bytes() for path in self.folder.rglob("*") if path.is_file()]
        tags = [rig.body(self.bucket, key) for key, size in self.keys_below("").items() if size < 100_000]
        for text in [said.encode() for said in self.said] + written + tags:
            for form in forms:
                self.assertFalse(form in text, "the secret key stands in something that was written")
