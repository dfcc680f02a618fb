//! Recorded pulls with known answers: fit the baseline, predict the build, compare.
mod read;
use pullcast::car::OnADay;
use pullcast::fit::calibration::{Channel, simulate_all};
use pullcast::fit::fitted::calibrate;
use pullcast::fit::observation::Noise;

#[test]
fn explore() {
    let only = std::env::var("CASE").ok();
    for name in read::names() {
        if let Some(o) = &only { if !name.contains(o.as_str()) { continue; } }
        let car = read::json(&read::folder().join(&name).join("car.json"));
        let mods = read::json(&read::folder().join(&name).join("mods.json"));
        if car["induction"] == "turbocharged" || mods["changes"][0]["type"] == "add_turbo" { continue; }
        let case = read::case(&name);
        let t = std::time::Instant::now();
        let fitted = match calibrate(&case.sheet, std::slice::from_ref(&case.baseline), Noise::default()) { Ok(f) => f, Err(e) => { println!("{name}: {e}"); continue; } };
        let dt = t.elapsed();
        let plan = case.plan.map(|_, _, p| p.centre());
        let before = simulate_all(&fitted.sheet.centre, std::slice::from_ref(&case.baseline)).expect("before");
        let mut setup = fitted.sheet.centre.clone();
        setup.car = plan.apply(&setup.car).expect("plan");
        let after = simulate_all(&setup, std::slice::from_ref(&case.after)).expect("after");
        let pb = before[0].peak_power().expect("p").power_w;
        let pa = after[0].peak_power().expect("p").power_w;
        let gain = pa / pb - 1.0;
        let truth = case.true_after_w / case.true_before_w - 1.0;
        println!("{:30} rms {:.2}% it {} {:?} {:.0?} | before {:.1} ({:.1}) after {:.1} ({:.1}) gain {:.1} true {:.1} err {:+.1}", name, 100.0*fitted.power_rms(), fitted.iterations, fitted.stop, dt, pb/1e3, case.true_before_w/1e3, pa/1e3, case.true_after_w/1e3, 100.0*gain, 100.0*truth, 100.0*(gain-truth));
        if only.is_some() {
            for l in &fitted.learnt { if l.informed || (l.after.centre()-l.before.centre()).abs() > 0.5*l.before.sd() { println!("   {:34} {:10.4} ± {:8.4} -> {:10.4} ± {:8.4} {:?}", l.parameter.path, l.before.centre(), l.before.sd(), l.after.centre(), l.after.sd(), l.place); } }
            println!("visit {:?} pulls {:?}", fitted.visit_scales, fitted.pull_scales);
            for (label, pulls, visit) in [("before", &before, &case.baseline), ("after", &after, &case.after)] {
                for b in visit.pulls[0].curve.bands.iter().step_by(6) {
                    let p = &pulls[0];
                    let r = |f: &dyn Fn(&pullcast::dyno::PullPoint) -> f64| p.reading(b.rpm, f);
                    println!("  {label} {:5.0} P {:6.1}/{:6.1} p_im {:6.1}/{:6.1} T {:5.1}/{:5.1} lam {:.3}/{:.3} ca50 {:.1} pe {:.1} ve {:.3} Z {:.2} xr {:.3} Tivc {:.0} Te {:.0} pmax {:.0} {:?} PR {:.3} eta {:.2} p1 {:.1} m {:.4} T2 {:.0} blow {:.1}kW ind {:.0} fric {:.0} pump {:.1} el {:.1}", b.rpm, r(&|p| p.power_w)/1e3, b.power_w/1e3, r(&|p| p.engine.manifold_pa)/1e3, b.manifold_pa.unwrap_or(0.0)/1e3, r(&|p| p.sensor_k)-273.15, b.charge_k.unwrap_or(0.0)-273.15, r(&|p| p.engine.cylinder.lambda), b.lambda.unwrap_or(0.0), r(&|p| p.engine.cylinder.ca50_deg), r(&|p| p.engine.exhaust_pa)/1e3, r(&|p| p.engine.volumetric_efficiency), r(&|p| p.engine.mach_index), r(&|p| p.engine.cylinder.residual_fraction), r(&|p| p.engine.cylinder.closing_k), r(&|p| p.engine.cylinder.exhaust_k), r(&|p| p.engine.cylinder.peak_pa)/1e5, p.limits.iter().collect::<Vec<_>>(), r(&|p| p.engine.blower.pressure_ratio), r(&|p| p.engine.blower.efficiency), r(&|p| p.engine.inlet_pa)/1e3, r(&|p| p.engine.air_kg_s), r(&|p| p.engine.blower.outlet_k), r(&|p| p.engine.blower.crank_w)/1e3, r(&|p| p.engine.ledger.indicated_w)/1e3, r(&|p| p.engine.ledger.friction_w)/1e3, r(&|p| p.engine.ledger.pumping_w)/1e3, r(&|p| p.electric_w)/1e3);
                }
            }
            let p = &before[0].points[20];
            println!("{:?}", p.engine.ledger); println!("imbalance {:e} passes {}", p.engine.ledger.imbalance(), p.engine.passes);
        }
        let _ = (Channel::Power, case.true_curve.len(), OnADay::new(&setup.car, case.after.pulls[0].day));
    }
}
#[test]
fn smooth() {
    use pullcast::fit::calibration::Calibration;
    use pullcast::fit::{Problem, parameter};
    let case = read::case(&std::env::var("SM").unwrap_or("wheel_inertia".into()));
    let cal = Calibration::new(&case.sheet, std::slice::from_ref(&case.baseline), Noise::default());
    let n = cal.parameters();
    let names: Vec<_> = case.sheet.free().map(|b| b.parameter.path).collect();
    let cost = |z: &[f64]| { let mut r = vec![0.0; cal.rows()]; cal.residuals(z, &mut r).expect("ok"); r.iter().map(|x| x * x).sum::<f64>() };
    let t = std::time::Instant::now();
    for _ in 0..20 { cost(&vec![0.0; n]); }
    println!("cost eval {:?}", t.elapsed() / 20);
    for (j, name) in names.iter().enumerate() {
        let f: Vec<f64> = (-3..=3).map(|k| { let mut z = vec![0.0; n]; z[j] = 0.05 * f64::from(k); cost(&z) }).collect();
        let d2: Vec<f64> = f.windows(3).map(|w| (w[0] - 2.0 * w[1] + w[2]) / 0.0025).collect();
        let slope = (f[4] - f[2]) / 0.1;
        println!("{name:34} slope {slope:9.2} d2 {:?}", d2.iter().map(|x| (x * 10.0).round() / 10.0).collect::<Vec<_>>());
    }
    let _ = parameter::catalogue().count();
}
#[test]
fn counts() {
    for name in ["wheel_inertia", "pulley_pd_v8", "hybrid_v8_blower"] {
        let case = read::case(name);
        let pull = &case.baseline.pulls[0];
        let mut c = pull.conditions; c.from_rpm = 2000.0; c.to_rpm = 6400.0;
        for tol in [1e-3, 1e-4, 1e-5, 1e-6] {
            let t = std::time::Instant::now();
            let mut p = None;
            for _ in 0..50 { p = Some(case.sheet.centre.pull_to_tolerance(&pull.day, &c, 28, tol).expect("pull")); }
            let dt = t.elapsed() / 50;
            let p = p.expect("p");
            let passes: u32 = p.points.iter().map(|q| q.engine.passes).sum();
            println!("{name} tol {tol:e} {dt:?} passes/op {:.1} P {:.4} core {:.3}", f64::from(passes) / p.points.len() as f64, p.points[27].power_w / 1e3, p.end.core_k);
        }
        let on = OnADay::new(&case.sheet.centre.car, pull.day);
        let t = std::time::Instant::now();
        let mut near = None;
        let mut n = 0;
        for k in 0..2000 { let q = on.at(2000.0 + 2.0 * f64::from(k), pullcast::car::Slow { core_k: 310.0 }, near.as_ref()); near = Some(q); n += q.passes; }
        println!("  op warm {:?} passes {}", t.elapsed() / 2000, f64::from(n) / 2000.0);
        let t = std::time::Instant::now();
        for k in 0..2000 { let _ = on.at(2000.0 + 2.0 * f64::from(k), pullcast::car::Slow { core_k: 310.0 }, None); }
        println!("  op cold {:?}", t.elapsed() / 2000);
        let t = std::time::Instant::now();
        for _ in 0..2000 { let _ = OnADay::new(&case.sheet.centre.car, pull.day); }
        println!("  prepare {:?}", t.elapsed() / 2000);
    }
}
