//! A charge cooler.

use super::blower::COOLERS;
use super::kind::{Kind, Part, Role, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{MustBeGiven, Described};
use super::row::{self, CLAIM_DOUBT, FACTOR_DOUBT, Row, rows, words};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::cooling::charge_cooler::{ChargeCooler, HeatSink};

numbers! {
    /// A charge cooler as its maker describes it, in place of whatever cooler is there.
    CoolerChoice {
        /// What it is cooled by.
        kind: HeatSink => kept,
        /// Effectiveness at the reference flow: to outside air once settled (air), to the water (water).
        effectiveness: T => number("effectiveness"),
        /// Flow at which effectiveness and pressure drop are stated, kg/s.
        reference_flow_kg_s: T => number("reference_flow"),
        /// Pressure drop at that flow, Pa.
        pressure_drop_pa: T => number("pressure_drop"),
        /// Heat capacity of core, or of core and water, J/K.
        heat_capacity_j_k: T => number("heat_capacity"),
        /// Conductance to outside air at rest (air) or through the radiator (water), W/K.
        rejection_w_k: T => number("rejection"),
    }
}

const AS_ITS_KIND: &str = "as such coolers usually are";

rows! {
    COOLING = row::other("cooling", words!(COOLERS), MustBeGiven, "what it is cooled by"),
    EFFECTIVENESS = row::of_car("effectiveness", "cooler.effectiveness", CLAIM_DOUBT, MustBeGiven, CommonPractice),
    REFERENCE_FLOW = row::of_car("reference_flow", "cooler.reference_flow", 0.0, MustBeGiven, Fact),
    PRESSURE_DROP = row::of_car("pressure_drop", "cooler.pressure_drop", FACTOR_DOUBT, MustBeGiven, CommonPractice),
    HEAT_CAPACITY = row::of_car("heat_capacity", "cooler.heat_capacity", FACTOR_DOUBT, Described(AS_ITS_KIND), CommonPractice),
    REJECTION = row::of_car("rejection", "cooler.rejection", FACTOR_DOUBT, Described(AS_ITS_KIND), CommonPractice),
}

impl<T> Part for CoolerChoice<T> {
    const KIND: &'static Kind = &Kind {
        role: Role::Cooler,
        ..Kind::new("charge cooler", "charge_cooler", "new charge cooler", ROWS).adds_up()
    };
}

impl Written for CoolerChoice<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let kind = form.word(&COOLING, COOLERS, true);
        let effectiveness = form.number(&EFFECTIVENESS);
        let flow = form.number(&REFERENCE_FLOW);
        let drop = form.number(&PRESSURE_DROP);
        let mut or_usual = |row: &Row, usual: fn(HeatSink) -> (f64, f64)| {
            let (low, high) = row.bounds();
            let of_kind = kind.and_then(|kind| {
                let (median, sd_ln) = usual(kind);
                Prior::log_normal(median, sd_ln, low, high).ok()
            });
            form.number_or(row, of_kind)
        };
        let capacity = or_usual(&HEAT_CAPACITY, |kind| kind.usual().heat_capacity_j_k);
        let rejection = or_usual(&REJECTION, |kind| kind.usual().rejection_w_k);
        Some(Self {
            kind: kind?,
            effectiveness: effectiveness?,
            reference_flow_kg_s: flow?,
            pressure_drop_pa: drop?,
            heat_capacity_j_k: capacity?,
            rejection_w_k: rejection?,
        })
    }
}

impl CoolerChoice<f64> {
    /// The device described.
    pub fn device(&self) -> ChargeCooler {
        let rated = ChargeCooler::rated(
            self.effectiveness,
            self.reference_flow_kg_s,
            self.heat_capacity_j_k,
            self.kind,
        );
        ChargeCooler {
            pressure_drop_pa: self.pressure_drop_pa,
            rejection_w_k: self.rejection_w_k,
            ..rated
        }
    }
}

impl Work for CoolerChoice<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.cooler = Some(self.device());
        Ok(())
    }
}
