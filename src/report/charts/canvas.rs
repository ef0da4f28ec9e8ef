//! A sheet to draw on in chart units, and the dressing that turns what was drawn into a chart file.
//!
//! The drawing library knows whole pixels only, so everything is drawn [`FINE`] times as large and scaled
//! down by the view box. It writes bare colours; the dressing gives each shape the class of its ink (so
//! that a page's style sheet can recolour it for dark screens, the bare colour staying for the file on its
//! own), fills patterns in, and adds what a screen reader needs.

use plotters::backend::{DrawingBackend, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontDesc, FontFamily, FontStyle, RGBColor, ShapeStyle, TextStyle};

use super::style::{Ink, WIDTH};

/// Drawn this many times as large as shown.
const FINE: f64 = 3.0;
/// What the library divides a font's size by when it writes it.
const FONT_DIVISOR: f64 = 1.24;

/// Where a text's given point lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Left,
    Middle,
    Right,
}

/// A sheet under way.
pub(crate) struct Canvas<'a> {
    backend: SVGBackend<'a>,
    failed: bool,
}

fn px(v: f64) -> i32 {
    (v * FINE).round() as i32
}

fn at(x: f64, y: f64) -> (i32, i32) {
    (px(x), px(y))
}

fn stroke(ink: Ink, width: f64) -> ShapeStyle {
    let (r, g, b) = ink.rgb();
    RGBColor(r, g, b).stroke_width((width * FINE).round().max(1.0) as u32)
}

fn filled(ink: Ink) -> ShapeStyle {
    let (r, g, b) = ink.rgb();
    RGBColor(r, g, b).filled()
}

