//! A virtual screen, a window on it, and what is seen and told there.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// Software Vulkan takes every core: one at a time.
pub static ONE: Mutex<()> = Mutex::new(());

pub fn required() -> bool {
    std::env::var("BRIMLINE_VIEW_TESTS").as_deref() == Ok("required")
}

pub fn skip(why: &str) {
    assert!(!required(), "BRIMLINE_VIEW_TESTS=required, but {why}");
    println!("skipped: {why}");
}

pub fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron")
}

pub fn brimline() -> Command {
    Command::new(env!("CARGO_BIN_EXE_brimline"))
}

pub struct Pixels {
    pub width: usize,
    pub height: usize,
    pub rgb: Vec<[u8; 3]>,
}

impl Pixels {
    /// Share of pixels that look like the view's water: blue-green, clearly bluer than red.
    pub fn water(&self) -> f64 {
        let wet = self.rgb.iter().filter(|p| is_water(**p)).count();
        wet as f64 / self.rgb.len() as f64
    }

    /// Number of different colours, coarsely; a blank picture has one or two.
    pub fn colours(&self) -> usize {
        let seen: std::collections::HashSet<_> =
            self.rgb.iter().map(|p| p.map(|v| v / 8)).collect();
        seen.len()
    }

    /// The yard, without the panel on the right.
    pub fn left(&self, columns: usize) -> Pixels {
        let columns = columns.min(self.width);
        let rgb = self
            .rgb
            .chunks(self.width)
            .flat_map(|row| row[..columns].iter().copied())
            .collect();
        Pixels {
            width: columns,
            height: self.height,
            rgb,
        }
    }

    /// What lies below a row.
    pub fn below(&self, row: usize) -> Pixels {
        let row = row.min(self.height);
        Pixels {
            width: self.width,
            height: self.height - row,
            rgb: self.rgb[row * self.width..].to_vec(),
        }
    }

    /// Share of pixels like grass.
    pub fn grass(&self) -> f64 {
        let like = |[r, g, b]: &&[u8; 3]| *g >= *r && *g > b.saturating_add(25);
        self.rgb.iter().filter(like).count() as f64 / self.rgb.len().max(1) as f64
    }

    /// Share of pixels of about this colour.
    pub fn share(&self, colour: [u8; 3]) -> f64 {
        let like = self
            .rgb
            .iter()
            .filter(|p| (0..3).all(|k| p[k].abs_diff(colour[k]) <= 6))
            .count();
        like as f64 / self.rgb.len().max(1) as f64
    }

    /// Share of pixels that differ clearly.
    pub fn differs(&self, other: &Pixels) -> f64 {
        let pairs = self.rgb.iter().zip(&other.rgb);
        let changed = pairs
            .filter(|(a, b)| (0..3).any(|k| a[k].abs_diff(b[k]) > 24))
            .count();
        changed as f64 / self.rgb.len() as f64
    }
}

/// Blue-green, as [`Pixels::water`] counts it.
pub fn is_water([r, g, b]: [u8; 3]) -> bool {
    i32::from(b) > i32::from(r) + 25 && g > r && b > 60
}

/// The client's water lets the stones through: less blue, but nothing else in the yard is bluer
/// than red.
pub fn is_clear_water([r, g, b]: [u8; 3]) -> bool {
    i32::from(b) > i32::from(r) + 8 && g > r
}

/// A virtual screen whose pixels lie in a file.
pub struct Screen {
    server: Child,
    number: Option<u32>,
    pub folder: PathBuf,
    pub name: String,
}

impl Screen {
    /// Of so many pixels.
    pub fn start(size: (u32, u32)) -> Option<Screen> {
        static COUNT: AtomicUsize = AtomicUsize::new(0);
        let size = format!("{}x{}x24", size.0, size.1);
        let folder = std::env::temp_dir().join(format!(
            "brimline-screen-{}-{}",
            std::process::id(),
            COUNT.fetch_add(1, Ordering::Relaxed)
        ));
        std::fs::create_dir_all(&folder).ok()?;
        // The server takes a free number and tells it when it is ready; marks that servers which
        // are gone left behind do not stop it.
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", &size])
            .args(["-nolisten", "tcp", "-fbdir"])
            .arg(&folder)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .ok()?;
        let mut number = String::new();
        let told = server.stdout.take()?;
        let _ = BufReader::new(told).read_line(&mut number);
        let number = number.trim().parse::<u32>().ok();
        let screen = Screen {
            server,
            folder,
            number,
            name: number.map_or_else(String::new, |n| format!(":{n}")),
        };
        number.is_some().then_some(screen)
    }

