//! The commands. Exit status: 0 fine; 1 `check` found an error, which it alone tells by its status; 2 bad
//! input, or a picture that could not be made.

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Parser, Subcommand, ValueEnum};

use crate::edit::Editor;
use crate::findings::Severity;
use crate::job::{Document, Job, JobErrors};
use crate::measure::stages::{done_after, stages};
use crate::plan::Plan;
use crate::report::{self, After, Extras};
use crate::terrain::MOST_LEVELS;
use crate::{as_built, asked, haul, ledger, stakes, takeoff};

const DEMO: &str = include_str!("../surveys/demo.ron");
const DEMO_NAME: &str = "surveys/demo.ron";
const BAD_INPUT: u8 = 2;
/// Contours nearer than a rod can be read mean nothing; further apart than this there are none.
const LEAST_INTERVAL: f64 = 0.001;
const MOST_INTERVAL: f64 = 1000.0;

/// Terrain and excavation for lined ponds and waterfalls: rod shots in; cut, fill, ramp soil,
/// spoil and water level out.
#[derive(Parser)]
#[command(name = "brimline", version)]
struct Brimline {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Subcommand)]
enum Command {
    /// Show the yard in 3D (the invented demo without JOB)
    View {
        /// Job file
        job: Option<PathBuf>,
    },
    /// Print ground, cut and fill, soil, water and findings
    Figures {
        /// Job file
        job: PathBuf,
        /// Print JSON in SI units; the keys are documented in src/report/KEYS.md
        #[arg(long)]
        json: bool,
        /// With --json: the points and triangles of the three surfaces as well
        #[arg(long, requires = "json")]
        surfaces: bool,
        /// With --json: contours of the existing ground every INTERVAL metres
        #[arg(long, requires = "json", value_name = "INTERVAL", value_parser = interval, allow_hyphen_values = true)]
        contours: Option<f64>,
        /// The ground when this stage of the sequence is done, by its name or number; with --json its points
        /// and triangles as well
        #[arg(long, value_name = "STAGE", conflicts_with_all = ["surfaces", "contours"], allow_hyphen_values = true)]
        after: Option<String>,
    },
    /// Print the reduced field book with its checks
    Notes {
        /// Job file
        job: PathBuf,
    },
    /// Print the setting-out list: where each stake stands, what to dig or build to there
    Stakes {
        /// Job file
        job: PathBuf,
        /// The level as it stands now: a benchmark and what the rod reads on it
        #[arg(long, value_name = "BM=READING")]
        backsight: Option<String>,
        /// Tape every stake from these two points
        #[arg(long, value_name = "A,B")]
        pegs: Option<String>,
        /// Print JSON in SI units; the keys are documented in src/report/KEYS.md
        #[arg(long)]
        json: bool,
    },
    /// Print what to order: liner, stone, wall block, pipe, soil, mulch, paving
    Takeoff {
        /// Job file
        job: PathBuf,
        /// Print JSON in SI units; the keys are documented in src/report/KEYS.md
        #[arg(long)]
        json: bool,
    },
    /// Print where the soil goes: stages, ledger, piles, the way in, who carries what, the ramp
    Soil {
        /// Job file
        job: PathBuf,
        /// Print JSON in SI units; the keys are documented in src/report/KEYS.md
        #[arg(long)]
        json: bool,
    },
    /// Hold what was shot after digging against the design: still to dig, over-dug, volumes
    Asbuilt {
        /// Job file
        job: PathBuf,
        /// Print JSON in SI units; the keys are documented in src/report/KEYS.md
        #[arg(long)]
        json: bool,
    },
    /// Print brim, spill path, storage, flow over the lips, pump and overflow pipes
    Water {
        /// Job file
        job: PathBuf,
        /// Print JSON in SI units; the keys are documented in src/report/KEYS.md
        #[arg(long)]
        json: bool,
    },
    /// Print all papers of the job at once, each on pages of its own: figures, notes, soil, water, takeoff,
    /// stakes, as-built
    Papers {
        /// Job file
        job: PathBuf,
    },
    /// Print the findings, the haul's and the ramp's among them; exit status 1 if one is an error
    Check {
        /// Job file
        job: PathBuf,
    },
    /// Save a picture of the yard
    Picture {
        /// Job file
        job: PathBuf,
        /// File to write, PNG
        #[arg(long, value_name = "FILE.png")]
        out: PathBuf,
        /// Which surface
        #[arg(long, value_enum, default_value_t = Look::Finished)]
        look: Look,
        /// Width and height in pixels
        #[arg(long, value_name = "WxH", default_value = "1600x1000", value_parser = size)]
        size: (u32, u32),
    },
}

