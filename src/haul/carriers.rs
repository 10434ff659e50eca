//! What carries: machines, barrow, and by hand where neither gets. Metres, m³, hours.

use crate::earthwork::balance;
use crate::job::{Job, SoilClass};
use crate::plan::BY_HAND;

pub struct Carrier {
    pub name: String,
    /// Half of what it needs in width.
    pub half: f64,
    /// Half of its own width, without room beside it.
    pub body: f64,
    pub capacity: f64,
    pub payload: f64,
    laden: f64,
    empty: f64,
    pub gradient: f64,
    /// Seconds.
    handling: f64,
    pub cost: f64,
    pub hours: Option<f64>,
    /// Has to get in from the street by itself.
    pub drives: bool,
    pub by_hand: bool,
}

pub fn carriers(job: &Job) -> Vec<Carrier> {
    let room = job.haul.clearance;
    let mut all: Vec<Carrier> = job
        .haul
        .machines
        .iter()
        .map(|m| Carrier {
            name: m.name.clone(),
            half: 0.5 * m.width + room,
            body: 0.5 * m.width,
            capacity: m.capacity,
            payload: m.payload,
            laden: m.laden,
            empty: m.empty,
            gradient: m.gradient,
            handling: m.load + m.dump,
            cost: m.hour_cost,
            hours: m.hours,
            drives: true,
            by_hand: false,
        })
        .collect();
    let b = &job.haul.barrow;
    all.push(Carrier {
        name: "barrow".into(),
        half: 0.5 * b.width + room,
        body: 0.5 * b.width,
        capacity: job.soil.barrow,
        payload: b.payload,
        laden: b.laden,
        empty: b.empty,
        gradient: b.gradient,
        handling: b.load + b.dump,
        cost: b.hour_cost,
        hours: None,
        drives: false,
        by_hand: false,
    });
    all.push(Carrier {
        // Buckets, two at a time, where nothing on wheels gets: common practice, no source.
        name: BY_HAND.into(),
        half: 0.3,
        body: 0.3,
        capacity: 0.024,
        payload: 30.0,
        laden: 35.0,
        empty: 50.0,
        gradient: 2.0,
        handling: 40.0,
        cost: 1.0,
        hours: None,
        drives: false,
        by_hand: true,
    });
    all
}

impl Carrier {
    /// Loose volume of one load: what fills it or what it may carry.
    pub fn load(&self, class: &SoilClass) -> f64 {
        balance::fits(self.capacity, self.payload, class.loose_density)
    }

    /// Hours of one load over a way of this length.
    pub fn hours_of(&self, length: f64) -> f64 {
        self.handling / 3600.0 + (length / self.laden + length / self.empty) / 60.0
    }
}
