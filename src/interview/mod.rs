//! An owner tells their system, question by question, and a design comes of it. Every answer goes
//! through the design's own reader at once, so nothing is known here of what fits.

mod draft;
mod questions;
mod sayings;

use crate::design::answer::answer;
use crate::design::keys::{self, Kind, REQUIRED};
use crate::words::upper_first;
pub use draft::Draft;
use questions::Question;

/// The other side of the talk.
pub trait Talk {
    /// Says something, without an answer.
    fn say(&mut self, text: &str);
    /// Asks, and gives the line answered; `None` where nobody answers any more.
    fn ask(&mut self, question: &str) -> Option<String>;
    /// Hears why the last answer was not taken; the question follows again.
    fn refuse(&mut self, question: &str, why: &str);
}

/// The answers ended before the questions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ended;

/// What came of a question.
enum Told {
    Answer,
    Nothing,
    Back,
}

/// Asks everything and puts it into the draft.
///
/// # Errors
/// [`Ended`] where the answers end early.
pub fn interview(talk: &mut dyn Talk, draft: &mut Draft) -> Result<(), Ended> {
    talk.say(
        "An empty line takes what stands in brackets. \"?\" says where to find it, \"<\" goes back.\n\
         Labels and data sheets tell all of it: open, lift and unplug nothing for this. Panels are\n\
         live whenever there is light.\n",
    );
    let mut talk = Asking { talk, draft };
    talk.section("PLACE", questions::PLACE)?;
    talk.section("PANELS, from the label of one", questions::PANELS)?;
    talk.section("CHARGE CONTROLLER", questions::CONTROLLER)?;
    talk.wiring()?;
    talk.section("BANK", questions::BANK)?;
    talk.loads()?;
    talk.chargers()?;
    talk.section("PLAN", questions::PLAN)?;
    talk.heading("LOGS");
    talk.draft.begin("log");
    talk.all(questions::LOGS)?;
    Ok(())
}

/// The talk under way.
struct Asking<'t> {
    talk: &'t mut dyn Talk,
    draft: &'t mut Draft,
}

