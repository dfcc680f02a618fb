//! Limits met at an operating point, each with the words a shop would use.
//!
//! A limit that is reached is a result, not an error: the numbers of the point stand, and say what holds them. Everything else
//! about a limit stands in its row: whether it caps the power, whether a search for power may pass it, what lifts it, and
//! what it endangers. The remedies and cautions are the trade's common practice, without a source.

use serde::{Serialize, Serializer};

/// A limit met at an operating point or at a moment of a pull, in the order in which limits are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Limit {
    /// Spark held back by knock.
    Knock,
    /// Knock model read outside its table: even the latest burn knocks, or the charge is outside its range.
    KnockTable,
    /// The belt slips beyond creep.
    BeltSlip,
    /// The blower turns faster than its maker allows.
    BlowerSpeed,
    /// The blower is too small for the engine: its bypass is open.
    BlowerBypass,
    /// The blower starves the engine.
    BlowerChoked,
    /// Less flow than the compressor map's lowest: surge.
    Surge,
    /// More flow than the compressor map's highest.
    Choke,
    /// Compressor faster than the map's fastest line.
    MapSpeed,
    /// Compressor rim faster than its material allows.
    TipSpeed,
    /// Compressor efficiency held at its floor.
    MapEfficiency,
    /// The turbine cannot hold the boost asked for, its gate shut: still spooling up, or at its end.
    BoostShort,
    /// The boost control takes boost out because knock has made the burn as late as it may be.
    BoostHeldBack,
    /// The charge cooler loses more than half of its inlet pressure.
    CoolerPressure,
    /// More liquid is metered than half of the fuel: the rest is not counted.
    SprayHeldBack,
    /// The inlet valves are close to choking.
    InletMach,
    /// The injectors cannot bring the fuel asked for: the mixture goes lean.
    InjectorDuty,
    /// The fuel pump cannot bring the fuel asked for: the mixture goes lean.
    FuelPump,
    /// The mixture is leaner than an engine fires on at full load.
    LeanMisfire,
    /// Exhaust gas hotter than the threshold (advisory).
    ExhaustTemperature,
    /// Cylinder pressure above the threshold (advisory).
    PeakPressure,
    /// Mean piston speed above the threshold (advisory).
    PistonSpeed,
    /// The operating point did not settle; its numbers are the best found.
    Unsettled,
    /// The clutch carries no more torque: it slips.
    ClutchSlip,
    /// The converter cannot hold the engine at this speed.
    ConverterCapacity,
    /// The driven tyres are at their grip.
    TyreGrip,
    /// The driven tyres turn faster than they are rated for (advisory).
    TyreSpeed,
    /// The battery holds the electric axle back.
    AxleBattery,
    /// The motor's winding temperature holds the electric axle back.
    AxleHeat,
    /// The electric axle's calibration fades it out.
    AxleTaper,
    /// The electric axle is still coming in.
    AxleRamp,
    /// The electric motor is at its highest speed.
    AxleTopSpeed,
}

/// What a limit does to the reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Power {
    /// The reading there is what the limit lets through, and not what the engine or motor could give.
    Caps,
    /// The reading is the engine's or motor's own.
    Keeps,
}

/// What a search for a number of the plan makes of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Search {
    /// It ends there: something would break, or the model says nothing beyond.
    Stops,
    /// It goes on: the limit holds power back but harms nothing, or only advises, and is told beside the figure.
    Passes,
}

/// What goes wrong for people or parts where a limit is met.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Danger {
    /// A lean mixture at full load.
    LeanMixture,
    /// Tyres faster than their rating.
    TyreSpeed,
    /// Tyres at their grip.
    SpinningTyres,
    /// A clutch past its capacity.
    SlippingClutch,
    /// Engine parts past a threshold.
    EngineParts,
}

/// One line of the table of limits.
struct Row {
    limit: Limit,
    id: &'static str,
    words: &'static str,
    power: Power,
    search: Search,
    remedy: &'static str,
    danger: Option<Danger>,
}

use Power::{Caps, Keeps};
use Search::{Passes, Stops};

const fn row(
    limit: Limit,
    (id, words): (&'static str, &'static str),
    (power, search): (Power, Search),
    remedy: &'static str,
) -> Row {
    Row {
        limit,
        id,
        words,
        power,
        search,
        remedy,
        danger: None,
    }
}

