//! Inks, sizes and type of every chart. A meaning has one ink in the whole report.
//!
//! Hues are the colour-blind-safe set of Okabe and Ito; what must be told apart is also told by pattern,
//! outline, place or word. Each ink has its own colour value, because [`super::canvas`] finds an ink
//! again by that value and hands it to the page's style sheet by class.

/// Width of a chart in its own units: a phone's width, so that type keeps its size there.
pub(crate) const WIDTH: f64 = 360.0;
/// Ordinary type: no smaller than 12 px on a phone 360 px wide.
pub(crate) const TYPE: f64 = 12.5;
/// Type of axis figures and legends.
pub(crate) const SMALL: f64 = 12.3;

/// What a mark stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ink {
    /// Words and totals.
    Text,
    /// Secondary words and lines.
    Muted,
    /// Grid.
    Grid,
    /// The sheet.
    Paper,
    /// Harvest.
    Solar,
    /// Outline of harvest.
    SolarEdge,
    /// Lost.
    Lost,
    /// Outline of lost.
    LostEdge,
    /// Bank.
    Bank,
    /// Loads.
    Use,
    /// Outline of what was held back.
    Spare,
    /// Hatch: held back.
    SpareFill,
    /// Hatch: unexplained, unknown.
    Unexplained,
    /// Dots: not measured.
    Gap,
    /// Hatch: refused by the bank.
    Refused,
    /// Hatch: limited by the controller.
    Limited,
    /// Dark hours.
    Night,
    /// The plan and the design.
    Design,
    /// A range that fits.
    Band,
    /// Heat map, from low to high.
    Heat(u8),
}

impl Ink {
    /// Every ink.
    pub(crate) const ALL: [Ink; 24] = [
        Ink::Text,
        Ink::Muted,
        Ink::Grid,
        Ink::Paper,
        Ink::Solar,
        Ink::SolarEdge,
        Ink::Lost,
        Ink::LostEdge,
        Ink::Bank,
        Ink::Use,
        Ink::Spare,
        Ink::SpareFill,
        Ink::Unexplained,
        Ink::Gap,
        Ink::Refused,
        Ink::Limited,
        Ink::Night,
        Ink::Design,
        Ink::Band,
        Ink::Heat(0),
        Ink::Heat(1),
        Ink::Heat(2),
        Ink::Heat(3),
        Ink::Heat(4),
    ];

    /// The colour in a file of its own, on white.
    pub(crate) fn rgb(self) -> (u8, u8, u8) {
        match self {
            Ink::Text => (0x1c, 0x1f, 0x23),
            Ink::Muted => (0x5a, 0x60, 0x67),
            Ink::Grid => (0xdd, 0xdc, 0xd6),
            Ink::Paper => (0xff, 0xff, 0xff),
            Ink::Solar => (0xe6, 0x9f, 0x00),
            Ink::SolarEdge => (0x8a, 0x5f, 0x00),
            Ink::Lost => (0xd5, 0x5e, 0x00),
            Ink::LostEdge => (0x7a, 0x33, 0x00),
            Ink::Bank => (0x00, 0x7d, 0x5c),
            Ink::Use => (0xa8, 0x4f, 0x83),
            Ink::Spare => (0x3f, 0x6f, 0x8f),
            Ink::SpareFill => (0x3f, 0x6f, 0x90),
            Ink::Unexplained => (0x76, 0x76, 0x76),
            Ink::Gap => (0x77, 0x77, 0x77),
            Ink::Refused => (0x3f, 0x6f, 0x91),
            Ink::Limited => (0xd5, 0x5e, 0x01),
            Ink::Night => (0xc9, 0xcb, 0xcf),
            Ink::Design => (0x00, 0x72, 0xb2),
            Ink::Band => (0xd3, 0xe6, 0xdd),
            Ink::Heat(0) => (0xfd, 0xf3, 0xdf),
            Ink::Heat(1) => (0xf2, 0xcc, 0x84),
            Ink::Heat(2) => (0xe8, 0xa8, 0x3c),
            Ink::Heat(3) => (0xb6, 0x73, 0x10),
            Ink::Heat(_) => (0x73, 0x43, 0x05),
        }
    }

