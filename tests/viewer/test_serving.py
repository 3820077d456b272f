"""Hold the server to letting nobody else in, finding a port and ending at once."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest
import requests

from tests.viewer.conftest import ROOT, copy_of, serve, slowness


def ask(address: str, **headers: str) -> int:
    return requests.get(address + "index.html", headers=headers, timeout=10, allow_redirects=False).status_code


@pytest.mark.behaviour
def test_wrong_host_or_origin_is_refused(served):
    assert ask(served.address) == 302
    assert ask(served.address, Origin="http://elsewhere.example") == 403
    assert ask(served.address, Host="elsewhere.example") == 403
    upgrade = {
        "Upgrade": "websocket",
        "Connection": "Upgrade",
        "Sec-WebSocket-Version": "13",
        "Sec-WebSocket-Key": "eA==",
    }
    for origin in ({}, {"Origin": "http://elsewhere.example"}):
        refused = requests.get(served.address + "ws", headers={**upgrade, **origin}, timeout=10)
        assert refused.status_code == 403


@pytest.mark.behaviour
def test_link_works_once_and_nothing_works_without(tmp_path):
    running = serve(copy_of("marrowgrass", tmp_path), "--port", "8340", "--host", "127.0.0.2")
    try:
        plain = running.address.split("?")[0]
        assert ask(plain) == 403
        assert requests.get(plain + "?pass=guessed", timeout=10, allow_redirects=False).status_code == 403
        first = requests.Session()
        assert first.get(running.address, timeout=10).status_code == 200
        assert first.get(plain + "index.html", timeout=10).status_code == 200
        assert requests.get(running.address, timeout=10).status_code == 403
    finally:
        running.stop()


@pytest.mark.behaviour
def test_busy_port_gives_the_next_and_stop_leaves_no_child(served):
    busy = served.address.rstrip("/").rpartition(":")[2]
    child = subprocess.Popen(
        [sys.executable, "-m", "canvas.cli", "view", str(served.design), "--no-browser", "--port", busy],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    assert child.stdout is not None
    assert child.stderr is not None
    said = child.stderr.readline().strip()
    assert said.startswith(f"Port {busy} is busy; taking ")
    taken = said.removesuffix(".").rpartition(" ")[2]
    assert f"127.0.0.1:{taken}/" in child.stderr.readline()
    for _ in range(100):
        try:
            requests.get(f"http://127.0.0.1:{taken}/index.html", timeout=5)
            break
        except (requests.ConnectionError, requests.Timeout):
            time.sleep(0.1)
    before = slowness()
    begun = time.monotonic()
    os.killpg(child.pid, signal.SIGINT)
    child.wait(60)
    took = time.monotonic() - begun
    assert took < 2.0 * max(before, slowness())  # a busy machine is no failure
    with child.stdout, child.stderr:
        assert not child.stdout.read() + child.stderr.read()  # nothing went wrong beside the page
    with pytest.raises(ProcessLookupError):
        os.killpg(child.pid, 0)


@pytest.mark.behaviour
def test_wrong_design_is_said_with_its_line(tmp_path):
    design = copy_of("marrowgrass", tmp_path)
    design.write_text(design.read_text(encoding="utf-8").replace('units = "m"', 'units = "cubits"'), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "viewer", str(design), "--no-browser"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "cubits" in done.stderr
    assert "Traceback" not in done.stderr
