//! A sky of its own: clear beam and diffuse light with each day's haze, and clouds as a chance
//! process of minutes.
//!
//! The clear beam falls off with a power of the air mass (Meinel's form, `0.7^(AM^0.678)`, with
//! the 0.7 varied by haze); nothing here is shared with the model that judges logs.

use super::dice::Dice;

/// What kind of sky a day has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Regime {
    /// Hardly a cloud.
    Clear,
    /// A cloud now and then.
    Fair,
    /// Sun and clouds in turn.
    Broken,
    /// Grey all day.
    Overcast,
}

impl Regime {
    /// From a letter of a scenario's weather line: `c`, `f`, `b`, anything else overcast.
    pub(super) fn from_letter(letter: char) -> Self {
        match letter {
            'c' => Regime::Clear,
            'f' => Regime::Fair,
            'b' => Regime::Broken,
            _ => Regime::Overcast,
        }
    }

    /// Mean seconds of a sunny spell and of a cloud.
    fn spells_s(self) -> (f64, f64) {
        match self {
            Regime::Clear => (1.0e9, 60.0),
            Regime::Fair => (2_400.0, 240.0),
            Regime::Broken => (420.0, 540.0),
            Regime::Overcast => (60.0, 1.0e9),
        }
    }
}

/// Light on a level surface and from the sun's direction, W/m2.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Light {
    /// Beam, on a surface facing the sun.
    pub(super) beam: f64,
    /// From the rest of the sky, on a level surface.
    pub(super) diffuse: f64,
}

/// Clear-sky light at an apparent elevation. `haze` is the share of the beam that one vertical
/// air mass lets through (0.62 murky to 0.76 very clean); `day_of_year` sets the sun's distance.
pub(super) fn clear(elevation_deg: f64, haze: f64, altitude_m: f64, day_of_year: f64) -> Light {
    if elevation_deg <= 0.0 {
        return Light::default();
    }
    let sin_el = elevation_deg.to_radians().sin();
    let pressure = (-altitude_m / 8_435.0).exp();
    // Rozenberg's air mass: finite down to the horizon.
    let air_mass = pressure / (sin_el + 0.025 * (-11.0 * sin_el).exp());
    let outside =
        1361.0 * (1.0 + 0.0334 * ((day_of_year - 3.0) * std::f64::consts::TAU / 365.25).cos());
    let through = |haze: f64| haze.powf(air_mass.powf(0.678));
    let beam = outside * through(haze);
    // Of what murkier air takes from the beam it throws a part down as diffuse light (Liu and Jordan's slope).
    let more = 0.294 * (through(0.70) - through(haze)) * sin_el;
    let usual = 0.085 * sin_el.sqrt();
    let diffuse = outside * (usual + more).max(0.3 * usual) * (sin_el / 0.1).min(1.0);
    Light { beam, diffuse }
}

/// The clouds of one day, advanced step by step.
#[derive(Debug, Clone)]
pub(super) struct Clouds {
    regime: Regime,
    /// Whether the sun's disc is free.
    sunny: bool,
    /// Seconds since the last change.
    since_s: f64,
    /// Share of the beam let through now, smoothed.
    beam_share: f64,
    /// Slow wander of cloud thickness, mean 0, standard deviation 1.
    wander: f64,
    /// How thick this day's clouds are: share of clear light under them.
    under: f64,
}

impl Clouds {
    /// The clouds of a new day.
    pub(super) fn new(regime: Regime, dice: &mut Dice) -> Self {
        let under = match regime {
            Regime::Overcast => dice.range(0.14, 0.30),
            _ => dice.range(0.32, 0.46),
        };
        let sunny = regime != Regime::Overcast;
        Self {
            regime,
            sunny,
            since_s: 600.0,
            beam_share: if sunny { 1.0 } else { 0.0 },
            wander: dice.normal(),
            under,
        }
    }

    /// Light under these clouds after another `dt_s` seconds, from the clear light.
    pub(super) fn step(&mut self, clear: Light, sin_el: f64, dt_s: f64, dice: &mut Dice) -> Light {
        let (sun_s, cloud_s) = self.regime.spells_s();
        let mean = if self.sunny { sun_s } else { cloud_s };
        self.since_s += dt_s;
        if dice.unit() < 1.0 - (-dt_s / mean).exp() {
            self.sunny = !self.sunny;
            self.since_s = 0.0;
        }
        let keep = (-dt_s / 1_500.0).exp();
        self.wander = keep * self.wander + (1.0 - keep * keep).sqrt() * dice.normal();
        let aim = if self.sunny { 1.0 } else { 0.0 };
        self.beam_share += (aim - self.beam_share) * (1.0 - (-dt_s / 25.0).exp());

        let level = clear.beam * sin_el.max(0.0) + clear.diffuse;
        let grey = level * (self.under * (1.0 + 0.28 * self.wander)).clamp(0.05, 0.9);
        // The rim of a cloud beside a free sun adds light for a minute or so.
        let rim = if self.sunny && self.regime != Regime::Clear {
            0.12 * (-self.since_s / 60.0).exp()
        } else {
            0.0
        };
        let open = clear.diffuse * (1.0 + self.sky_share() * 0.6) + level * rim;
        Light {
            beam: clear.beam * self.beam_share,
            diffuse: grey * (1.0 - self.beam_share) + open * self.beam_share,
        }
    }

    /// Share of the sky that is cloud while the sun is out: white clouds brighten the sky.
    fn sky_share(&self) -> f64 {
        match self.regime {
            Regime::Clear => 0.0,
            Regime::Fair => 0.15,
            Regime::Broken => 0.5,
            Regime::Overcast => 1.0,
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn clear_light_is_dark_below_the_horizon_and_plausible_above() {
        assert_eq!(clear(-1.0, 0.7, 0.0, 180.0), Light::default());
        let high = clear(60.0, 0.70, 0.0, 180.0);
        let level = high.beam * 60_f64.to_radians().sin() + high.diffuse;
        assert!((820.0..960.0).contains(&level), "{level}");
        assert!(clear(60.0, 0.65, 0.0, 180.0).beam < high.beam);
        assert!(clear(60.0, 0.70, 2000.0, 180.0).beam > high.beam);
    }

    #[test]
    fn an_overcast_day_gives_a_third_or_less_and_no_beam() {
        let mut dice = Dice::new(4, 1);
        let mut clouds = Clouds::new(Regime::Overcast, &mut dice);
        let light = clear(40.0, 0.70, 0.0, 180.0);
        let sin_el = 40_f64.to_radians().sin();
        let mut sum = 0.0;
        for _ in 0..2_000 {
            let now = clouds.step(light, sin_el, 10.0, &mut dice);
            assert!(now.beam < 1e-6 * light.beam + 1e-9);
            sum += now.diffuse;
        }
        assert!(sum / 2_000.0 < 0.45 * (light.beam * sin_el + light.diffuse));
    }
}
