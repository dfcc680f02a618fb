//! Changes that fit a turbocharger or its boost.

use std::path::Path;

use super::super::belief::{self, CLAIM_DOUBT, KEY_CONFLICT};
use super::super::car::{self, BOOST_KEYS};
use super::super::compressor_map;
use super::super::table::Table;
use super::super::turbine_map;
use super::usual;
use crate::belief::prior::Prior;
use crate::boost::centrifugal::MILLED_TIP_LIMIT_M_S;
use crate::boost::compressor_map::SPARSE_FLOW_DOUBT;
use crate::boost::turbocharger::{
    AREA_SD_LN, BOOST_DOUBT, INERTIA_SD_LN, START_BOOST_PA, TURBINE_EFFICIENCY,
};
use crate::build::{Change, TurbineSize, TurboChoice};
use crate::units::Dimension as D;

/// A turbine nobody describes is sized for the engine and its boost, with the doubt of a guess.
pub(super) fn turbocharger(table: &mut Table<'_>, folder: &Path) -> Option<Change<Prior>> {
    let source = compressor_map::source(table, folder);
    let count = car::count(table);
    let control = car::boost(table);
    let tip = belief::plain(table, "tip_speed_limit", D::Speed, 200.0..=800.0);
    let mapped = turbine_map::belief(table, folder);
    let area_given = table.has("turbine_area");
    let area = belief::optional_number(table, "turbine_area", D::Area, 3e-5..=6e-3, CLAIM_DOUBT);
    let efficiency_given = table.has("turbine_efficiency");
    let efficiency = belief::optional_number(
        table,
        "turbine_efficiency",
        D::Ratio,
        0.40..=0.82,
        CLAIM_DOUBT,
    );
    let source = source?;
    let flow_doubt = if source.rated {
        SPARSE_FLOW_DOUBT
    } else {
        CLAIM_DOUBT
    };
    // With a map that cannot be taken the table holds the problem.
    let mapped = mapped.ok()?;
    let turbine = if let Some(mapped) = mapped {
        TurbineSize::Area(mapped.area)
    } else if area_given {
        TurbineSize::Area(area?)
    } else {
        TurbineSize::Usual(Prior::log_normal(1.0, AREA_SD_LN, 0.4, 2.5).ok()?)
    };
    let turbine_efficiency = if let Some(mapped) = mapped {
        mapped.efficiency
    } else if efficiency_given {
        efficiency?
    } else {
        usual(TURBINE_EFFICIENCY.0, TURBINE_EFFICIENCY.1, 0.40, 0.82)?
    };
    Some(Change::Turbocharger(Box::new(TurboChoice {
        map: source.map().ok()?,
        count: count?,
        control: control?,
        flow_factor: usual(1.0, flow_doubt, 0.7, 1.3)?,
        efficiency_factor: usual(1.0, CLAIM_DOUBT, 0.7, 1.2)?,
        turbine,
        turbine_efficiency,
        inertia_factor: Prior::log_normal(1.0, INERTIA_SD_LN, 0.2, 5.0).ok()?,
        boost_factor: usual(1.0, BOOST_DOUBT, 0.5, 2.0)?,
        start_boost_pa: usual(START_BOOST_PA.0, START_BOOST_PA.1, 0.0, 60e3)?,
        tip_speed_limit_m_s: tip.unwrap_or(MILLED_TIP_LIMIT_M_S.0),
    })))
}

/// Another boost: a new pressure, or a factor on what is held now.
pub(super) fn boost(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let factor_given = table.has("boost_factor");
    let pressure_given = BOOST_KEYS.into_iter().any(|key| table.has(key));
    if factor_given && pressure_given {
        let message = "'boost_factor' and a new boost are both given";
        let expected = "one of boost, boost_absolute, a table boost_curve, or boost_factor alone";
        table.error("boost_factor", KEY_CONFLICT, message, expected);
        return None;
    }
    if factor_given {
        let factor = belief::number(table, "boost_factor", D::Ratio, 0.3..=3.0, BOOST_DOUBT)?;
        return Some(Change::Boost {
            control: None,
            factor,
        });
    }
    let control = car::boost(table)?;
    Some(Change::Boost {
        control: Some(control),
        factor: usual(1.0, BOOST_DOUBT, 0.5, 2.0)?,
    })
}
