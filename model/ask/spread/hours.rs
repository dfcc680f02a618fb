//! The hours of a station: which of them are asked about, and the air that the engine breathes in them.
//!
//! Hours stay whole. Pressure, temperature and humidity of one hour belong together, and so do the hours of one season; none is
//! ever put together from two.

use crate::air::atmosphere::StationPressure;
use crate::air::{Day, DayError, moist};
use serde::Serialize;

/// The air of one hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hour {
    /// Day since any zero, by local time.
    pub day_number: i64,
    /// Month, 1 to 12, by local time.
    pub month: u8,
    /// Hour of the day, 0 to 23, by local time.
    pub hour: u8,
    /// The air.
    pub air: Day,
}

/// Which hours are asked about.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Choice {
    /// First and last month, 1 to 12; from 11 to 2 goes over the turn of the year.
    pub months: (u8, u8),
    /// First hour of business and the hour at which it ends, 0 to 24; from 22 to 6 goes over midnight.
    pub hours: (u8, u8),
    /// Temperature to which the cell is heated or cooled, K; the outside air's where there is none.
    pub cell_k: Option<f64>,
}

impl Choice {
    /// Every hour of the year, in the air outside.
    pub const ALL: Self = Self {
        months: (1, 12),
        hours: (0, 24),
        cell_k: None,
    };

    fn takes(&self, hour: &Hour) -> bool {
        let ((first, last), (opens, closes)) = (self.months, self.hours);
        let in_season = if first <= last {
            (first..=last).contains(&hour.month)
        } else {
            hour.month >= first || hour.month <= last
        };
        let open = if opens < closes {
            (opens..closes).contains(&hour.hour)
        } else {
            hour.hour >= opens || hour.hour < closes
        };
        in_season && open
    }

    /// The hours asked about, in the air of the cell, and in how many of them the cell is colder than the dew point: there it is taken as saturated,
    /// the rest of the water lying on the floor.
    /// Equation (12.1).
    pub fn of(&self, hours: &[Hour]) -> Result<(Vec<Hour>, usize), DayError> {
        let mut condensing = 0;
        let mut kept = Vec::new();
        for hour in hours.iter().filter(|hour| self.takes(hour)) {
            let mut hour = *hour;
            if let Some(cell_k) = self.cell_k {
                let most = moist::saturation_pa(cell_k);
                condensing += usize::from(hour.air.vapour_pa() > most);
                let vapour = hour.air.vapour_pa().min(most);
                hour.air = Day::from_vapour(hour.air.station(), cell_k, vapour)?;
            }
            kept.push(hour);
        }
        Ok((kept, condensing))
    }
}

/// The air in the middle of some hours: medians of pressure, temperature and humidity ratio, held below saturation.
pub(super) fn middle(hours: &[Hour]) -> Result<Day, DayError> {
    let median = |of: &dyn Fn(&Day) -> f64| {
        let mut values: Vec<f64> = hours.iter().map(|hour| of(&hour.air)).collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
    };
    let pressure_pa = median(&|air| air.station().pa());
    let temperature_k = median(&Day::temperature_k);
    let vapour = moist::vapour_from_humidity_ratio_pa(pressure_pa, median(&Day::humidity_ratio));
    Day::from_vapour(
        StationPressure::from_pa(pressure_pa),
        temperature_k,
        vapour.min(moist::saturation_pa(temperature_k)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hour(month: u8, hour: u8) -> Hour {
        let air = Day::from_dew_point(StationPressure::from_pa(95e3), 293.15, 283.15);
        Hour {
            day_number: 0,
            month,
            hour,
            air: air.expect("an ordinary hour"),
        }
    }

    #[test]
    fn seasons_and_shifts_may_go_over_the_turn() {
        let all: Vec<Hour> = (1..=12)
            .flat_map(|m| (0..24).map(move |h| hour(m, h)))
            .collect();
        for (months, hours, count) in [
            ((4, 9), (8, 18), 60),
            ((11, 2), (22, 6), 32),
            ((3, 3), (0, 24), 24),
        ] {
            let choice = Choice {
                months,
                hours,
                cell_k: None,
            };
            assert_eq!(
                choice.of(&all).expect("no cell").0.len(),
                count,
                "{months:?} {hours:?}"
            );
        }
    }

    #[test]
    fn a_cell_keeps_the_dew_point_until_water_falls_out() {
        let choice = |cell_k| Choice {
            cell_k: Some(cell_k),
            ..Choice::ALL
        };
        let (warm, none) = choice(298.15).of(&[hour(1, 1)]).expect("a warm cell");
        let dew = warm[0].air.dew_point_k().expect("moist");
        assert!((dew - 283.15).abs() < 1e-6 && none == 0);
        let (cold, one) = choice(278.15).of(&[hour(1, 1)]).expect("a cold cell");
        assert!((cold[0].air.relative_humidity() - 1.0).abs() < 1e-12 && one == 1);
    }
}
