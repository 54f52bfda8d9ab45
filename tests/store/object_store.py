#!/usr/bin/env python3
"""A real object store for the tests: Ceph's S3 gateway with one monitor and one OSD, from Debian's packages.

    object_store.py start FOLDER [--with PID]   starts a store in FOLDER (emptied first); says where it is
    object_store.py stop FOLDER                 ends it and removes what it held

Everything listens on 127.0.0.1 and lives in FOLDER; no systemd, no block device, no privileged port. The store ends
when PID ends (the process that called `start`, that is ctest), however that comes about: nothing outlives a run.
`start` writes FOLDER/store.json: endpoint, region, users. Exit codes: 0; 1 something failed; 77 a program is missing,
with `SKIPPED: why`. Tests use `running(FOLDER)`; benchmarks hold a store of their own with `Store`.
"""
import argparse
import contextlib
import ctypes
import json
import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
import uuid
from pathlib import Path

PROGRAMS = {"ceph-mon": "ceph-mon", "ceph-osd": "ceph-osd", "radosgw": "radosgw", "radosgw-admin": "ceph-common",
            "ceph": "ceph-common", "ceph-authtool": "ceph-common", "monmaptool": "ceph-base"}
SKIPPED = 77
PATIENCE = 90  # seconds that one step of the start may take
REGION = "us-east-1"
# Fixed and public: they open a store that only this machine reaches, for as long as the tests run. A slash and a plus
# sign in the secret, as they are in secrets from elsewhere.
USERS = {"studio": {"access_key": "GLASSINETESTSTUDIO01", "secret_key": "studio+secret/of/the/tests/0123456789abc"},
         "stranger": {"access_key": "GLASSINETESTSTRANGER", "secret_key": "stranger+secret/of/the/tests/0123456789a"}}

CONFIGURATION = """\
[global]
fsid = {fsid}
host = localhost
mon_host = v2:127.0.0.1:{mon_port}/0
public_addr = 127.0.0.1
cluster_addr = 127.0.0.1
ms_bind_msgr1 = false
auth_allow_insecure_global_id_reclaim = false
keyring = keyring
chdir =
run_dir = run
pid_file =
crash_dir = run
admin_socket =
log_file = log/$name.log
[mon]
mon_data = mon
mon_cluster_log_file = log/cluster.log
mon_allow_pool_size_one = true
mon_data_avail_crit = 1
# A monitor on its own has nobody to gather changes for.
paxos_propose_interval = 0.05
paxos_min_wait = 0.01
osd_pool_default_size = 1
osd_pool_default_pg_num = 8
osd_pool_default_pg_autoscale_mode = off
osd_crush_chooseleaf_type = 0
[osd]
osd_data = osd
osd_objectstore = bluestore
# A sparse file. A store that runs full hangs instead of saying so: the proxy answers for a full one.
bluestore_block_size = 21474836480
osd_memory_target = 939524096
[client]
log_file = log/client.log
[client.rgw]
rgw_data = run
# Without tcp_nodelay each small answer waits 40 ms for the acknowledgement of the one before.
rgw_frontends = beast endpoint=127.0.0.1:{port} tcp_nodelay=1
rgw_thread_pool_size = 64
rgw_dns_name = localhost
rgw_gc_obj_min_wait = 60
rgw_gc_processor_period = 60
"""


class Missing(Exception):
    """A program that the store is made of is not on this machine."""


def free_port():
    """A port that nobody listens on, below those that the kernel gives to outgoing connections."""
    while True:
        port = random.SystemRandom().randrange(20000, 29000)
        with contextlib.suppress(OSError), socket.socket() as probe:
            probe.bind(("127.0.0.1", port))
            return port


def die_with_parent():
    """In a child, before its program starts: the kernel ends it when the process that started it is gone."""
    ctypes.CDLL(None).prctl(1, signal.SIGKILL)  # PR_SET_PDEATHSIG, prctl(2)


