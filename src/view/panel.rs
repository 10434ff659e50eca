//! The field-book page beside the yard: which surface, figures, findings.

use bevy_egui::egui::{
    self, Align, Align2, Color32, Context, CornerRadius, FontFamily, FontId, Frame, Grid, Label,
    Layout, Margin, Panel, Rect, RichText, ScrollArea, Sense, Stroke, TextStyle, Ui, UiBuilder,
    Vec2,
};

use crate::findings::{Finding, Severity};
use crate::plan::Kind;

use super::figures::Figures;
use super::scene::{Showing, Yard};
use super::window::Book;
use super::{Look, paper, signs};

pub const WIDTH: f32 = 400.0;

/// What the reader asks the camera for.
pub enum Wish {
    Whole,
    Finding(usize),
}

pub fn style(ctx: &Context) {
    ctx.all_styles_mut(|style| {
        style.text_styles = [
            (
                TextStyle::Heading,
                FontId::new(19.0, FontFamily::Proportional),
            ),
            (TextStyle::Body, FontId::new(14.0, FontFamily::Proportional)),
            (
                TextStyle::Button,
                FontId::new(14.0, FontFamily::Proportional),
            ),
            (
                TextStyle::Small,
                FontId::new(12.0, FontFamily::Proportional),
            ),
            (
                TextStyle::Monospace,
                FontId::new(13.0, FontFamily::Monospace),
            ),
        ]
        .into();
        style.spacing.item_spacing = Vec2::new(8.0, 4.0);
        style.interaction.selectable_labels = false;
        style.visuals = egui::Visuals::light();
        let v = &mut style.visuals;
        v.override_text_color = Some(paper::INK);
        v.panel_fill = paper::PAPER;
        v.window_fill = paper::PAPER;
        v.extreme_bg_color = paper::SHEET;
        v.faint_bg_color = paper::SHEET;
        v.selection.bg_fill = paper::ACCENT;
        v.selection.stroke = Stroke::new(1.0, Color32::WHITE);
        v.widgets.noninteractive.bg_stroke = Stroke::new(1.0, paper::RULE);
        for w in [
            &mut v.widgets.inactive,
            &mut v.widgets.hovered,
            &mut v.widgets.active,
            &mut v.widgets.open,
        ] {
            w.bg_fill = paper::SHEET;
            w.weak_bg_fill = paper::SHEET;
            w.corner_radius = CornerRadius::same(2);
        }
        v.widgets.inactive.bg_stroke = Stroke::new(1.0, paper::RULE);
        v.widgets.hovered.bg_stroke = Stroke::new(1.0, paper::INK);
        v.widgets.active.bg_stroke = Stroke::new(1.0, paper::ACCENT);
    });
}

/// Shows the page; returns what it leaves to the yard.
pub fn show(
    ctx: &Context,
    book: &Book,
    yard: &Yard,
    showing: &mut Showing,
    wishes: &mut Vec<Wish>,
) -> Rect {
    let whole = ctx.viewport_rect();
    let width = WIDTH.min(whole.width() * 0.45);
    let mut root = Ui::new(
        ctx.clone(),
        "page".into(),
        UiBuilder::new()
            .layer_id(egui::LayerId::background())
            .max_rect(whole),
    );
    let page = Panel::right("field book")
        .resizable(false)
        .exact_size(width)
        .frame(
            Frame::NONE
                .fill(paper::PAPER)
                .stroke(Stroke::new(1.0, paper::RULE))
                .inner_margin(Margin::symmetric(16, 12)),
        )
        .show(&mut root, |ui| {
            head(ui, book, yard, showing, wishes);
            ScrollArea::vertical()
                .auto_shrink([false, false])
                .show(ui, |ui| {
                    // The bar lies over the page: figures keep clear of it.
                    ui.set_width(ui.available_width() - 10.0);
                    water(ui, book.figures, yard);
                    soil(ui, book.figures, yard);
                    by_feature(ui, book.figures, yard);
                    findings(ui, book, yard, wishes);
                    ui.add_space(8.0);
                });
        });
    let left = Rect::from_min_max(
        whole.min,
        egui::pos2(page.response.rect.left(), whole.bottom()),
    );
    hint(ctx, left);
    left
}

