//! Text copied, cut and pasted in cells, through the desktop's clipboard where there is one (on Windows
//! only within the window).

use bevy::prelude::*;
use bevy_egui::EguiOutput;
use bevy_egui::egui::{Event, Key, OutputCommand};

#[derive(Default)]
pub struct Clipboard {
    desktop: Desktop,
    /// What was copied last here, for desktops that have no clipboard.
    own: String,
}

impl Clipboard {
    fn put(&mut self, text: &str) {
        self.own = text.to_owned();
        self.desktop.put(text);
    }

    fn text(&mut self) -> String {
        let text = self.desktop.text();
        text.unwrap_or_else(|| self.own.clone())
    }

    /// What Ctrl with this key asks for.
    pub fn event(&mut self, key: Key) -> Option<Event> {
        match key {
            Key::C => Some(Event::Copy),
            Key::X => Some(Event::Cut),
            Key::V => Some(Event::Paste(self.text())).filter(|e| *e != Event::Paste(String::new())),
            _ => None,
        }
    }
}

/// Takes what cells had to be copied in this frame.
pub fn keep(
    outputs: Query<&EguiOutput, Changed<EguiOutput>>,
    mut clipboard: NonSendMut<Clipboard>,
) {
    for command in outputs.iter().flat_map(|o| &o.platform_output.commands) {
        if let OutputCommand::CopyText(text) = command
            && !text.is_empty()
        {
            clipboard.put(text);
        }
    }
}

/// Opened when first asked for. It stays open: what was copied lasts only as long.
#[cfg(not(windows))]
#[derive(Default)]
struct Desktop(Option<arboard::Clipboard>);

#[cfg(not(windows))]
impl Desktop {
    fn open(&mut self) -> Option<&mut arboard::Clipboard> {
        if self.0.is_none() {
            self.0 = arboard::Clipboard::new().ok();
        }
        self.0.as_mut()
    }

    /// Where it fails there is still our own.
    fn put(&mut self, text: &str) {
        if let Some(open) = self.open() {
            let _ = open.set_text(text);
        }
    }

    fn text(&mut self) -> Option<String> {
        self.open()?.get_text().ok()
    }
}

#[cfg(windows)]
#[derive(Default)]
struct Desktop;

#[cfg(windows)]
impl Desktop {
    fn put(&mut self, _: &str) {}

    fn text(&mut self) -> Option<String> {
        None
    }
}