#[derive(Clone, Copy, ValueEnum)]
enum Look {
    /// As surveyed
    Existing,
    /// As the machine leaves it
    Dug,
    /// As lined, stoned and filled, with water and marks
    Finished,
    /// For the client: finished, with plants and falling water, without marks
    Client,
}

fn size(text: &str) -> Result<(u32, u32), String> {
    let allowed = "write it as WIDTHxHEIGHT, each from 16 to 8192, such as 1600x1000";
    let (w, h) = text.split_once(['x', 'X', '×']).ok_or(allowed)?;
    let side = |s: &str| {
        let n: u32 = s.trim().parse().map_err(|_| allowed)?;
        if (16..=8192).contains(&n) {
            Ok(n)
        } else {
            Err(allowed)
        }
    };
    Ok((side(w)?, side(h)?))
}

fn interval(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(v) if (LEAST_INTERVAL..=MOST_INTERVAL).contains(&v) => Ok(v),
        _ => Err(format!(
            "the interval is a length in metres, from {LEAST_INTERVAL} to {MOST_INTERVAL}, such as 0.25"
        )),
    }
}

/// What is wrong with contours this close on this ground, if anything.
fn too_close(plan: &Plan, interval: f64) -> Option<String> {
    let [low, high] = plan.existing.bounds()?;
    let rise = high[2] - low[2];
    (rise / interval > MOST_LEVELS).then(|| {
        // Rounded up, so that what is advised is enough.
        let least = (rise / MOST_LEVELS * 1000.0).ceil() / 1000.0;
        format!(
            "--contours {interval}: the ground rises {rise:.2} m, which is more than {MOST_LEVELS} \
             contours; give {least} or more (metres)"
        )
    })
}