fn head(ui: &mut Ui, book: &Book, yard: &Yard, showing: &mut Showing, wishes: &mut Vec<Wish>) {
    ui.add(Label::new(RichText::new(&book.title).heading().strong()).wrap());
    let shots = yard.plan.survey.spots.len();
    ui.label(
        RichText::new(format!(
            "{shots} shots; lengths in {}, soil in {}",
            book.figures.length_unit(),
            book.figures.soil_unit()
        ))
        .small()
        .color(paper::FAINT),
    );
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        let width = (ui.available_width() - 8.0) / 3.0;
        for (k, look) in Look::ALL.into_iter().enumerate() {
            let on = showing.look == look;
            let text = RichText::new(format!("{}  {}", k + 1, look.word())).color(if on {
                Color32::WHITE
            } else {
                paper::INK
            });
            let button = egui::Button::new(text)
                .fill(if on { paper::ACCENT } else { paper::SHEET })
                .min_size(Vec2::new(width, 30.0));
            if ui.add(button).clicked() {
                showing.look = look;
            }
        }
    });
    ui.add_space(2.0);
    ui.label(
        RichText::new(showing.look.meaning())
            .small()
            .color(paper::FAINT),
    );
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 9.0;
        ui.checkbox(&mut showing.water, "Water");
        ui.checkbox(&mut showing.shots, "Shots");
        ui.checkbox(&mut showing.contours, "Contours");
        ui.checkbox(&mut showing.marks, "Marks");
    });
    ui.horizontal(|ui| {
        if ui.button("Whole yard (F)").clicked() {
            wishes.push(Wish::Whole);
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            for severity in [
                Severity::Note,
                Severity::Caution,
                Severity::Warning,
                Severity::Error,
            ] {
                let count = yard
                    .plan
                    .findings
                    .iter()
                    .filter(|f| f.severity == severity)
                    .count();
                if count > 0 {
                    ui.label(RichText::new(count.to_string()).monospace());
                    let (spot, response) =
                        ui.allocate_exact_size(Vec2::splat(18.0), Sense::hover());
                    signs::paint(ui.painter(), spot.center(), 14.0, severity);
                    response.on_hover_text(signs::word(severity));
                }
            }
        });
    });
    ui.add_space(4.0);
    ui.separator();
}

fn title(ui: &mut Ui, text: &str, aside: &str) {
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        ui.label(RichText::new(text).size(15.0).strong().color(paper::ACCENT));
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.label(RichText::new(aside).small().color(paper::FAINT));
        });
    });
}

/// A line of a table: words on the left, figure on the right, dots between as in a ledger.
fn entry(ui: &mut Ui, words: &str, figure: &str) {
    let height = 19.0;
    let (rect, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), height), Sense::hover());
    let painter = ui.painter();
    let left = painter.text(
        rect.left_center(),
        Align2::LEFT_CENTER,
        words,
        TextStyle::Body.resolve(ui.style()),
        paper::INK,
    );
    let right = painter.text(
        rect.right_center(),
        Align2::RIGHT_CENTER,
        figure,
        TextStyle::Monospace.resolve(ui.style()),
        paper::INK,
    );
    let y = rect.center().y + 4.0;
    let mut x = left.right() + 6.0;
    while x < right.left() - 5.0 {
        painter.circle_filled(egui::pos2(x, y), 0.6, paper::RULE);
        x += 5.0;
    }
}

fn water(ui: &mut Ui, figures: Figures, yard: &Yard) {
    let bodies = &yard.plan.water;
    title(ui, "Water", "");
    if bodies.is_empty() {
        ui.label(RichText::new("None in this plan.").color(paper::FAINT));
        return;
    }
    let length = figures.length_unit();
    let columns = [
        ("", String::new()),
        ("level", length.to_owned()),
        ("area", figures.area_unit().to_owned()),
        ("volume", figures.water_unit().to_owned()),
        ("deepest", length.to_owned()),
        ("freeboard", length.to_owned()),
    ];
    let widths = [0.0, 50.0, 42.0, 52.0, 50.0, 58.0];
    table(ui, "water", &widths, |ui, cell| {
        for (k, (word, _)) in columns.iter().enumerate() {
            cell(ui, k, RichText::new(*word).small().color(paper::FAINT));
        }
        ui.end_row();
        for (k, (_, unit)) in columns.iter().enumerate() {
            cell(ui, k, RichText::new(unit).small().color(paper::FAINT));
        }
        ui.end_row();
        for body in bodies {
            // Water that runs away never stands at that level.
            let held = |figure: String| if body.held { figure } else { "—".into() };
            cell(ui, 0, RichText::new(&body.name));
            let row = [
                figures.elevation(body.level_m),
                held(figures.bare_area(body.area_m2)),
                held(figures.bare_water(body.volume_m3)),
                held(figures.elevation(body.depth_max_m)),
                figures.elevation(body.freeboard_min_m),
            ];
            for (k, text) in row.iter().enumerate() {
                cell(ui, k + 1, RichText::new(text).monospace());
            }
            ui.end_row();
        }
    });
    for body in bodies {
        let spill = figures.elevation_with_unit(body.spill_m);
        let words = if body.held {
            format!("{}: held; would run over at {spill}", body.name)
        } else {
            format!("{}: not held; runs over at {spill}", body.name)
        };
        let color = if body.held {
            paper::FAINT
        } else {
            paper::ACCENT
        };
        ui.label(RichText::new(words).small().color(color));
    }
}

