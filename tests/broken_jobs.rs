//! Job files that are wrong, and what is said about them.

use brimline::job::Document;

/// An invented yard, whole and right; the tests break it.
const SMALL: &str = include_str!("smallest.ron");

#[test]
fn the_small_job_is_right() {
    if let Err(errors) = Document::parse("smallest.ron", SMALL) {
        panic!("{errors}");
    }
}