    /// Xvfb keeps its screen as an X window dump: big-endian header, then colour map, then rows.
    pub fn pixels(&self) -> Pixels {
        let data = std::fs::read(self.folder.join("Xvfb_screen0")).expect("the screen's file");
        let word = |i: usize| {
            u32::from_be_bytes([
                data[4 * i],
                data[4 * i + 1],
                data[4 * i + 2],
                data[4 * i + 3],
            ]) as usize
        };
        let (width, height, bits, stride) = (word(4), word(5), word(11), word(12));
        assert_eq!(bits, 32, "bits per pixel");
        let start = word(0) + word(19) * 12;
        let rgb = (0..height)
            .flat_map(|y| (0..width).map(move |x| start + y * stride + 4 * x))
            .map(|at| [data[at + 2], data[at + 1], data[at]])
            .collect();
        Pixels { width, height, rgb }
    }

    pub fn xdotool(&self, words: &str) -> String {
        let run = Command::new("xdotool")
            .args(words.split(' '))
            .env("DISPLAY", &self.name)
            .output()
            .expect("xdotool runs");
        String::from_utf8_lossy(&run.stdout).trim().to_owned()
    }

    /// Waits until the yard (not the panel) is as wanted.
    pub fn until(&self, what: &str, wanted: impl Fn(&Pixels) -> bool) -> Pixels {
        let start = Instant::now();
        loop {
            let yard = self.pixels().left(860);
            if wanted(&yard) {
                // Once more, when it has settled.
                std::thread::sleep(Duration::from_secs(2));
                return self.pixels().left(860);
            }
            assert!(
                start.elapsed() < Duration::from_secs(240),
                "{what}: not seen in four minutes"
            );
            std::thread::sleep(Duration::from_millis(500));
        }
    }
}

impl Screen {
    /// The lines told about the last whole frame.
    pub fn frame(&self) -> Option<Vec<String>> {
        let log = std::fs::read(self.folder.join("log")).ok()?;
        let log = String::from_utf8_lossy(&log).into_owned();
        let end = log.rfind("\nframe ends\n")?;
        let begin = log[..end].rfind("frame:\n")? + "frame:\n".len();
        Some(
            log[begin.min(end)..end]
                .lines()
                .map(str::to_owned)
                .collect(),
        )
    }

    /// Where something lies in the last frame: `button: Save`.
    pub fn place(&self, what: &str) -> Option<[i32; 2]> {
        let begin = format!("{what} at ");
        self.frame()?.iter().find_map(|line| {
            let mut at = line.strip_prefix(&begin)?.split(' ').map(str::parse::<i32>);
            Some([at.next()?.ok()?, at.next()?.ok()?])
        })
    }

    /// Goes into a cell and types; Enter or Tab is left to the caller.
    pub fn type_in(&self, cell: &str, text: &str) {
        let typing = format!("typing: {cell} = ");
        let focus = || {
            self.frame()?
                .iter()
                .any(|l| l.starts_with(&typing))
                .then_some(())
        };
        if focus().is_none() {
            self.press(&format!("cell: {cell}"), focus);
        }
        let wanted = format!("{typing}{text}");
        let mut first = true;
        until_done(
            &format!("`{text}` in {cell}"),
            20,
            || {
                // Coming into a cell picks all that is in it.
                if !first {
                    // A slow frame must see both keys together.
                    self.xdotool("keydown ctrl sleep 2 key a sleep 2 keyup ctrl");
                }
                first = false;
                let run = Command::new("xdotool")
                    .args(["type", "--delay", "250", text])
                    .env("DISPLAY", &self.name)
                    .output();
                assert!(run.is_ok(), "xdotool runs");
            },
            || self.place(&wanted).map(|_| ()),
        );
    }

    /// Presses it, if it is there and lies still.
    pub fn click(&self, what: &str) {
        // A list lies elsewhere in the frame that measures it.
        let before = self.place(what);
        std::thread::sleep(Duration::from_secs(2));
        if let Some([x, y]) = self.place(what).filter(|now| Some(*now) == before) {
            self.xdotool(&format!("mousemove {x} {y} sleep 1.5 click 1"));
        }
    }

