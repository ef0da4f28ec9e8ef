//! `plan`: the design on its own.

use super::*;

fn planned(design: &str) -> (String, Value) {
    let at = workshop(design, "");
    let text = run(at.path(), &["plan", "--design", "design.toml"]);
    assert_eq!((text.status, text.err.as_str()), (0, ""));
    is_plain(&text.out);
    let json = run(at.path(), &["plan", "--design", "design.toml", "--json"]);
    assert_eq!(json.status, 0);
    (text.out, serde_json::from_str(&json.out).unwrap())
}

/// The checks of a kind whose place holds a word.
fn checks<'v>(plan: &'v Value, kind: &str, word: &str) -> Vec<&'v Value> {
    let all = plan["checks"].as_array().unwrap();
    all.iter()
        .filter(|c| c["kind"] == kind && c["where"].as_str().unwrap().contains(word))
        .collect()
}

fn asks(plan: &Value, word: &str) -> bool {
    let all = plan["asked"].as_array().unwrap();
    all.iter()
        .any(|a| a["needs"].as_str().unwrap().contains(word))
}

const WHOLE: &str = r#"
[system]
nominal = "24 V"
[place]
latitude = -33.9
longitude = 18.4
[array]
panels_in_series = 3
strings_in_parallel = 2
[array.panel]
power = "100 W"
vmp = "18 V"
voc = "22 V"
isc = "6 A"
voc_per_degree = "-0.30 %"
[controller]
method = "mppt"
max_input = "100 V"
max_output = "20 A"
[battery]
chemistry = "agm"
capacity = "100 Ah"
reserve = "50 %"
[[cable]]
run = "array-controller"
length = "10 m"
size = "6 mm2"
ampacity = "50 A"
[[cable]]
run = "controller-battery"
length = "2 m"
size = "10 mm2"
fuse = "30 A"
ampacity = "60 A"
[[cable]]
run = "battery-loads"
length = "2 m"
size = "6 mm2"
fuse = "20 A"
ampacity = "40 A"
[[load]]
name = "fridge"
power = "50 W"
hours = 12
[[load]]
name = "light"
power = "10 W"
quantity = 2
hours = 5
when = "night"
[plan]
record_low = "-5 C"
sun_hours = [7, 6.5, 5.5, 4.5, 3.5, 3, 3.2, 4, 5, 6, 7, 7.2]
"#;

#[test]
fn every_figure_follows_from_the_design() {
    let (text, plan) = planned(WHOLE);
    // 50 W x 12 h in halves; 10 W x 2 x 5 h at night.
    assert_eq!(plan["load_day_wh"], 300.0);
    assert_eq!(plan["load_night_wh"], 400.0);
    // 100 Ah x 24 V x 0.5 over 700 Wh a day.
    let hours = plan["autonomy_h"].as_f64().unwrap();
    assert!((hours - 1200.0 / (700.0 / 24.0)).abs() < 1e-3, "{hours}");
    let cold = checks(&plan, "cold-voltage-over-limit", "");
    assert_eq!(cold.len(), 1);
    let volts = cold[0]["value"].as_f64().unwrap();
    assert!(
        (volts - 66.0 * 1.09).abs() < 1e-3,
        "3 x 22 V x (1 + 0.3 % x 30)"
    );
    assert_eq!(cold[0]["limit"], 100.0);
    assert_eq!(cold[0]["ok"], true);
    // 600 W x 0.9 x 0.95 / 24 V = 21.4 A from a controller for 20 A: harvest lost, nothing breaks.
    let rating = checks(&plan, "controller-undersized", "out of");
    assert_eq!(rating[0]["ok"], false);
    assert_eq!(rating[0]["severity"], "watch");
    // The controller holds it to 20 A: 25 A with the margin, and a fuse for 30 A.
    let fuse = checks(&plan, "fuse-unsuitable", "controller to the bank");
    let values: Vec<f64> = fuse.iter().map(|c| c["value"].as_f64().unwrap()).collect();
    assert_eq!(values, [30.0, 25.0]);
    assert!(fuse.iter().all(|c| c["ok"] == true));
    for month in plan["months"].as_array().unwrap() {
        let of = |key: &str| month[key].as_f64().unwrap();
        assert!(of("low") < of("harvest_wh") && of("harvest_wh") < of("high"));
    }
    let harvest = |m: usize| plan["months"][m]["harvest_wh"].as_f64().unwrap();
    assert!(harvest(0) > 1.7 * harvest(5), "January is summer there");
    // Sun hours x label x what allowance, heat, cable and conversion leave.
    assert!((0.65..0.9).contains(&(harvest(0) / (600.0 * 7.0))));
    for check in plan["checks"].as_array().unwrap() {
        assert!(check["arithmetic"].as_str().unwrap().len() > 20, "{check}");
        let (value, limit) = (check["value"].as_f64(), check["limit"].as_f64());
        if let (Some(value), Some(limit), Some(ok)) = (value, limit, check["ok"].as_bool()) {
            assert_eq!(ok, value <= limit * (1.0 + 1e-9), "{check}");
        }
    }
    assert_eq!(plan["asked"].as_array().unwrap().len(), 0, "{plan:#}");
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for word in [
        "January",
        "fridge",
        "local code",
        "licensed",
        "never an approval",
    ] {
        assert!(flat.contains(word), "no {word} in {flat}");
    }
}

