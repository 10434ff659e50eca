//! Editing a job, without a window: commands, undo, forms, and copies for after a crash.
//!
//! Everything edits the job's *text*, as ranges of bytes, so comments and layout stay as typed. The
//! text is read anew after every edit; if it makes a job, that is the new [`Editor::job`].
//!
//! **Opening and saving.** [`Editor::new_job`], [`Editor::open`] (also files with mistakes),
//! [`Editor::save`] (refuses if somebody else changed the file), [`Editor::save_as`] (does not ask),
//! [`Editor::reload`], [`Editor::is_changed`], [`Editor::is_changed_on_disk`].
//!
//! **Editing.** [`Editor::apply`] makes one [`Edit`] as one step. [`Editor::apply_as`] is for drags
//! and for typing in a cell: edits of the same gesture replace each other, each made from where the
//! gesture began, and are one step; [`Editor::end_gesture`] when the button or the cell is let go,
//! [`Editor::abandon_gesture`] for Escape. [`Editor::apply_if_good`] refuses what would break a good
//! job. An edit that cannot be made is [`Refused`] with a sentence to show; nothing has changed then.
//! [`Editor::undo`], [`Editor::redo`]; [`Editor::history`] has the labels for the menu.
//!
//! **Shaping.** [`Edit::Move`] for a corner or point, [`Edit::MoveBy`] for a whole thing,
//! [`Edit::AddPoint`] on an edge, [`Edit::Length`] for a dragged measure: a cap, a crest, the water
//! (`….water`, or `….water.by` while it hangs under a cap). Batters by edge, the profile of a ramp and
//! the widths of the way in keep in step with the points.
//!
//! **Adding.** [`Edit::Add`] puts a whole thing ([`New`]) where somebody points, [`Edit::AddPart`] a
//! shelf, layer, pit, pool or pump into a thing, both with the trade's usual measures; [`Edit::Insert`]
//! without an item an empty row to be typed into. A new feature joins the last stage that builds.
//!
//! **Broken input.** [`Edit::Type`] keeps whatever is typed. While the text makes no job,
//! [`Editor::is_good`] is false, [`Editor::job`] is the last good one, and [`Editor::problems`] say
//! what is wrong; each [`Cell`] carries its own. [`Editor::address_at`] leads from a problem's bytes
//! to its field.
//!
//! **Addresses.** [`Address`] is `design.basins[0].outline[2]`. Indices change when items come and
//! go, so keep addresses only as long as the [`Editor::revision`]. [`Editor::find_named`] leads from
//! a pick in the yard to a form (`"Sight"`, `"12"`), [`Editor::contents`] lists all that has a name.
//!
//! **Forms.** [`Editor::sheet`] gives a record as [`Sheet`]: every field of its table as a [`Cell`]
//! with kind, unit, default, meaning, what is written and what is wrong. [`Editor::rows`] gives a
//! part of a list that way (the level notes: `field_book.setups[0].sights`), [`Editor::choices`] what
//! may be chosen. A cell whose `record` is set can be opened as a sheet of its own; a list's items
//! are at `cell.address.item(i)`. All of it comes from the tables in `surveys/README.md`.
//!
//! **Names.** [`Edit::Rename`] (and typing in a name's cell) changes every reference with it.
//! Deleting what something else leans on is refused and says by whom; stages let go by themselves.
//!
//! **After a crash.** [`Recovery`] keeps a copy after each edit; [`Recovery::left_behind`] finds the
//! copies of processes that are gone, to be offered.
//!
//! ```
//! use brimline::edit::{Address, Edit, Editor, New};
//! use brimline::job::Unit;
//!
//! let mut editor = Editor::new_job("Back yard", Unit::Foot);
//! // A benchmark and a basin where somebody pointed (metres), with the trade's usual measures.
//! editor.apply(&Edit::Add { what: New::Benchmark, at: [0.0, 0.0], elevation: 30.48 })?;
//! editor.apply(&Edit::Add { what: New::Basin, at: [6.0, 6.0], elevation: 30.0 })?;
//! assert_eq!(editor.job().unwrap().design.basins[0].name, "pond");
//!
//! // Level notes: a setup, then an empty row, and what is typed into its cells.
//! editor.apply(&Edit::Add { what: New::Setup, at: [0.0, 0.0], elevation: 0.0 })?;
//! let setup = Address::of("field_book.setups[0]")?;
//! editor.apply(&Edit::typed(&setup.field("backsight").field("rod"), "4.25"))?;
//! let sights = setup.field("sights");
//! editor.apply(&Edit::Insert { list: sights.clone(), index: 0, item: None })?;
//! assert_eq!(editor.problems().len(), 1); // the rod is still to be read
//! let row = &editor.rows(&sights, 0..1)[0];
//! assert_eq!((row.fields[1].name, row.fields[1].problems.len()), ("rod", 1));
//! editor.apply(&Edit::typed(&row.fields[1].address, "5'-3 1/2"))?;
//! assert!(editor.is_good());
//!
//! // A corner is dragged: one step, whatever lies between.
//! let corner = Address::of("design.basins[\"pond\"].outline[2]")?;
//! for x in [8.1, 8.4, 9.0] {
//!     editor.apply_as("drag", &Edit::Move { at: corner.clone(), to: [x, 7.5] })?;
//! }
//! editor.end_gesture();
//! assert_eq!(editor.history().undo_label(), Some("moved corner 3 of \"pond\""));
//!
//! // Nothing is lost on the way back to the beginning.
//! while editor.undo().is_some() {}
//! assert_eq!(editor.text(), Editor::new_job("Back yard", Unit::Foot).text());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! **Speed.** Every edit reads the text and makes the job anew. On a large field book call
//! [`Editor::read_later`], hand [`Editor::unread`] to another thread ([`Unread::read`]) and take the
//! result with [`Editor::accept`]; until then [`Editor::is_read`] is false and nothing is known of
//! problems.
//!
//! Limits: a job's text is at most 16 MB ([`crate::job::LARGEST`]).

mod address;
mod blank;
mod disk;
mod draft;
#[allow(clippy::module_inception)] // it holds `Edit`
mod edit;
mod editor;
mod find;
mod history;
mod known;
mod length;
mod make;
mod names;
mod part;
mod points;
mod recovery;
mod refused;
mod script;
mod sheet;
mod splice;
mod template;
mod typed;

pub use address::{Address, NotAnAddress, Step};
pub use disk::NotSaved;
pub use edit::Edit;
pub use editor::{Editor, Outcome, Reading, Unread};
pub use find::{is_named, item_noun};
pub use history::{Done, History};
pub use names::Group;
pub use recovery::{LeftBehind, Recovery};
pub use refused::Refused;
pub use sheet::{Cell, Default, Entry, Sheet};
pub use splice::Splice;
pub use template::New;
