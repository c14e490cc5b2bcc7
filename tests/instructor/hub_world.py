"""A machine of its own for a test: accounts ada, bob and teacher, a JupyterHub on loopback, nothing of the host changed.

Bubblewrap builds it: a root of read-only views of what Python needs, its own ``/etc/passwd``, and ``/srv`` and ``/home`` that go away.
"""

from __future__ import annotations

import json
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
PEOPLE = {"teacher": 2001, "ada": 2002, "bob": 2003}
TOKEN = "only-for-this-test"

CONFIG = """
from instructor.classroom import configure

c = get_config()
configure(c, "/srv/course", {{"teacher"}}, {{"ada", "bob"}}, exchange="/srv/nbgrader/exchange")
c.JupyterHub.authenticator_class = "dummy"
c.JupyterHub.bind_url = "http://127.0.0.1:{front}"
c.JupyterHub.hub_bind_url = "http://127.0.0.1:{hub}"
c.JupyterHub.db_url = "sqlite:////srv/hub.db"
c.JupyterHub.cookie_secret_file = "/srv/hub_cookie"
c.JupyterHub.services = [{{"name": "tester", "api_token": "{token}"}}]
c.JupyterHub.load_roles = [{{"name": "tester", "services": ["tester"], "scopes": ["admin:users", "admin:servers", "access:servers"]}}]
c.ConfigurableHTTPProxy.command = ["{proxy}"]
c.ConfigurableHTTPProxy.api_url = "http://127.0.0.1:{api}"
c.ConfigurableHTTPProxy.pid_file = "/srv/proxy.pid"
c.Spawner.cmd = ["{singleuser}"]
c.Spawner.start_timeout = 120
c.Spawner.http_timeout = 120
c.Spawner.environment = {{"TICKBENCH_LABS": "{labs}", "TICKBENCH_SOLUTIONS": "{solutions}", "PATH": "{path}"}}
"""


