//! Words and numbers as the screen writes them, and putting them there without ever leaving it.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Span as Piece;

use crate::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};
use crate::watch::words::capital;

/// Gives the time of day in the boat's time zone.
#[derive(Clone, Debug)]
pub struct Clock {
    zone: TimeZone,
}

impl Clock {
    /// A clock for `zone`.
    #[must_use]
    pub fn new(zone: TimeZone) -> Self {
        Self { zone }
    }

    /// The zone.
    #[must_use]
    pub fn zone(&self) -> &TimeZone {
        &self.zone
    }

    /// `02:14`.
    #[must_use]
    pub fn hm(&self, at: WatchTime) -> String {
        self.format(at, "%H:%M")
    }

    /// Words with each `19:40 UTC` in them as this clock has it. The times lie about `now`.
    #[must_use]
    pub fn words(&self, words: &str, now: WatchTime) -> String {
        let (told, last) = words.rsplit_once(" UTC").map_or(("", words), |(told, last)| (told, last));
        if last.len() == words.len() {
            return words.to_owned();
        }
        let shown: String = told.split(" UTC").map(|part| self.part(part, now)).collect();
        shown + last
    }

    /// What stands before one ` UTC`, the time at its end by this clock; with ` UTC` where no time stands there.
    fn part(&self, part: &str, now: WatchTime) -> String {
        let split = part.len().checked_sub(5).and_then(|at| part.split_at_checked(at));
        let here = split.and_then(|(before, time)| {
            let time = jiff::civil::Time::strptime("%H:%M", time).ok()?;
            let today = TimeZone::UTC.to_datetime(jiff::Timestamp::from_millisecond(now.0).ok()?).date();
            let at = TimeZone::UTC.to_timestamp(today.to_datetime(time)).ok()?.as_millisecond();
            Some(format!("{before}{}", self.hm(WatchTime(at))))
        });
        here.unwrap_or_else(|| format!("{part} UTC"))
    }

    /// `02:14:07`.
    #[must_use]
    pub fn hms(&self, at: WatchTime) -> String {
        self.format(at, "%H:%M:%S")
    }

    /// `Wed 3 Jun`.
    #[must_use]
    pub fn day(&self, at: WatchTime) -> String {
        self.format(at, "%a %-d %b")
    }

    /// `3 Jun 2026`.
    #[must_use]
    pub fn date(&self, at: WatchTime) -> String {
        self.format(at, "%-d %b %Y")
    }

    /// Hours since local midnight, with their fraction; `None` for a moment outside the calendar.
    #[must_use]
    pub fn hour_of_day(&self, at: WatchTime) -> Option<f64> {
        let zoned = Timestamp::from_millisecond(at.0).ok()?.to_zoned_datetime(self.zone.clone());
        Some(f64::from(zoned.hour()) + f64::from(zoned.minute()) / 60.0 + f64::from(zoned.second()) / 3600.0)
    }

    fn format(&self, at: WatchTime, pattern: &str) -> String {
        match Timestamp::from_millisecond(at.0) {
            Ok(stamp) => stamp.to_zoned_datetime(self.zone.clone()).strftime(pattern).to_string(),
            Err(_) => "--:--".to_owned(),
        }
    }
}

/// A distance to the whole metre, as it is known: `31 m`, and `5.2 km` where metres mean nothing.
#[must_use]
pub fn metres(length: Metres) -> String {
    if length.0.abs() >= 9_950.0 {
        format!("{} km", rounded(length.0 / 1000.0, 0))
    } else if length.0.abs() >= 1_999.5 {
        format!("{} km", rounded(length.0 / 1000.0, 1))
    } else {
        format!("{} m", rounded(length.0, 0))
    }
}

/// A depth or another length that is known to the tenth: `5.1 m`.
#[must_use]
pub fn depth(length: Metres) -> String {
    format!("{} m", rounded(length.0, 1))
}

/// A speed to the whole knot: `14 kn`.
#[must_use]
pub fn knots(speed: Knots) -> String {
    format!("{} kn", rounded(speed.0, 0))
}

