//! Options weighed on simulated trips, against the simulator's own answer to the same change.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::collections::BTreeMap;

use ampledger::design::Upgrade;
use ampledger::design::changes::parse_change;
use ampledger::reconcile::{Judged, Request, judge};
use ampledger::replay::{Asked, weigh};
use ampledger::sample::{self, PlantChange, SampleOptions, lived};

fn options(case: &str, seed: u64) -> SampleOptions {
    SampleOptions {
        case: Some(case.to_owned()),
        days: None,
        step_s: None,
        size: None,
        seed,
        force: true,
    }
}
fn judged(case: &str, seed: u64) -> Judged {
    let folder = tempfile::tempdir().unwrap();
    sample::write(folder.path(), &options(case, seed)).unwrap();
    judge(&Request {
        logs: Vec::new(),
        design: folder.path().join("design.toml"),
        from: None,
        to: None,
        zone: None,
    })
    .unwrap()
}

#[test]
fn probe() {
    let only = std::env::var("ONLY").unwrap_or_default();
    let (mut inu, mut inf, mut n) = (0, 0, 0);
    let mut kinds: BTreeMap<&str, (i32, i32, i32)> = BTreeMap::new();
    for case in sample::cases().iter().filter(|c| c.name.contains(&only)) {
        for seed in std::env::var("SEEDS")
            .unwrap_or("1".into())
            .split(',')
            .map(|s| s.parse::<u64>().unwrap())
        {
            let j = judged(case.name, seed);
            let d = &j.design;
            let a = &d.arrays[0];
            let load = d
                .loads
                .iter()
                .max_by(|a, b| (a.power_w * a.hours).total_cmp(&(b.power_w * b.hours)))
                .unwrap();
            let c = d.battery.capacity_ah;
            let changes = [
                ("asis", "", PlantChange::Nothing),
                ("mended", "", PlantChange::Mended),
                (
                    "string",
                    &*format!("array.strings_in_parallel={}", a.strings_in_parallel + 1),
                    PlantChange::Strings(a.strings_in_parallel + 1),
                ),
                (
                    "panel",
                    &*format!("array.panels_in_series={}", a.panels_in_series + 1),
                    PlantChange::PanelsInSeries(a.panels_in_series + 1),
                ),
                (
                    "bank2",
                    &*format!("battery.capacity={} Ah", 2.0 * c),
                    PlantChange::CapacityTimes(2.0),
                ),
                (
                    "load",
                    &*format!("load.{}.hours={}", load.name, load.hours * 2.0 / 3.0),
                    PlantChange::LoadTimes(load.name.clone(), 2.0 / 3.0),
                ),
            ];
            let opts: Vec<Upgrade> = changes
                .iter()
                .filter(|c| !c.1.is_empty())
                .map(|c| {
                    let (k, v) = parse_change(c.1).unwrap();
                    Upgrade {
                        name: c.0.into(),
                        cost: None,
                        set: [(k, v)].into(),
                    }
                })
                .collect();
            let w = weigh(
                &j.weighing(),
                &Asked {
                    options: opts,
                    month: None,
                    draws: 200,
                },
            )
            .unwrap();
            if !w.reproduced.ok {
                println!("{} {seed} not reproduced {}", case.name, w.reproduced.why);
                continue;
            }
            for (name, _, change) in &changes {
                let row = w
                    .rows
                    .iter()
                    .find(|r| r.row.name == if *name == "asis" { "as it is" } else { name });
                let Some(row) = row else { continue };
                if row.row.refused.is_some() {
                    continue;
                }
                let t = lived(&options(case.name, seed), change).unwrap();
                let u = row.row.unserved_wh_per_day.unwrap();
                let f = row.row.intervals["full_share"];
                let l = row.row.intervals["lowest_soc_pct"];
                let ok_u =
                    t.unserved_wh_per_day >= u.low - 0.5 && t.unserved_wh_per_day <= u.high + 0.5;
                let ok_f = t.full_share >= f.low - 1e-6 && t.full_share <= f.high + 1e-6;
                n += 1;
                inu += ok_u as i32;
                inf += ok_f as i32;
                let e = kinds.entry(name).or_default();
                e.0 += 1;
                e.1 += ok_u as i32;
                e.2 += ok_f as i32;
                println!(
                    "{:20} {seed} {name:7} {:8} uns {:6.1} ({:.1}-{:.1}) true {:6.1} {} full {:.2} ({:.2}-{:.2}) true {:.2} {} low {:.0} true {:.0}",
                    case.name,
                    row.row.change,
                    u.value,
                    u.low,
                    u.high,
                    t.unserved_wh_per_day,
                    if ok_u { "  " } else { "XU" },
                    f.value,
                    f.low,
                    f.high,
                    t.full_share,
                    if ok_f { "  " } else { "XF" },
                    l.value,
                    t.lowest_soc_pct
                );
            }
        }
    }
    println!("{n}: unserved in {inu}, full in {inf} {kinds:?}");
}
