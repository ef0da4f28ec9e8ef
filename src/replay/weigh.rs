//! The weighing: every row lived through, judged and put in words.

use super::advice::{Advice, advise, against};
use super::chance::{draws, enough};
use super::change::{Ground, World, changed};
use super::course::Programme;
use super::judge::{Worth, change};
use super::mend::{mendable, mended};
use super::reference::Reference;
use super::refuse::{Objections, objections};
use super::reproduce::reproduce;
use super::row::{Weighed, all_draws, push_note, refused, row_of};
use super::run::{Chance, Outcome, run};
use super::unasked::{Kind, ideas, kind_of};
use super::{course, demand, learn, season};
use crate::account::Accounts;
use crate::calendar::Calendar;
use crate::design::changes::read_changed;
use crate::design::{Changes, Design, Upgrade};
use crate::expect::Expectation;
use crate::report::model::{Finding, OptionRow, Severity};
use crate::report::weighing::{self, Reproduced};
use crate::words::about;

/// What is weighed on.
pub struct Inputs<'a> {
    /// The design.
    pub design: &'a Design,
    /// Its text, in which options change keys.
    pub design_text: &'a str,
    /// Local days.
    pub calendar: &'a Calendar,
    /// What was expected.
    pub expected: &'a Expectation,
    /// The accounts.
    pub accounts: &'a Accounts,
    /// What was found.
    pub findings: &'a [Finding],
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// Options of the design and of the command line.
    pub options: Vec<Upgrade>,
    /// The month to live in instead of the days logged, 1 to 12.
    pub month: Option<u32>,
    /// Draws of what is uncertain.
    pub draws: usize,
}

/// The result.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighing {
    /// Whether the replay gives back the trip.
    pub reproduced: Reproduced,
    /// The rows; none where it does not.
    pub rows: Vec<Weighed>,
    /// Name of the row to do first.
    pub recommended: Option<String>,
    /// Why, or why there is no advice.
    pub why: String,
    /// The month lived in, in words, where it is not the days logged.
    pub season: Option<String>,
}

impl Weighing {
    /// As printed.
    pub fn told(&self) -> weighing::Weighing {
        weighing::Weighing {
            schema: weighing::SCHEMA.to_owned(),
            reproduced: self.reproduced.clone(),
            season: self.season.clone(),
            options: self.rows.iter().map(|r| r.row.clone()).collect(),
            recommended: self.recommended.clone(),
            why: self.why.clone(),
        }
    }
}

/// Why nothing can be replayed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{0}")]
pub struct NothingToReplay(pub String);

/// Weighs the options.
///
/// # Errors
/// Where the log does not hold what a replay lives on: what came from the array, what went through the
/// bank and its state of charge.
pub fn weigh(inputs: &Inputs, asked: &Asked) -> Result<Weighing, NothingToReplay> {
    let ground = Ground {
        design: inputs.design,
        calendar: inputs.calendar,
        expected: inputs.expected,
        accounts: inputs.accounts,
    };
    let Logged {
        mut world,
        reference,
        demand,
        start,
    } = logged(inputs)?;
    let mut reproduced = reproduce(
        inputs.design,
        inputs.expected,
        &world.course,
        &reference,
        &mut world.plant,
    );
    if let Some(why) = fuller_than_logged(inputs, &world, start).filter(|_| reproduced.ok) {
        (reproduced.ok, reproduced.why) = (false, why);
    }
    if !reproduced.ok {
        return Ok(Weighing {
            why: reproduced.why.clone(),
            reproduced,
            rows: Vec::new(),
            recommended: None,
            season: None,
        });
    }
    let Some(month) = asked.month else {
        let stage = Stage::new(inputs, &ground, world, start, asked, "");
        return Ok(stage.weighing(reproduced, None, &demand));
    };
    let mean = run(
        &world.plant,
        &world.course,
        start,
        &Chance::none(&world.plant, world.course.days.len()),
        None,
    )
    .mean;
    let season = season::month(&ground, &world, month);
    let ground = Ground {
        expected: &season.expected,
        accounts: &season.accounts,
        ..ground
    };
    let stage = Stage::new(inputs, &ground, season.world, mean, asked, &season.label);
    Ok(stage.weighing(reproduced, Some(season.label.clone()), &demand))
}

