//! What a bare car's peaks are predicted to be.

use super::curve::{self, Peaks};
use super::draws;
use super::median::median;
use pullcast::belief::sheet::Sheet;

/// A prediction: the centre, and the middle 90 % of peak power and torque.
#[derive(Debug, Clone, Copy)]
pub(super) struct Prediction {
    pub(super) centre: Peaks,
    /// W.
    pub(super) power_w: (f64, f64),
    /// N m.
    pub(super) torque_nm: (f64, f64),
}

impl Prediction {
    /// Of a car in doubt, from as many draws. As in a quote, draws are brought to the centre: what strays from its best costs power and
    /// never gains it.
    pub(super) fn of(sheet: &Sheet, draws: u64) -> Option<Self> {
        let centre = curve::peaks(&sheet.centre, &curve::curve(&sheet.centre))?;
        let drawn: Vec<Peaks> = (0..draws)
            .filter_map(|draw| {
                let setup = draws::car(sheet, draw);
                curve::peaks(&setup, &curve::curve(&setup))
            })
            .collect();
        let range = |middle: f64, of: fn(&Peaks) -> f64| {
            let mut sorted: Vec<f64> = drawn.iter().map(of).collect();
            sorted.sort_by(f64::total_cmp);
            let shift = median(sorted.clone()).map_or(1.0, |m| middle / m);
            let tail = sorted.len() / 20;
            let end = |at: usize| sorted.get(at).map_or(middle, |x| shift * x);
            (
                end(tail),
                end((sorted.len().saturating_sub(1)).saturating_sub(tail)),
            )
        };
        Some(Self {
            centre,
            power_w: range(centre.power.0, |p| p.power.0),
            torque_nm: range(centre.torque.0, |p| p.torque.0),
        })
    }
}