/// A number with so many decimals, a true minus sign and never `-0`.
#[must_use]
pub fn rounded(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// A turn of the wind in the trade's words: `backed 18°`, `veered 7°`, `steady`.
#[must_use]
pub fn shift(degrees: f64) -> String {
    match degrees.round() {
        turn if turn > 0.0 => format!("veered {turn:.0}°"),
        turn if turn < 0.0 => format!("backed {:.0}°", -turn),
        _ => "steady".to_owned(),
    }
}

/// The point of the compass in one to three letters, of sixteen: `NNE`.
#[must_use]
pub fn point(bearing: TrueBearing) -> &'static str {
    const POINTS: [&str; 16] =
        ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];
    POINTS[(bearing.degrees() / 22.5).round() as usize % 16]
}

/// How long ago, short: `now`, `8 s ago`, `3 min ago`.
#[must_use]
pub fn ago(span: Span) -> String {
    if span.0 < 1000 { "now".to_owned() } else { format!("{span} ago") }
}

/// Columns that `text` takes.
#[must_use]
pub fn width(text: &str) -> u16 {
    u16::try_from(Piece::raw(text).width()).unwrap_or(u16::MAX)
}

/// `text` cut to `room` columns, the cut shown by `…`.
#[must_use]
pub fn cut(text: &str, room: u16) -> String {
    if width(text) <= room {
        return text.to_owned();
    }
    let mut kept = String::new();
    let mut used = 1;
    for c in text.chars() {
        let step = width(c.encode_utf8(&mut [0; 4]));
        if used + step > room {
            break;
        }
        used += step;
        kept.push(c);
    }
    if room > 0 {
        kept.truncate(kept.trim_end().len());
        kept.push('…');
    }
    kept
}

/// The blank that keeps words together; a plain blank once it is drawn.
pub const KEEP: char = '\u{a0}';

/// Units that stay with the number before them.
const UNITS: [&str; 8] = ["m", "km", "kn", "kN", "s", "min", "h", "%"];

/// The same with numbers kept together with their units.
fn kept_together(text: &str) -> String {
    let mut kept = String::with_capacity(text.len());
    for word in text.split_inclusive(' ') {
        let bare = word.trim_end().trim_end_matches(['.', ',', ';', ':', ')']);
        let number =
            kept.strip_suffix(' ').is_some_and(|before| before.ends_with(|c: char| c.is_ascii_digit()));
        // `2 h 38 min` is one span.
        let goes_on = kept.ends_with(" h ") || kept.ends_with("\u{a0}h ");
        let minutes = goes_on && bare.chars().all(|c| c.is_ascii_digit());
        if (number && UNITS.contains(&bare)) || minutes {
            kept.pop();
            kept.push(KEEP);
        }
        kept.push_str(word);
    }
    kept
}

/// `text` in lines of at most `room` columns, broken at spaces but never at [`KEEP`]; longer words are cut. Within a
/// line the space between words stays as wide as it was written.
#[must_use]
pub fn wrap(text: &str, room: u16) -> Vec<String> {
    let text = &kept_together(text);
    let mut lines = Vec::new();
    for paragraph in text.lines() {
        let mut line = String::new();
        let mut gap = 0;
        for word in paragraph.split(|c: char| c.is_whitespace() && c != KEEP) {
            if word.is_empty() {
                gap += 1;
                continue;
            }
            if !line.is_empty() && width(&line).saturating_add(gap).saturating_add(width(word)) > room {
                lines.push(std::mem::take(&mut line));
            }
            if !line.is_empty() {
                line.extend(std::iter::repeat_n(' ', usize::from(gap)));
            }
            line.push_str(&cut(word, room));
            gap = 1;
        }
        lines.push(line);
    }
    lines.iter().map(|line| line.replace(KEEP, " ")).collect()
}