/// Days more with a full charge than the log shows, share of all, from which on the replay leaves out what keeps
/// the bank from filling: more than gaps and the edge of a full charge make of it.
const FULLER: f64 = 1.0 / 3.0;

/// Why a replay that fills the bank where the log shows that it never filled is not believed: a voltage set too
/// low or a time cut short keeps it from it, and no option of a replay without it is weighed right.
fn fuller_than_logged(inputs: &Inputs, world: &World, start: f64) -> Option<String> {
    let charge = &inputs.accounts.charge;
    let days = world.course.days.len();
    if !charge.can_tell || days == 0 {
        return None;
    }
    let chance = Chance::none(&world.plant, days);
    let replayed = run(&world.plant, &world.course, start, &chance, None).full_share;
    let logged = charge.full_days.iter().filter(|full| **full).count();
    (replayed > logged as f64 / days as f64 + FULLER).then(|| {
        format!(
            "The replay does not give back the trip as logged: it fills the bank on {:.0} of {days} days, and the log shows a true full charge on {logged}. What keeps the bank from filling (a voltage or a time that is set, a meter) is not in it, so nothing is weighed: mend that first, as the findings say.",
            replayed * days as f64
        )
    })
}

/// The world as logged.
struct Logged {
    world: World,
    reference: Reference,
    demand: demand::Demand,
    start: f64,
}

fn logged(inputs: &Inputs) -> Result<Logged, NothingToReplay> {
    let (design, expected, accounts) = (inputs.design, inputs.expected, inputs.accounts);
    let lacks = |text: &str| Err(NothingToReplay(text.to_owned()));
    if expected.signals.bank_a.is_none() {
        return lacks(
            "there is nothing to replay: the log holds no current of the bank. A bank monitor's volts and amperes over a week settle it",
        );
    }
    let Some(demand) = demand::demand(design, expected, &accounts.loads) else {
        return lacks(
            "there is nothing to replay: what the loads took cannot be told from this log. The bank's current and the controller's output together tell it",
        );
    };
    let believed = !inputs.findings.iter().any(|f| f.kind == "soc-unreliable");
    let mut reference = Reference::new(expected, accounts, believed);
    if reference.first().is_none() {
        return lacks(
            "there is nothing to replay: the state of charge is not known at any time. Fill the bank once, from shore or engine if the sun won't do, and log a week from there",
        );
    }
    let mut plant = learn::plant(design, expected, accounts, &reference);
    if let Some(holds_ah) = measured_ah(inputs.findings) {
        // What was counted, was counted in shares of the label.
        reference.of_another_bank(plant.bank.capacity_ah / holds_ah);
        plant.bank.capacity_ah = holds_ah;
    }
    let start = reference.first().map_or(1.0, |(_, soc)| soc);
    let apart_v = accounts.run.as_ref().map_or(0.0, |fit| fit.offset_v);
    let course = course::as_is(
        design,
        expected,
        accounts,
        &demand.watts,
        &learn::run_ohm(design, expected, accounts),
        plant.programme.absorption_v + apart_v,
    );
    Ok(Logged {
        world: World {
            plant,
            course,
            programme: Programme::AsLogged,
        },
        reference,
        demand,
        start,
    })
}

/// What the bank holds by its own figures, Ah, where that is clearly less than its label says.
fn measured_ah(findings: &[Finding]) -> Option<f64> {
    let low = findings.iter().find(|f| f.kind == "capacity-low")?;
    low.evidence
        .get("capacity_ah")?
        .get("value")?
        .as_f64()
        .filter(|ah| *ah > 0.0)
}

/// One set of days on which all rows are lived.
struct Stage<'a> {
    inputs: &'a Inputs<'a>,
    ground: &'a Ground<'a>,
    world: World,
    start: f64,
    asked: &'a Asked,
    chances: Vec<Chance>,
    worth: Worth,
    season: &'a str,
}

