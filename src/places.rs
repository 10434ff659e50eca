//! The platform's own places for what belongs to the program: `~/.local/share/brimline` and
//! `~/.config/brimline` on Linux, and what other systems have for the same.

use std::io;
use std::path::PathBuf;

use etcetera::AppStrategy as _;
use etcetera::app_strategy::{AppStrategyArgs, choose_native_strategy};

fn strategy() -> io::Result<impl etcetera::AppStrategy> {
    let args = AppStrategyArgs {
        top_level_domain: "local".into(),
        author: "brimline".into(),
        app_name: "brimline".into(),
    };
    choose_native_strategy(args).map_err(io::Error::other)
}

/// Where `name` lies among what the program keeps.
pub(crate) fn kept(name: &str) -> io::Result<PathBuf> {
    Ok(strategy()?.in_data_dir(name))
}

/// Where `name` lies among the program's settings.
#[cfg(feature = "view")]
pub(crate) fn settings(name: &str) -> io::Result<PathBuf> {
    Ok(strategy()?.in_config_dir(name))
}