    /// Presses it, and waits for what comes of it; again, if a slow frame missed the press.
    pub fn press<T>(&self, what: &str, seen: impl Fn() -> Option<T>) -> T {
        until_done(
            &format!("what `{what}` does"),
            25,
            || {
                self.click(what);
            },
            seen,
        )
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
        // A killed server leaves its marks: enough of them, and no number is free.
        if let Some(n) = self.number {
            let _ = std::fs::remove_file(format!("/tmp/.X{n}-lock"));
            let _ = std::fs::remove_file(format!("/tmp/.X11-unix/X{n}"));
        }
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

pub struct Running(pub Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A window of this size on a job; `None` where it cannot open and need not.
pub fn window_on(job: &Path, size: (u32, u32)) -> Option<(Screen, Running)> {
    if Command::new("xdotool").arg("version").output().is_err() {
        skip("there is no xdotool");
        return None;
    }
    let Some(screen) = Screen::start(size) else {
        skip("there is no Xvfb");
        return None;
    };
    // No slips of the first day over the yard; the window as large as the screen.
    let settings = screen.folder.join("brimline");
    std::fs::create_dir_all(&settings).expect("a folder for settings");
    std::fs::write(
        settings.join("window.json"),
        format!("{{\"guided\":true,\"size\":[{},{}]}}", size.0, size.1),
    )
    .expect("settings");
    let app = run_on(&screen, job)?;
    Some((screen, app))
}

/// The program on a screen that is there already.
pub fn run_on(screen: &Screen, job: &Path) -> Option<Running> {
    let log = screen.folder.join("log");
    let out = std::fs::File::create(&log).expect("a log");
    let mut app = Running(
        brimline()
            .arg("view")
            .arg(job)
            .env("DISPLAY", &screen.name)
            // Copies for after a crash stay with the test.
            .env("XDG_DATA_HOME", &screen.folder)
            .env("XDG_CONFIG_HOME", &screen.folder)
            .env("HOME", &screen.folder)
            .env_remove("DBUS_SESSION_BUS_ADDRESS")
            .env("BRIMLINE_VIEW_LOG", "1")
            .stdout(out.try_clone().expect("a second handle"))
            .stderr(out)
            .spawn()
            .expect("brimline starts"),
    );
    let start = Instant::now();
    loop {
        std::thread::sleep(Duration::from_secs(1));
        if app.0.try_wait().expect("a state").is_some() {
            let said = std::fs::read_to_string(&log).unwrap_or_default();
            skip(said.lines().next().unwrap_or("the view did not open"));
            return None;
        }
        let window = screen.xdotool("search --name Brimline");
        if let Some(window) = window.lines().next()
            && screen.frame().is_some()
        {
            screen.xdotool(&format!("windowfocus {window}"));
            return Some(app);
        }
        assert!(
            start.elapsed() < Duration::from_secs(240),
            "no window in four minutes"
        );
    }
}

/// A window on the demo with the existing ground shown, and the two pictures on the way there;
/// `None` where it cannot open and need not.
pub fn window_on_the_demo() -> Option<(Screen, Running, Pixels, Pixels)> {
    let (screen, app) = window_on(&demo(), (1280, 800))?;
    let first = screen.until("the finished yard", |p| {
        p.colours() > 200 && p.water() > 0.002
    });
    screen.xdotool("mousemove 430 520");
    screen.xdotool("key 1");
    let existing = screen.until("the existing yard, by key 1", |p| {
        p.colours() > 100 && p.water() < 0.0005
    });
    Some((screen, app, first, existing))
}

/// What the window says of the last plan it made after an edit.
pub fn last_plan(screen: &Screen) -> Option<String> {
    let log = std::fs::read_to_string(screen.folder.join("log")).unwrap_or_default();
    log.lines()
        .rfind(|line| line.starts_with("planned: "))
        .map(str::to_owned)
}

/// Does something again and again until it is seen to have worked.
pub fn until_done<T>(
    what: &str,
    pause: u64,
    mut act: impl FnMut(),
    seen: impl Fn() -> Option<T>,
) -> T {
    let start = Instant::now();
    loop {
        act();
        for _ in 0..pause {
            std::thread::sleep(Duration::from_secs(1));
            if let Some(found) = seen() {
                return found;
            }
        }
        assert!(
            start.elapsed() < Duration::from_secs(240),
            "{what}: not seen in four minutes"
        );
    }
}

/// The last line of the window's log that begins so, without its beginning.
pub fn last_told(screen: &Screen, begin: &str) -> Option<String> {
    let log = std::fs::read_to_string(screen.folder.join("log")).ok()?;
    let line = log.lines().rev().find_map(|l| l.strip_prefix(begin))?;
    Some(line.trim().to_owned())
}

/// Waits for a line of the log that is as wanted.
pub fn until_told(screen: &Screen, begin: &str, wanted: impl Fn(&str) -> bool) -> String {
    let start = Instant::now();
    loop {
        if let Some(told) = last_told(screen, begin).filter(|told| wanted(told)) {
            return told;
        }
        assert!(
            start.elapsed() < Duration::from_secs(240),
            "no `{begin}` as wanted in four minutes; the last: {:?}",
            last_told(screen, begin)
        );
        std::thread::sleep(Duration::from_millis(500));
    }
}
