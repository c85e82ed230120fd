//! A graph over time: from moments and values to dots on a sheet.

use ratatui::layout::Rect;

use super::dots::Dot;
use super::stretch::Stretch;
use crate::watch::units::WatchTime;

/// Where a graph stands, what time it covers, and what its lower and upper edges mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plot {
    /// Where.
    pub area: Rect,
    /// The time from its left to its right edge.
    pub stretch: Stretch,
    /// The value at the lower edge.
    pub low: f64,
    /// The value at the upper edge.
    pub high: f64,
}

impl Plot {
    /// Dots from its left edge.
    #[must_use]
    pub fn x(&self, at: WatchTime) -> f64 {
        self.stretch.across(at) * f64::from(self.area.width) * 2.0
    }

    /// Dots from its upper edge; the lowest value stands on the lowest dot.
    #[must_use]
    pub fn y(&self, value: f64) -> f64 {
        let span = self.high - self.low;
        let share = if span > 0.0 { (value - self.low) / span } else { 0.0 };
        (1.0 - share) * (f64::from(self.area.height) * 4.0 - 1.0)
    }

    /// The dot of a value at a moment.
    #[must_use]
    pub fn dot(&self, at: WatchTime, value: f64) -> Dot {
        (self.x(at), self.y(value))
    }

    /// The column of a moment, from the left edge of the graph; `None` outside it.
    #[must_use]
    pub fn column(&self, at: WatchTime) -> Option<u16> {
        let x = self.x(at) / 2.0;
        // In range by the check, so the cast keeps the value.
        (x >= 0.0 && x < f64::from(self.area.width)).then_some(x as u16)
    }

    /// The row of a value, from the upper edge of the graph; `None` outside it.
    #[must_use]
    pub fn row(&self, value: f64) -> Option<u16> {
        let y = self.y(value) / 4.0;
        (y >= 0.0 && y < f64::from(self.area.height)).then_some(y as u16)
    }
}

/// Round marks on an axis between two values, at most `most` of them: steps of 1, 2 or 5 times a power of ten.
#[must_use]
pub fn marks(low: f64, high: f64, most: usize) -> Vec<f64> {
    let span = high - low;
    if !(span.is_finite() && span > 0.0 && low.is_finite()) || most == 0 {
        return Vec::new();
    }
    let rough = span / most as f64;
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|n| n * power).find(|s| *s >= rough);
    let step = step.unwrap_or(10.0 * power);
    let first = (low / step).ceil();
    // At most `most` steps fit, so the loop is short.
    (0..=most).map(|n| (first + n as f64) * step).take_while(|mark| *mark <= high + step * 1e-9).collect()
}

/// Pushes rows apart so that each has one of its own, keeping their order; what does not fit above `rows` goes.
///
/// `wished` from top to bottom, each with what stands there.
#[must_use]
pub fn spread<T>(mut wished: Vec<(f64, T)>, rows: u16) -> Vec<(u16, T)> {
    wished.truncate(usize::from(rows));
    wished.sort_by(|a, b| a.0.total_cmp(&b.0));
    let count = wished.len() as u16;
    let mut least = 0;
    let mut placed = Vec::with_capacity(wished.len());
    for (i, (row, what)) in (0..count).zip(wished) {
        // Room must be left below for those that follow.
        let most = rows - (count - i);
        let row = (row.clamp(0.0, f64::from(rows)).floor() as u16).clamp(least, most);
        placed.push((row, what));
        least = row + 1;
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::units::Span;

    #[test]
    fn edges_of_time_and_value_lie_on_the_edges_of_the_graph() {
        let from = WatchTime(0);
        let stretch = Stretch { from, to: from + Span::from_mins(60) };
        let plot = Plot { area: Rect::new(0, 0, 30, 5), stretch, low: 0.0, high: 10.0 };
        assert_eq!(plot.dot(from, 0.0), (0.0, 19.0));
        assert_eq!(plot.y(10.0), 0.0);
        assert_eq!(
            (plot.column(from + Span::from_mins(30)), plot.row(10.0), plot.row(0.0)),
            (Some(15), Some(0), Some(4))
        );
        assert_eq!((plot.column(from + Span::from_mins(60)), plot.row(10.9)), (None, None));
    }

    #[test]
    fn marks_are_round_and_few() {
        assert_eq!(marks(0.0, 6.9, 4), [0.0, 2.0, 4.0, 6.0]);
        assert_eq!(marks(0.0, 50.0, 5), [0.0, 10.0, 20.0, 30.0, 40.0, 50.0]);
        assert_eq!(marks(3.0, 3.0, 4), [0.0; 0]);
        assert_eq!(marks(f64::NAN, 3.0, 4), [0.0; 0]);
    }

    #[test]
    fn labels_that_meet_make_way() {
        assert_eq!(spread(vec![(2.0, 'a'), (2.4, 'b'), (2.1, 'c')], 9), [(2, 'a'), (3, 'c'), (4, 'b')]);
        assert_eq!(spread(vec![(8.0, 'a'), (8.0, 'b')], 9), [(7, 'a'), (8, 'b')]);
        assert_eq!(spread(vec![(1.0, 'a'), (f64::NAN, 'b')], 1).len(), 1);
    }
}
