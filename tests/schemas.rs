//! The committed schemas against real reports and designs: what is right passes, what is wrong does not.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::{Map, Value, json};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn schema(name: &str) -> Value {
    let file = root().join("schema").join(name);
    serde_json::from_str(&fs::read_to_string(file).unwrap()).unwrap()
}

fn printed(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_ampledger"))
        .args(arguments)
        .current_dir(root())
        .output()
        .unwrap();
    assert!(output.status.success(), "{arguments:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// What a value breaks of a schema. It knows the words that our schemas use, and refuses others.
fn broken(root: &Value, schema: &Value, value: &Value, at: &str) -> Vec<String> {
    let Some(rules) = schema.as_object() else {
        return Vec::new();
    };
    rules
        .iter()
        .flat_map(|(word, rule)| one_rule(root, rules, (word, rule), value, at))
        .collect()
}

fn one_rule(
    root: &Value,
    rules: &Map<String, Value>,
    (word, rule): (&String, &Value),
    value: &Value,
    at: &str,
) -> Vec<String> {
    let fails = |bad: bool| match bad {
        true => vec![format!("{at}: {value} breaks {word} {rule}")],
        false => Vec::new(),
    };
    match word.as_str() {
        "$schema" | "$defs" | "title" | "description" | "examples" | "format" | "default" => {
            Vec::new()
        }
        "$ref" => {
            let path = rule.as_str().unwrap().trim_start_matches('#');
            broken(root, root.pointer(path).unwrap(), value, at)
        }
        "type" => {
            let kinds: Vec<&str> = match rule {
                Value::Array(list) => list.iter().filter_map(Value::as_str).collect(),
                one => one.as_str().into_iter().collect(),
            };
            fails(!kinds.iter().any(|kind| is_of(value, kind)))
        }
        "const" => fails(value != rule),
        "enum" => fails(!rule.as_array().unwrap().contains(value)),
        "minimum" => fails(value.as_f64().is_some_and(|v| v < rule.as_f64().unwrap())),
        "maximum" => fails(value.as_f64().is_some_and(|v| v > rule.as_f64().unwrap())),
        "minLength" => fails(value.as_str().is_some_and(|v| v.is_empty())),
        "minItems" => fails(
            value
                .as_array()
                .is_some_and(|v| (v.len() as u64) < rule.as_u64().unwrap()),
        ),
        "maxItems" => fails(
            value
                .as_array()
                .is_some_and(|v| v.len() as u64 > rule.as_u64().unwrap()),
        ),
        "anyOf" | "oneOf" => {
            let ways = rule.as_array().unwrap();
            fails(
                !ways
                    .iter()
                    .any(|way| broken(root, way, value, at).is_empty()),
            )
        }
        "required" => {
            let missing = |word: &&Value| {
                value
                    .as_object()
                    .is_some_and(|v| !v.contains_key(word.as_str().unwrap()))
            };
            let all: Vec<&Value> = rule.as_array().unwrap().iter().filter(missing).collect();
            all.iter()
                .map(|word| format!("{at}: {word} is missing"))
                .collect()
        }
        "properties" => value
            .as_object()
            .into_iter()
            .flatten()
            .filter_map(|(key, inner)| {
                Some(broken(root, rule.get(key)?, inner, &format!("{at}.{key}")))
            })
            .flatten()
            .collect(),
        "additionalProperties" => {
            let known = rules.get("properties").and_then(Value::as_object);
            let others = value.as_object().into_iter().flatten();
            others
                .filter(|(key, _)| known.is_none_or(|k| !k.contains_key(*key)))
                .flat_map(|(key, inner)| match rule {
                    Value::Bool(false) => vec![format!("{at}.{key} is not known")],
                    rule => broken(root, rule, inner, &format!("{at}.{key}")),
                })
                .collect()
        }
        "prefixItems" => {
            let pairs = value
                .as_array()
                .into_iter()
                .flatten()
                .zip(rule.as_array().unwrap());
            pairs
                .enumerate()
                .flat_map(|(i, (inner, rule))| broken(root, rule, inner, &format!("{at}[{i}]")))
                .collect()
        }
        "items" => value
            .as_array()
            .into_iter()
            .flatten()
            .enumerate()
            .flat_map(|(i, inner)| broken(root, rule, inner, &format!("{at}[{i}]")))
            .collect(),
        other => panic!("this test does not know the rule {other}"),
    }
}

fn is_of(value: &Value, kind: &str) -> bool {
    match kind {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "string" => value.is_string(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        "number" => value.is_number(),
        "integer" => value.as_f64().is_some_and(|v| v.fract() == 0.0),
        other => panic!("this test does not know the type {other}"),
    }
}

fn all_broken(schema: &Value, value: &Value) -> Vec<String> {
    broken(schema, schema, value, "")
}

/// A design as JSON, dates as texts.
fn design(text: &str) -> Value {
    fn json_of(value: toml::Value) -> Value {
        match value {
            toml::Value::Datetime(date) => json!(date.to_string()),
            toml::Value::Array(list) => list.into_iter().map(json_of).collect(),
            toml::Value::Table(table) => table.into_iter().map(|(k, v)| (k, json_of(v))).collect(),
            other => json!(other),
        }
    }
    json_of(toml::Value::Table(text.parse().unwrap()))
}

fn none(broken: Vec<String>, what: &str) {
    assert!(broken.is_empty(), "{what}: {broken:#?}");
}

#[test]
fn the_sample_report_keeps_its_schema() {
    let schema = schema("report.json");
    let text = fs::read_to_string(root().join("reports/sample-data/report.json")).unwrap();
    let report: Value = serde_json::from_str(&text).unwrap();
    none(all_broken(&schema, &report), "report.json");
    for (pointer, wrong) in [
        ("/verdict/severity", json!("grave")),
        ("/days/0/harvest_wh", json!("900 Wh")),
        ("/schema", json!("another")),
        ("/findings", Value::Null),
    ] {
        let mut changed = report.clone();
        *changed.pointer_mut(pointer).unwrap() = wrong;
        assert_eq!(all_broken(&schema, &changed).len(), 1, "{pointer}");
    }
    let mut changed = report.clone();
    changed.as_object_mut().unwrap().remove("account");
    assert_eq!(all_broken(&schema, &changed).len(), 1, "account is missing");
}

#[test]
fn a_plan_keeps_its_schema() {
    let plan = printed(&["plan", "--design", "sample-data/design.toml", "--json"]);
    let plan: Value = serde_json::from_str(&plan).unwrap();
    none(all_broken(&schema("plan.json"), &plan), "plan");
}

#[test]
fn good_designs_keep_their_schema() {
    let schema = schema("design.json");
    let mut seen = 0;
    let good = fs::read_dir(root().join("tests/designs/good")).unwrap();
    let sample = root().join("sample-data/design.toml");
    for file in good.map(|e| e.unwrap().path()).chain([sample]) {
        if file.extension().is_some_and(|e| e == "toml") {
            let text = fs::read_to_string(&file).unwrap();
            none(
                all_broken(&schema, &design(&text)),
                &file.display().to_string(),
            );
            seen += 1;
        }
    }
    assert!(seen >= 6, "only {seen} designs");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("new.toml");
    printed(&["new", file.to_str().unwrap()]);
    none(
        all_broken(&schema, &design(&fs::read_to_string(file).unwrap())),
        "new",
    );
}

#[test]
fn slips_in_a_design_break_its_schema() {
    let schema = schema("design.json");
    let good = fs::read_to_string(root().join("tests/designs/good/least.toml")).unwrap();
    assert!(all_broken(&schema, &design(&good)).is_empty());
    for slip in [
        "[load]\npower = 45",
        "[load]\ncolour = \"red\"",
        "[battary]\ncapacity = \"1 Ah\"",
        "[[cable]]\nlength = \"2 m\"",
        "[[cable]]\nrun = \"roof\"",
        "[[log]]\nheader = true",
        "[log.columns]\nvolts = \"U\"",
        "[plan]\nsun_hours = [1, 2, 3]",
        "[inverter]\nhours = 25",
    ] {
        let found = all_broken(&schema, &design(&format!("{good}\n{slip}\n")));
        assert_eq!(found.len(), 1, "{slip}: {found:#?}");
    }
}

#[test]
fn every_key_the_reader_asks_for_is_required() {
    let schema = schema("design.json");
    let good = fs::read_to_string(root().join("tests/designs/good/every-key.toml")).unwrap();
    let mut whole: toml::Table = good.parse().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("design.toml");
    let mut asked = 0;
    for (section, word) in leaves(&toml::Value::Table(whole.clone())) {
        if section[0] == "controller" && word == "name" {
            continue; // asked for only where there are several controllers
        }
        let taken = take(&mut whole, &section, &word);
        fs::write(&file, whole.to_string()).unwrap();
        let output = Command::new(env!("CARGO_BIN_EXE_ampledger"))
            .args(["plan", "--design", file.to_str().unwrap()])
            .output()
            .unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        let missing = said.contains(&format!("{word} is missing; add"));
        let required = !all_broken(&schema, &design(&whole.to_string())).is_empty();
        assert_eq!(missing, required, "{section:?} {word}: {said}");
        asked += usize::from(missing);
        put(&mut whole, &section, &word, taken);
    }
    assert!(asked >= 7, "{asked}");
}

/// Path to each key: names of tables, numbers of list entries.
fn leaves(value: &toml::Value) -> Vec<(Vec<String>, String)> {
    fn walk(value: &toml::Value, path: &[String], found: &mut Vec<(Vec<String>, String)>) {
        match value {
            toml::Value::Table(table) => {
                for (word, inner) in table {
                    let deeper = [path, std::slice::from_ref(word)].concat();
                    if inner.is_table()
                        || inner
                            .as_array()
                            .is_some_and(|a| a.iter().any(toml::Value::is_table))
                    {
                        walk(inner, &deeper, found);
                    } else {
                        found.push((path.to_vec(), word.clone()));
                    }
                }
            }
            toml::Value::Array(list) => {
                for (i, inner) in list.iter().enumerate() {
                    walk(inner, &[path, &[i.to_string()]].concat(), found);
                }
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    walk(value, &[], &mut found);
    found
}

fn table_at<'t>(whole: &'t mut toml::Table, path: &[String]) -> &'t mut toml::Table {
    let Some((first, rest)) = path.split_first() else {
        return whole;
    };
    let mut at = whole.get_mut(first).unwrap();
    for word in rest {
        at = match at {
            toml::Value::Array(list) => &mut list[word.parse::<usize>().unwrap()],
            other => other.get_mut(word).unwrap(),
        };
    }
    at.as_table_mut().unwrap()
}

fn take(whole: &mut toml::Table, path: &[String], word: &str) -> toml::Value {
    table_at(whole, path).remove(word).unwrap()
}

fn put(whole: &mut toml::Table, path: &[String], word: &str, value: toml::Value) {
    table_at(whole, path).insert(word.to_owned(), value);
}
