"""A window under a screen of its own, driven by keys and the pointer, and what it tells.

With BRIMLINE_VIEW_LOG the window prints after every change where each thing lies. Nothing here waits
for a time: a press waits until its place lies still, and what follows until the window tells it.
"""

import os
import re
import shutil
import subprocess
import time
from pathlib import Path

SIZE = (1280, 800)
PATIENCE = 60.0
STILL = 0.15
# Without a frame for so long, none is due: at rest the window draws one every other second.
IDLE = 10.0


class NotSeen(Exception):
    """The window did not tell what was waited for."""


class Window:
    def __init__(self, brimline, folder, arguments):
        self.folder = Path(folder)
        self.folder.mkdir(parents=True, exist_ok=True)
        self.keys = self.presses = self.notches = self.again = 0
        self.places, self.since, self.typing, self.last = {}, {}, None, []
        self.sight = (890, 240, 1270, 790)
        self.typed = {}
        self.planned = None
        self.frames, self.same, self.came, self.slow = 0, 0, time.monotonic(), []
        self.tail, self.frame, self.inside = b"", [], False
        self.waits = []
        self.screen()
        settings = self.folder / "brimline"
        settings.mkdir(exist_ok=True)
        (settings / "window.json").write_text('{"guided":true,"size":[%d,%d]}' % SIZE)
        environment = dict(
            os.environ,
            DISPLAY=self.display,
            HOME=str(self.folder),
            XDG_CONFIG_HOME=str(self.folder),
            XDG_DATA_HOME=str(self.folder),
            WINIT_UNIX_BACKEND="x11",
            BRIMLINE_VIEW_LOG="1",
        )
        environment.pop("DBUS_SESSION_BUS_ADDRESS", None)
        environment.pop("WAYLAND_DISPLAY", None)
        self.path = self.folder / "log"
        self.log = open(self.path, "wb")
        self.app = subprocess.Popen(
            [brimline, "view", *arguments], env=environment, stdout=self.log, stderr=self.log,
            cwd=self.folder,
        )
        self.reading = open(self.path, "rb")
        self.until("a window", lambda: self.places.get("page: Notes"), 240)
        window = self.xdotool("search", "--name", "Brimline").split()[0]
        self.xdotool("windowfocus", window)

    def screen(self):
        self.server = subprocess.Popen(
            ["Xvfb", "-displayfd", "1", "-screen", "0", "%dx%dx24" % SIZE, "-nolisten", "tcp",
             # Else it forgets its keyboard when the first client goes.
             "-noreset"],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        )
        self.display = ":" + self.server.stdout.readline().decode().strip()
        # A keyboard that has all letters of the demo, the degree of an elbow among them: what is put
        # on a key for one stroke only comes too late for a window that draws slowly.
        keyboard = subprocess.run(
            ["setxkbmap", "-display", self.display, "de"], capture_output=True, text=True, check=False
        )
        if keyboard.returncode:
            print(f"    ! no other keyboard: {keyboard.stderr.strip()}", flush=True)

    def close(self):
        for process in (self.app, self.server):
            process.terminate()
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def xdotool(self, *words):
        run = subprocess.run(
            ["xdotool", *map(str, words)],
            # Without it letters outside ASCII are not struck at all.
            env=dict(os.environ, DISPLAY=self.display, LC_ALL="C.UTF-8"),
            capture_output=True, text=True,
        )
        return run.stdout

    def picture(self, name):
        """What the screen shows, once all of it is drawn."""
        self.until("all is drawn", lambda: self.same > 3, 60)
        if shutil.which("import"):
            subprocess.run(
                ["import", "-window", "root", str(self.folder / f"{name}.png")],
                env=dict(os.environ, DISPLAY=self.display), check=False,
            )

    # ------------------------------------------------------------------------------ what is told

    def look(self):
        """Takes in what the window has told since."""
        data = self.tail + self.reading.read()
        *lines, self.tail = data.split(b"\n")
        for line in lines:
            line = line.decode("utf-8", "replace")
            if line == "frame:":
                self.frame, self.inside = [], True
            elif line == "frame ends":
                self.inside = False
                self.seen(0)
                self.whole_frame()
            elif line == "frame as before":
                self.seen(self.same + 1)
            elif self.inside:
                self.frame.append(line)
            elif line.startswith("planned: "):
                self.planned = line
            elif "panicked" in line:
                raise NotSeen(f"the window says: {line}")
        if self.app.poll() is not None:
            raise NotSeen(f"the window has ended: {self.path}")

    def seen(self, same):
        """A frame has come; so many are the same as the last that was told."""
        now = time.monotonic()
        self.frames += 1
        if now - self.came > 3.0 and self.same == 0:
            self.slow.append(now - self.came)
        self.same, self.came = same, now

    def is_still(self, words):
        """A thing has not moved for a while, and not in the last frame."""
        now = time.monotonic()
        drawn = self.same > 0 or now - self.came > IDLE
        return drawn and now - self.since[words] >= STILL

    def whole_frame(self):
        now, places, self.typing = time.monotonic(), {}, None
        self.choosing = None
        for line in self.frame:
            if found := re.match(r"book: (\w+) within (-?\d+) (-?\d+) (-?\d+) (-?\d+)$", line):
                self.page = found.group(1)
                self.sight = tuple(map(int, found.groups()[1:]))
                continue
            found = re.match(r"(.*) at (-?\d+) (-?\d+)$", line)
            if not found:
                continue
            words, x, y = found.group(1), int(found.group(2)), int(found.group(3))
            if one := re.match(r"typing: (\S*) = (.*)$", words, re.S):
                self.typing = one.groups()
                self.typed.setdefault(one.group(1), []).append(one.group(2))
            elif one := re.match(r"choosing: (\S*) = (.*)$", words):
                self.choosing = one.groups()
            places.setdefault(words, (x, y))
        for words, at in places.items():
            if self.places.get(words) != at:
                self.since[words] = now
        self.places = places

    choosing = None
    page = None

    def until(self, what, seen, patience=PATIENCE):
        begin = last = time.monotonic()
        waited = 0.0
        while True:
            self.look()
            now = time.monotonic()
            if found := seen():
                self.waits.append((now - begin, what))
                return found
            # A machine that sleeps meanwhile, or a window that somebody holds up, is no fault of it.
            waited, last = waited + (0.0 if self.is_held() else min(now - last, 0.5)), now
            if waited > patience:
                raise NotSeen(f"{what}: not seen in {patience:.0f} s")
            time.sleep(0.01)

    def is_held(self):
        """Whether the window is stopped from outside."""
        try:
            state = Path(f"/proc/{self.app.pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
        except (OSError, IndexError):
            return False
        if state == "T":
            self.held = time.monotonic()
        # What was held up needs a while to come to.
        return time.monotonic() - self.held < 5.0

    held = -10.0

    def has(self, words):
        self.look()
        return words in self.places

    def is_in_sight(self, words):
        """Whether a thing of the book lies in its part that is seen."""
        left, top, right, bottom = self.sight
        x, y = self.places[words]
        return top + 10 <= y <= bottom - 12

    # --------------------------------------------------------------------------------- what is done

    def move_to(self, at):
        self.xdotool("mousemove", *at)

    def in_book(self, words):
        kind = words.split(":")[0]
        return words.startswith("button: Add a ") or kind in ("cell", "fold", "thing", "more", "kind", "tick", "add", "choices")

    def step_back(self, yard):
        """Looks at the yard from afar: a driver that draws in software is faster then."""
        self.move_to(yard)
        self.xdotool("click", "--repeat", 10, "--delay", 30, 5)

    def at_rest(self, words, scroll=True):
        """Where a thing lies, once it lies still, and in sight."""
        begin = time.monotonic()
        while True:
            self.until(words, lambda: words in self.places, 30)
            if self.is_still(words):
                if not scroll or not self.in_book(words) or self.is_in_sight(words):
                    return self.places[words]
                self.scroll(words)
            if time.monotonic() - begin > 4 * PATIENCE:
                raise NotSeen(f"{words} does not come to rest in sight: {self.places.get(words)}")
            time.sleep(0.02)

    def scroll(self, words):
        """Turns the wheel over the book until a thing is about in its middle."""
        left, top, right, bottom = self.sight
        y = self.places[words][1]
        off = y - (top + bottom) / 2
        notches = max(1, min(40, round(abs(off) / self.notch)))
        self.move_to((left + 24, (top + bottom) // 2))
        self.xdotool("click", "--repeat", notches, "--delay", 8, 5 if off > 0 else 4)
        self.notches += notches
        begin = time.monotonic()
        moved = lambda: words not in self.places or self.places[words][1] != y
        try:
            self.until(f"the wheel, for {words}", moved, 40)
        except NotSeen:
            self.again += 1
            print(f"    ! the wheel did nothing for 20 s: {words} at {self.places.get(words)}", flush=True)
            return
        while words in self.places and not self.is_still(words):
            time.sleep(0.02)
            self.look()
        if words in self.places:
            went = abs(self.places[words][1] - y)
            if went > 20:
                self.notch = max(10.0, min(200.0, went / notches))

    notch = 50.0

    def press(self, words, seen=None, what=None, patience=12.0, tries=5, scroll=True):
        """Presses a thing, and waits for what comes of it; again, if nothing does."""
        for attempt in range(tries):
            if attempt:
                self.again += 1
                print(f"    ! once more: {words}: {what or ''}", flush=True)
                if seen and seen():
                    return
            self.xdotool("mousemove", *self.at_rest(words, scroll), "click", 1)
            self.presses += 1
            if seen is None:
                return
            try:
                self.until(what or f"what {words} does", seen, patience)
                return
            except NotSeen:
                continue
        raise NotSeen(f"{what or words}: nothing in {tries} presses")

    def key(self, *names):
        for name in names:
            self.xdotool("key", "--clearmodifiers", name)
            self.keys += name.count("+") + 1

    def write(self, text):
        """Strikes the keys of a text."""
        self.xdotool("type", "--delay", 6, "--", text)
        self.keys += len(text)

    def is_in(self, address):
        return self.typing is not None and self.typing[0] == address

    def goes_into(self, address):
        """The pointer leads into a cell, unless the keyboard is there already."""
        self.look()
        if not self.is_in(address):
            self.press(f"cell: {address}", lambda: self.is_in(address), f"the keyboard in {address}")

    def fill(self, address, text):
        """Types into the cell that has the keyboard, and sees that it has been taken in."""
        if not self.is_in(address):
            raise NotSeen(f"the keyboard is in {self.typing}, not in {address}")
        if self.typing[1] == text:
            return
        if text == "":
            self.key("BackSpace")
        else:
            self.write(text)
        try:
            self.until(f"{text!r} in {address}", lambda: self.typing == (address, text), 40)
        except NotSeen:
            # Letters that the keyboard has not are struck so fast that one may come to nothing.
            self.again += 1
            print(f"    ! typed anew: {address}: {self.typing} for {text!r}", flush=True)
            self.key("ctrl+a")
            self.write(text)
            self.until(f"{text!r} in {address}", lambda: self.typing == (address, text), 40)

    def leads_on(self, name, address):
        """A key leads on to another cell."""
        self.key(*([name] if isinstance(name, str) else name))
        self.until(f"{name} leads to {address}", lambda: self.is_in(address), 40)
