//! The array: light in its plane, cell temperature, power, and the way to the controller's output.

use super::scenario::{ArraySpec, ControllerSpec, PanelSpec, Shade};
use super::sky::Light;
use crate::physics::sun::SunPosition;

/// Light that works in the array's plane, W/m2, after reflection.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct PlaneLight {
    pub(super) beam: f64,
    pub(super) diffuse: f64,
}

impl PlaneLight {
    /// Both together.
    pub(super) fn total(&self) -> f64 {
        self.beam + self.diffuse
    }
}

/// The direction an array looks, as a unit vector (east, north, up).
#[derive(Debug, Clone, Copy)]
pub(super) struct Plane([f64; 3]);

impl Plane {
    /// From tilt, bearing and the degrees it leans north and east besides.
    pub(super) fn new(tilt_deg: f64, facing_deg: f64, lean: (f64, f64)) -> Self {
        let (tilt, facing) = (tilt_deg.to_radians(), facing_deg.to_radians());
        let raw = [
            tilt.sin() * facing.sin() + lean.1.to_radians().sin(),
            tilt.sin() * facing.cos() + lean.0.to_radians().sin(),
            tilt.cos(),
        ];
        let length = raw.iter().map(|x| x * x).sum::<f64>().sqrt();
        Self(raw.map(|x| x / length))
    }

    /// What falls on it and passes the glass: an even sky, grey ground (20 %), and a glass whose
    /// reflection grows with the fifth power of the slant (Schlick's form).
    pub(super) fn light(&self, sky: Light, sun: &SunPosition) -> PlaneLight {
        let (el, az) = (
            sun.apparent_elevation_deg.to_radians(),
            sun.azimuth_deg.to_radians(),
        );
        let toward = [el.cos() * az.sin(), el.cos() * az.cos(), el.sin()];
        let cosine: f64 = self.0.iter().zip(toward).map(|(a, b)| a * b).sum();
        let cosine = if el > 0.0 { cosine.max(0.0) } else { 0.0 };
        let level = sky.beam * el.sin().max(0.0) + sky.diffuse;
        let passed = 1.0 - (1.0 - cosine).powi(5);
        let up = self.0[2];
        PlaneLight {
            beam: sky.beam * cosine * passed,
            diffuse: 0.955 * (sky.diffuse * (1.0 + up) / 2.0 + 0.2 * level * (1.0 - up) / 2.0),
        }
    }
}

/// Cell temperature the array settles at: the label's NOCT, with wind that cools.
pub(super) fn settled_c(noct_c: f64, air_c: f64, light: f64, wind: f64) -> f64 {
    air_c + light * (noct_c - 20.0) / 800.0 / (0.75 + 0.25 * wind)
}

/// Label power at light and heat, W, before scale and faults.
pub(super) fn label_power(array: &ArraySpec, light: f64, cell_c: f64) -> f64 {
    if light < 1.0 {
        return 0.0;
    }
    let weak = (1.0 + 0.025 * (light / 1000.0).ln()).max(0.7);
    let heat = 1.0 + array.panel.power_per_degree * (cell_c - 25.0);
    array.label_w() * light / 1000.0 * weak * heat
}

/// Best-power and open voltage of a string at light and heat, V.
pub(super) fn string_volts(array: &ArraySpec, light: f64, cell_c: f64) -> (f64, f64) {
    let panel = &array.panel;
    let dim = (light.max(5.0) / 1000.0).ln();
    let warm = panel.voc_per_degree * (cell_c - 25.0);
    let n = f64::from(array.series);
    let vmp = panel.vmp_v * (1.0 + 1.25 * warm + 0.012 * dim);
    let voc = panel.voc_v * (1.0 + warm + 0.022 * dim);
    (n * vmp, n * voc.max(vmp * 1.02))
}

/// What the shadow leaves of the power, share: each string either carries on at the current of
/// its shaded cells or lets the bypass diodes jump over them, whichever gives more.
pub(super) fn shade_share(shade: Option<&Shade>, sun: &SunPosition, light: &PlaneLight) -> f64 {
    match shade {
        Some(s) if s.covers(sun.azimuth_deg, sun.elevation_deg) && light.total() > 0.0 => {
            let carried = light.diffuse / light.total();
            carried.max(1.0 - s.sections)
        }
        _ => 1.0,
    }
}

/// How the controller turns input into output.
#[derive(Debug, Clone, Copy)]
pub(super) enum Conversion {
    /// As the design says.
    Design(f64),
    /// As it is: own use, a share, and a share that grows with load up to `rated_w`; and a tracker
    /// that misses a little.
    Real { design: f64, rated_w: f64 },
}

impl Conversion {
    /// The real converter of a controller.
    pub(super) fn real(controller: &ControllerSpec, nominal_v: f64) -> Self {
        Conversion::Real {
            design: controller.efficiency,
            rated_w: controller.max_output_a * nominal_v * 1.1,
        }
    }

