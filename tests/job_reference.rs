//! `surveys/README.md` stays in step with the declarations that read a job file.
//! `BRIMLINE_WRITE=1 cargo test --test job_reference` writes the tables anew.

use brimline::findings::{Finding, Severity};
use brimline::job::{Document, reference};
use brimline::plan::Plan;

const START: &str = "<!-- tables: start -->\n";
const END: &str = "<!-- tables: end -->";

#[test]
fn tables_are_in_step() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/surveys/README.md");
    let text = std::fs::read_to_string(path).expect("surveys/README.md");
    let (head, rest) = text.split_once(START).expect("start mark");
    let (tables, tail) = rest.split_once(END).expect("end mark");
    let wanted = reference::markdown();
    if std::env::var_os("BRIMLINE_WRITE").is_some() {
        std::fs::write(path, format!("{head}{START}{wanted}{END}{tail}")).expect("written");
    } else {
        assert!(
            tables == wanted,
            "the tables in surveys/README.md are out of step: run with BRIMLINE_WRITE=1"
        );
    }
}

#[test]
fn jobs_in_the_readme_can_be_read() {
    let text = include_str!("../surveys/README.md");
    let jobs: Vec<&str> = text
        .split("```ron\n")
        .skip(1)
        .filter_map(|rest| rest.split_once("```").map(|(job, _)| job))
        .filter(|job| job.contains("field_book:"))
        .collect();
    assert!(!jobs.is_empty(), "the README has a job to copy");
    for job in jobs {
        if let Err(errors) = Document::parse("surveys/README.md", job) {
            panic!("{errors}");
        }
    }
}

#[test]
fn the_smallest_job_of_the_readme_is_the_one_that_is_tested() {
    let smallest = include_str!("smallest.ron");
    assert!(include_str!("../surveys/README.md").contains(smallest));
    let (_, job) = Document::parse("smallest.ron", smallest).unwrap_or_else(|e| panic!("{e}"));
    let plan = Plan::of(&job);
    let bad = |f: &&Finding| matches!(f.severity, Severity::Error | Severity::Warning);
    let found: Vec<&Finding> = plan.findings.iter().filter(bad).collect();
    assert!(found.is_empty(), "{found:#?}");
    assert_eq!(plan.water.len(), 1);
}