pub fn run() -> ExitCode {
    let line = match Brimline::try_parse() {
        Ok(line) => line,
        Err(error) => {
            let bad = error.use_stderr();
            // Help and version go to standard output, which may be closed.
            let _ = error.print();
            return ExitCode::from(if bad { BAD_INPUT } else { 0 });
        }
    };
    match line.command.unwrap_or(Command::View { job: None }) {
        Command::View { job } => view(job.as_deref()),
        Command::Figures {
            job,
            json,
            surfaces,
            contours,
            after,
        } => with_plan(&job, |job, plan| {
            if let Some(stage) = after {
                return after_stage(job, plan, &stage, json);
            }
            if let Some(why) = contours.and_then(|interval| too_close(plan, interval)) {
                return fail(&why);
            }
            if json {
                let extras = Extras { surfaces, contours };
                let value = report::json(job, plan, extras);
                // Surfaces are long: they are not for reading.
                let text = if surfaces || contours.is_some() {
                    serde_json::to_string(&value)
                } else {
                    serde_json::to_string_pretty(&value)
                };
                match text {
                    Ok(text) => say(&(text + "\n")),
                    Err(error) => return fail(&format!("cannot write JSON: {error}")),
                }
            } else {
                say(&report::figures(job, plan, width()));
            }
            ExitCode::SUCCESS
        }),
        Command::Notes { job } => with_plan(&job, |job, plan| {
            say(&report::notes(job, plan, width()));
            ExitCode::SUCCESS
        }),
        Command::Stakes {
            job,
            backsight,
            pegs,
            json,
        } => with_plan(&job, |job, plan| {
            stake_out(job, plan, backsight.as_deref(), pegs.as_deref(), json)
        }),
        Command::Takeoff { job, json } => with_plan(&job, |job, plan| {
            let list = takeoff::takeoff(job, plan);
            if json {
                return say_json(&report::takeoff_json(job, plan, &list));
            }
            say(&report::takeoff(job, plan, &list, width()));
            ExitCode::SUCCESS
        }),
        Command::Soil { job, json } => with_plan(&job, |job, plan| {
            let places = ledger::places(job, plan);
            let haulage = haul::of(job, plan, &places);
            if json {
                return say_json(&report::soil_json(job, plan, &places, &haulage));
            }
            say(&report::soil(job, plan, &places, &haulage, width()));
            ExitCode::SUCCESS
        }),
        Command::Asbuilt { job, json } => with_plan(&job, |job, plan| {
            let visits = as_built::of(job, plan);
            if json {
                return say_json(&report::as_built_json(job, &visits));
            }
            say(&report::as_built(job, &visits, width()));
            ExitCode::SUCCESS
        }),
        Command::Water { job, json } => with_plan(&job, |job, plan| {
            let closer = crate::flow::closer(job, plan);
            if json {
                return say_json(&report::water_json(plan, &closer));
            }
            say(&report::water(job, plan, &closer, width()));
            ExitCode::SUCCESS
        }),
        Command::Papers { job } => with_plan(&job, |job, plan| {
            say(&papers(job, plan));
            ExitCode::SUCCESS
        }),
        Command::Check { job } => with_plan(&job, |job, plan| {
            let haulage = haul::of(job, plan, &ledger::places(job, plan));
            let mut all = plan.findings.clone();
            all.extend(haulage.findings);
            say(&report::findings(&all, job.unit, width()));
            let wrong = all.iter().any(|f| f.severity == Severity::Error);
            ExitCode::from(u8::from(wrong))
        }),
        Command::Picture {
            job,
            out,
            look,
            size,
        } => with_plan(&job, |_, plan| {
            match draw::picture(plan, look, size, &out) {
                Ok(()) => ExitCode::SUCCESS,
                Err(why) => fail(&why),
            }
        }),
    }
}

/// Every page as its own command prints it, with a form feed between: a printer begins a new sheet there.
fn papers(job: &Job, plan: &Plan) -> String {
    let ((places, haulage), asked) = rayon::join(
        || {
            let places = ledger::places(job, plan);
            let haulage = haul::of(job, plan, &places);
            (places, haulage)
        },
        || asked::all(job, plan),
    );
    let wide = width();
    [
        report::figures(job, plan, wide),
        report::notes(job, plan, wide),
        report::soil(job, plan, &places, &haulage, wide),
        report::water(job, plan, &asked.closer, wide),
        report::takeoff(job, plan, &asked.takeoff, wide),
        report::stakes(job, plan, &asked.stakes, None, wide),
        report::as_built(job, &asked.built, wide),
    ]
    .join("\u{c}\n")
}

fn after_stage(job: &Job, whole: &Plan, called: &str, json: bool) -> ExitCode {
    let stages = stages(job);
    let done = match done_after(&stages, called) {
        Ok(done) => done,
        Err(why) => return fail(&format!("--after: {why}")),
    };
    let then = Plan::works_after(job, done);
    let after = After {
        job,
        stages: &stages,
        done,
        whole,
        then: &then,
    };
    if json {
        // Surfaces are long: they are not for reading.
        say(&(report::after_json(&after).to_string() + "\n"));
    } else {
        say(&report::after(&after, width()));
    }
    ExitCode::SUCCESS
}