    /// Share of the best power the tracker finds.
    pub(super) fn tracking(self) -> f64 {
        match self {
            Conversion::Design(_) => 1.0,
            Conversion::Real { design, .. } => 1.0 - 0.4 * (1.0 - design),
        }
    }

    /// Share of the array's current that a switching controller passes on.
    pub(super) fn switched_share(self) -> f64 {
        match self {
            Conversion::Design(share) => share,
            Conversion::Real { design, .. } => 0.996 * design,
        }
    }

    /// Output for an input, W.
    pub(super) fn output(self, input_w: f64) -> f64 {
        match self {
            Conversion::Design(share) => input_w * share,
            Conversion::Real { design, rated_w } => {
                let miss = 1.0 - design;
                (input_w - 0.8 - 0.6 * miss * input_w - 0.3 * miss * input_w * input_w / rated_w)
                    .max(0.0)
            }
        }
    }

    /// Input for an output, W: the inverse of [`Conversion::output`].
    pub(super) fn input(self, output_w: f64) -> f64 {
        match self {
            Conversion::Design(share) => output_w / share,
            Conversion::Real { design, rated_w } => {
                let miss = 1.0 - design;
                let (a, b, c) = (0.3 * miss / rated_w, 1.0 - 0.6 * miss, output_w + 0.8);
                2.0 * c / (b + (b * b - 4.0 * a * c).max(0.0).sqrt())
            }
        }
    }
}

/// Voltage a switching (not converting) controller and its diode take, V.
pub(super) const SWITCH_V: f64 = 0.25;

/// Current of the whole array at a voltage, A: a diode curve through the label's two points,
/// `I = Isc (1 - exp((V - Voc)/a))`.
pub(super) fn array_current(array: &ArraySpec, light: f64, cell_c: f64, volts: f64) -> f64 {
    if light < 1.0 {
        return 0.0;
    }
    let PanelSpec {
        vmp_v,
        imp_a,
        voc_v,
        isc_a,
        ..
    } = array.panel;
    let n = f64::from(array.series);
    let knee = (voc_v - vmp_v) / (isc_a / (isc_a - imp_a)).ln();
    let (_, voc) = string_volts(array, light, cell_c);
    let isc = isc_a * light / 1000.0 * (1.0 + 0.0005 * (cell_c - 25.0));
    let share = 1.0 - ((volts - voc) / (knee * n)).exp();
    f64::from(array.strings) * isc * share.max(0.0)
}

/// The array and the controller between which a cable of `ohm` runs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Chain<'a> {
    pub(super) array: &'a ArraySpec,
    pub(super) pwm: bool,
    pub(super) ohm: f64,
    pub(super) conversion: Conversion,
}

impl Chain<'_> {
    /// Power at the controller's output, W, into a bank that takes everything at `bus_v`.
    /// `scale` is what the array gives of its label.
    pub(super) fn output(&self, light: f64, cell_c: f64, scale: f64, bus_v: f64) -> f64 {
        if self.pwm {
            let efficiency = self.conversion.switched_share();
            return self.direct_current(light, cell_c, scale, bus_v) * bus_v * efficiency;
        }
        let power = label_power(self.array, light, cell_c) * scale * self.conversion.tracking();
        let (vmp, _) = string_volts(self.array, light, cell_c);
        let amps = power / vmp;
        self.conversion.output(power - amps * amps * self.ohm)
    }

    /// Current of a connected (not converted) array into a bus at `bus_v`, A.
    pub(super) fn direct_current(&self, light: f64, cell_c: f64, scale: f64, bus_v: f64) -> f64 {
        let mut amps = 0.0;
        // The cable's drop hardly moves a current that close to short circuit: three rounds settle it.
        for _ in 0..3 {
            amps = scale
                * array_current(
                    self.array,
                    light,
                    cell_c,
                    bus_v + SWITCH_V + amps * self.ohm,
                );
        }
        amps
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn conversion_and_its_inverse_agree() {
        let real = Conversion::Real {
            design: 0.96,
            rated_w: 500.0,
        };
        for watts in [5.0, 40.0, 200.0, 480.0] {
            assert!((real.input(real.output(watts)) - watts).abs() < 1e-9 * watts);
        }
    }

    #[test]
    fn a_level_plane_gets_the_level_light() {
        // Midsummer noon on the tropic: the sun within half a degree of overhead.
        let sun = crate::physics::sun::position(1_782_039_600.0, 23.44, 15.5);
        assert!(sun.elevation_deg > 89.0, "{sun:?}");
        let light = Plane::new(0.0, 180.0, (0.0, 0.0)).light(
            Light {
                beam: 800.0,
                diffuse: 100.0,
            },
            &sun,
        );
        assert!((light.beam - 800.0).abs() < 0.2);
        assert!((light.diffuse - 95.5).abs() < 1e-9);
    }
}
