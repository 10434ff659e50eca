//! What is written on a stake: a letter for the work and a number, both short enough for a felt pen.

use crate::job::Job;

/// A letter (or two, once they run out) for each of `count` works. Left out are I and O, which look
/// like figures on a wet stake, and letters that the field book uses: with a peg "P1" there is no
/// stake P1.
pub fn letters(job: &Job, count: usize) -> Vec<String> {
    let book = &job.field_book;
    let names = || {
        let sights = book
            .setups
            .iter()
            .flat_map(|s| s.sights.iter().map(|g| &g.to));
        let pegs = book.pegs.iter().map(|p| &p.name);
        let marks = book.benchmarks.iter().map(|b| &b.name);
        let lines = book.baselines.iter().map(|b| &b.name);
        let points = book.points.iter().map(|p| &p.name);
        pegs.chain(marks).chain(lines).chain(points).chain(sights)
    };
    let mut taken = [false; 26];
    for name in names() {
        let mut rest = name.chars();
        let first = rest.next().map(|c| c.to_ascii_uppercase());
        if let Some(letter @ 'A'..='Z') = first
            && rest.all(|c| c.is_ascii_digit())
        {
            taken[(letter as u8 - b'A') as usize] = true;
        }
    }
    let clear: Vec<char> = ('A'..='Z').filter(|c| !matches!(c, 'I' | 'O')).collect();
    let mut free: Vec<char> = clear
        .iter()
        .copied()
        .filter(|c| !taken[(*c as u8 - b'A') as usize])
        .collect();
    if free.is_empty() {
        // Every letter is a point's: pairs of letters are not.
        free = clear;
    }
    let single = free.iter().map(char::to_string);
    let double = free
        .iter()
        .flat_map(|a| free.iter().map(move |b| format!("{a}{b}")));
    let all_taken = taken
        .iter()
        .enumerate()
        .all(|(i, &t)| t || matches!(i, 8 | 14));
    let start = if all_taken { free.len() } else { 0 };
    let mut out: Vec<String> = single.chain(double).skip(start).take(count).collect();
    for k in out.len()..count {
        out.push(format!("W{k}-"));
    }
    out
}
