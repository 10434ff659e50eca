//! The section on a tray under the yard: what is cut along the line, true to scale or stretched.

use bevy_egui::egui::{
    self, Align, Color32, Frame, Layout, Margin, Panel, Pos2, RichText, Sense, Stroke, Ui, Vec2,
};
use egui_plot::{Line, LineStyle, Plot, PlotPoints, Polygon};

use crate::measure::Section;
use crate::measure::section::Run;
use crate::view::figures::Figures;
use crate::view::hand::{Hand, Tool};
use crate::view::paper;

use super::{press, style};

pub const HEIGHT: f32 = 250.0;

const WATER: Color32 = Color32::from_rgb(0x9d, 0xbd, 0xc6);
const SHORE: Color32 = Color32::from_rgb(0x3d, 0x6b, 0x7a);
const WALL: Color32 = Color32::from_rgb(0xb9, 0xae, 0x9a);

/// How each line is told from the others, in print as well: weight and dash before colour.
#[derive(Clone, Copy)]
struct Manner {
    word: &'static str,
    width: f32,
    ink: Color32,
    style: LineStyle,
}

fn manners() -> [Manner; 3] {
    [
        Manner {
            word: "existing",
            width: 1.6,
            ink: paper::FAINT,
            style: LineStyle::Dashed { length: 9.0 },
        },
        Manner {
            word: "dug",
            width: 1.8,
            ink: paper::INK,
            style: LineStyle::Dotted { spacing: 5.0 },
        },
        Manner {
            word: "finished",
            width: 2.6,
            ink: paper::ACCENT,
            style: LineStyle::Solid,
        },
    ]
}

/// Shows the tray if a section is laid or about to be.
pub fn show(root: &mut Ui, hand: &mut Hand, figures: Figures) {
    // Out before the line is laid: the yard must not move under the pointer.
    let laying = hand.tool == Some(Tool::Section);
    let Some(cut) = hand.section().cloned().or(laying.then(Section::default)) else {
        return;
    };
    let height = HEIGHT.min(root.available_height() * 0.45);
    Panel::bottom("section")
        .resizable(false)
        .exact_size(height)
        .frame(
            Frame::NONE
                .fill(paper::PAPER)
                .stroke(Stroke::new(1.0, paper::RULE))
                .inner_margin(Margin::symmetric(12, 8)),
        )
        .show(root, |ui| {
            head(ui, hand, &cut, figures);
            if cut.length > 0.0 {
                plot(ui, hand, &cut, figures);
            } else {
                ui.label(RichText::new("Press in the yard where the section begins; drag, or press again where it ends.").color(paper::FAINT));
            }
        });
}

fn head(ui: &mut Ui, hand: &mut Hand, cut: &Section, figures: Figures) {
    ui.horizontal(|ui| {
        ui.label(style::heading("Section A–B"));
        ui.label(
            RichText::new(format!(
                "{} {} long",
                figures.elevation(cut.length),
                figures.length_unit()
            ))
            .small()
            .color(paper::FAINT),
        )
        .on_hover_text("Level distance from A to B");
        for m in manners() {
            sample(ui, m);
        }
        swatch(ui, WATER, "water");
        swatch(ui, WALL, "wall");
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            if press::button(ui, "Put away", "The section and its line go") {
                hand.let_go();
                hand.put_away(Tool::Section);
            }
            ui.checkbox(&mut hand.true_scale, "True scale")
                .on_hover_text("Heights and distances alike, else heights stretched to fit");
        });
    });
    let at = hand.asked.map(|s| {
        let figure = |runs: &[Run]| {
            Section::level(runs, s).map_or_else(|| "—".to_owned(), |z| figures.elevation(z))
        };
        let wet = cut.water.iter().find(|w| w.from <= s && s <= w.to);
        let water = wet.map_or(String::new(), |w| {
            format!("   {} {}", w.name, figures.elevation(w.top))
        });
        format!(
            "{} {} from A:  existing {}   dug {}   finished {}{water}",
            figures.elevation(s),
            figures.length_unit(),
            figure(&cut.existing),
            figure(&cut.dug),
            figure(&cut.finished),
        )
    });
    let words = at.unwrap_or_else(|| {
        format!(
            "Levels and distances in {}. Point at the section to read it; drag A or B in the yard.",
            figures.length_unit()
        )
    });
    ui.label(RichText::new(words).monospace().size(12.0))
        .on_hover_text("Read off the triangles of each surface that the line crosses");
}

fn sample(ui: &mut Ui, m: Manner) {
    let (rect, _) = ui.allocate_exact_size(Vec2::new(30.0, 14.0), Sense::hover());
    let ends = [rect.left_center(), rect.right_center()];
    let stroke = Stroke::new(m.width, m.ink);
    let painter = ui.painter();
    match m.style {
        LineStyle::Dashed { .. } => {
            painter.extend(egui::Shape::dashed_line(&ends, stroke, 7.0, 4.0));
        }
        LineStyle::Dotted { .. } => {
            painter.extend(egui::Shape::dotted_line(&ends, m.ink, 5.0, 1.3));
        }
        LineStyle::Solid => {
            painter.line_segment(ends, stroke);
        }
    }
    ui.label(RichText::new(m.word).small());
}

