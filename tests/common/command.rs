//! The built program, run from the repository's root as on a plain terminal.

#![allow(dead_code)] // each test file uses its own part

use std::process::{Command, Output};

pub fn brimline<const N: usize>(args: [&str; N]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_brimline"))
        .args(args)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env_remove("COLUMNS")
        .output()
        .expect("the command runs")
}

/// What it prints, when all is well.
pub fn printed<const N: usize>(args: [&str; N]) -> String {
    let out = brimline(args);
    assert_eq!(
        out.status.code(),
        Some(0),
        "{args:?}: {}",
        String::from_utf8_lossy(&out.stderr)
    );
    String::from_utf8(out.stdout).expect("UTF-8")
}
