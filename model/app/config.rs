//! `config`: the settings that verbs run with, and where each comes from.

use crate::args::{Cli, ConfigArgs};
use crate::output::{Failure, Output};
use pullcast::report::Units;
use pullcast::report::config::{ConfigReport, Setting, Source};

pub(crate) fn run(args: &ConfigArgs, cli: &Cli, out: Output<'_>) -> Result<(), Failure> {
    let shop = out.shop;
    let noise = shop.noise();
    let from = |flag: bool, profile: bool| match (flag, profile) {
        (true, _) => Source::Flag,
        (false, true) => Source::Profile,
        (false, false) => Source::BuiltIn,
    };
    let mut settings = Vec::new();
    let mut add = |name, value: String, from| settings.push(Setting { name, value, from });
    add(
        "units",
        match out.units {
            Units::Metric => "metric".to_owned(),
            Units::Shop => "shop".to_owned(),
        },
        from(cli.units.is_some(), shop.units.is_some()),
    );
    add(
        "standard",
        args.correction.standard(out).id().to_owned(),
        from(args.correction.standard.is_some(), shop.standard.is_some()),
    );
    let share = |x: f64| format!("{:.1} %", 100.0 * x);
    add(
        "visit_repeatability",
        share(noise.visit),
        from(false, shop.visit.is_some()),
    );
    add(
        "pull_repeatability",
        share(noise.pull),
        from(false, shop.pull.is_some()),
    );
    if let Some(days) = shop.holds_days {
        add("quote_holds_days", days.to_string(), Source::Profile);
    }
    if let Some(name) = &shop.name {
        add("name", name.clone(), Source::Profile);
    }
    for line in &shop.letterhead {
        add("letterhead", line.clone(), Source::Profile);
    }
    for caution in &shop.cautions {
        add("caution", caution.clone(), Source::Profile);
    }
    for (place, rig) in shop.rigs.iter().enumerate() {
        let usual = if place == 0 {
            " (unless a car names another)"
        } else {
            ""
        };
        add("rig", format!("{}{usual}", rig.name), Source::Profile);
    }
    for (place, pump) in shop.pumps.iter().enumerate() {
        let usual = if place == 0 {
            " (unless a car names another)"
        } else {
            ""
        };
        add("pump", format!("{}{usual}", pump.name), Source::Profile);
    }
    out.report(&ConfigReport {
        profile: shop.path.as_ref().map(|path| path.display().to_string()),
        settings,
    })
}
