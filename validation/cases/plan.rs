//! The planned work of a case, in words and numbers, as a plan.

use super::car::{
    PULLEY_M, boost_control, claims, compressor_map, cooler_choice, max_speed_rad_s, rotor_kind,
    turbine_area, turbine_efficiency, volume_ratio,
};
use super::read::{CLAIM, SIZE, about, exact, number};
use pullcast::belief::Prior;
use pullcast::car::Car;
use pullcast::fuel::Fuel;
use pullcast::parts::{
    AddedAxle, AxleFacts, Camshaft, CentrifugalBlower, Change, CompressionRatio,
    DisplacementBlower, Exhaust, FuelChoice, Gearing, Intake, Mixture, Plan, Pulley, TurbineSize,
    TurboChoice, Wheels,
};
use serde_json::Value;

/// The planned work.
pub(super) fn plan(car: &Value, mods: &Value, before: &Car) -> Plan<Prior> {
    let mut changes = Vec::new();
    for change in mods["changes"].as_array().expect("a list of changes") {
        match change["type"].as_str().expect("a kind of change") {
            "add_blower" if change["part"] == "positive-displacement blower" => {
                let claims = claims(change);
                changes.push(Change::from(DisplacementBlower {
                    kind: rotor_kind(change),
                    displacement_m3_rev: about(
                        1e-3 * number(change, "displacement_l_per_rev"),
                        SIZE,
                    ),
                    drive_ratio: about(number(change, "drive_ratio"), SIZE),
                    built_in_volume_ratio: exact(volume_ratio(change)),
                    volumetric_efficiency: Prior::normal(
                        claims.volumetric_efficiency,
                        CLAIM * claims.volumetric_efficiency,
                        0.5,
                        0.995,
                    )
                    .expect("a spread"),
                    isentropic_efficiency: about(claims.isentropic_efficiency, CLAIM),
                    port_loss: Prior::normal(0.07, 0.03, 0.0, 0.2).expect("a spread"),
                    claim_pressure_ratio: claims.pressure_ratio,
                    claim_speed_rad_s: claims.speed_rad_s,
                    max_speed_rad_s: max_speed_rad_s(change),
                    pulley_m: exact(PULLEY_M),
                }));
            }
            "add_blower" => changes.push(Change::from(CentrifugalBlower {
                map: compressor_map(&change["compressor_map"]),
                drive_ratio: about(number(change, "overall_drive_ratio"), SIZE),
                flow_factor: about(1.0, CLAIM),
                efficiency_factor: about(1.0, CLAIM),
                gear_efficiency: about(number(change, "gear_efficiency_claim"), 0.01),
                pulley_m: exact(PULLEY_M),
                tip_speed_limit_m_s: 530.0,
            })),
            "add_turbo" => changes.push(Change::from(turbo_choice(change))),
            "fuel_change" => {
                let blend = Fuel::petrol_with_ethanol(Fuel::petrol(95.0, None), 0.82);
                changes.push(Change::from(FuelChoice {
                    fuel: blend,
                    research_octane: about(107.0, 0.02),
                    motor_octane: about(90.0, 0.02),
                }));
            }
            "add_intercooler" => changes.push(Change::from(cooler_choice(change))),
            "intercooler_change" => {
                changes.push(Change::from(cooler_choice(&change["new"])));
            }
            "pulley_change" => {
                let from = number(change, "blower_pulley_mm_from");
                changes.push(Change::from(Pulley {
                    ratio_factor: about(from / number(change, "blower_pulley_mm_to"), SIZE),
                }));
            }
            "intake_duct" => changes.push(Change::from(Intake {
                area_factor: about(1.7, 0.1),
                place: None,
                share: about(0.8, 0.15),
            })),
            "intake" => changes.push(Change::from(intake(change, before))),
            // What they do to the back pressure stands under `exhaust`, measured.
            "headers" | "venue" | "none" => {}
            "exhaust" => changes.push(Change::from(Exhaust {
                back_pressure_factor: about(back_pressure_factor(change, mods), 0.15),
            })),
            "camshaft" => changes.push(Change::from(camshaft(change))),
            "electric_front_axle" => changes.push(Change::from(added_axle(change, car))),
            "retune" => changes.push(Change::from(Mixture {
                lambda: exact(number(change, "lambda_target")),
            })),
            "compression_ratio" => changes.push(Change::from(CompressionRatio {
                ratio: exact(number(change, "cr_to")),
            })),
            "final_drive" => changes.push(Change::from(Gearing {
                gear: None,
                final_drive: Some(exact(number(change, "ratio_to"))),
            })),
            "wheels_tyres" => changes.push(Change::from(Wheels {
                inertia_kg_m2: about(
                    2.0 * change["inertia_each_kgm2"][1].as_f64().expect("an inertia"),
                    0.05,
                ),
                radius_m: change["tyre_radius_m"][1].as_f64().map(exact),
            })),
            other => panic!("unknown change {other} for {}", car["induction"]),
        }
    }
    Plan {
        name: mods["summary"]
            .as_str()
            .unwrap_or("planned work")
            .to_owned(),
        changes,
    }
}

