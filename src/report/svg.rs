//! Pictures as SVG: a small writer. Text is escaped, numbers are rounded to a tenth of a unit.

use std::fmt::Write as _;

/// Text that may stand in XML and HTML, in elements and in quoted attributes. Characters that XML forbids are left out.
#[must_use]
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // XML 1.0, section 2.2.
            '\t' | '\n' | '\r' => out.push(c),
            c if c < ' ' || matches!(c, '\u{fffe}' | '\u{ffff}') => {}
            c => out.push(c),
        }
    }
    out
}

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

impl Svg {
    /// A straight line.
    pub fn line(&mut self, class: &str, from: Spot, to: Spot) {
        let _ = write!(
            self.body,
            r#"<line class="{class}" x1="{:.1}" y1="{:.1}" x2="{:.1}" y2="{:.1}"/>"#,
            from.0, from.1, to.0, to.1
        );
    }

    /// A line through points; nothing for fewer than two.
    pub fn path(&mut self, class: &str, points: &[Spot]) {
        if points.len() < 2 {
            return;
        }
        let _ = write!(self.body, r#"<polyline class="{class}" points="{}"/>"#, listed(points));
    }

    /// A filled area.
    pub fn area(&mut self, class: &str, points: &[Spot]) {
        let _ = write!(self.body, r#"<polygon class="{class}" points="{}"/>"#, listed(points));
    }

    /// A circle.
    pub fn circle(&mut self, class: &str, at: Spot, radius: f64) {
        let _ = write!(
            self.body,
            r#"<circle class="{class}" cx="{:.1}" cy="{:.1}" r="{radius:.1}"/>"#,
            at.0, at.1
        );
    }

    /// An ellipse whose first half axis points `degrees` clockwise from the right.
    pub fn ellipse(&mut self, class: &str, at: Spot, (rx, ry): Spot, degrees: f64) {
        let (x, y) = at;
        let _ = write!(
            self.body,
            r#"<ellipse class="{class}" cx="{x:.1}" cy="{y:.1}" rx="{rx:.1}" ry="{ry:.1}" transform="rotate({degrees:.1} {x:.1} {y:.1})"/>"#
        );
    }

    /// An upright rectangle by its corner and size.
    pub fn rect(&mut self, class: &str, corner: Spot, size: Spot) {
        let _ = write!(
            self.body,
            r#"<rect class="{class}" x="{:.1}" y="{:.1}" width="{:.1}" height="{:.1}"/>"#,
            corner.0,
            corner.1,
            size.0.max(0.0),
            size.1.max(0.0)
        );
    }

    /// Words.
    pub fn text(&mut self, class: &str, at: Spot, anchor: Anchor, words: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let _ = write!(
            self.body,
            r#"<text class="{class}" x="{:.1}" y="{:.1}" text-anchor="{anchor}">{}</text>"#,
            at.0,
            at.1,
            escaped(words)
        );
    }

    /// The picture as an element: its size in its own units, and what it shows for whoever cannot see it.
    #[must_use]
    pub fn element(&self, (width, height): Spot, title: &str, about: &str) -> String {
        let (title, about) = (escaped(title), escaped(about));
        format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0} {height:.0}" role="img"><title>{title}</title><desc>{about}</desc><defs><pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line class="faint" x1="0" y1="0" x2="0" y2="6"/></pattern></defs>{}</svg>"#,
            self.body
        )
    }

    /// The picture as a file of its own.
    #[must_use]
    pub fn file(&self, size: Spot, title: &str, about: &str) -> String {
        let element = self.element(size, title, about);
        let (opening, rest) = element.split_at(element.find("<defs>").unwrap_or(element.len()));
        let ground = r#"<rect class="ground" width="100%" height="100%"/>"#;
        let rest = rest.replacen("</defs>", &format!("</defs>{ground}"), 1);
        format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{opening}<style>{STYLE}</style>{rest}\n")
    }
}

fn listed(points: &[Spot]) -> String {
    let mut out = String::with_capacity(points.len() * 12);
    for (x, y) in points {
        let _ = write!(out, "{x:.1},{y:.1} ");
    }
    out.truncate(out.trim_end().len());
    out
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
        let element = svg.element((10.0, 10.0), "a \"b\"", "<");
        assert!(!element.contains("<script"), "{element}");
        assert!(element.contains("&lt;script&gt;alert(&#39;x&#39;)"), "{element}");
        assert!(!element.contains('\u{1}'));
    }

    #[test]
    fn marks_are_round_and_within() {
        assert_eq!(marks(0.0, 47.0, 5.0), [0.0, 10.0, 20.0, 30.0, 40.0]);
        assert_eq!(marks(2.1, 3.9, 4.0), [2.5, 3.0, 3.5]);
        assert!(marks(1.0, 1.0, 5.0).is_empty() && marks(f64::NAN, 1.0, 5.0).is_empty());
    }
}