impl Canvas<'_> {
    fn keep<E>(&mut self, outcome: Result<(), E>) {
        self.failed |= outcome.is_err();
    }

    /// A filled rectangle; nothing where it has no size.
    pub(crate) fn bar(&mut self, x: (f64, f64), y: (f64, f64), ink: Ink) {
        let (from, to) = (
            at(x.0.min(x.1), y.0.min(y.1)),
            at(x.0.max(x.1), y.0.max(y.1)),
        );
        if to.0 > from.0 && to.1 > from.1 {
            let outcome = self.backend.draw_rect(from, to, &filled(ink), true);
            self.keep(outcome);
        }
    }

    /// The outline of a rectangle.
    pub(crate) fn frame(&mut self, x: (f64, f64), y: (f64, f64), ink: Ink, width: f64) {
        self.path(
            &[(x.0, y.0), (x.1, y.0), (x.1, y.1), (x.0, y.1), (x.0, y.0)],
            ink,
            width,
        );
    }

    /// A filled rectangle with its outline.
    pub(crate) fn block(&mut self, x: (f64, f64), y: (f64, f64), fill: Ink, edge: Ink) {
        if (x.1 - x.0).abs() * FINE >= 1.0 {
            self.bar(x, y, fill);
            self.frame(x, y, edge, 0.7);
        }
    }

    /// A line through points.
    pub(crate) fn path(&mut self, points: &[(f64, f64)], ink: Ink, width: f64) {
        if points.len() > 1 {
            let points: Vec<_> = points.iter().map(|p| at(p.0, p.1)).collect();
            let style = stroke(ink, width);
            let outcome = self.backend.draw_path(points, &style);
            self.keep(outcome);
        }
    }

    /// A straight line in dashes.
    pub(crate) fn dashes(&mut self, from: (f64, f64), to: (f64, f64), ink: Ink, width: f64) {
        let length = (to.0 - from.0).hypot(to.1 - from.1);
        let count = (length / 7.0).ceil().max(1.0) as usize;
        let along = |t: f64| (from.0 + (to.0 - from.0) * t, from.1 + (to.1 - from.1) * t);
        for i in 0..count {
            let start = i as f64 / count as f64;
            self.path(
                &[along(start), along(start + 0.6 / count as f64)],
                ink,
                width,
            );
        }
    }

    /// A filled outline.
    pub(crate) fn area(&mut self, points: &[(f64, f64)], ink: Ink) {
        if points.len() > 2 {
            let points: Vec<_> = points.iter().map(|p| at(p.0, p.1)).collect();
            let style = filled(ink);
            let outcome = self.backend.fill_polygon(points, &style);
            self.keep(outcome);
        }
    }

    /// A dot, filled.
    pub(crate) fn dot(&mut self, x: f64, y: f64, radius: f64, ink: Ink) {
        let outcome = self.backend.draw_circle(
            at(x, y),
            (radius * FINE).round().max(1.0) as u32,
            &filled(ink),
            true,
        );
        self.keep(outcome);
    }

    /// Words, centred on `y`.
    pub(crate) fn text(
        &mut self,
        words: &str,
        x: f64,
        y: f64,
        anchor: Anchor,
        ink: Ink,
        size: f64,
    ) {
        self.write(words, (x, y), anchor, ink, size, FontStyle::Normal);
    }

    /// Words in bold, centred on `y`.
    pub(crate) fn bold(
        &mut self,
        words: &str,
        x: f64,
        y: f64,
        anchor: Anchor,
        ink: Ink,
        size: f64,
    ) {
        self.write(words, (x, y), anchor, ink, size, FontStyle::Bold);
    }

    fn write(
        &mut self,
        words: &str,
        (x, y): (f64, f64),
        anchor: Anchor,
        ink: Ink,
        size: f64,
        face: FontStyle,
    ) {
        let (r, g, b) = ink.rgb();
        let across = match anchor {
            Anchor::Left => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::Right => HPos::Right,
        };
        let font = FontDesc::new(FontFamily::SansSerif, size * FINE * FONT_DIVISOR, face);
        let colour = RGBColor(r, g, b);
        let style = TextStyle::from(font)
            .color(&colour)
            .pos(Pos::new(across, VPos::Center));
        let outcome = self.backend.draw_text(words, &style, at(x, y));
        self.keep(outcome);
    }

    /// A pointed mark, tip down, as sits over what it marks.
    pub(crate) fn mark(&mut self, x: f64, y: f64, size: f64, ink: Ink) {
        self.area(
            &[(x - size, y - size), (x + size, y - size), (x, y + size)],
            ink,
        );
    }

    /// A legend from left to right, wrapped; `y` is the middle of its first row. Returns the end's `y`.
    pub(crate) fn legend(&mut self, items: &[(Swatch, &str)], y: f64) -> f64 {
        let (mut x, mut y) = (2.0, y);
        for (swatch, word) in items {
            let width = 21.0 + word.chars().count() as f64 * 6.8 + 11.0;
            if x + width > WIDTH + 11.0 {
                x = 2.0;
                y += 17.0;
            }
            self.swatch(*swatch, x, y);
            self.text(
                word,
                x + 19.0,
                y,
                Anchor::Left,
                Ink::Text,
                super::style::SMALL,
            );
            x += width;
        }
        y
    }

    fn swatch(&mut self, swatch: Swatch, x: f64, y: f64) {
        match swatch {
            Swatch::Block(fill, edge) => self.block((x, x + 14.0), (y - 5.0, y + 5.0), fill, edge),
            Swatch::Line(ink, width) => self.path(&[(x, y), (x + 14.0, y)], ink, width),
            Swatch::Dashes(ink) => self.dashes((x, y), (x + 14.0, y), ink, 1.6),
            Swatch::Tick(ink) => self.path(&[(x + 7.0, y - 6.0), (x + 7.0, y + 6.0)], ink, 2.0),
            Swatch::Diamond(ink) => self.diamond(x + 7.0, y, ink),
            Swatch::Mark(ink) => self.mark(x + 7.0, y, 4.0, ink),
            Swatch::Dot(ink) => self.dot(x + 7.0, y, 3.0, ink),
        }
    }

    /// An upright square on its corner, hollow.
    pub(crate) fn diamond(&mut self, x: f64, y: f64, ink: Ink) {
        let r = 4.0;
        let corners = [(x, y - r), (x + r, y), (x, y + r), (x - r, y)];
        self.area(&corners, Ink::Paper);
        self.path(
            &[corners[0], corners[1], corners[2], corners[3], corners[0]],
            ink,
            1.4,
        );
    }
}

/// How a legend shows a mark.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Swatch {
    Block(Ink, Ink),
    Line(Ink, f64),
    Dashes(Ink),
    Tick(Ink),
    Diamond(Ink),
    Mark(Ink),
    Dot(Ink),
}

/// What a drawing is called: `name` is unique in a page.
pub(crate) struct Caption<'a> {
    pub(crate) name: &'a str,
    pub(crate) title: &'a str,
    pub(crate) description: &'a str,
}