impl Row {
    const fn endangers(self, danger: Danger) -> Self {
        Self {
            danger: Some(danger),
            ..self
        }
    }
}

/// In the order of the variants, which [`Limit::row`] relies on and a test holds. Knock does not cap: nearly every engine is set
/// against it, and its knock-limited torque is its torque.
const TABLE: [Row; 32] = [
    row(Limit::Knock, ("knock", "knock pulls the spark back"), (Keeps, Passes), "More octane, cooler intake air, less boost or less compression brings the spark back."),
    row(Limit::KnockTable, ("knock_table", "knock model used outside its range"), (Keeps, Stops), "Take the figure there as a warning, not as a number."),
    row(Limit::BeltSlip, ("belt_slip", "the blower belt slips"), (Caps, Stops), "A wider belt, more wrap or a larger pair of pulleys holds it."),
    row(Limit::BlowerSpeed, ("blower_speed", "blower above its rated speed"), (Keeps, Stops), "A larger pulley on the blower brings it back within its rating; do not run it so."),
    row(Limit::BlowerBypass, ("blower_bypass", "blower too small here, bypass open"), (Caps, Passes), "A larger blower, or a smaller pulley if its speed allows."),
    row(Limit::BlowerChoked, ("blower_choked", "blower starves the engine"), (Caps, Passes), "A larger blower."),
    row(Limit::Surge, ("surge", "compressor in surge"), (Keeps, Stops), "Less pressure at that flow: less boost asked for, on a belt a larger pulley, or a smaller compressor."),
    row(Limit::Choke, ("choke", "compressor beyond the choke side of its map"), (Caps, Stops), "A larger compressor."),
    row(Limit::MapSpeed, ("map_speed", "compressor above the fastest line of its map"), (Keeps, Stops), "Less boost asked for, on a belt a larger pulley; beyond the fastest line the map says nothing."),
    row(Limit::TipSpeed, ("tip_speed", "compressor wheel above its rim-speed limit"), (Keeps, Stops), "Less boost asked for, on a belt a larger pulley, now: past this speed a wheel may burst."),
    row(Limit::MapEfficiency, ("map_efficiency", "compressor efficiency below its map"), (Keeps, Passes), "A compressor that fits this flow and pressure."),
    row(Limit::BoostShort, ("boost_short", "boost short of what is asked, gate shut"), (Caps, Passes), "A smaller turbine or a slower pull brings the boost earlier; at the top, a compressor and turbine that fit the flow."),
    row(Limit::BoostHeldBack, ("boost_held_back", "boost taken out for knock"), (Caps, Passes), "More octane or cooler intake air lets it stay; this fuel does not take the boost asked for."),
    row(Limit::CoolerPressure, ("cooler_pressure", "intercooler too small for the flow"), (Keeps, Stops), "A larger core."),
    row(Limit::SprayHeldBack, ("spray_held_back", "more sprayed than the engine takes, the rest left out"), (Keeps, Stops), "A smaller nozzle: what is sprayed beyond half of the fuel is not counted, and floods a real engine."),
    row(Limit::InletMach, ("inlet_mach", "inlet valves near choking"), (Keeps, Passes), "Larger valves, more open area or a better port; more revs bring little more air."),
    row(Limit::InjectorDuty, ("injector_duty", "the injectors are at their duty limit and the mixture goes lean"), (Caps, Stops), "Larger injectors or more rail pressure. A lean mixture at full load melts pistons: do not make this pull.").endangers(Danger::LeanMixture),
    row(Limit::FuelPump, ("fuel_pump", "the fuel pump is at its flow and the mixture goes lean"), (Caps, Stops), "A larger pump, or a second one. A lean mixture at full load melts pistons: do not make this pull.").endangers(Danger::LeanMixture),
    row(Limit::LeanMisfire, ("lean_misfire", "the mixture is too lean to fire at full load"), (Caps, Stops), "More fuel; without it the engine misfires and the figure there is none.").endangers(Danger::LeanMixture),
    row(Limit::ExhaustTemperature, ("exhaust_temperature", "EGT above its threshold (advisory)"), (Keeps, Passes), "Richer mixture, less retard or fewer seconds at full load; know what manifold, valves and probes can take.").endangers(Danger::EngineParts),
    row(Limit::PeakPressure, ("peak_pressure", "cylinder pressure above its threshold (advisory)"), (Keeps, Passes), "Later spark, less boost or less compression; stronger pistons, gasket and studs take more.").endangers(Danger::EngineParts),
    row(Limit::PistonSpeed, ("piston_speed", "mean piston speed above its threshold (advisory)"), (Keeps, Passes), "A lower rev limit; stronger rods, pistons and rings take more.").endangers(Danger::EngineParts),
    row(Limit::Unsettled, ("unsettled", "operating point did not settle"), (Keeps, Stops), "The figure there is the best found; do not promise it."),
    row(Limit::ClutchSlip, ("clutch_slip", "the clutch slips"), (Caps, Stops), "A clutch of more capacity. The reading there is the most it passes, and it burns.").endangers(Danger::SlippingClutch),
    row(Limit::ConverterCapacity, ("converter_capacity", "the torque converter cannot hold the engine at this speed"), (Caps, Stops), "Lock it, start the pull at higher engine speed, or fit a converter of lower stall speed."),
    row(Limit::TyreGrip, ("tyre_grip", "the tyres spin on the drums"), (Caps, Stops), "More strap load, other tyres or a higher gear; the reading there is not the engine's.").endangers(Danger::SpinningTyres),
    row(Limit::TyreSpeed, ("tyre_speed", "the tyres turn faster than they are rated for (advisory)"), (Keeps, Stops), "Tyres of a higher speed rating, or a lower gear; do not make this pull on these.").endangers(Danger::TyreSpeed),
    row(Limit::AxleBattery, ("axle_battery", "the battery holds the electric axle back"), (Caps, Passes), "A fuller or warmer battery gives more."),
    row(Limit::AxleHeat, ("axle_heat", "the motor winding is hot and torque is cut"), (Caps, Passes), "Let it cool between pulls."),
    row(Limit::AxleTaper, ("axle_taper", "the electric axle fades out toward its shift point"), (Keeps, Passes), "That is its calibration; another gear or calibration moves it."),
    row(Limit::AxleRamp, ("axle_ramp", "the electric axle is still ramping up"), (Keeps, Passes), "Start the pull at lower engine speed."),
    row(Limit::AxleTopSpeed, ("axle_top_speed", "the electric motor is at its highest speed"), (Caps, Passes), "A higher gear keeps it below; above it the axle is dragged along."),
];

