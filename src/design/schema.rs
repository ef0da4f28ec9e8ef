//! The JSON Schema of a design file, made from the one list of keys: editors complete keys and mark
//! slips with it.

use serde_json::{Map, Value, json};
use toml::de::DeValue;

use super::changes::plain;
use super::judging::SETTINGS;
use super::keys::{self, Key, Kind};
use crate::mapping::Role;
use crate::quantity::Dimension;

/// The schema (draft 2020-12). Dates are texts there: JSON has none.
pub fn schema() -> Value {
    let mut schema = section("");
    let head = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "ampledger design file",
        "description": "A small off-grid solar system as its owner built it. Quantities are texts with a unit.",
    });
    for (word, value) in head.as_object().into_iter().flatten() {
        schema[word] = value.clone();
    }
    schema
}

/// A section with its keys; what is not listed is a mistake.
fn section(path: &str) -> Value {
    let mut properties = Map::new();
    for word in keys::members(path) {
        let inner = match path {
            "" => word.to_owned(),
            _ => format!("{path}.{word}"),
        };
        if let Some(key) = keys::find(&inner) {
            properties.insert(word.to_owned(), value_of(key));
        }
    }
    let mut schema = json!({
        "type": "object",
        "properties": properties,
        "additionalProperties": false,
    });
    let required = required_in(path);
    if !required.is_empty() {
        schema["required"] = json!(required);
    }
    schema
}

/// Words of a section that must be there, or that lead to one that must.
fn required_in(path: &str) -> Vec<&'static str> {
    let needed = keys::REQUIRED.iter().chain(&keys::REQUIRED_IN_ENTRIES);
    let mut words: Vec<&str> = Vec::new();
    for key in needed {
        let rest = match path {
            "" if keys::REQUIRED.contains(key) => Some(*key),
            "" => None,
            _ => key
                .strip_prefix(path)
                .and_then(|rest| rest.strip_prefix('.')),
        };
        // An entry that may be left out asks for nothing of the section it stands in.
        let direct = |word: &str| !word.contains('.') || keys::REQUIRED.contains(key);
        if let Some(word) = rest.filter(|r| direct(r)).and_then(|r| r.split('.').next())
            && !words.contains(&word)
        {
            words.push(word);
        }
    }
    words
}

fn value_of(key: &Key) -> Value {
    let mut schema = match key.kind {
        Kind::Quantity(dimension, ..) => text_of(dimension),
        Kind::QuantityByMonth(dimension, ..) => by_month(text_of(dimension)),
        Kind::Number(low, high) => json!({ "type": "number", "minimum": low, "maximum": high }),
        Kind::NumberByMonth(low, high) => {
            by_month(json!({ "type": "number", "minimum": low, "maximum": high }))
        }
        Kind::Count(low, high) => json!({ "type": "integer", "minimum": low, "maximum": high }),
        Kind::Text => json!({ "type": "string", "minLength": 1 }),
        Kind::Word(words) => json!({ "enum": words }),
        Kind::Wire => json!({
            "type": "string",
            "description": "A conductor's size: mm2 or AWG.",
        }),
        Kind::Zone => json!({ "type": "string", "description": "An IANA zone." }),
        Kind::ZoneOrLocal => {
            json!({ "type": "string", "description": "An IANA zone, or local." })
        }
        Kind::Date => json!({ "type": "string", "description": "A date." }),
        Kind::Moment => {
            json!({ "type": "string", "description": "A date, or a date with a time." })
        }
        Kind::Texts => json!({
            "anyOf": [{ "type": "string" }, { "type": "array", "items": { "type": "string" } }],
        }),
        Kind::Header => json!({
            "anyOf": [{ "type": "integer", "minimum": 1 }, { "const": false }],
        }),
        Kind::Section => section(key.path),
        Kind::Sections => sections(key.path),
        Kind::Open => open(key.path),
    };
    let said = SETTINGS.iter().find(|s| s.key.path == key.path);
    if let Some(setting) = said {
        schema["description"] = json!(setting.meaning.trim());
    }
    let example = DeValue::parse(key.example).ok();
    if let Some(example) = example.and_then(|value| plain(value.get_ref())) {
        schema["examples"] = json!([json_of(&example)]);
    }
    schema
}

fn text_of(dimension: Dimension) -> Value {
    let noun = dimension.noun();
    let noun = noun.split_once(' ').map_or(noun, |(_, bare)| bare);
    json!({
        "type": "string",
        "description": format!("{} with its unit.", crate::words::upper_first(noun)),
    })
}

fn by_month(one: Value) -> Value {
    json!({
        "anyOf": [one, { "type": "array", "items": one, "minItems": 12, "maxItems": 12 }],
    })
}

/// A section that may stand once or be repeated.
fn sections(path: &str) -> Value {
    let one = section(path);
    json!({ "anyOf": [one, { "type": "array", "items": one }] })
}

/// Sections whose keys are the owner's own, or paths.
fn open(path: &str) -> Value {
    if path != "log.columns" {
        return json!({ "type": "object" });
    }
    let roles: Map<String, Value> = Role::ALL
        .iter()
        .map(|role| (role.name().to_owned(), json!({})))
        .collect();
    json!({ "type": "object", "properties": roles, "additionalProperties": false })
}

/// A TOML value as JSON; dates become texts.
fn json_of(value: &toml::Value) -> Value {
    match value {
        toml::Value::Datetime(date) => json!(date.to_string()),
        other => json!(other),
    }
}