impl Asking<'_> {
    fn heading(&mut self, words: &str) {
        self.talk.say(&format!("\n{words}\n"));
    }

    fn section(&mut self, words: &str, questions: &[Question<'_>]) -> Result<(), Ended> {
        self.heading(words);
        self.all(questions)
    }

    /// The questions one after the other, and back again where asked for.
    fn all(&mut self, questions: &[Question<'_>]) -> Result<(), Ended> {
        let mut at = 0;
        while let Some(question) = questions.get(at) {
            at = match self.one(question)? {
                Told::Back => at.saturating_sub(1),
                Told::Answer | Told::Nothing => at + 1,
            };
        }
        Ok(())
    }

    /// Asks until the answer fits, is empty, or goes back.
    fn one(&mut self, question: &Question<'_>) -> Result<Told, Ended> {
        self.draft.take(question.key);
        if is_pointless(self.draft, question.key) {
            return Ok(Told::Nothing);
        }
        let required = REQUIRED.contains(&question.key) || self.is_needed(question.key);
        let prompt = format!("{}{}: ", question.ask, self.bracket(question.key, required));
        loop {
            let typed = self.talk.ask(&prompt).ok_or(Ended)?;
            match typed.trim() {
                "?" => self
                    .talk
                    .say(&format!("  {}{}\n", question.help, example(question.key))),
                "<" => return Ok(Told::Back),
                "" if required => {
                    let why = "This one is needed: nothing can be reckoned without it.";
                    let why = format!("{why}{}", example(question.key));
                    self.talk.refuse(question.ask, &why);
                }
                "" => return Ok(Told::Nothing),
                text => match self.take(question.key, text) {
                    Ok(()) => return Ok(Told::Answer),
                    Err(why) => self.talk.refuse(question.ask, &why),
                },
            }
        }
    }

    /// Puts an answer, if it fits by itself and with the others.
    fn take(&mut self, key: &'static str, text: &str) -> Result<(), String> {
        if let Some(why) = sayings::refusal(key, text) {
            return Err(why.to_owned());
        }
        let meant = sayings::meant(key, text);
        if let Some(meant) = &meant {
            self.talk.say(&format!("  Taken as {meant}.\n"));
        }
        let text = meant.as_deref().unwrap_or(text);
        let value = answer(key, text).map_err(|why| sentence(&why))?;
        self.draft.put(key, value);
        match self.draft.read() {
            Ok(_) => Ok(()),
            Err(why) => {
                self.draft.take(key);
                Err(format!(
                    "{why}; answer again, or \"<\" to change the one before"
                ))
            }
        }
    }

    /// Whether safety hangs on it and nothing said so far tells it.
    fn is_needed(&self, key: &str) -> bool {
        key == "system.nominal" && self.draft.default_of(key).is_none()
    }

    /// What an empty line stands for: the reader's own default, or nothing known.
    fn bracket(&self, key: &str, required: bool) -> String {
        let words = match keys::find(key).map(|k| k.kind) {
            Some(Kind::Word(words)) => format!(" ({})", words.join(", ")),
            _ => String::new(),
        };
        if required {
            return words;
        }
        match self.draft.default_of(key) {
            Some(found) => format!("{words} [{}: {}]", found.value, found.why),
            None => format!("{words} [not known]"),
        }
    }

    fn wiring(&mut self) -> Result<(), Ended> {
        self.heading("WIRING, run by run");
        for (run, words) in [
            ("array-controller", "from the panels to the controller"),
            ("controller-battery", "from the controller to the bank"),
            ("battery-loads", "from the bank to the loads"),
        ] {
            self.draft.begin("cable");
            self.draft
                .put("cable.run", toml::Value::String(run.to_owned()));
            let length = Question {
                key: "cable.length",
                ask: &format!("Length of the run {words}, one way; empty: leave it out"),
                help: "Along the cable, not through the air. One way: the way back is reckoned.",
            };
            if !self.optional(&length)? {
                self.draft.forget("cable");
                continue;
            }
            self.all(questions::CABLE)?;
        }
        Ok(())
    }

    fn loads(&mut self) -> Result<(), Ended> {
        self.heading("LOADS, one after the other");
        let name = Question {
            key: "load.name",
            ask: "Name of a load; empty: no more",
            help: "What draws from the bank: fridge, lights, pump, router.",
        };
        loop {
            self.draft.begin("load");
            if !self.optional(&name)? {
                self.draft.forget("load");
                break;
            }
            self.all(questions::LOAD)?;
        }
        match self.draft.read() {
            Ok(design) if design.inverter.is_some() => {
                self.section("INVERTER", questions::INVERTER)
            }
            _ => Ok(()),
        }
    }

    fn chargers(&mut self) -> Result<(), Ended> {
        self.heading("OTHER CHARGING");
        let kind = Question {
            key: "charger.kind",
            ask: "Kind (alternator, shore, generator, wind); empty: no more",
            help: "What else charges the bank: it must not be taken for sun.",
        };
        loop {
            self.draft.begin("charger");
            if !self.optional(&kind)? {
                self.draft.forget("charger");
                return Ok(());
            }
            self.all(questions::CHARGER)?;
        }
    }

    /// The question that opens an entry: whether there is one.
    fn optional(&mut self, question: &Question<'_>) -> Result<bool, Ended> {
        let prompt = format!("{}: ", question.ask);
        loop {
            let typed = self.talk.ask(&prompt).ok_or(Ended)?;
            match typed.trim() {
                "?" => self
                    .talk
                    .say(&format!("  {}{}\n", question.help, example(question.key))),
                "" | "<" => return Ok(false),
                text => match self.take(question.key, text) {
                    Ok(()) => return Ok(true),
                    Err(why) => self.talk.refuse(question.ask, &why),
                },
            }
        }
    }
}

/// Where an earlier answer leaves nothing to ask: a flat array faces nowhere, and no cell count or
/// float is asked of a bank that has none.
fn is_pointless(draft: &Draft, key: &str) -> bool {
    match key {
        "array.facing" => draft
            .read()
            .is_ok_and(|d| d.arrays.iter().all(|a| a.tilt_deg == 0.0)),
        "controller.float" => draft
            .read()
            .is_ok_and(|d| d.controllers.iter().all(|c| c.float_v.is_none())),
        _ => false,
    }
}

/// What the reader says of a value, which follows its key there, on its own.
fn sentence(why: &str) -> String {
    match why.strip_prefix("is ") {
        Some(rest) => format!("That is {rest}"),
        None => upper_first(why),
    }
}

fn example(key: &str) -> String {
    keys::find(key).map_or(String::new(), |k| {
        format!(" For instance: {}", k.example.trim_matches('"'))
    })
}