impl<'a> Stage<'a> {
    fn new(
        inputs: &'a Inputs<'a>,
        ground: &'a Ground<'a>,
        world: World,
        start: f64,
        asked: &'a Asked,
        season: &'a str,
    ) -> Self {
        let days = world.course.days.len();
        Self {
            chances: draws(
                &world.plant,
                inputs.design.battery.chemistry,
                days,
                enough(asked.draws, days),
            ),
            worth: Worth {
                wh: inputs.accounts.yardsticks.worth_a_job_wh,
                reserve: world.plant.bank.reserve,
                days: days as f64,
            },
            inputs,
            ground,
            world,
            start,
            asked,
            season,
        }
    }

    fn weighing(
        &self,
        reproduced: Reproduced,
        season: Option<String>,
        demand: &demand::Demand,
    ) -> Weighing {
        let mut rows = vec![self.as_is(demand)];
        rows.extend(self.mended(&rows[0]));
        let asked: Vec<(Upgrade, bool)> = self
            .asked
            .options
            .iter()
            .map(|o| (o.clone(), true))
            .chain(self.unasked())
            .collect();
        for (option, wanted) in asked {
            let row = self.option(&option, &rows[0], wanted);
            rows.push(row);
        }
        for i in 1..rows.len() {
            if let Some(why) = against(&rows[i], &rows[0])
                && rows[i].refused.is_empty()
            {
                push_note(&mut rows[i].row.note, why);
            }
        }
        let Advice {
            recommended,
            mut why,
        } = advise(&rows, &self.worth, &self.would_change());
        let danger = |f: &&Finding| f.severity == Severity::Stop;
        if let Some(danger) = self.inputs.findings.iter().find(danger) {
            why = format!(
                "Danger first, before anything is weighed: {} {why}",
                danger.summary
            );
        }
        Weighing {
            reproduced,
            rows,
            recommended,
            why,
            season,
        }
    }

    /// What would change the answer.
    fn would_change(&self) -> String {
        if self.season.is_empty() {
            "Another season, a longer trip or more loads can change this: weigh it with --month too."
                .to_owned()
        } else {
            "A real month can be brighter or duller than its plan, and use may differ from the trip's."
                .to_owned()
        }
    }

    fn as_is(&self, demand: &demand::Demand) -> Weighed {
        let mut note = if self.season.is_empty() {
            "your days as logged".to_owned()
        } else {
            self.season.to_owned()
        };
        if demand.cut_off_h > 0.5 {
            push_note(
                &mut note,
                &format!(
                    "for {} h the loads were cut off: what they would have taken is the mean of like hours",
                    about(demand.cut_off_h)
                ),
            );
        }
        let mut row = self.lived(
            "as it is",
            Changes::new(),
            None,
            &self.world,
            Kind::AsIs,
            note,
        );
        row.row.change = "same".to_owned();
        row
    }

    fn mended(&self, base: &Weighed) -> Option<Weighed> {
        let faults = mendable(self.inputs.findings);
        if faults.is_empty() {
            return None;
        }
        let world = mended(self.ground, &self.world, &faults);
        let list: Vec<String> = faults
            .iter()
            .filter(|f| f.part_of.is_none())
            .map(|f| f.kind.replace('-', " "))
            .collect();
        let note = format!("as designed: {}", list.join(", "));
        let row = self.lived("mended", Changes::new(), None, &world, Kind::Mended, note);
        Some(self.judged(self.laid_on(row, base, world.programme), base))
    }

    /// The usual ideas that were not asked for already.
    fn unasked(&self) -> Vec<(Upgrade, bool)> {
        ideas(self.inputs.design, |set| self.read(set).ok())
            .into_iter()
            .filter(|i| !self.asked.options.iter().any(|o| o.set == i.set))
            .map(|i| {
                let upgrade = Upgrade {
                    name: i.name,
                    cost: None,
                    set: i.set,
                };
                (upgrade, false)
            })
            .collect()
    }

