//! The design file of a case, as a careful owner would have written it.

use std::fmt::Write;

use super::scenario::{CableSpec, LoadSpec, Scenario};

/// A figure without trailing zeros.
fn n(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The whole `design.toml`.
pub(super) fn design(s: &Scenario) -> String {
    let mut out = String::new();
    for part in [
        head(s),
        place(s),
        array(s),
        controller(s),
        battery(s),
        cables(s),
        loads(s),
        plan(s),
        logs(s),
    ] {
        out.push_str(&part);
        out.push('\n');
    }
    out.truncate(out.trim_end().len());
    out.push('\n');
    out
}

fn head(s: &Scenario) -> String {
    format!(
        "# {}\n# A simulated trip; what was true of it is in truth.json.\n\n[system]\nname = \"{}\"\nnominal = \"{} V\"\n",
        s.story,
        s.system,
        n(s.nominal_v)
    )
}

fn place(s: &Scenario) -> String {
    let base = &s.stops[0];
    let mut out = format!(
        "[place]\nlatitude = {}\nlongitude = {}                # east positive\naltitude = \"{} m\"\ntimezone = \"{}\"\n",
        decimal(base.latitude),
        decimal(base.longitude),
        n(base.altitude_m),
        base.zone.name()
    );
    for leg in &s.stops[1..] {
        let _ = write!(
            out,
            "\n[[place.leg]]\nfrom = {}\nlatitude = {}\nlongitude = {}\naltitude = \"{} m\"\ntimezone = \"{}\"\nnote = \"{}\"\n",
            s.date(leg.from_day),
            decimal(leg.latitude),
            decimal(leg.longitude),
            n(leg.altitude_m),
            leg.zone.name(),
            leg.note
        );
    }
    out
}

/// A TOML float: always with a point.
fn decimal(value: f64) -> String {
    let text = n(value);
    if text.contains('.') {
        text
    } else {
        format!("{text}.0")
    }
}

fn array(s: &Scenario) -> String {
    let (a, p) = (&s.array, &s.array.panel);
    format!(
        "[array]\npanels_in_series = {}\nstrings_in_parallel = {}\ntilt = \"{} deg\"\nfacing = \"{} deg\"\nmounting = \"{}\"\n\
         allowance = \"{} %\"               # what a healthy array of this kind gives of its label\n\n\
         [array.panel]                    # from the label on the back\npower = \"{} W\"\nvmp = \"{} V\"\nimp = \"{} A\"\nvoc = \"{} V\"\nisc = \"{} A\"\n\
         power_per_degree = \"{} %\"\nvoc_per_degree = \"{} %\"\nnoct = \"{} C\"                    # as mounted\nmax_series_fuse = \"{} A\"\n",
        a.series,
        a.strings,
        n(a.tilt_deg),
        n(a.facing_deg),
        a.mounting,
        n(100.0 * a.allowance),
        n(p.power_w),
        n(p.vmp_v),
        n(p.imp_a),
        n(p.voc_v),
        n(p.isc_a),
        n(100.0 * p.power_per_degree),
        n(100.0 * p.voc_per_degree),
        n(a.noct_c),
        n(p.fuse_a)
    )
}

fn controller(s: &Scenario) -> String {
    let c = &s.controller;
    let method = if c.pwm { "pwm" } else { "mppt" };
    let mut out = format!(
        "[controller]\nmethod = \"{method}\"\nmax_input = \"{} V\"\nmax_output = \"{} A\"\nefficiency = \"{} %\"\n\
         absorption = \"{} V\"\nabsorption_time = \"{} min\"\nfloat = \"{} V\"\ncompensation = \"{} mV\"           # per C and 12 V\n",
        n(c.max_input_v),
        n(c.max_output_a),
        n(100.0 * c.efficiency),
        n(c.absorption_v),
        n(60.0 * c.absorption_h),
        n(c.float_v),
        n(c.compensation_mv)
    );
    if let Some(amps) = c.max_input_a {
        let _ = writeln!(out, "max_input_current = \"{} A\"", n(amps));
    }
    if let Some(equalise) = c.equalise {
        let _ = writeln!(out, "equalise = \"{} V\"", n(equalise.volts));
    }
    out
}

fn battery(s: &Scenario) -> String {
    let b = &s.bank;
    let (cold, hot) = b.charge_limits_c();
    format!(
        "[battery]\nchemistry = \"{}\"\ncapacity = \"{} Ah\"\ncells_in_series = {}\nreserve = \"{} %\"\n\
         full_current = \"{} %\"             # of capacity: full when held at absorption below this\n\
         max_days_between_full = {}\nmax_charge_current = \"{} A\"\ncharge_from = \"{} C\"\ncharge_to = \"{} C\"\nload_cut_off = \"{} V\"\n",
        b.chemistry.name(),
        n(b.rated_ah),
        b.cells,
        n(b.reserve_pct),
        n(100.0 * b.full_current),
        n(b.max_days_between_full),
        n(b.max_charge_a),
        n(cold),
        n(hot),
        n(b.cut_off_v)
    )
}

fn cables(s: &Scenario) -> String {
    s.cables.iter().map(cable).collect::<Vec<_>>().join("\n")
}

fn cable(c: &CableSpec) -> String {
    let mut out = format!(
        "[[cable]]\nrun = \"{}\"\nlength = \"{} m\"                 # one way\nsize = \"{} mm2\"\n",
        c.run,
        n(c.length_m),
        n(c.size_mm2)
    );
    if let Some(fuse) = c.fuse_a {
        let _ = writeln!(out, "fuse = \"{} A\"", n(fuse));
    }
    let _ = writeln!(out, "joints = \"{} mohm\"", n(c.joints_mohm));
    if let Some(ampacity) = c.ampacity_a {
        let _ = writeln!(out, "ampacity = \"{} A\"", n(ampacity));
    }
    out
}

fn loads(s: &Scenario) -> String {
    let mut out = String::new();
    if let Some(i) = s.inverter {
        let _ = write!(
            out,
            "[inverter]\nefficiency = \"{} %\"\nidle = \"{} W\"\nhours = {}\n\n",
            n(100.0 * i.efficiency),
            n(i.idle_w),
            n(i.hours)
        );
    }
    out.push_str(&s.loads.iter().map(load).collect::<Vec<_>>().join("\n"));
    if let Some(engine) = s.engine.first() {
        let _ = write!(
            out,
            "\n[[charger]]\nname = \"engine\"\nkind = \"alternator\"\ncurrent = \"{} A\"\n",
            n(engine.current_a)
        );
    }
    for (day, note) in &s.events {
        let _ = write!(
            out,
            "\n[[event]]\non = {}\nnote = \"{note}\"\n",
            s.date(*day)
        );
    }
    out
}

fn load(l: &LoadSpec) -> String {
    let through = if l.inverter { "inverter" } else { "dc" };
    format!(
        "[[load]]\nname = \"{}\"\npower = \"{} W\"\nquantity = 1\nhours = {}\nwhen = \"{}\"\nthrough = \"{through}\"\n",
        l.name,
        n(l.power_w),
        n(l.hours),
        l.when
    )
}

fn plan(s: &Scenario) -> String {
    let (name, cost) = s.upgrade;
    let strings = s.array.strings + 1;
    format!(
        "[plan]\nsun_hours = {}                  # peak sun hours a day in the array's plane\nrecord_low = \"{} C\"\nair_temperature = \"{} C\"\n\n\
         [[option]]\nname = \"{name}\"\ncost = {}\nset = {{ \"array.strings_in_parallel\" = {strings} }}\n",
        decimal(s.sun_hours),
        n(s.record_low_c),
        n(s.plan_air_c),
        n(cost)
    )
}

fn logs(s: &Scenario) -> String {
    let zone = if s.logging.utc {
        "timezone = \"UTC\"\n"
    } else {
        ""
    };
    let mut logs = Vec::new();
    if s.logging.bank {
        logs.push(format!(
            "[[log]]\nname = \"bank monitor\"\nfiles = \"bank-week-*.csv\"\n{zone}"
        ));
    }
    if s.logging.controller {
        logs.push(format!(
            "[[log]]\nname = \"charge controller\"\nfiles = \"controller-week-*.csv\"\n{zone}"
        ));
    }
    logs.join("\n")
}