/// Draws on a sheet `height` units high and dresses it; `None` if the library refused a shape.
pub(crate) fn draw(
    caption: &Caption<'_>,
    height: f64,
    paint: impl FnOnce(&mut Canvas<'_>),
) -> Option<String> {
    let mut raw = String::new();
    let failed = {
        let size = (px(WIDTH) as u32, px(height) as u32);
        let mut canvas = Canvas {
            backend: SVGBackend::with_string(&mut raw, size),
            failed: false,
        };
        paint(&mut canvas);
        let outcome = canvas.backend.present();
        canvas.keep(outcome);
        canvas.failed
    };
    (!failed).then(|| dress(caption, height, &raw))
}

fn dress(caption: &Caption<'_>, height: f64, raw: &str) -> String {
    let name = caption.name;
    let mut body = String::new();
    let mut used: Vec<Ink> = Vec::new();
    let mut in_text = false;
    // The first line opens the sheet, the last closes it.
    for line in raw.lines().skip(1).filter(|l| *l != "</svg>") {
        if line.starts_with("</") {
            in_text = false;
            body.push_str(line);
            body.push('\n');
        } else if line.starts_with('<') {
            in_text = line.starts_with("<text");
            body.push_str(&dress_shape(line, name, &mut used));
            if !in_text {
                body.push('\n');
            }
        } else if in_text {
            body.push_str(line);
        }
    }
    let (w, h) = (px(WIDTH), px(height));
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" id=\"{name}-chart\" viewBox=\"0 0 {w} {h}\" width=\"{WIDTH}\" \
         height=\"{height}\" role=\"img\" aria-labelledby=\"{name}-title {name}-desc\" \
         class=\"chart\" font-family=\"system-ui, sans-serif\">\n\
         <title id=\"{name}-title\">{}</title>\n<desc id=\"{name}-desc\">{}</desc>\n",
        escape(caption.title),
        escape(caption.description),
    );
    out.push_str(&patterns(name, &used));
    out.push_str(&format!(
        "<rect class=\"sheet\" width=\"{w}\" height=\"{h}\" fill=\"#ffffff\"/>\n"
    ));
    out.push_str(&body);
    out.push_str("</svg>\n");
    out
}

/// The definitions of the patterns a drawing uses.
fn patterns(name: &str, used: &[Ink]) -> String {
    let mut out = String::new();
    for ink in used {
        if let Some((pattern, tile, strokes)) = ink.pattern() {
            let (r, g, b) = ink.rgb();
            out.push_str(&format!(
                "<pattern id=\"{name}-{pattern}\" width=\"{tile}\" height=\"{tile}\" \
                 patternUnits=\"userSpaceOnUse\" patternTransform=\"scale({FINE})\">\
                 <path d=\"{strokes}\" fill=\"none\" stroke=\"#{r:02x}{g:02x}{b:02x}\" \
                 stroke-width=\"1.1\" class=\"s-{}\"/></pattern>\n",
                ink.class()
            ));
        }
    }
    if out.is_empty() {
        out
    } else {
        format!("<defs>\n{out}</defs>\n")
    }
}

/// Gives one shape the classes of its inks and takes out what says nothing.
fn dress_shape(line: &str, name: &str, used: &mut Vec<Ink>) -> String {
    let mut shape = line
        .replace(" opacity=\"1\"", "")
        .replace(" font-family=\"sans-serif\"", "")
        .replace(" stroke=\"none\"", "")
        .replace(" \"/>", "\"/>");
    let mut classes: Vec<String> = Vec::new();
    for (attribute, letter) in [("fill", 'f'), ("stroke", 's')] {
        let Some(ink) = ink_of(&shape, attribute) else {
            continue;
        };
        if let Some((pattern, ..)) = ink.pattern() {
            if !used.contains(&ink) {
                used.push(ink);
            }
            let (r, g, b) = ink.rgb();
            shape = shape.replace(
                &format!("{attribute}=\"#{r:02X}{g:02X}{b:02X}\""),
                &format!("{attribute}=\"url(#{name}-{pattern})\""),
            );
        } else {
            classes.push(format!("{letter}-{}", ink.class()));
        }
    }
    if classes.is_empty() {
        return shape;
    }
    match shape.split_once(' ') {
        Some((tag, rest)) => format!("{tag} class=\"{}\" {rest}", classes.join(" ")),
        None => shape,
    }
}

fn ink_of(shape: &str, attribute: &str) -> Option<Ink> {
    let start = shape.find(&format!(" {attribute}=\"#"))? + attribute.len() + 4;
    let hex = u32::from_str_radix(shape.get(start..start + 6)?, 16).ok()?;
    Ink::ALL.into_iter().find(|ink| {
        let (r, g, b) = ink.rgb();
        hex == (u32::from(r) << 16 | u32::from(g) << 8 | u32::from(b))
    })
}

/// Text safe between tags and in attributes; characters that XML does not allow are left out.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c < ' ' && !matches!(c, '\n' | '\t') => {}
            '\u{fffe}' | '\u{ffff}' => {}
            c => out.push(c),
        }
    }
    out
}
