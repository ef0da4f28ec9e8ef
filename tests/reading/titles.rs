//! Titles and stage words of ten languages, from `tests/titles`.

use super::*;

/// Rows of a controller's day: the values by role, and the place of the stage's word.
fn day() -> Vec<(BTreeMap<&'static str, f64>, usize)> {
    let mut rows = Vec::new();
    for k in 0..96 {
        let hour = f64::from(k) / 4.0;
        let sun = ((hour - 6.0) / 12.0 * std::f64::consts::PI).sin().max(0.0);
        let amps = 6.0 * sun * (0.8 + 0.2 * (f64::from(k) * 1.7).sin());
        let load = if k / 4 % 3 == 0 { 2.3 } else { 1.5 };
        let values = BTreeMap::from([
            ("array_voltage", 0.2 + 19.0 * f64::from(u8::from(sun > 0.0))),
            ("array_current", amps),
            ("battery_voltage", 12.9 + 0.05 * (1.4 * amps - load)),
            ("charge_current", 1.4 * amps),
            ("load_current", load),
            ("soc", 60.0 + 20.0 * ((hour - 7.0) / 8.0).clamp(0.0, 1.0)),
            ("battery_temperature", 20.0 + 3.0 * sun),
            ("air_temperature", 15.0 + 6.0 * sun),
        ]);
        let stage = match hour {
            h if sun == 0.0 || h < 6.0 => 0,
            h if h < 13.0 => 1,
            h if h < 15.0 => 2,
            _ => 3,
        };
        rows.push((values, stage));
    }
    rows
}

/// Writes a title as loggers do: bare, with its unit, shouted, without accents.
fn styled(title: &str, unit: &str, style: usize) -> String {
    let plain: String = title
        .chars()
        .map(|c| match c {
            'ä' | 'á' | 'à' | 'ã' | 'â' | 'å' => 'a',
            'é' | 'è' | 'ê' => 'e',
            'í' => 'i',
            'ö' | 'ó' | 'õ' | 'ø' => 'o',
            'ú' | 'ü' => 'u',
            'ç' => 'c',
            other => other,
        })
        .collect();
    match (style, unit) {
        (0, _) | (_, "") => title.to_owned(),
        (1, unit) => format!("{title} ({unit})"),
        (2, unit) => format!("{} [{unit}]", title.to_uppercase()),
        (3, unit) => format!("{}_{unit}", plain.to_lowercase().replace(' ', "_")),
        (_, unit) => format!("\"{title}, {unit}\""),
    }
}

const STYLES: usize = 5;

fn unit_of(role: &str) -> &'static str {
    match role {
        "time" | "stage" => "",
        "soc" => "%",
        r if r.ends_with("voltage") => "V",
        r if r.ends_with("current") => "A",
        _ => "C",
    }
}

#[test]
fn titles_and_stages_of_ten_languages_are_understood() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/titles");
    let mut languages: Vec<PathBuf> = fs::read_dir(&root)
        .unwrap()
        .map(|f| f.unwrap().path())
        .collect();
    languages.sort();
    assert!(languages.len() >= 10);
    let rows = day();
    for path in languages {
        let text = fs::read_to_string(&path).unwrap();
        let mut wordings = text.split("\n\n").filter(|w| !w.trim().is_empty());
        assert!(wordings.clone().count() >= 2, "{}", path.display());
        assert!(wordings.all(|wording| (0..STYLES).all(|style| understood(wording, style, &rows))));
    }
}

/// Whether a log with these titles is understood; one `role = title` a line, stage words behind it.
fn understood(wording: &str, style: usize, rows: &[(BTreeMap<&str, f64>, usize)]) -> bool {
    let columns: Vec<(&str, &str)> = wording
        .lines()
        .filter_map(|l| l.split_once(" = "))
        .collect();
    let words: Vec<&str> = columns
        .iter()
        .find(|c| c.0 == "stages")
        .map(|c| c.1.split(", ").collect())
        .unwrap();
    let columns: Vec<(&str, &str)> = columns.into_iter().filter(|c| c.0 != "stages").collect();
    let titles: Vec<String> = columns
        .iter()
        .map(|c| styled(c.1, unit_of(c.0), style))
        .collect();
    let mut text = titles.join(",");
    for (k, (values, stage)) in rows.iter().enumerate() {
        let cells: Vec<String> = columns
            .iter()
            .map(|(role, _)| match *role {
                "time" => format!("2026-05-14 {:02}:{:02}:00", k / 4, k % 4 * 15),
                "stage" => words[*stage].to_owned(),
                role => format!("{:.2}", values[role]),
            })
            .collect();
        let _ = write!(text, "\n{}", cells.join(","));
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("titles.csv");
    fs::write(&path, &text).unwrap();
    let reading = read_with(&[path], folder.path(), &[]).unwrap();
    for ((role, title), column) in columns.iter().zip(&reading.inspection.files[0].columns) {
        assert_eq!(
            column.role.as_deref(),
            Some(*role),
            "'{title}' in style {style}"
        );
    }
    let stages = reading.timeline.series(Role::Stage).unwrap();
    let codes = [stage::OFF, stage::BULK, stage::ABSORPTION, stage::FLOAT];
    for (hour, code) in [2, 10, 14, 16].into_iter().zip(codes) {
        assert_eq!(stages.mean(hour * 60), Some(code), "{words:?} at {hour} h");
    }
    true
}