class Hub:
    """A running hub; use it as a context."""

    def __init__(self, scratch: Path, labs: Path, solutions: Path, proxy: Path) -> None:
        self.scratch, self.labs, self.solutions, self.proxy = scratch, labs, solutions, proxy
        self.ports = _free_ports(3)

    def __enter__(self) -> Hub:
        etc = self.scratch / "etc"
        etc.mkdir(parents=True)
        rows = [f"{name}:x:{uid}:{uid}::/home/{name}:/bin/sh\n" for name, uid in PEOPLE.items()]
        (etc / "passwd").write_text("root:x:0:0::/srv:/bin/sh\n" + "".join(rows))
        (etc / "group").write_text("root:x:0:\n" + "".join(f"{name}:x:{uid}:\n" for name, uid in PEOPLE.items()))
        binaries = Path(sys.executable).parent
        config = CONFIG.format(
            front=self.ports[0],
            hub=self.ports[1],
            api=self.ports[2],
            token=TOKEN,
            proxy=self.proxy,
            singleuser=binaries / "jupyterhub-singleuser",
            labs=self.labs,
            solutions=self.solutions,
            path=f"{binaries}:/usr/bin:/bin",
        )
        (etc / "jupyterhub_config.py").write_text(config)
        (etc / "begin.sh").write_text(_BEGIN.format(tickbench=binaries / "tickbench", hub=binaries / "jupyterhub"))
        self.log = open(self.scratch / "hub.log", "wb")  # noqa: SIM115
        self.process = subprocess.Popen(
            self._command(etc), stdout=self.log, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL
        )
        self._wait()
        return self

    def __exit__(self, *exception: object) -> None:
        self.process.terminate()
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.log.close()

    def _command(self, etc: Path) -> list[str]:
        """Bubblewrap as root: no user namespace is needed, so that the accounts inside are different ones."""
        seen = {str(ROOT), sys.prefix, sys.base_prefix, str(self.labs), str(self.solutions), str(self.proxy.parents[1])}
        views = [path for path in sorted(seen) if path not in ("/usr", "/")]
        words = [
            "bwrap",
            "--die-with-parent",
            "--unshare-pid",
            "--unshare-ipc",
            "--tmpfs",
            "/",
            "--ro-bind",
            "/usr",
            "/usr",
        ]
        for name in ("bin", "lib", "lib64", "sbin"):
            words += (
                ["--symlink", f"usr/{name}", f"/{name}"]
                if Path("/", name).is_symlink()
                else ["--ro-bind-try", f"/{name}", f"/{name}"]
            )
        words += ["--dir", "/etc", "--ro-bind-try", "/etc/ssl", "/etc/ssl", "--ro-bind", str(etc), "/etc/test"]
        for name in ("passwd", "group"):
            words += ["--ro-bind", str(etc / name), f"/etc/{name}"]
        words += [
            "--ro-bind-try",
            "/etc/alternatives",
            "/etc/alternatives",
            "--ro-bind-try",
            "/etc/fonts",
            "/etc/fonts",
        ]
        words += [
            "--proc",
            "/proc",
            "--dev",
            "/dev",
            "--perms",
            "1777",
            "--tmpfs",
            "/tmp",
            "--tmpfs",
            "/srv",
            "--tmpfs",
            "/home",
        ]
        for above in sorted({str(above) for path in views for above in Path(path).parents if above != Path("/")}):
            words += ["--perms", "0755", "--dir", above]  # whoever owns them outside, all accounts may pass
        for path in views:
            words += ["--ro-bind", path, path]
        words += [
            "--chdir",
            "/srv",
            "--cap-add",
            "ALL",
            "--setenv",
            "HOME",
            "/srv",
            "--setenv",
            "PYTHONDONTWRITEBYTECODE",
            "1",
        ]
        words += ["--setenv", "TICKBENCH_LABS", str(self.labs), "--setenv", "TICKBENCH_SOLUTIONS", str(self.solutions)]
        return [*words, "/bin/sh", "/etc/test/begin.sh"]

    def _wait(self) -> None:
        until = time.monotonic() + 120
        while time.monotonic() < until:
            if self.process.poll() is not None:
                break
            try:
                self.ask("GET", "/hub/api/")
                return
            except (urllib.error.URLError, ConnectionError):
                time.sleep(0.3)
        raise RuntimeError("the hub did not start:\n" + (self.scratch / "hub.log").read_text(errors="replace")[-3000:])

    def ask(self, method: str, path: str, data: Any = None) -> Any:
        """One request with the tester's token; the JSON of the answer, None for an empty one."""
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.ports[0]}{urllib.parse.quote(path, safe='/?=&')}",
            None if data is None else json.dumps(data).encode(),
            {"Authorization": f"token {TOKEN}", "Content-Type": "application/json"},
            method=method,
        )
        with urllib.request.urlopen(request, timeout=180) as answer:
            text = answer.read()
        return json.loads(text) if text.strip() else None

    def start(self, name: str) -> None:
        """Start somebody's server and wait until it answers."""
        try:
            self.ask("POST", f"/hub/api/users/{name}")
        except urllib.error.HTTPError as error:
            if error.code != 409:  # is there already
                raise
        self.ask("POST", f"/hub/api/users/{name}/server", {})
        until = time.monotonic() + 120
        while time.monotonic() < until:
            if self.ask("GET", f"/hub/api/users/{name}")["servers"].get("", {}).get("ready"):
                return
            time.sleep(0.3)
        raise RuntimeError(f"the server of {name} did not start")


_BEGIN = """set -e
for name in teacher ada bob; do mkdir -p /home/$name; chown $name: /home/$name; chmod 700 /home/$name; done
umask 022
{tickbench} course /srv/course
chown -R teacher: /srv/course
chmod 700 /srv/course
exec {hub} -f /etc/test/jupyterhub_config.py
"""


def proxy_program() -> Path | None:
    """The proxy that JupyterHub needs, from npm; None if it is not there."""
    for place in (Path(sys.prefix, "npm", "node_modules", ".bin"), ROOT / "node_modules" / ".bin"):
        if (place / "configurable-http-proxy").exists():
            return place / "configurable-http-proxy"
    found = shutil.which("configurable-http-proxy")
    return Path(found) if found else None


def _free_ports(count: int) -> list[int]:
    sockets = [socket.socket() for _ in range(count)]
    for one in sockets:
        one.bind(("127.0.0.1", 0))
    ports = [one.getsockname()[1] for one in sockets]
    for one in sockets:
        one.close()
    return ports