fn turbo_choice(change: &Value) -> TurboChoice<Prior> {
    TurboChoice {
        map: compressor_map(&change["compressor_map"]),
        count: 1,
        control: boost_control(change),
        flow_factor: about(1.0, CLAIM),
        efficiency_factor: about(1.0, CLAIM),
        turbine: TurbineSize::Area(turbine_area(change)),
        turbine_efficiency: turbine_efficiency(change),
        inertia_factor: Prior::log_normal(1.0, 0.5, 0.2, 5.0).expect("an inertia"),
        boost_factor: about(1.0, 0.02),
        start_boost_pa: Prior::normal(3e3, 3e3, 0.0, 60e3).expect("a boost"),
        tip_speed_limit_m_s: 530.0,
    }
}

/// Parts of the intake. The whole way from filter to blower is one; a new throttle and pipe behind a compressor, with a new inlet ahead
/// of it, are another: the old way's loss falls with the area, and the new inlet's comes on top.
fn intake(change: &Value, before: &Car) -> Intake<Prior> {
    let ratio = number(change, "flow_area_ratio");
    let spread = 1e-2 * change["claim_spread_pct"].as_f64().unwrap_or(15.0);
    let new_inlet = change.get("compressor_inlet_drop_kpa").map(|_| {
        let drop_pa = 1e3 * number(change, "compressor_inlet_drop_kpa");
        let flow =
            number(change, "compressor_inlet_drop_at_kgps") / before.intake.reference_flow_kg_s;
        drop_pa / (flow * flow) / before.intake.loss_pa
    });
    let (area_factor, share) = match (change["where"].as_str(), new_inlet) {
        (_, Some(inlet)) => ((1.0 / (ratio * ratio) + inlet).powf(-0.5), exact(1.0)),
        (Some(_), None) => (ratio, exact(1.0)),
        (None, None) => (ratio, about(0.8, 0.15)),
    };
    Intake {
        area_factor: about(area_factor, spread),
        place: None,
        share,
    }
}

/// New over old back pressure at equal flow.
fn back_pressure_factor(change: &Value, mods: &Value) -> f64 {
    let by_area = |ratio: f64| 1.0 / (ratio * ratio);
    let Some(back) = mods.get("back_pressure_kpa_gauge_near_power_peak") else {
        return by_area(change["flow_area_ratio"].as_f64().unwrap_or(1.6));
    };
    let flow = |side: &str| {
        back.get(side)
            .map_or(1.0, |at| number(at, "exhaust_flow_g_s"))
    };
    number(back, "after_claimed") / number(back, "before_measured")
        * (flow("before_at") / flow("after_at")).powi(2)
}

/// Differences of a camshaft; the centre lines stay.
fn camshaft(change: &Value) -> Camshaft<Prior> {
    let pair = |key: &str| {
        let at = |i: usize| change[key][i].as_f64().expect("a pair of numbers");
        (at(0), at(1))
    };
    let longer = |key: &str| pair(key).1 - pair(key).0;
    let (inlet, exhaust) = (
        longer("intake_duration_deg"),
        longer("exhaust_duration_deg"),
    );
    let angle = |deg: f64| Prior::normal(deg, 2.0, -120.0, 120.0).expect("a spread");
    let (lift_from, lift_to) = pair("lift_mm");
    Camshaft {
        longer_deg: exact(inlet),
        later_deg: angle(0.5 * inlet),
        overlap_deg: angle(0.5 * (inlet + exhaust)),
        lift_m: Some((1e-3 * lift_from, exact(1e-3 * lift_to))),
    }
}

fn added_axle(change: &Value, car: &Value) -> AddedAxle<Prior> {
    let power_w = 1e3 * number(change, "peak_power_kw");
    let torque_nm = number(change, "peak_motor_torque_nm");
    let load_n = 0.5 * 9.80665 * number(car, "mass_kg");
    AddedAxle {
        facts: AxleFacts {
            battery_v: 350.0,
            battery_j: 3.6e6 * number(change, "battery_kwh"),
            battery_w: 1.15 * power_w,
            top_speed_rad_s: 2200.0,
            cut_speed_rad_s: f64::INFINITY,
            cut_taper: 0.07,
            ramp_s: 0.0,
            tyre_radius_m: None,
            rated_power_w: power_w,
            rated_torque_nm: torque_nm,
        },
        peak_power_w: about(power_w, CLAIM),
        peak_torque_nm: about(torque_nm, CLAIM),
        reduction: exact(number(change, "reduction_ratio")),
        efficiency: exact(0.975),
        resistance_ohm: about(0.10, 0.3),
        assist: exact(1.0),
        wheels_kg_m2: about(4.0, 0.15),
        load_n: about(load_n, 0.15),
    }
}