    /// Name of its class and of its variable in the page's style sheet.
    pub(crate) fn class(self) -> &'static str {
        match self {
            Ink::Text => "text",
            Ink::Muted => "muted",
            Ink::Grid => "grid",
            Ink::Paper => "paper",
            Ink::Solar => "solar",
            Ink::SolarEdge => "solar-edge",
            Ink::Lost => "lost",
            Ink::LostEdge => "lost-edge",
            Ink::Bank => "bank",
            Ink::Use => "use",
            Ink::Spare | Ink::SpareFill | Ink::Refused => "spare",
            Ink::Unexplained | Ink::Gap => "unexplained",
            Ink::Limited => "lost",
            Ink::Night => "night",
            Ink::Design => "design",
            Ink::Band => "band",
            Ink::Heat(0) => "heat0",
            Ink::Heat(1) => "heat1",
            Ink::Heat(2) => "heat2",
            Ink::Heat(3) => "heat3",
            Ink::Heat(_) => "heat4",
        }
    }

    /// The pattern that fills it: name, tile size and the strokes in a tile, in chart units.
    pub(crate) fn pattern(self) -> Option<(&'static str, u32, &'static str)> {
        match self {
            Ink::SpareFill => Some(("spare", 6, "M-1 1 L1 -1 M0 6 L6 0 M5 7 L7 5")),
            Ink::Refused => Some(("refused", 6, "M-1 5 L1 7 M0 0 L6 6 M5 -1 L7 1")),
            Ink::Limited => Some(("limited", 5, "M0 2.5 H5")),
            Ink::Unexplained => Some(("unexplained", 5, "M0 0 L5 5 M5 0 L0 5")),
            Ink::Gap => Some(("gap", 6, "M2 3 H3.4")),
            _ => None,
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn every_ink_can_be_found_again_by_its_colour() {
        for (i, a) in Ink::ALL.iter().enumerate() {
            for b in &Ink::ALL[i + 1..] {
                assert_ne!(a.rgb(), b.rgb(), "{a:?} and {b:?}");
            }
        }
    }

    /// Contrast ratio of two colours by the formula of the web content accessibility guidelines.
    fn contrast(a: (u8, u8, u8), b: (u8, u8, u8)) -> f64 {
        let luminance = |c: (u8, u8, u8)| {
            let [r, g, b] = linear(c);
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (x, y) = (luminance(a), luminance(b));
        (x.max(y) + 0.05) / (x.min(y) + 0.05)
    }

    #[test]
    fn words_and_lines_stand_out_from_the_sheet() {
        let paper = Ink::Paper.rgb();
        for ink in [Ink::Text, Ink::Muted] {
            assert!(contrast(ink.rgb(), paper) >= 4.5, "{ink:?}");
        }
        for ink in [
            Ink::SolarEdge,
            Ink::Lost,
            Ink::LostEdge,
            Ink::Bank,
            Ink::Use,
            Ink::Spare,
            Ink::Unexplained,
            Ink::Design,
        ] {
            assert!(contrast(ink.rgb(), paper) >= 3.0, "{ink:?}");
        }
    }

    /// Linear light, red to blue, from a colour as written.
    fn linear(c: (u8, u8, u8)) -> [f64; 3] {
        [c.0, c.1, c.2].map(|v| {
            let v = f64::from(v) / 255.0;
            if v <= 0.04045 {
                v / 12.92
            } else {
                ((v + 0.055) / 1.055).powf(2.4)
            }
        })
    }

    fn seen(by: &[[f64; 3]; 3], light: [f64; 3]) -> [f64; 3] {
        by.map(|row| {
            (0..3)
                .map(|i| row[i] * light[i])
                .sum::<f64>()
                .clamp(0.0, 1.0)
        })
    }

    /// CIE 1976 L*a*b* of linear sRGB light under D65.
    fn lab(light: [f64; 3]) -> [f64; 3] {
        const TO_XYZ: [[f64; 3]; 3] = [
            [0.4124, 0.3576, 0.1805],
            [0.2126, 0.7152, 0.0722],
            [0.0193, 0.1192, 0.9505],
        ];
        let white = [0.9505, 1.0, 1.089];
        let xyz = TO_XYZ.map(|row| (0..3).map(|i| row[i] * light[i]).sum::<f64>());
        let [x, y, z] = [0, 1, 2].map(|i| {
            let t: f64 = xyz[i] / white[i];
            if t > 216.0 / 24_389.0 {
                t.cbrt()
            } else {
                (24_389.0 / 27.0 * t + 16.0) / 116.0
            }
        });
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    /// Difference of two colours in L*a*b*; about 2 can just be seen side by side.
    fn apart(by: &[[f64; 3]; 3], a: (u8, u8, u8), b: (u8, u8, u8)) -> f64 {
        let (p, q) = (lab(seen(by, linear(a))), lab(seen(by, linear(b))));
        (0..3).map(|i| (p[i] - q[i]).powi(2)).sum::<f64>().sqrt()
    }

    /// The colour an ink has on a dark screen: its variable in the style sheet's second block.
    fn on_dark(ink: Ink) -> (u8, u8, u8) {
        let name = match ink {
            Ink::Paper => "sheet",
            Ink::Text => "ink",
            other => other.class(),
        };
        let style = include_str!("../html/style.css");
        let block = style.split(":root{").nth(2).unwrap();
        let mark = format!("--{name}:#");
        let from = block.find(&mark).unwrap_or_else(|| panic!("--{name}")) + mark.len();
        let value = u32::from_str_radix(&block[from..from + 6], 16).unwrap();
        ((value >> 16) as u8, (value >> 8) as u8, value as u8)
    }

    /// How eyes see: usual, the three kinds of colour blindness (Machado, Oliveira and Fernandes 2009, severity
    /// 1, on linear light), and grey print (relative luminance).
    const EYES: [(&str, [[f64; 3]; 3]); 5] = [
        ("usual", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        (
            "protanopia",
            [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
        ),
        (
            "deuteranopia",
            [
                [0.367_322, 0.860_646, -0.227_968],
                [0.280_085, 0.672_501, 0.047_413],
                [-0.011_820, 0.042_940, 0.968_881],
            ],
        ),
        (
            "tritanopia",
            [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
        ),
        (
            "grey",
            [
                [0.2126, 0.7152, 0.0722],
                [0.2126, 0.7152, 0.0722],
                [0.2126, 0.7152, 0.0722],
            ],
        ),
    ];

    /// Meanings that stand side by side in one chart as filled areas; lines differ in weight, dashes or dots.
    const SIDE_BY_SIDE: [&[Ink]; 4] = [
        // Use and number lines: bars and bands on the sheet.
        &[Ink::Use, Ink::Paper, Ink::Text],
        // The account and the days: bars.
        &[
            Ink::Solar,
            Ink::Lost,
            Ink::SpareFill,
            Ink::Unexplained,
            Ink::Gap,
            Ink::Night,
            Ink::Paper,
        ],
        // The hours: bars.
        &[
            Ink::Night,
            Ink::Solar,
            Ink::SpareFill,
            Ink::Refused,
            Ink::Limited,
            Ink::Lost,
            Ink::Gap,
        ],
        // The heat map, with what is not known.
        &[
            Ink::Heat(0),
            Ink::Heat(1),
            Ink::Heat(2),
            Ink::Heat(3),
            Ink::Heat(4),
        ],
    ];

    fn meanings_stay_apart(colour: fn(Ink) -> (u8, u8, u8)) {
        for (eye, by) in &EYES {
            for inks in SIDE_BY_SIDE {
                for (i, a) in inks.iter().enumerate() {
                    for b in &inks[i + 1..] {
                        let pattern = |ink: &Ink| ink.pattern().map(|p| p.0);
                        let difference = apart(by, colour(*a), colour(*b));
                        assert!(
                            pattern(a) != pattern(b) || difference >= 10.0,
                            "{eye}: {a:?} and {b:?} are {difference:.1} apart"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn meanings_stay_apart_for_every_eye_or_differ_in_pattern() {
        meanings_stay_apart(Ink::rgb);
    }

    #[test]
    fn they_stay_apart_on_a_dark_screen_too() {
        meanings_stay_apart(on_dark);
    }

    #[test]
    fn simulated_eyes_confuse_what_they_should() {
        let (red, green) = ((200, 60, 60), (110, 110, 50));
        let between = |by| {
            let (p, q) = (lab(seen(by, linear(red))), lab(seen(by, linear(green))));
            (0..3).map(|i| (p[i] - q[i]).powi(2)).sum::<f64>().sqrt()
        };
        assert!(between(&EYES[2].1) < 0.6 * between(&EYES[0].1));
        assert!(apart(&EYES[4].1, Ink::Heat(0).rgb(), Ink::Heat(0).rgb()) < 1e-9);
    }
}
