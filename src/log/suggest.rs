//! What was found out about a device's files, as a `[[log]]` entry would say it.

use super::clock::Form;
use super::layout::Layout;
use super::survey::Survey;
use super::uses::Use;
use super::words;
use crate::mapping::{ColumnMap, ColumnRef, HeaderRef, LogEntry, Role, Suggestion};

/// The entry for the files of one device.
pub(crate) fn entry(files: &[&Survey]) -> Suggestion {
    let Some(first) = files.first() else {
        return Suggestion::default();
    };
    let open = open(first);
    let stated = first.entry.clone().unwrap_or_default();
    let mut found = LogEntry {
        name: Some(stem(&first.source.name)),
        header: first
            .layout
            .header_line
            .is_none()
            .then_some(HeaderRef::None),
        encoding: common(files, |s| Some(s.encoding.clone()).filter(|e| e != "utf-8")),
        timezone: common(files, |s| s.stamp_zone.clone()),
        charging: first.roles.charging.map(ToOwned::to_owned),
        time_format: common(files, |s| time_format(&s.plan.form)),
        ..LogEntry::default()
    };
    if !stated.columns.contains_key(&Role::Time) {
        let time = columns(&first.plan.columns, &first.layout);
        found.columns.insert(Role::Time, time);
    }
    // What is asked about is left to the owner: written down, the likelier answer would pass for his.
    let asked: Vec<Role> = open
        .iter()
        .filter_map(|(_, line)| Role::from_name(line.split(" =").next()?))
        .collect();
    let found_out = |u: &&Use| u.how != "design" && !asked.contains(&u.role);
    for usage in first.roles.uses.iter().filter(found_out) {
        if let Some(map) = column(usage, &first.layout) {
            found.columns.insert(usage.role, map);
        }
    }
    Suggestion {
        completes: first.source.entry,
        names: files.iter().map(|f| f.source.name.clone()).collect(),
        paths: files.iter().map(|f| f.source.path.clone()).collect(),
        entry: found,
        open,
    }
}

/// What all files have in common; what they differ in is found in each by itself.
fn common<T: PartialEq>(files: &[&Survey], part: impl Fn(&Survey) -> Option<T>) -> Option<T> {
    let first = files.first().and_then(|f| part(f));
    let same = files.iter().all(|f| part(f) == first);
    first.filter(|_| same)
}

fn stem(name: &str) -> String {
    let file = name.rsplit(['/', '\\']).next().unwrap_or(name);
    file.split('.').next().unwrap_or(file).to_owned()
}

/// The form of the stamps, where the name it has in a design leads back to it.
fn time_format(form: &Form) -> Option<String> {
    match form {
        Form::Calendar(_)
        | Form::Epoch(_)
        | Form::ElapsedHms
        | Form::Pattern(_)
        | Form::Yearless(..) => Some(form.name()),
        Form::Elapsed(factor) if *factor == 1.0 => Some(form.name()),
        Form::Elapsed(_) | Form::TimeOfDay | Form::Serial => None,
    }
}

fn columns(positions: &[usize], layout: &Layout) -> ColumnMap {
    ColumnMap {
        columns: positions.iter().map(|k| reference(*k, layout)).collect(),
        ..ColumnMap::default()
    }
}

/// A column by its title, where it has one that no other column has.
fn reference(position: usize, layout: &Layout) -> ColumnRef {
    let title = layout.titles.get(position).map_or("", String::as_str);
    let alike = layout
        .titles
        .iter()
        .filter(|t| words::fold(t) == words::fold(title))
        .count();
    if layout.header_line.is_none() || title.is_empty() || alike != 1 {
        return ColumnRef::Number(position + 1);
    }
    ColumnRef::Name(title.to_owned())
}

/// A role's column; `None` where it is made of several cells of different weight, which a design
/// cannot say.
fn column(usage: &Use, layout: &Layout) -> Option<ColumnMap> {
    let [(position, factor)] = usage.parts[..] else {
        return None;
    };
    let mut map = columns(&[position], layout);
    let known = words::unit(&usage.unit);
    if !usage.cell_units {
        let plain = known.is_none_or(|u| u.factor == 1.0 && u.offset == 0.0);
        map.unit = known.filter(|_| !plain).map(|u| u.name.to_owned());
    }
    if known.is_none() && factor.abs() != 1.0 {
        map.scale = Some(factor.abs());
    }
    Some(map)
}

/// Questions with the lines that belong into the entry itself.
fn open(survey: &Survey) -> Vec<(String, String)> {
    let frame = ["[[log]]", "[log.columns]", "files = ", "header = "];
    survey
        .questions
        .iter()
        .chain(&survey.roles.questions)
        .map(|question| {
            let own = question
                .settle
                .lines()
                .filter(|l| !frame.iter().any(|f| l.starts_with(f)));
            (question.text.clone(), own.collect::<Vec<_>>().join("\n"))
        })
        .collect()
}
