//! Pictures as SVG. Numbers are rounded to a tenth of a unit.

use std::fmt::Write as _;

use maud::{Markup, PreEscaped, Render, html};

use super::markup::{XML, file};

/// Which end of a text stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its beginning.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

/// A picture being drawn. `class` names a style of [`STYLE`].
#[derive(Clone, Debug, Default)]
pub struct Svg {
    body: String,
}

/// A place in the picture.
pub type Spot = (f64, f64);

/// A length or a place in the picture.
struct Tenths(f64);

impl Render for Tenths {
    fn render_to(&self, out: &mut String) {
        let _ = write!(out, "{:.1}", self.0);
    }
}

/// Points of a line or an area.
struct Points<'a>(&'a [Spot]);

impl Render for Points<'_> {
    fn render_to(&self, out: &mut String) {
        for (i, (x, y)) in self.0.iter().enumerate() {
            let blank = if i == 0 { "" } else { " " };
            let _ = write!(out, "{blank}{x:.1},{y:.1}");
        }
    }
}

impl Svg {
    fn push(&mut self, shape: Markup) {
        self.body.push_str(&shape.0);
    }

    /// A straight line.
    pub fn line(&mut self, class: &str, from: Spot, to: Spot) {
        self.push(html! {
            line class=(class) x1=(Tenths(from.0)) y1=(Tenths(from.1)) x2=(Tenths(to.0)) y2=(Tenths(to.1)) {}
        });
    }

    /// A line through points; nothing for fewer than two.
    pub fn path(&mut self, class: &str, points: &[Spot]) {
        if points.len() > 1 {
            self.push(html! { polyline class=(class) points=(Points(points)) {} });
        }
    }

    /// A filled area.
    pub fn area(&mut self, class: &str, points: &[Spot]) {
        self.push(html! { polygon class=(class) points=(Points(points)) {} });
    }

    /// A circle.
    pub fn circle(&mut self, class: &str, (x, y): Spot, radius: f64) {
        self.push(html! { circle class=(class) cx=(Tenths(x)) cy=(Tenths(y)) r=(Tenths(radius)) {} });
    }

    /// An ellipse whose first half axis points `degrees` clockwise from the right.
    pub fn ellipse(&mut self, class: &str, (x, y): Spot, (rx, ry): Spot, degrees: f64) {
        let turned = format!("rotate({degrees:.1} {x:.1} {y:.1})");
        self.push(html! {
            ellipse class=(class) cx=(Tenths(x)) cy=(Tenths(y)) rx=(Tenths(rx)) ry=(Tenths(ry)) transform=(turned) {}
        });
    }

    /// An upright rectangle by its corner and size.
    pub fn rect(&mut self, class: &str, (x, y): Spot, (wide, high): Spot) {
        let (wide, high) = (Tenths(wide.max(0.0)), Tenths(high.max(0.0)));
        self.push(html! { rect class=(class) x=(Tenths(x)) y=(Tenths(y)) width=(wide) height=(high) {} });
    }

    /// Words.
    pub fn text(&mut self, class: &str, (x, y): Spot, anchor: Anchor, words: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        self.push(html! { text class=(class) x=(Tenths(x)) y=(Tenths(y)) text-anchor=(anchor) { (words) } });
    }

    /// The picture as an element of a page: its size in its own units, and what it shows for whoever cannot see it.
    #[must_use]
    pub fn element(&self, size: Spot, title: &str, about: &str) -> Markup {
        self.drawn(size, title, about, None)
    }

    /// The picture as a file of its own, with its styles and its ground.
    #[must_use]
    pub fn file(&self, size: Spot, title: &str, about: &str) -> String {
        let element = self.drawn(size, title, about, Some(STYLE));
        file(html! { (PreEscaped(XML)) (element) })
    }

    /// `style`: that of a picture that stands alone; on a page it has the page's.
    fn drawn(&self, (wide, high): Spot, title: &str, about: &str, style: Option<&str>) -> Markup {
        let view = format!("0 0 {wide:.0} {high:.0}");
        html! {
            svg xmlns="http://www.w3.org/2000/svg" viewBox=(view) role="img" {
                title { (title) }
                desc { (about) }
                @if let Some(style) = style { style { (PreEscaped(style)) } }
                defs {
                    pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                        line class="faint" x1="0" y1="0" x2="0" y2="6" {}
                    }
                }
                @if style.is_some() { rect class="ground" width="100%" height="100%" {} }
                (PreEscaped(&self.body))
            }
        }
    }
}

/// The inks of pictures and pages, dark on light and light on dark, and the classes of pictures.
pub const STYLE: &str = include_str!("../../assets/report/pictures.css");

/// Round values for about `count` marks between `low` and `high`: 1, 2 or 5 times a power of ten apart.
#[must_use]
pub fn marks(low: f64, high: f64, count: f64) -> Vec<f64> {
    let span = high - low;
    if !(span > 0.0 && span.is_finite() && count >= 1.0) {
        return Vec::new();
    }
    let rough = span / count;
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * power).into_iter().find(|step| *step >= rough * 0.999);
    let step = step.unwrap_or(rough);
    let first = (low / step - 1e-9).ceil();
    (0..200).map(|i| (first + f64::from(i)) * step).take_while(|mark| *mark <= high + step * 1e-6).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_others_stay_words() {
        let mut svg = Svg::default();
        svg.text("label", (0.0, 0.0), Anchor::Start, "</text><script>alert('x')</script>\u{1}&");
        let file = svg.file((10.0, 10.0), "a \"b\"", "<");
        assert!(!file.contains("<script"), "{file}");
        assert!(file.contains("&lt;/text&gt;&lt;script&gt;alert('x')&lt;/script&gt;&amp;"), "{file}");
        assert!(file.contains("<desc>&lt;</desc>"), "{file}");
        assert!(!file.contains('\u{1}'));
    }

    #[test]
    fn marks_are_round_and_within() {
        assert_eq!(marks(0.0, 47.0, 5.0), [0.0, 10.0, 20.0, 30.0, 40.0]);
        assert_eq!(marks(2.1, 3.9, 4.0), [2.5, 3.0, 3.5]);
        assert!(marks(1.0, 1.0, 5.0).is_empty() && marks(f64::NAN, 1.0, 5.0).is_empty());
    }
}