/// `text` in at most so many rows of whole sentences: half a sentence misleads, so the last ones go first. Of a first
/// sentence that is too long by itself as many whole clauses stay as fit, and `…` shows that it goes on.
#[must_use]
pub fn whole_sentences(text: &str, columns: u16, rows: u16) -> Vec<String> {
    let fits = |text: &str| {
        let lines = wrap(text, columns);
        (lines.len() <= usize::from(rows)).then_some(lines)
    };
    let mut text = text.trim_end();
    loop {
        if let Some(lines) = fits(text) {
            return lines;
        }
        match text.rfind(". ") {
            Some(stop) => text = &text[..=stop],
            None => break,
        }
    }
    let clauses =
        text.rmatch_indices([';', ':', ',']).filter(|(i, sign)| text[i + sign.len()..].starts_with(' '));
    if let Some(lines) = clauses.map(|(i, _)| format!("{} …", &text[..i])).find_map(|clause| fits(&clause))
    {
        return lines;
    }
    let mut lines = wrap(text, columns);
    let rest = lines.split_off(usize::from(rows.saturating_sub(1))).join(" ");
    lines.push(cut(&format!("{rest} …"), columns));
    lines.truncate(usize::from(rows));
    lines
}

/// Writes into an area by its own rows and columns; what does not fit is cut, never drawn elsewhere.
#[derive(Debug)]
pub struct Pen<'a> {
    buf: &'a mut Buffer,
    area: Rect,
}

impl<'a> Pen<'a> {
    /// A pen for `area`.
    pub fn new(buf: &'a mut Buffer, area: Rect) -> Self {
        let area = area.intersection(buf.area);
        Self { buf, area }
    }

    /// Columns.
    #[must_use]
    pub fn width(&self) -> u16 {
        self.area.width
    }

    /// Rows.
    #[must_use]
    pub fn height(&self) -> u16 {
        self.area.height
    }

    /// Writes `text` at column `x` of row `y`. Gives the column behind it.
    pub fn put(&mut self, x: u16, y: u16, text: &str, style: Style) -> u16 {
        self.put_within(x, y, self.area.width, text, style)
    }

    /// As `put`, but not beyond column `end`.
    pub fn put_within(&mut self, x: u16, y: u16, end: u16, text: &str, style: Style) -> u16 {
        let end = end.min(self.area.width);
        if y >= self.area.height || x >= end {
            return x;
        }
        let shown = cut(text, end - x);
        let (after, _) =
            self.buf.set_stringn(self.area.x + x, self.area.y + y, &shown, usize::from(end - x), style);
        after - self.area.x
    }

    /// Writes `text` so that it ends before column `end` of row `y`. Gives the column where it begins.
    pub fn put_right(&mut self, end: u16, y: u16, text: &str, style: Style) -> u16 {
        let end = end.min(self.area.width);
        let start = end.saturating_sub(width(text));
        self.put_within(start, y, end, text, style);
        start
    }

    /// Writes at the end of row `y` that more is to be read. A word that would be cut by it goes whole.
    pub fn put_more(&mut self, y: u16, text: &str, style: Style) {
        let start = self.area.width.saturating_sub(width(text));
        let cell = |x: u16| (self.area.x + x, self.area.y + y);
        let is_blank = |x: u16| self.buf.cell(cell(x)).is_none_or(|cell| cell.symbol() == " ");
        let word = (1..start).rev().find(|x| is_blank(*x)).unwrap_or(0);
        let from = if start > 0 && is_blank(start - 1) { start } else { word };
        self.put(from, y, &" ".repeat(usize::from(self.area.width - from)), style);
        self.put_right(self.area.width, y, text, style);
    }

    /// Writes `text` in the middle of row `y`.
    pub fn put_middle(&mut self, y: u16, text: &str, style: Style) -> u16 {
        self.put(self.area.width.saturating_sub(width(text)) / 2, y, text, style)
    }

    /// Fills rows with blanks in a style.
    pub fn blank(&mut self, rows: std::ops::Range<u16>, style: Style) {
        for y in rows.start..rows.end.min(self.area.height) {
            for x in 0..self.area.width {
                if let Some(cell) = self.buf.cell_mut((self.area.x + x, self.area.y + y)) {
                    cell.set_char(' ').set_style(style);
                }
            }
        }
    }

    /// A rule along row `y`.
    pub fn rule(&mut self, y: u16, style: Style) {
        let line = "─".repeat(usize::from(self.area.width));
        self.put(0, y, &line, style);
    }

    /// The place on the screen of a part of row `y`.
    #[must_use]
    pub fn spot(&self, x: u16, y: u16, columns: u16) -> Rect {
        Rect::new(self.area.x + x, self.area.y + y, columns, 1).intersection(self.area)
    }
}