impl Limit {
    /// Every limit, in the order in which they are told.
    pub const ALL: [Self; TABLE.len()] = {
        let mut all = [Self::Knock; TABLE.len()];
        let mut i = 0;
        while i < all.len() {
            all[i] = TABLE[i].limit;
            i += 1;
        }
        all
    };

    fn row(self) -> &'static Row {
        &TABLE[self as usize]
    }

    /// Stable word for machines.
    pub fn id(self) -> &'static str {
        self.row().id
    }

    /// What a shop would call it.
    pub fn words(self) -> &'static str {
        self.row().words
    }

    /// Whether the reading there is what this limit lets through, and not what the engine or motor could give.
    pub fn caps_power(self) -> bool {
        self.row().power == Caps
    }

    /// Whether a search for a number of the plan must stay clear of it; the others are told beside the figure.
    pub fn stops_search(self) -> bool {
        self.row().search == Stops
    }

    /// What lifts it, a sentence.
    pub fn remedy(self) -> &'static str {
        self.row().remedy
    }

    /// What it endangers, if anything.
    pub fn danger(self) -> Option<Danger> {
        self.row().danger
    }
}

impl Serialize for Limit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.id())
    }
}

/// One line of the table of dangers.
struct Caution {
    danger: Danger,
    id: &'static str,
    about: &'static str,
    /// `{rating}` stands for the speed the tyres are rated for.
    text: &'static str,
}

const CAUTIONS: [Caution; 5] = [
    Caution {
        danger: Danger::LeanMixture,
        id: "lean_mixture",
        about: "lean mixture",
        text: "The fuel supply cannot follow the air: a lean mixture at full load overheats and melts pistons and valves within \
            seconds. Do not make this pull before the fuel supply is enlarged; log mixture and fuel pressure.",
    },
    Caution {
        danger: Danger::TyreSpeed,
        id: "tyre_speed",
        about: "tyre speed",
        text: "The tyres are rated for {rating} and would turn faster, spinning included; on a drum they also heat faster \
                than on a road. End the pull below that speed, or use a lower gear or other tyres.",
    },
    Caution {
        danger: Danger::SpinningTyres,
        id: "spinning_tyres",
        about: "spinning tyres",
        text: "The tyres would reach their grip on the drums: a spinning tyre heats, throws rubber and lets the engine flare. \
            Lift at once if it happens; tighter straps only within what anchors and tyres can take.",
    },
    Caution {
        danger: Danger::SlippingClutch,
        id: "slipping_clutch",
        about: "slipping clutch",
        text: "The clutch would slip and overheat, and the engine flare to its limiter. Lift at once if it happens.",
    },
    Caution {
        danger: Danger::EngineParts,
        id: "engine_parts",
        about: "engine parts",
        text: "Exhaust temperature, cylinder pressure or piston speed pass the thresholds named above; what the parts can take, \
            only their makers can say.",
    },
];

