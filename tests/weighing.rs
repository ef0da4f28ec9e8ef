//! Options weighed on simulated trips, against the simulator's own answer to the same change.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use ampledger::reconcile::{Judged, Request, judge};
use ampledger::replay::{course, demand, learn, reference::Reference, reproduce};
use ampledger::sample::{self, SampleOptions};

fn judged(case: &str, seed: u64) -> Judged {
    let folder = tempfile::tempdir().unwrap();
    let options = SampleOptions { case: Some(case.to_owned()), days: None, step_s: None, seed, force: true };
    sample::write(folder.path(), &options).unwrap();
    judge(&Request { logs: Vec::new(), design: folder.path().join("design.toml"), from: None, to: None, zone: None }).unwrap()
}

#[test]
fn probe() {
    let only = std::env::var("ONLY").unwrap_or_default();
    for case in sample::cases().iter().filter(|c| c.name.contains(&only)) {
        for seed in std::env::var("SEEDS").unwrap_or("1".into()).split(',').map(|s| s.parse::<u64>().unwrap()) {
            let j = judged(case.name, seed);
            let reference = Reference::new(&j.expected, &j.accounts, true);
            let d = demand::demand(&j.design, &j.expected, &j.accounts.loads).unwrap();
            let mut plant = learn::plant(&j.design, &j.expected, &j.accounts, &reference);
            let run = learn::run_ohm(&j.design, &j.expected, &j.accounts);
            let c = course::as_is(&j.design, &j.expected, &j.accounts, &d.watts, &run, plant.programme.absorption_v + j.accounts.run.as_ref().map_or(0.0, |f| f.offset_v));
            let r = reproduce::reproduce(&j.design, &j.expected, &c, &reference, &mut plant);
            println!("{:22} {seed} ok={} ah={:?} soc={:?} | abs {:.2} h {:.2} float {:?} ohm {:.4} off {:.3} tau {:.2} eff {:?} run {:.4} lim {:.1} cut {:.1} {}", case.name, r.ok, r.ah_pct.map(|x| (x*10.0).round()/10.0), r.soc_points.map(|x| (x*10.0).round()/10.0), plant.programme.absorption_v, plant.programme.absorption_h, plant.programme.float_v, plant.bank.ohm, plant.bank.rest.at(0.99), plant.bank.tau_h, (plant.bank.efficiency, plant.bank.gassing), run[0], plant.programme.limit_a, d.cut_off_h, if r.ok {""} else {&r.why});
        }
    }
}