/// Words as a sentence: a capital at the beginning, a full stop at the end.
#[must_use]
pub fn sentence(words: &str) -> String {
    format!("{}.", capital(words))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_never_read_minus_nought() {
        assert_eq!(metres(Metres(-0.3)), "0 m");
        assert_eq!(metres(Metres(-4.0)), "−4 m");
        assert_eq!(depth(Metres(-0.04)), "0.0 m");
        assert_eq!(metres(Metres(5_240.0)), "5.2 km");
        assert_eq!(metres(Metres(1_852_000.0)), "1852 km");
        assert_eq!(shift(-18.2), "backed 18°");
        assert_eq!(shift(0.4), "steady");
        assert_eq!(point(TrueBearing::new(359.0)), "N");
    }

    #[test]
    fn lines_break_at_spaces_and_long_words_are_cut() {
        assert_eq!(wrap("ease the snubber now", 11), ["ease the", "snubber now"]);
        assert_eq!(wrap("unpronounceable", 5), ["unpr…"]);
        assert_eq!(wrap("one\ntwo", 9), ["one", "two"]);
        assert_eq!(wrap("one   two three", 9), ["one   two", "three"]);
        assert_eq!(wrap("veer a\u{a0}metre", 9), ["veer", "a metre"]);
        assert_eq!(wrap("reaches 35 m.", 11), ["reaches", "35 m."]);
        assert_eq!(wrap("out for 2 h 38 min", 14), ["out for", "2 h 38 min"]);
        assert_eq!(cut("wind 14 kn", 7), "wind 1…");
        assert_eq!(cut("wind 14 kn", 6), "wind…");
        assert_eq!(cut("wind", 0), "");
    }

    #[test]
    fn a_word_that_more_would_cut_goes_whole() {
        let mut buf = Buffer::with_lines(["gusts 21, backed 18°", "ends here         x"]);
        let mut pen = Pen::new(&mut buf, Rect::new(0, 0, 20, 2));
        pen.put_more(0, "↓ more", Style::new());
        pen.put_more(1, "↓ more", Style::new());
        assert_eq!(buf, Buffer::with_lines(["gusts 21,     ↓ more", "ends here     ↓ more"]));
    }

    #[test]
    fn short_of_rows_the_last_sentences_go_whole() {
        let text = "Look out. Start the engine. Veer more rode.";
        assert_eq!(whole_sentences(text, 50, 1), [text]);
        assert_eq!(whole_sentences(text, 30, 1), ["Look out. Start the engine."]);
        assert_eq!(whole_sentences(text, 12, 1), ["Look out."]);
        assert_eq!(whole_sentences("Start the engine now", 9, 2), ["Start the", "engine n…"]);
        assert_eq!(whole_sentences(text, 30, 0), [""; 0]);
        let long = "Not changed in any digit for 2 min: the receiver may be frozen.";
        assert_eq!(whole_sentences(long, 24, 2), ["Not changed in any digit", "for 2 min …"]);
        assert_eq!(whole_sentences(long, 70, 1), [long]);
    }

    #[test]
    fn words_with_times_in_utc_are_shown_by_the_boats_clock() {
        let clock = Clock::new(TimeZone::fixed(jiff::tz::offset(2)));
        let shown = |words| clock.words(words, WatchTime(1_780_445_647_000));
        assert_eq!(
            shown("Touches 19:40 UTC; floats again 23:15 UTC: ü"),
            "Touches 21:40; floats again 01:15: ü"
        );
        for plain in ["no time", "by UTC", "ü UTC 1", ""] {
            assert_eq!(shown(plain), plain);
        }
    }

    #[test]
    fn times_are_told_in_the_boats_zone() {
        let clock = Clock::new(TimeZone::fixed(jiff::tz::offset(2)));
        let at = WatchTime(1_780_445_647_000);
        assert_eq!((clock.hms(at).as_str(), clock.day(at).as_str()), ("02:14:07", "Wed 3 Jun"));
        assert_eq!(clock.hm(WatchTime(i64::MAX)), "--:--");
    }
}