class Store:
    """A store that runs from `with` to the end of the block; its daemons are children of this process."""

    def __init__(self, folder):
        missing = sorted({package for program, package in PROGRAMS.items() if not shutil.which(program)})
        if missing:
            raise Missing(f"no object store without the packages {' '.join(missing)}")
        self.folder = Path(folder).resolve()
        self.port = free_port()
        self.endpoint = f"http://127.0.0.1:{self.port}"
        self.daemons = []

    def __enter__(self):
        try:
            self._start()
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_):
        for daemon in reversed(self.daemons):  # what it held is thrown away: no need to let it write that out
            daemon.kill()
            daemon.wait()
        self.daemons = []

    def _start(self):
        for name in ("mon", "osd", "run", "log"):
            (self.folder / name).mkdir(parents=True)
        fsid, osd = str(uuid.uuid4()), str(uuid.uuid4())
        mon_port = free_port()
        (self.folder / "ceph.conf").write_text(CONFIGURATION.format(fsid=fsid, port=self.port, mon_port=mon_port))
        self._keys()
        self._run("monmaptool", "--create", "--fsid", fsid, "--addv", "a", f"[v2:127.0.0.1:{mon_port}]", "monmap")
        self._run("ceph-mon", "-i", "a", "--mkfs", "--monmap", "monmap", "--keyring", "keyring")
        self._run("ceph-osd", "-i", "0", "--mkfs", "--no-mon-config", "--osd-uuid", osd)
        self._daemon("ceph-mon", "-i", "a")
        self._run("ceph", "osd", "new", osd, "0")
        self._daemon("ceph-osd", "-i", "0")
        self._until("the OSD", lambda: '"num_up_osds":1' in self._run("ceph", "osd", "stat", "-f", "json"))
        for name, keys in USERS.items():
            self._run("radosgw-admin", "user", "create", f"--uid={name}", f"--display-name={name}",
                      f"--access-key={keys['access_key']}", f"--secret-key={keys['secret_key']}")
        # The gateway takes only its own region's name as the place of a new bucket.
        self._run("radosgw-admin", "zonegroup", "modify", "--rgw-zonegroup=default", f"--api-name={REGION}")
        self._daemon("radosgw", "-n", "client.rgw")
        self._until("the gateway", self._answers)

    def _keys(self):
        everything = ["--cap", "mon", "allow *", "--cap", "osd", "allow *"]
        self._run("ceph-authtool", "--create-keyring", "keyring", config=False)
        for name, caps in (("mon.", ["--cap", "mon", "allow *"]), ("client.admin", everything),
                           ("osd.0", ["--cap", "mon", "allow profile osd", "--cap", "osd", "allow *"]),
                           ("client.rgw", ["--cap", "mon", "allow rw", "--cap", "osd", "allow rwx"])):
            self._run("ceph-authtool", "keyring", "--gen-key", "-n", name, *caps, config=False)

    def _environment(self):
        return {name: value for name, value in os.environ.items() if not name.startswith("CEPH_")} | {"LC_ALL": "C"}

    def _run(self, program, *arguments, config=True):
        command = [program] + (["-c", "ceph.conf"] if config and program != "monmaptool" else []) + list(arguments)
        done = subprocess.run(command, cwd=self.folder, env=self._environment(), timeout=PATIENCE, text=True,
                              stdin=subprocess.DEVNULL, capture_output=True, preexec_fn=die_with_parent)
        if done.returncode != 0:
            raise RuntimeError(f"{' '.join(command)} failed: {done.stderr.strip()[-1000:]}")
        return done.stdout

    def _daemon(self, program, *arguments):
        with open(self.folder / "log" / f"{program}.out", "ab") as out:
            self.daemons.append(subprocess.Popen(
                [program, "-c", "ceph.conf", "-f", *arguments], cwd=self.folder, env=self._environment(), stdout=out,
                stderr=out, stdin=subprocess.DEVNULL, start_new_session=True, preexec_fn=die_with_parent))

    def _until(self, what, ready):
        end = time.monotonic() + PATIENCE
        while not ready():
            for daemon in self.daemons:
                if daemon.poll() is not None:
                    raise RuntimeError(f"{daemon.args[0]} ended while {what} started; see {self.folder / 'log'}")
            if time.monotonic() > end:
                raise RuntimeError(f"{what} was not ready after {PATIENCE} s; see {self.folder / 'log'}")
            time.sleep(0.1)

    def _answers(self):
        try:
            urllib.request.build_opener(urllib.request.ProxyHandler({})).open(self.endpoint, timeout=5).close()
        except urllib.error.HTTPError as error:
            return error.code < 500
        except OSError:
            return False
        return True


def running(folder):
    """What tests need to know of the store that `start` left in `folder`; None where it could not start one."""
    try:
        return json.loads((Path(folder) / "store.json").read_text())
    except FileNotFoundError:
        return None


def born(pid):
    """When a process started, in the kernel's ticks; None once it is gone (proc(5), field 22 of stat)."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return None
    return None if fields[0] == "Z" else fields[19]


def keep(folder, with_pid, tell):
    """The process that holds the store: until `stop` ends it or the one it was started for is gone."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    birth = born(with_pid)
    with Store(folder) as store:
        facts = {"endpoint": store.endpoint, "region": REGION, "users": USERS,
                 "keeper": os.getpid(), "keeper_born": born(os.getpid())}
        (folder / "store.new").write_text(json.dumps(facts, indent=1))
        (folder / "store.new").rename(folder / "store.json")
        tell("started")
        while birth is not None and born(with_pid) == birth:
            time.sleep(0.5)


def start(folder, with_pid):
    """Starts the keeper, apart from the caller's terminal and pipes, and waits until the store answers."""
    stop(folder)
    Store(folder)  # says what is missing while there is somebody to read it
    folder.mkdir(parents=True, exist_ok=True)
    hear, say = os.pipe()
    if os.fork() != 0:
        os.close(say)
        with os.fdopen(hear) as answer:
            word = answer.read()
        if word != "started":
            raise RuntimeError(word or "the process that keeps the store ended")
        return
    os.setsid()
    nothing = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1, 2):
        os.dup2(nothing, descriptor)

    def tell(word):
        os.write(say, word.encode())
        os.close(say)

    try:
        keep(folder, with_pid, tell)
    except Exception as error:  # pylint: disable=broad-except -- the word is for whoever waits
        with contextlib.suppress(OSError):
            tell(str(error))
    finally:
        os._exit(0)


def stop(folder):
    """Ends the store of `folder`, when one runs, and empties the folder."""
    facts = running(folder)
    if facts and born(facts["keeper"]) == facts["keeper_born"]:
        os.kill(facts["keeper"], signal.SIGTERM)
        while born(facts["keeper"]) == facts["keeper_born"]:
            time.sleep(0.05)
    shutil.rmtree(folder, ignore_errors=True)


def main():
    parser = argparse.ArgumentParser(description="An object store for tests.")
    parser.add_argument("what", choices=["start", "stop"])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--with", dest="with_pid", type=int, default=os.getppid())
    asked = parser.parse_args()
    try:
        if asked.what == "start":
            start(asked.folder.resolve(), asked.with_pid)
        else:
            stop(asked.folder.resolve())
    except Missing as missing:
        print(f"SKIPPED: {missing}")
        return SKIPPED
    except (RuntimeError, OSError, subprocess.SubprocessError) as error:
        print(f"object_store.py: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