    fn read(&self, set: &Changes) -> Result<Design, String> {
        let design = self.inputs.design;
        read_changed(self.inputs.design_text, &design.file, &design.folder, set)
            .map(|d| d.with_nominal(design.nominal_v()))
            .map_err(|e| e.to_string())
    }

    fn option(&self, option: &Upgrade, base: &Weighed, wanted: bool) -> Weighed {
        let design = match self.read(&option.set) {
            Ok(design) => design,
            Err(why) => return refused(option, Kind::Other, vec![why]),
        };
        let kind = kind_of(self.inputs.design, &design);
        let Objections {
            refused: reasons,
            remarks,
        } = objections(self.inputs.design, &design);
        if !reasons.is_empty() {
            return refused(option, kind, reasons);
        }
        let same = design.same_system(self.inputs.design);
        let world = if same {
            self.world.clone()
        } else {
            changed(self.ground, &self.world, &design)
        };
        let conditions = remarks.join("; ");
        let mut note = conditions.clone();
        if same {
            push_note(&mut note, "changes nothing: it is so already");
        }
        if !wanted {
            push_note(&mut note, "tried unasked");
        }
        if kind == Kind::Use {
            push_note(
                &mut note,
                "reckoned from the load list: the log shows the sum of the loads only",
            );
        }
        let row = self.lived(
            &option.name,
            option.set.clone(),
            option.cost,
            &world,
            kind,
            note,
        );
        let row = Weighed { conditions, ..row };
        self.judged(self.laid_on(row, base, world.programme), base)
    }

    /// An option's days with a full charge, laid on those of the system as it is. A controller that does what
    /// it was logged to fills the bank on other days than one whose programme is reckoned; so the option is
    /// held against the system as it is under the same programme, and the difference counts.
    fn laid_on(&self, mut row: Weighed, base: &Weighed, programme: Programme) -> Weighed {
        if programme == Programme::AsLogged {
            return row;
        }
        let world = World {
            course: programme.on(self.world.course.clone()),
            ..self.world.clone()
        };
        let under = self.lived("", Changes::new(), None, &world, Kind::AsIs, String::new());
        let laid = |now: &mut Outcome, under: &Outcome, as_is: &Outcome| {
            now.full_share = (as_is.full_share + now.full_share - under.full_share).clamp(0.0, 1.0);
        };
        laid(&mut row.point, &under.point, &base.point);
        for ((now, under), as_is) in row.draws.iter_mut().zip(&under.draws).zip(&base.draws) {
            laid(now, under, as_is);
        }
        let OptionRow {
            name,
            set,
            cost,
            note,
            ..
        } = row.row;
        row.row = OptionRow {
            set,
            ..row_of(&name, Changes::new(), cost, note, &row.point, &row.draws)
        };
        row
    }

    fn judged(&self, mut row: Weighed, base: &Weighed) -> Weighed {
        row.row.change = change(&base.draws, &row.draws, &self.worth).to_owned();
        row.recovered_wh = base.point.unserved_wh - row.point.unserved_wh;
        if let Some(cost) = row.row.cost
            && row.recovered_wh > 1.0
        {
            let each = format!(
                "{} for each Wh a day recovered",
                about(cost / row.recovered_wh)
            );
            push_note(&mut row.row.note, &each);
        }
        row
    }

    /// Lives a world through, once as it was and once for each draw.
    fn lived(
        &self,
        name: &str,
        set: Changes,
        cost: Option<f64>,
        world: &World,
        kind: Kind,
        note: String,
    ) -> Weighed {
        let days = world.course.days.len();
        let best = Chance {
            efficiency: self.world.plant.bank.efficiency,
            ..Chance::none(&world.plant, days)
        };
        let point = run(&world.plant, &world.course, self.start, &best, None);
        let draws = all_draws(world, self.start, &self.chances);
        Weighed {
            row: row_of(name, set, cost, note, &point, &draws),
            kind,
            point,
            draws,
            refused: Vec::new(),
            conditions: String::new(),
            recovered_wh: 0.0,
        }
    }
}