fn stake_out(
    job: &Job,
    plan: &Plan,
    backsight: Option<&str>,
    pegs: Option<&str>,
    json: bool,
) -> ExitCode {
    let level = match backsight.map(|text| stakes::instrument(job, plan, text)) {
        Some(Err(why)) => return fail(&format!("--backsight: {why}")),
        Some(Ok(level)) => Some(level),
        None => None,
    };
    let all = match pegs {
        None => plan.stakes.clone(),
        Some(text) => {
            let Some((a, b)) = text.split_once(',') else {
                return fail(&format!(
                    "--pegs \"{text}\": write two points, such as \"P1,P2\""
                ));
            };
            match stakes::from_pegs(job, plan, a.trim(), b.trim()) {
                Ok(all) => all,
                Err(why) => return fail(&format!("--pegs: {why}")),
            }
        }
    };
    if json {
        say_json(&report::stakes_json(job, plan, &all, level.as_ref()))
    } else {
        say(&report::stakes(job, plan, &all, level.as_ref(), width()));
        ExitCode::SUCCESS
    }
}

fn say_json(value: &serde_json::Value) -> ExitCode {
    match serde_json::to_string_pretty(value) {
        Ok(text) => {
            say(&(text + "\n"));
            ExitCode::SUCCESS
        }
        Err(error) => fail(&format!("cannot write JSON: {error}")),
    }
}

fn with_plan(path: &Path, then: impl FnOnce(&Job, &Plan) -> ExitCode) -> ExitCode {
    match Document::load(path) {
        Ok((_, job)) => then(&job, &Plan::of(&job)),
        Err(errors) => complain(&errors),
    }
}

fn view(path: Option<&Path>) -> ExitCode {
    let loaded = match path {
        Some(path) => Editor::open(path),
        None => Ok(Editor::of_text(DEMO_NAME, DEMO)),
    };
    let editor = match loaded {
        Ok(editor) => editor,
        Err(errors) => return complain(&errors),
    };
    let job = match (editor.job(), editor.errors()) {
        (Some(job), None) => job.clone(),
        (_, Some(errors)) => return complain(errors),
        (None, None) => return ExitCode::FAILURE,
    };
    if let Err(why) = draw::open(editor) {
        say(&format!("{}\n\n", why.trim_end()));
        say(&report::figures(&job, &Plan::of(&job), width()));
    }
    ExitCode::SUCCESS
}

#[cfg(feature = "view")]
mod draw {
    use super::*;
    use crate::view;

    pub fn open(editor: Editor) -> Result<(), String> {
        view::open(editor)
    }

    pub fn picture(plan: &Plan, look: Look, size: (u32, u32), out: &Path) -> Result<(), String> {
        let look = match look {
            Look::Client => return view::client_picture(plan, view::Look::Finished, size, out),
            Look::Existing => view::Look::Existing,
            Look::Dug => view::Look::Dug,
            Look::Finished => view::Look::Finished,
        };
        view::picture(plan, look, size, out)
    }
}

#[cfg(not(feature = "view"))]
mod draw {
    use super::*;

    const WITHOUT: &str = "This build has no 3D view: it was made without the feature \"view\".";

    pub fn open(_: Editor) -> Result<(), String> {
        Err(format!("{WITHOUT} Here are the figures."))
    }

    pub fn picture(_: &Plan, _: Look, _: (u32, u32), _: &Path) -> Result<(), String> {
        Err(WITHOUT.into())
    }
}

fn complain(errors: &JobErrors) -> ExitCode {
    let styled = std::io::stderr().is_terminal();
    let _ = std::io::stderr().write_all(errors.render(styled).as_bytes());
    ExitCode::from(BAD_INPUT)
}

fn fail(why: &str) -> ExitCode {
    let _ = writeln!(std::io::stderr(), "brimline: {}", why.trim_end());
    ExitCode::from(BAD_INPUT)
}

/// Prints, and does not mind when nobody reads on (a closed pipe).
fn say(text: &str) {
    let mut out = std::io::stdout().lock();
    let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
}

/// Columns of the terminal, where the shell tells.
fn width() -> usize {
    std::env::var("COLUMNS")
        .ok()
        .and_then(|c| c.parse().ok())
        .filter(|c| (60..=240).contains(c))
        .unwrap_or(report::WIDTH)
}