impl Danger {
    /// Every danger, in the order of reports.
    pub fn all() -> impl Iterator<Item = Self> {
        CAUTIONS.iter().map(|caution| caution.danger)
    }

    fn caution(self) -> &'static Caution {
        &CAUTIONS[self as usize]
    }

    /// Stable word for machines.
    pub fn id(self) -> &'static str {
        self.caution().id
    }

    /// What it is about.
    pub fn about(self) -> &'static str {
        self.caution().about
    }

    /// What to mind, with `{rating}` for the speed the tyres are rated for.
    pub fn template(self) -> &'static str {
        self.caution().text
    }

    /// What to mind; `tyre_rating` is the speed the tyres are rated for, as shown.
    pub fn text(self, tyre_rating: &str) -> String {
        self.template().replace("{rating}", tyre_rating)
    }
}

/// Thresholds past which a shop should look, though nothing in the model gives way there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    /// Gas in the exhaust manifold, K.
    pub exhaust_k: f64,
    /// Peak cylinder pressure, Pa.
    pub peak_pa: f64,
    /// Mean piston speed, m/s.
    pub piston_speed_m_s: f64,
    /// Surface speed of the driven tyres, m/s; infinity where their rating is not known.
    pub tyre_speed_m_s: f64,
}

impl Default for Thresholds {
    /// For parts of an ordinary road engine, all common practice, no source: 980 °C, the top of the usual full-load range of
    /// 780 to 980 °C; 120 bar for cast pistons and their gasket; 25 m/s for rods and rings. A tyre's rating is never guessed.
    fn default() -> Self {
        Self {
            exhaust_k: 1253.15,
            peak_pa: 12e6,
            piston_speed_m_s: 25.0,
            tyre_speed_m_s: f64::INFINITY,
        }
    }
}

/// The limits met, in order and without repeats.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Limits(u64);

impl Limits {
    /// Adds a limit if it was met.
    pub fn note(&mut self, limit: Limit, met: bool) {
        if met {
            self.0 |= 1 << limit as u64;
        }
    }

    /// Whether a limit was met.
    pub const fn contains(self, limit: Limit) -> bool {
        self.0 & (1 << limit as u64) != 0
    }

    /// Adds every limit of another set.
    pub fn join(&mut self, other: Self) {
        self.0 |= other.0;
    }

    /// The limits met.
    pub fn iter(self) -> impl Iterator<Item = Limit> {
        Limit::ALL.into_iter().filter(move |l| self.contains(*l))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_row_stands_at_its_variant_with_an_id_of_its_own() {
        for (at, row) in TABLE.iter().enumerate() {
            assert_eq!(row.limit as usize, at, "{}", row.id);
            assert!(row.remedy.ends_with('.'), "{}", row.id);
        }
        for (at, caution) in CAUTIONS.iter().enumerate() {
            assert_eq!(caution.danger as usize, at, "{}", caution.id);
            assert!(
                Limit::ALL
                    .iter()
                    .any(|l| l.danger() == Some(caution.danger))
            );
        }
        let ids: BTreeSet<_> = Limit::ALL.iter().map(|l| l.id()).collect();
        assert_eq!(ids.len(), TABLE.len());
    }

    #[test]
    fn every_limit_has_a_place_of_its_own_in_a_set() {
        for limit in Limit::ALL {
            let mut one = Limits::default();
            one.note(limit, true);
            assert_eq!(one.iter().collect::<Vec<_>>(), [limit]);
        }
        let mut all = Limits::default();
        for limit in Limit::ALL {
            let mut one = Limits::default();
            one.note(limit, true);
            all.join(one);
        }
        assert_eq!(all.iter().count(), Limit::ALL.len());
    }
}