fn swatch(ui: &mut Ui, color: Color32, word: &str) {
    let (rect, _) = ui.allocate_exact_size(Vec2::new(16.0, 11.0), Sense::hover());
    ui.painter().rect(
        rect,
        1.0,
        color,
        Stroke::new(1.0, paper::INK),
        egui::StrokeKind::Inside,
    );
    ui.label(RichText::new(word).small());
}

fn plot(ui: &mut Ui, hand: &mut Hand, cut: &Section, figures: Figures) {
    let Some([low, high]) = cut.reach() else {
        ui.label(RichText::new("The line crosses no ground.").color(paper::FAINT));
        return;
    };
    let unit = figures.length_unit();
    let pad = ((high - low) * 0.08).max(0.05);
    let (low, high) = (figures.plain(low - pad), figures.plain(high + pad));
    let long = figures.plain(cut.length);
    let mut plot = Plot::new("section")
        .show_background(false)
        .show_crosshair(false)
        .allow_drag(false)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .allow_double_click_reset(false)
        .grid_spacing(28.0..=160.0)
        .grid_color(paper::RULE)
        .grid_fade(0.0)
        .y_axis_min_width(44.0)
        .set_margin_fraction(egui::vec2(0.01, 0.01))
        .label_formatter(|_| None)
        .x_axis_formatter(move |mark, _| format!("{} {unit}", short(mark.value)))
        .y_axis_formatter(move |mark, _| short(mark.value));
    if hand.true_scale {
        plot = plot.data_aspect(1.0);
    }
    let at = |p: [f64; 2]| [figures.plain(p[0]), figures.plain(p[1])];
    let pointed = plot.show(ui, |plot| {
        if hand.true_scale {
            plot.set_auto_bounds(true);
        } else {
            plot.set_plot_bounds_x(0.0..=long);
            plot.set_plot_bounds_y(low..=high);
        }
        for w in &cut.water {
            for bed in beds(&cut.finished, w.from, w.to, w.top) {
                let points: Vec<[f64; 2]> = bed.into_iter().map(at).collect();
                plot.line(
                    Line::new(&w.name, PlotPoints::from(points))
                        .color(WATER)
                        .fill(figures.plain(w.top) as f32)
                        .fill_alpha(1.0)
                        .allow_hover(false),
                );
            }
            let level = [[w.from, w.top], [w.to, w.top]].map(at).to_vec();
            plot.line(
                Line::new(&w.name, PlotPoints::from(level))
                    .color(SHORE)
                    .width(1.6)
                    .allow_hover(false),
            );
        }
        for w in &cut.walls {
            let box_ = [
                [w.from, w.foot],
                [w.to, w.foot],
                [w.to, w.top],
                [w.from, w.top],
            ];
            let points: Vec<[f64; 2]> = box_.into_iter().map(at).collect();
            plot.polygon(
                Polygon::new(&w.name, PlotPoints::from(points))
                    .fill_color(WALL)
                    .stroke(Stroke::new(1.0, paper::INK))
                    .allow_hover(false),
            );
        }
        for (m, runs) in manners()
            .into_iter()
            .zip([&cut.existing, &cut.dug, &cut.finished])
        {
            for run in runs {
                let points: Vec<[f64; 2]> = run.iter().map(|p| at(*p)).collect();
                plot.line(
                    Line::new(m.word, PlotPoints::from(points))
                        .width(m.width)
                        .color(m.ink)
                        .style(m.style)
                        .allow_hover(false),
                );
            }
        }
        plot.pointer_coordinate()
            .filter(|_| plot.response().hovered())
            .map(|p| p.x / long * cut.length)
            .filter(|s| (0.0..=cut.length).contains(s))
    });
    let asked = pointed.inner;
    if let Some(s) = asked {
        let x = pointed
            .transform
            .position_from_point(&egui_plot::PlotPoint::new(figures.plain(s), low))
            .x;
        let y = pointed.response.rect.y_range();
        ui.painter().line_segment(
            [Pos2::new(x, y.min), Pos2::new(x, y.max)],
            Stroke::new(1.0, paper::INK),
        );
    }
    hand.asked = asked;
}

/// The bed under the water from one shore to the other, in pieces where it has gaps.
fn beds(finished: &[Run], from: f64, to: f64, level: f64) -> Vec<Run> {
    finished
        .iter()
        .filter_map(|run| {
            let (first, last) = (run.first()?[0].max(from), run.last()?[0].min(to));
            if last - first < 1e-6 {
                return None;
            }
            let bed = |s: f64| {
                let z = Section::level(std::slice::from_ref(run), s).unwrap_or(level);
                [s, z.min(level)]
            };
            let between = run
                .iter()
                .filter(|p| p[0] > first && p[0] < last)
                .map(|p| [p[0], p[1].min(level)]);
            Some(
                std::iter::once(bed(first))
                    .chain(between)
                    .chain(std::iter::once(bed(last)))
                    .collect(),
            )
        })
        .collect()
}

/// A mark on a scale with no more places than it needs.
fn short(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_short() {
        assert_eq!(short(12.0), "12");
        assert_eq!(short(-0.0001), "0");
        assert_eq!(short(98.25), "98.25");
    }

    #[test]
    fn the_bed_is_followed_from_shore_to_shore() {
        let ground = vec![vec![[0.0, 1.0], [2.0, -1.0], [4.0, 1.0]]];
        assert_eq!(
            beds(&ground, 1.0, 3.0, 0.0),
            [[[1.0, 0.0], [2.0, -1.0], [3.0, 0.0]]]
        );
    }
}
