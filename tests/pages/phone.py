"""The page for phones in a real browser: what it shows, whether it sounds, what it may load; and pictures of it.

    tests/pages/check PROGRAM [--pictures docs/pictures]

runs it. Needs a chromium and the library websockets, by which the browser is steered (the Chrome
DevTools Protocol), and pillow. Pictures of the page, in docs/pictures phone-day, -night, -alarm and -stale, are made
anew with --pictures.
"""

import base64
import contextlib
import http.client
import io
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import PIL.Image
from websockets.sync.client import connect

PROGRAM = Path(sys.argv[1]).resolve()
PICTURES = Path(sys.argv[3]) if sys.argv[2:3] == ["--pictures"] else None
PATIENCE = 90
# What docs/sailing/phone.md shows.
KEPT = ("phone-day", "phone-night", "phone-alarm", "phone-stale")
PHONE, DESK = (390, 844), (1280, 900)


def free_port():
    with socket.socket() as any_port:
        any_port.bind(("127.0.0.1", 0))
        return any_port.getsockname()[1]


def until(what, so):
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        found = so()
        if found:
            return found
        time.sleep(0.1)
    raise AssertionError(f"never came about: {what}")


class Browser:
    """One page of a chromium without a window."""

    def __init__(self, profile):
        name = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
        if not name:
            sys.exit("No chromium is installed. Install Debian's package chromium, or say which with CHROMIUM.")
        self.process = subprocess.Popen(
            [name, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars",
             "--remote-debugging-port=0", f"--user-data-dir={profile}", "about:blank"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
        told = Path(profile) / "DevToolsActivePort"
        port = int(until("the browser is up", lambda: told.exists() and told.read_text().splitlines())[0])
        link = http.client.HTTPConnection("127.0.0.1", port)
        link.request("GET", "/json/list")
        pages = [page for page in json.load(link.getresponse()) if page["type"] == "page"]
        self.socket = connect(pages[0]["webSocketDebuggerUrl"], max_size=None)
        self.count, self.complaints, self.requests = 0, [], []
        for area in ("Page", "Runtime", "Log", "Network", "Audits"):
            self.ask(f"{area}.enable")

    def ask(self, method, **params):
        self.count += 1
        self.socket.send(json.dumps({"id": self.count, "method": method, "params": params}))
        while True:
            told = json.loads(self.socket.recv(timeout=PATIENCE))
            if told.get("id") == self.count:
                assert "error" not in told, (method, told)
                return told["result"]
            self.hear(told)

    def hear(self, told):
        kind, params = told.get("method"), told.get("params", {})
        if kind == "Log.entryAdded":
            self.complaints.append(params["entry"]["text"])
        elif kind in ("Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Audits.issueAdded"):
            self.complaints.append(json.dumps(params)[:400])
        elif kind == "Network.requestWillBeSent":
            self.requests.append(params["request"]["url"])

    def run(self, script):
        found = self.ask("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True, userGesture=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def size(self, wide, high):
        self.ask("Emulation.setDeviceMetricsOverride", width=wide, height=high, deviceScaleFactor=1, mobile=wide < 600)

    def go(self, url):
        self.ask("Page.navigate", url=url)
        until("something is shown", lambda: self.run("!document.getElementById('watch')?.hidden"))

    def picture(self, name):
        self.run("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
        if PICTURES and name in KEPT:
            shot = self.ask("Page.captureScreenshot", format="png")
            picture = PIL.Image.open(io.BytesIO(base64.b64decode(shot["data"]))).convert("RGB")
            # Few inks, few bytes.
            picture.quantize(24).save(PICTURES / f"{name}.png", optimize=True)

    def end(self):
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


class Watch:
    """The demonstration with a page, its files in a folder of their own."""

    def __init__(self, home, port, *more):
        self.home, self.at = home, f"127.0.0.1:{port}"
        self.around = {**os.environ, "HOME": home, "XDG_RUNTIME_DIR": f"{home}/run", "TZ": "UTC"}
        for name in ("XDG_STATE_HOME", "XDG_CONFIG_HOME"):
            self.around.pop(name, None)
        self.process = subprocess.Popen(
            [PROGRAM, "demo", "--headless", "--silent", "--page", self.at, *more],
            env=self.around, stdout=subprocess.DEVNULL)

    def address(self, *more):
        done = subprocess.run([PROGRAM, "page", "--at", self.at, *more], env=self.around, check=True,
                              capture_output=True, text=True, timeout=PATIENCE)
        return re.search(r"http://\S+", done.stdout).group(0)

    def end(self):
        self.process.send_signal(signal.SIGCONT)
        self.process.terminate()
        self.process.wait()


def status(browser):
    return browser.run("""({
        verdict: document.getElementById('verdict').textContent,
        room: document.getElementById('room-figure').textContent,
        head: document.getElementById('head').hidden ? '' : document.getElementById('head-word').textContent,
        alerts: document.getElementById('alerts').textContent,
        coming: document.getElementById('coming').textContent,
        stale: !document.getElementById('stale').hidden,
        asks: !document.getElementById('acknowledge').hidden,
        wide: document.documentElement.scrollWidth, window: document.documentElement.clientWidth,
        drawn: document.getElementById('chart').toDataURL().length,
        text: document.body.textContent,
        path: location.pathname + location.hash + location.search,
    })""")


def light(browser, name):
    browser.run(f"light('{name}')")


def fits(browser, name, size):
    browser.size(*size)
    until("it is drawn", lambda: status(browser)["drawn"] > 5000)
    found = status(browser)
    assert found["wide"] <= found["window"] == size[0], f"something sticks out: {found}"
    browser.picture(name)


def check(browser, home):
    port = free_port()
    # She drags after some seven hours: within a minute.
    watch = Watch(home, port, "--speed", "600")
    try:
        browser.size(*PHONE)
        url = until("the page is served", lambda: served(watch))
        browser.go(url)
        found = until("she holds", lambda: (f := status(browser))["verdict"] == "HOLDING" and f["room"] and f)
        assert found["path"] == "/watch/", f"the key has left the address: {found['path']}"
        assert url.rsplit("/", 1)[1] not in found["text"], "nor does it stand on the page"
        assert browser.run("document.cookie") == "", "no script can read it"
        # The browser remarks on the question itself.
        browser.run("1")
        browser.complaints = [words for words in browser.complaints if "DocumentCookie" not in words]
        assert "low water" in found["coming"] and found["text"].count("keep a look-out") == 1, found
        hosts = {re.match(r"https?://([^/]*)", link).group(1) for link in browser.requests if link.startswith("http")}
        assert hosts == {watch.at}, f"it loads from elsewhere: {hosts}"
        for name in ("day", "night"):
            light(browser, name)
            fits(browser, f"phone-{name}", PHONE)
            fits(browser, f"desk-{name}", DESK)
        refuses_what_the_policy_forbids(browser)
        browser.size(*PHONE)
        sounds(browser)
        until("something asks", lambda: (f := status(browser))["head"] and f["asks"])
        light(browser, "night")
        until("she drags", lambda: status(browser)["head"] == "DRAGGING")
        fits(browser, "phone-alarm", PHONE)
        light(browser, "day")
        fits(browser, "desk-alarm", DESK)
        browser.size(*PHONE)
        acknowledges(browser)
        assert not browser.complaints, browser.complaints
        watch.process.send_signal(signal.SIGSTOP)
        stale(browser)
        watch.process.send_signal(signal.SIGCONT)
        until("it goes on by itself", lambda: not status(browser)["stale"])
        assert not browser.complaints, browser.complaints
        watch.address("--renew")
        until("a changed key shuts the page", lambda: status(browser)["stale"])
    finally:
        watch.end()


def served(watch):
    with contextlib.suppress(OSError, AttributeError):
        with socket.create_connection(watch.at.split(":"), timeout=1):
            return watch.address()


def refuses_what_the_policy_forbids(browser):
    before = len(browser.complaints)
    tried = browser.run("""(async () => {
        const inline = document.createElement('script');
        inline.textContent = 'window.broken = 1';
        document.body.append(inline);
        const image = new Image();
        const loaded = new Promise(done => { image.onload = () => done('loaded'); image.onerror = () => done('refused'); });
        image.src = 'data:image/gif;base64,R0lGODlhAQABAAAAACH5BAEKAAEALAAAAAABAAEAAAICTAEAOw==';
        const elsewhere = await fetch('http://127.0.0.1:9/').then(() => 'fetched', () => 'refused');
        return [window.broken ?? 'refused', await loaded, elsewhere];
    })()""")
    assert tried == ["refused"] * 3, tried
    # Each refusal is told on the console, as it should be; they are not the page's own.
    browser.run("1")
    assert any("Content Security Policy" in words for words in browser.complaints[before:]), browser.complaints
    del browser.complaints[before:]


def sounds(browser):
    assert browser.run("audio") is None, "silent until it is touched"
    browser.run("document.getElementById('sound').click()")
    until("it sounds", lambda: browser.run("isHeard()"))
    assert browser.run("document.getElementById('sound').getAttribute('aria-pressed')") == "true"


def acknowledges(browser):
    browser.run("document.getElementById('acknowledge').click()")
    until("it is acknowledged", lambda: not status(browser)["asks"] or "acknowledged, still so" in status(browser)["alerts"])


def stale(browser):
    begun = time.monotonic()
    until("nobody is heard", lambda: status(browser)["stale"])
    assert time.monotonic() - begun < 20
    text = browser.run("document.getElementById('stale').innerText")
    assert text.startswith("NOBODY WATCHES") and "heard nothing of the watch for 1" in text, text
    box = browser.run("(({width, height}) => [width, height])(document.getElementById('stale').getBoundingClientRect())")
    assert box == list(PHONE), box
    light(browser, "night")
    browser.picture("phone-stale")


with tempfile.TemporaryDirectory() as profile, tempfile.TemporaryDirectory() as home:
    browser = Browser(profile)
    try:
        check(browser, home)
    finally:
        browser.end()
print("page for phones: as it should be")