/// A striped table: the first column takes what the others leave, figures stand to the right.
fn table(
    ui: &mut Ui,
    id: &str,
    widths: &[f32],
    rows: impl FnOnce(&mut Ui, &dyn Fn(&mut Ui, usize, RichText)),
) {
    let gap = 4.0;
    let rest = widths.iter().sum::<f32>() + gap * (widths.len() - 1) as f32;
    let first = (ui.available_width() - rest).max(60.0);
    let cell = |ui: &mut Ui, column: usize, text: RichText| {
        let (width, layout) = if column == 0 {
            (first, Layout::left_to_right(Align::Center))
        } else {
            (widths[column], Layout::right_to_left(Align::Center))
        };
        ui.allocate_ui_with_layout(Vec2::new(width, 18.0), layout, |ui| {
            ui.set_min_width(width);
            ui.add(Label::new(text).truncate().halign(if column == 0 {
                Align::Min
            } else {
                Align::Max
            }));
        });
    };
    Grid::new(id)
        .num_columns(widths.len())
        .striped(true)
        .spacing(Vec2::new(gap, 3.0))
        .show(ui, |ui| rows(ui, &cell));
}

fn soil(ui: &mut Ui, figures: Figures, yard: &Yard) {
    let soil = &yard.plan.soil;
    title(ui, "Soil", &soil.class);
    entry(
        ui,
        "Cut, bank",
        &figures.soil_with_unit(yard.plan.volumes.cut_bank_m3),
    );
    entry(
        ui,
        "Fill, compacted",
        &figures.soil_with_unit(yard.plan.volumes.fill_compacted_m3),
    );
    entry(
        ui,
        "Ramp, compacted",
        &figures.soil_with_unit(soil.ramp_compacted_m3),
    );
    entry(
        ui,
        "Topsoil, bank",
        &figures.soil_with_unit(soil.topsoil_bank_m3),
    );
    entry(
        ui,
        "Spoil, loose",
        &figures.soil_with_unit(soil.spoil_loose_m3),
    );
    if soil.short_bank_m3 > 0.0 {
        let at = if soil.short_at.is_empty() {
            "Short, bank".to_owned()
        } else {
            format!("Short at {}, bank", soil.short_at)
        };
        entry(ui, &at, &figures.soil_with_unit(soil.short_bank_m3));
    }
    entry(ui, "Truck loads", &soil.truck_loads.to_string());
    entry(ui, "Barrow loads", &soil.barrow_loads.to_string());
}

fn by_feature(ui: &mut Ui, figures: Figures, yard: &Yard) {
    let rows = &yard.plan.volumes.by_feature;
    if rows.is_empty() {
        return;
    }
    title(ui, "By feature", figures.soil_unit());
    table(ui, "by feature", &[0.0, 74.0, 74.0], |ui, cell| {
        for (k, word) in ["feature", "cut, bank", "fill, comp."].iter().enumerate() {
            cell(ui, k, RichText::new(*word).small().color(paper::FAINT));
        }
        ui.end_row();
        for row in rows {
            let kind = kind_word(row.kind);
            let name = if row.name.contains(kind) {
                row.name.clone()
            } else {
                format!("{}, {kind}", row.name)
            };
            cell(ui, 0, RichText::new(name));
            for (k, volume) in [row.cut_bank_m3, row.fill_compacted_m3].iter().enumerate() {
                let text = if volume.abs() < 1e-9 {
                    "·".to_owned()
                } else {
                    figures.soil(*volume)
                };
                cell(ui, k + 1, RichText::new(text).monospace());
            }
            ui.end_row();
        }
    });
}

fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::Ground => "ground",
        Kind::Basin => "basin",
        Kind::Pit => "pit",
        Kind::Cascade => "pool",
        Kind::Surround => "surround",
        Kind::Wall => "wall",
        Kind::Backfill => "backfill",
        Kind::Pad => "pad",
        Kind::Berm => "berm",
        Kind::Trench => "trench",
        Kind::Ramp => "ramp",
        Kind::StandingWall => "standing wall",
    }
}

fn findings(ui: &mut Ui, book: &Book, yard: &Yard, wishes: &mut Vec<Wish>) {
    let all = &yard.plan.findings;
    title(ui, "Findings", &format!("{}", all.len()));
    let mut order: Vec<usize> = (0..all.len()).collect();
    order.sort_by_key(|&i| all[i].severity);
    for i in order {
        let finding = &all[i];
        let chosen = book.chosen == Some(i);
        let shown = Frame::NONE
            .fill(if chosen { paper::SHEET } else { paper::PAPER })
            .inner_margin(Margin::symmetric(4, 5))
            .show(ui, |ui| {
                ui.set_width(ui.available_width());
                ui.horizontal_top(|ui| {
                    let (spot, _) = ui.allocate_exact_size(Vec2::new(20.0, 20.0), Sense::hover());
                    signs::paint(ui.painter(), spot.center(), 15.0, finding.severity);
                    ui.vertical(|ui| {
                        ui.spacing_mut().item_spacing.y = 2.0;
                        let head = format!("{}: {}", signs::word(finding.severity), finding.place);
                        ui.add(Label::new(RichText::new(head).strong()).wrap());
                        ui.add(Label::new(RichText::new(&finding.what)).wrap());
                        if !finding.remedy.is_empty() {
                            let remedy = RichText::new(&finding.remedy)
                                .size(13.0)
                                .color(paper::FAINT);
                            ui.add(Label::new(remedy).wrap());
                        }
                    });
                });
            });
        let response = ui.interact(
            shown.response.rect,
            ui.id().with(("finding", i)),
            Sense::click(),
        );
        if finding.at.is_some() {
            if response.hovered() {
                ui.ctx().set_cursor_icon(egui::CursorIcon::PointingHand);
                ui.painter().rect_stroke(
                    shown.response.rect,
                    2.0,
                    Stroke::new(1.0, paper::RULE),
                    egui::StrokeKind::Inside,
                );
            }
            if response.clicked() {
                wishes.push(Wish::Finding(i));
            }
        }
    }
}

const HINT: &str =
    "drag: turn    right drag: shift    wheel: nearer    1 2 3: surface    F: whole yard";

fn hint_rect(left: Rect) -> Rect {
    Rect::from_min_max(
        egui::pos2(left.left() + 8.0, left.bottom() - 26.0),
        egui::pos2(left.right() - 8.0, left.bottom() - 4.0),
    )
}

fn hint(ctx: &Context, left: Rect) {
    let painter = egui::Painter::new(ctx.clone(), egui::LayerId::background(), left);
    let galley = painter.layout_no_wrap(HINT.to_owned(), FontId::proportional(12.5), paper::INK);
    let rect = Align2::CENTER_CENTER.anchor_size(hint_rect(left).center(), galley.size());
    painter.rect_filled(
        rect.expand2(Vec2::new(8.0, 3.0)),
        2.0,
        Color32::from_rgba_unmultiplied(0xf7, 0xf2, 0xe6, 215),
    );
    painter.galley(rect.min, galley, paper::INK);
}

/// Places over the yard that labels keep clear of.
pub fn overlays(ctx: &Context) -> Vec<Rect> {
    vec![hint_rect(ctx.viewport_rect())]
}

/// What a sign in the yard says, beside it.
pub fn whisper(ctx: &Context, sign: Rect, finding: &Finding) {
    egui::Area::new("whisper".into())
        .order(egui::Order::Tooltip)
        .interactable(false)
        .fixed_pos(sign.right_bottom() + Vec2::splat(4.0))
        .constrain(true)
        .show(ctx, |ui| {
            Frame::NONE
                .fill(paper::PAPER)
                .stroke(Stroke::new(1.0, paper::INK))
                .inner_margin(Margin::same(8))
                .show(ui, |ui| {
                    ui.set_max_width(280.0);
                    let head = format!("{}: {}", signs::word(finding.severity), finding.place);
                    ui.label(RichText::new(head).strong());
                    ui.label(&finding.what);
                });
        });
}
