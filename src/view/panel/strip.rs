//! The strip of stages along the foot of the yard: a box for each in the order of the work, with
//! what it digs, places and carries. A press on one shows the ground when it is done.

use bevy_egui::egui::text::{LayoutJob, TextWrapping};
use bevy_egui::egui::{
    self, Color32, Context, FontId, Frame, Margin, Painter, Rect, RichText, ScrollArea, Sense,
    Stroke, StrokeKind, TextFormat, Ui, Vec2, pos2,
};

use crate::plan::LedgerStage;
use crate::view::carrying::{Carried, Carrying};
use crate::view::figures::Figures;
use crate::view::scene::{Showing, Yard};
use crate::view::stages::{Stages, State};
use crate::view::{paper, telling};

use super::press;

const BOX: f32 = 86.0;
/// Narrower, the figures would not fit; wider, the strip would look empty.
const NARROW: f32 = 132.0;
const BROAD: f32 = 210.0;
const GAP: f32 = 5.0;
/// Between the strip and the foot of the yard: the line of hints.
const FOOT: f32 = 32.0;

/// What is said in a box.
#[derive(Debug, PartialEq)]
struct Told {
    name: String,
    rows: Vec<String>,
}

/// `carried`: `None` while it is not known.
fn told(
    number: usize,
    name: &str,
    ledger: Option<&LedgerStage>,
    carried: Option<Carried>,
    figures: Figures,
) -> Told {
    let name = if name.is_empty() { "all works" } else { name };
    let rows = match ledger {
        None => vec!["no soil is moved".into()],
        Some(s) => vec![
            format!("cut {} bank", figures.soil(s.cut_bank_m3)),
            format!("fill {} compacted", figures.soil(s.fill_compacted_m3)),
            match carried {
                None => "loads: …".into(),
                Some(Carried { loads, left_m3 }) => {
                    let plural = if loads == 1 { "" } else { "s" };
                    let left = if left_m3 > 0.0 {
                        format!("; ! {} stays", figures.soil(left_m3))
                    } else {
                        String::new()
                    };
                    format!("{loads} load{plural}{left}")
                }
            },
        ],
    };
    Told {
        name: format!("{number}  {name}"),
        rows,
    }
}

/// How wide each of so many boxes is: whole ones fill the strip, the others are scrolled to.
fn width(strip: f32, count: usize) -> f32 {
    let fit = ((strip + GAP) / (NARROW + GAP)).floor().max(1.0);
    let side_by_side = (count.max(1) as f32).min(fit);
    ((strip + GAP) / side_by_side - GAP).min(BROAD)
}

/// The first box in sight once box `k` is, if now they begin at `from` and so many fit: scrolled no
/// further than it takes, and no box cut.
fn first(k: usize, from: f32, fit: usize) -> f32 {
    let (k, fit) = (k as f32, fit.max(1) as f32);
    from.round().min(k).max(k + 1.0 - fit)
}

/// Shows the strip; returns where it lies. A press changes `showing`.
pub fn show(
    ctx: &Context,
    left: Rect,
    yard: &Yard,
    (stages, carrying): (&Stages, &Carrying),
    figures: Figures,
    showing: &mut Showing,
) -> Option<Rect> {
    if stages.names.is_empty() {
        return None;
    }
    let shown = egui::Area::new("stages".into())
        .fixed_pos(pos2(left.left() + 8.0, left.bottom() - FOOT))
        .pivot(egui::Align2::LEFT_BOTTOM)
        .constrain(false)
        .show(ctx, |ui| {
            Frame::NONE
                .fill(Color32::from_rgba_unmultiplied(0xf7, 0xf2, 0xe6, 240))
                .stroke(Stroke::new(1.0, paper::RULE))
                .corner_radius(2)
                .inner_margin(Margin::symmetric(8, 6))
                .show(ui, |ui| {
                    ui.set_width(left.width() - 34.0);
                    head(ui, stages, carrying, figures, showing);
                    boxes(ui, yard, stages, carrying, figures, showing);
                });
        });
    Some(shown.response.rect)
}

fn head(
    ui: &mut Ui,
    stages: &Stages,
    carrying: &Carrying,
    figures: Figures,
    showing: &mut Showing,
) {
    ui.horizontal(|ui| {
        let words = format!(
            "Stages in their order, {}. Press one for its ground; [ and ] go on.",
            figures.soil_unit()
        );
        ui.label(RichText::new(words).small().color(paper::FAINT));
        let working = showing.stage.is_some_and(|k| {
            carrying.haulage().is_none() || matches!(stages.state(k), State::Working)
        });
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if showing.stage.is_some()
                && press::small(ui, "Put away", "The surface chosen above comes back")
            {
                showing.stage = None;
            }
            if working {
                let words = RichText::new("being worked out…").small();
                let shown = ui.label(words.color(paper::ACCENT));
                telling::place(ui, "strip", "being worked out", shown.rect);
            }
        });
    });
}

