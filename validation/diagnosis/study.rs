//! dev
#[allow(dead_code, reason = "the study reads cars and pulls alone")]
#[path = "../cases/read.rs"]
mod read;
mod cases {
    pub(crate) use crate::read;
}
#[allow(dead_code)]
#[path = "case.rs"]
mod case;

use case::{Case, SETS, cause, folder, true_sizes};
use pullcast::diagnose::Diagnosis;
use serde_json::json;
use std::time::Instant;

fn dump(case: &Case, set: &str, kind: &str, d: &Diagnosis, s: f64) {
    let truth = if kind.starts_with("odd") { format!("{:?}", cause(&case.answer)) } else { "Nothing".into() };
    let suspects: Vec<_> = d.suspects.iter().map(|s| json!([format!("{:?}", s.explained.cause), format!("{:?}", s.explained.form), s.explained.log_evidence, s.probability, s.explained.numbers().iter().map(|n| n.1).collect::<Vec<_>>(), s.explained.numbers().iter().map(|n| n.2).collect::<Vec<_>>(), s.explained.with.map(|w| format!("{:?}", w.0))])).collect();
    let sizes: Vec<_> = if kind == "odd" { true_sizes(&case.answer, &case.car).into_iter().map(|(n, i, v)| json!([n, i, v])).collect() } else { vec![] };
    println!("{}", json!({"set": set, "case": case.name, "kind": kind, "truth": truth, "s": s, "sizes": sizes, "suspects": suspects, "channels": d.channels.iter().map(|c| format!("{c:?}")).collect::<Vec<_>>()}));
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let only: Option<&String> = args.iter().skip(1).find(|a| !a.starts_with("--"));
    for set in SETS {
        for name in read::names(&folder(set)) {
            let full = format!("{set} {name}");
            if only.is_some_and(|o| !full.contains(o.as_str())) { continue; }
            let t = Instant::now();
            let case = Case::read(set, &name);
            eprintln!("{full} fit {:.1} s", t.elapsed().as_secs_f64());
            let t = Instant::now();
            let d = case.diagnose();
            dump(&case, set, "odd", &d, t.elapsed().as_secs_f64());
            if args.iter().any(|a| a == "--odd") { continue; }
            for i in 0..case.clean.0.pulls.len() {
                let t = Instant::now();
                let d = case.diagnose_clean(i);
                dump(&case, set, "clean", &d, t.elapsed().as_secs_f64());
            }
            for (g, o) in [(0, 2)] {
                let t = Instant::now();
                let d = case.diagnose_one(g, o);
                dump(&case, set, "one", &d, t.elapsed().as_secs_f64());
            }
            let t = Instant::now();
            let d = case.diagnose_odd_with_one();
            dump(&case, set, "odd_one", &d, t.elapsed().as_secs_f64());
        }
    }
}