#[test]
fn what_safety_hangs_on_is_asked_for() {
    let (text, plan) = planned(DESIGN);
    for check in plan["checks"].as_array().unwrap() {
        assert_eq!(check["ok"], Value::Null, "nothing is called right: {check}");
    }
    for word in [
        "array.panel.voc",
        "array.panel.isc",
        "controller.max_input",
        "plan.record_low",
        "system.nominal",
        "controller.max_output",
        "controller-battery",
    ] {
        assert!(asks(&plan, word), "{word}: {plan:#}");
    }
    assert_eq!(plan["autonomy_h"], Value::Null);
    assert!(text.contains("PLEASE STATE"), "{text}");
}

#[test]
fn guesses_that_safety_hangs_on_are_not_called_right() {
    let without = WHOLE.replace("voc_per_degree = \"-0.30 %\"\n", "");
    let (_, plan) = planned(&without);
    let cold = checks(&plan, "cold-voltage-over-limit", "");
    let volts = cold[0]["value"].as_f64().unwrap();
    assert!(
        (volts - 66.0 * 1.12).abs() < 1e-3,
        "the codes' factor for -5 C"
    );
    assert!(asks(&plan, "voc_per_degree"));

    let (_, plan) = planned(&WHOLE.replace("panels_in_series = 3\n", ""));
    let cold = checks(&plan, "cold-voltage-over-limit", "");
    assert_eq!(cold[0]["ok"], Value::Null, "{}", cold[0]);
    assert!(asks(&plan, "array.panels_in_series"));

    let (_, plan) = planned(&WHOLE.replace("record_low = \"-5 C\"\n", ""));
    assert_eq!(
        checks(&plan, "cold-voltage-over-limit", "")[0]["ok"],
        Value::Null
    );
    assert!(asks(&plan, "plan.record_low"));

    let (_, plan) = planned(&WHOLE.replace("nominal = \"24 V\"\n", ""));
    assert_eq!(
        checks(&plan, "controller-undersized", "out of")[0]["ok"],
        Value::Null
    );
    assert!(asks(&plan, "system.nominal"));

    let (_, plan) = planned(&WHOLE.replace("fuse = \"30 A\"\n", ""));
    assert!(asks(&plan, "cable.fuse of the run from the controller"));
}

#[test]
fn dangers_stand_first() {
    let (text, plan) = planned(&WHOLE.replace("max_input = \"100 V\"", "max_input = \"70 V\""));
    assert_eq!(
        checks(&plan, "cold-voltage-over-limit", "")[0]["severity"],
        "stop"
    );
    let first = text.lines().nth(2).unwrap();
    assert!(
        first.starts_with("STOP: the array on a cold morning: 71.9 V"),
        "{text}"
    );

    let (_, plan) = planned(&WHOLE.replace("fuse = \"30 A\"", "fuse = \"70 A\""));
    let fuse = checks(&plan, "fuse-unsuitable", "controller to the bank");
    assert_eq!(fuse[0]["severity"], "stop", "{}", fuse[0]);
}

#[test]
fn a_plan_beyond_the_clear_sky_is_not_believed() {
    let hours = "sun_hours = [7, 6.5, 5.5, 4.5, 3.5, 3, 3.2, 4, 5, 6, 7, 7.2]";
    let (_, plan) = planned(&WHOLE.replace(hours, "sun_hours = 6").replace("-33.9", "58"));
    let from = |m: usize| plan["months"][m]["from"].as_str().unwrap().to_owned();
    assert_eq!(from(0), "clear-sky");
    assert_eq!(from(5), "plan");
    assert!(asks(&plan, "twelve monthly values"));
}

#[test]
fn plan_says_what_is_wrong_with_a_design() {
    let at = workshop(&DESIGN.replace("200 W", "200"), "");
    refused(
        &run(at.path(), &["plan", "--design", "design.toml"]),
        1,
        &["design.toml:6", "array.panel.power", "200 W"],
    );
    refused(&run(at.path(), &["plan"]), 2, &["--design"]);
}