fn boxes(
    ui: &mut Ui,
    yard: &Yard,
    stages: &Stages,
    carrying: &Carrying,
    figures: Figures,
    showing: &mut Showing,
) {
    let strip = ui.available_width();
    let width = width(strip, stages.names.len());
    // Only across: the wheel has nothing else to turn. The figures at its ends stay clear.
    ui.style_mut().always_scroll_the_only_direction = true;
    ui.spacing_mut().scroll.fade.strength = 0.0;
    let mut area = ScrollArea::horizontal()
        .id_salt("strip of stages")
        .auto_shrink([false, true]);
    // Where it was scrolled to, and the stage shown then.
    let before = ui.id().with("strip before");
    let (from, last): (f32, Option<usize>) = ui.data(|d| d.get_temp(before).unwrap_or_default());
    if let Some(k) = showing.stage.filter(|_| showing.stage != last) {
        let fit = ((strip + GAP) / (width + GAP)).round() as usize;
        area = area.horizontal_scroll_offset(first(k, from / (width + GAP), fit) * (width + GAP));
    }
    let shown = showing.stage;
    let scrolled = area
        .show(ui, |ui| {
            ui.horizontal(|ui| {
                ui.spacing_mut().item_spacing.x = GAP;
                for (k, name) in stages.names.iter().enumerate() {
                    let ledger = yard.plan.ledger.stages.iter().find(|s| s.name == *name);
                    let told = told(k + 1, name, ledger, carrying.sum(name), figures);
                    let (rect, response) =
                        ui.allocate_exact_size(Vec2::new(width, BOX), Sense::click());
                    let on = showing.stage == Some(k);
                    paint(ui.painter(), rect, &told, on, response.hovered());
                    if ui.clip_rect().contains(rect.center()) {
                        telling::place(ui, "stage", name, rect);
                    }
                    if response.clicked() {
                        showing.stage = if on { None } else { Some(k) };
                    }
                    response.on_hover_text(format!(
                        "{name}: undisturbed soil that its works dig, soil that they place, and \
                         the loads that carry it, rounded up for each way. What stays is loose soil \
                         that nobody can carry: the list of soil says where and why"
                    ));
                }
            });
        })
        .state
        .offset
        .x;
    ui.data_mut(|d| d.insert_temp(before, (scrolled, shown)));
}

fn paint(painter: &Painter, rect: Rect, told: &Told, on: bool, over: bool) {
    let (fill, rim) = match (on, over) {
        (true, _) => (paper::PAPER, Stroke::new(2.5, paper::ACCENT)),
        (_, true) => (paper::SHEET, Stroke::new(1.0, paper::INK)),
        _ => (paper::SHEET, Stroke::new(1.0, paper::RULE)),
    };
    painter.rect(rect, 2.0, fill, rim, StrokeKind::Inside);
    let inner = rect.shrink2(Vec2::new(8.0, 5.0));
    let painter = painter.with_clip_rect(inner.intersect(painter.clip_rect()));
    let ink = if on { paper::ACCENT } else { paper::INK };
    // Names of more than two lines end in dots: the whole is under the pointer.
    let mut job = LayoutJob::single_section(
        told.name.clone(),
        TextFormat::simple(FontId::proportional(13.0), ink),
    );
    job.wrap = TextWrapping {
        max_width: inner.width(),
        max_rows: 2,
        ..Default::default()
    };
    let name = painter.layout_job(job);
    painter.galley(inner.min, name, ink);
    let mut y = inner.bottom();
    for row in told.rows.iter().rev() {
        let text = painter.layout_no_wrap(row.clone(), FontId::proportional(11.5), paper::INK);
        y -= text.size().y;
        painter.galley(pos2(inner.left(), y), text, paper::INK);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Unit;

    #[test]
    fn boxes_fill_the_strip_and_none_is_cut() {
        for strip in [500.0, 846.0, 1486.0] {
            for count in [1, 5, 20] {
                let width = width(strip, count);
                assert!(
                    (NARROW..=BROAD).contains(&width),
                    "{strip}, {count}: {width}"
                );
                let whole = (strip + GAP) / (width + GAP);
                let all_fit = whole >= count as f32 - 1e-3;
                assert!(
                    all_fit || (whole - whole.round()).abs() < 1e-3,
                    "{whole} of {count}"
                );
            }
        }
    }

    #[test]
    fn the_stage_shown_comes_into_sight() {
        assert_eq!(first(3, 0.0, 6), 0.0, "in sight already");
        assert_eq!(first(7, 0.0, 6), 2.0, "the last in sight");
        assert_eq!(first(1, 4.3, 6), 1.0, "the first in sight");
        assert_eq!(first(5, 2.6, 6), 3.0, "no box is cut");
    }

    #[test]
    fn a_box_says_what_its_stage_digs_places_and_carries() {
        let stage = LedgerStage {
            name: "dig".into(),
            cut_bank_m3: 12.0,
            fill_compacted_m3: 3.456,
            ..LedgerStage::default()
        };
        let figures = Figures(Unit::Metre);
        let carried = |loads, left_m3| Some(Carried { loads, left_m3 });
        let box_ = told(3, "dig", Some(&stage), carried(14, 0.0), figures);
        assert_eq!(box_.name, "3  dig");
        let rows = ["cut 12.00 bank", "fill 3.46 compacted", "14 loads"];
        assert_eq!(box_.rows, rows);
        let stuck = told(3, "dig", Some(&stage), carried(1, 2.5), figures);
        assert_eq!(stuck.rows[2], "1 load; ! 2.50 stays");
        let waiting = told(3, "dig", Some(&stage), None, figures);
        assert_eq!(waiting.rows[2], "loads: …", "not known is not nothing");
        assert_eq!(told(1, "", None, None, figures).name, "1  all works");
    }
}
