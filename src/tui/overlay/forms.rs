//! What each form asks, and the command that it makes of the answers.

use jiff::Timestamp;

use super::form::{Field, Form, Wrong};
pub use super::purpose::Purpose;
use super::tide as live;
use super::typed;
use super::{ahead, berth};
use crate::tui::keys::{Act, label};
use crate::tui::text::{Clock, depth, metres, sentence};
use crate::watch::boat::Limits;
use crate::watch::boat::limits::{Limit, limit};
use crate::watch::boat::ranges::{self, Range, range};
use crate::watch::input::{Command, DropMove, MarkEntered, TideEntered, TypedTurn};
use crate::watch::marks::Bearings;
use crate::watch::snapshot::{Snapshot, Stage};
use crate::watch::tide::stations::Stations;
use crate::watch::tide::turns::{Rule, TurnTable, Uncovered};
use crate::watch::tide::typed::{OddIntervals, parse_at, zone_words};
use crate::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};
use crate::watch::wake::WakeFor;
use crate::watch::water::Foresight;

const VEERED: Range = ranges::VEERED_ENTERED_M;
const DEPTH: Range = Range { least: 0.1, ..ranges::DEPTH_M };
const DISTANCE: Range = range("m", 0.0, 1000.0);
const FAR: Range = range("m", 1.0, 50_000.0);
const WAKE_KN: Range = range("kn", 1.0, 100.0);
const MINUTES: Range = range("min", 0.0, 720.0);
/// Stations that are offered.
const STATIONS: usize = 6;
/// Bytes of a name of a place that fit a folder's name.
const PLACE_MAX: usize = 60;

impl Purpose {
    /// What heads the form.
    #[must_use]
    pub const fn title(&self) -> &'static str {
        match self {
            Self::LetGo => "LET GO",
            Self::NamePlace => "NAME OF THE PLACE",
            Self::Veer => "VEER OR SHORTEN",
            Self::MoveDrop => "MOVE THE MARK",
            Self::Limits => "LIMITS",
            Self::Tide { .. } => "TIDE",
            Self::WindAhead => "WIND AHEAD",
            Self::WayOut => "WAY OUT",
            Self::Berth => "BERTH",
            Self::Note => "NOTE",
            Self::Wake => "WAKE US",
            Self::Mark => "BEARING MARK",
            Self::MarkAway { .. } => "REMOVE A BEARING MARK",
            Self::Bearing { .. } => "BEARING BY EYE",
        }
    }

    /// What `Enter` does, in a word.
    #[must_use]
    pub const fn deed(&self) -> &'static str {
        match self {
            Self::LetGo | Self::NamePlace => "done",
            Self::Veer | Self::Limits | Self::Wake => "set",
            Self::MoveDrop => "move it",
            Self::Tide { .. } | Self::WindAhead | Self::WayOut | Self::Berth => "set",
            Self::Note | Self::Mark | Self::Bearing { .. } => "save",
            Self::MarkAway { .. } => "remove",
        }
    }
}

/// The form after letting go: the anchor is marked already, and nothing here must be filled in.
#[must_use]
pub fn let_go() -> (Purpose, Form) {
    let form = Form::new(vec![
        Field::number("rode out", "m", None, "What is out, or will be: chain and rope. May be left empty.")
            .stepped(1.0),
        Field::number("depth", "m", None, "From the surface. Left empty it is the sounder's."),
    ]);
    (Purpose::LetGo, form)
}

/// The form for the name of the place.
#[must_use]
pub fn name_place(snap: &Snapshot) -> (Purpose, Form) {
    let about = "For the logbook and the book of places. May be left empty.";
    (Purpose::NamePlace, Form::new(vec![Field::words("name", &snap.place, about)]))
}

/// The form for veering and shortening.
#[must_use]
pub fn veer(snap: &Snapshot) -> (Purpose, Form) {
    let out = snap.rode.veered.map(|length| length.0);
    let about = "All that is out. + and − change it by 1 m, PgUp and PgDn by 5 m.";
    (Purpose::Veer, Form::new(vec![Field::number("rode out", "m", out, about).stepped(1.0)]))
}

/// The form for the drop point.
#[must_use]
pub fn move_drop(snap: &Snapshot) -> (Purpose, Form) {
    let way = |word: &str, about: &str| (word.to_owned(), about.to_owned());
    let here = snap.drop.map_or_else(String::new, |drop| drop.position.to_string());
    let (off, bears) = snap.anchor_off.map_or((None, None), |(off, way)| (Some(off), Some(way)));
    let form = Form::new(vec![
        Field::choice(
            "how",
            vec![
                way(
                    "bearing and distance",
                    "Where the anchor lies as seen from the bow. ← and → choose another way.",
                ),
                way(
                    "minutes ago",
                    "Where the bow was then: the key was pressed late. ← and → choose another way.",
                ),
                way("position", "Latitude and longitude. ← and → choose another way."),
            ],
        ),
        Field::number(
            "bearing",
            "° true",
            bears.map(|b| b.degrees().round()),
            "From the bow to the anchor, 047.",
        )
        .only(0, 0),
        Field::number(
            "distance",
            "m",
            off.map(|m| m.0.round()),
            "From the bow to the anchor, along the water.",
        )
        .only(0, 0),
        Field::number("minutes ago", "min", None, "When the anchor went down, counted back from now.")
            .only(0, 1),
        Field::words("position", &here, "As 54 12.204 N 10 24.762 E, or 54.20340 10.41270.").only(0, 2),
    ]);
    (Purpose::MoveDrop, form)
}

/// The form for a remark.
#[must_use]
pub fn note() -> (Purpose, Form) {
    (Purpose::Note, Form::new(vec![Field::words("note", "", "Goes into the logbook with the time.")]))
}

/// The form for what the crew is to be woken for.
#[must_use]
pub fn wake(snap: &Snapshot, clock: &Clock) -> (Purpose, Form) {
    let asked = snap.wakes_for;
    let at = asked.at.map_or_else(String::new, |at| clock.hm(at));
    let turn = [
        ("no", "At the next high or low water? ← and → choose."),
        ("yes", "At the next high or low water of the tide that was entered. ← and → choose."),
    ];
    let turn = turn.map(|(word, about)| (word.to_owned(), about.to_owned())).to_vec();
    let fields = vec![
        Field::words("at", &at, "Time of day, as 02:30. Left empty: not by the clock."),
        Field::choice("turn of the tide", turn).choosing(usize::from(asked.turn)),
        Field::number(
            "mean wind",
            "kn",
            asked.wind.map(|wind| wind.0),
            "From this on. Left empty: not by the wind.",
        ),
    ];
    (Purpose::Wake, Form::new(fields))
}

fn read_wake(form: &Form, snap: &Snapshot, clock: &Clock) -> Result<WakeFor, Wrong> {
    let wind = form.read(2, |text| WAKE_KN.read_or_none(text))?;
    let wakes = WakeFor {
        at: form.read(0, |text| next_time_of_day(text, snap, clock))?,
        turn: form.chosen(1) == 1,
        wind: wind.map(Knots),
    };
    if wakes.turn && snap.tide.turns.is_empty() && snap.tide.known_until.is_none() {
        return Err(Wrong { field: 1, what: "No tide was entered, so its turn is not known.".to_owned() });
    }
    Ok(wakes)
}

/// When it is so late next; `None` where nothing is written.
fn next_time_of_day(text: &str, snap: &Snapshot, clock: &Clock) -> Result<Option<WatchTime>, String> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(None);
    }
    let wrong = || format!("{text} is no time of day. Write it as 02:30.");
    let time = jiff::civil::Time::strptime("%H:%M", text.replace('.', ":")).map_err(|_| wrong())?;
    let now =
        Timestamp::from_millisecond(snap.at.0).map_err(|_| wrong())?.to_zoned_datetime(clock.zone().clone());
    let on = |day: jiff::civil::Date| {
        day.to_datetime(time).to_zoned_datetime(clock.zone().clone()).map_err(|_| wrong())
    };
    let today = on(now.date())?;
    let next = if today > now { today } else { on(now.date().tomorrow().map_err(|_| wrong())?)? };
    Ok(Some(WatchTime(next.timestamp().as_millisecond())))
}

/// What wakes the crew, as one clause; `None` where they asked for nothing.
#[must_use]
pub fn wakes_for(asked: WakeFor, clock: &Clock) -> Option<String> {
    let at = asked.at.map(|at| format!("at {}", clock.hm(at)));
    let turn = asked.turn.then(|| "at the turn of the tide".to_owned());
    let wind = asked.wind.map(|wind| format!("from {} kn of mean wind", typed::plain(wind.0)));
    let all: Vec<String> = [at, turn, wind].into_iter().flatten().collect();
    (!all.is_empty()).then(|| all.join(", "))
}

/// The form for a mark to take bearings of.
#[must_use]
pub fn mark(snap: &Snapshot) -> (Purpose, Form) {
    let names = of_names(snap, "Of the marks entered, each by itself. ← and → choose.");
    let how = [
        ("by bearing and distance", "From the bow as it lies now. ← and → choose how."),
        ("by position", "From the chart. ← and → choose how."),
        ("two in line", "Two marks that were entered before. ← and → choose how."),
    ];
    let how = how.map(|(word, about)| (word.to_owned(), about.to_owned())).to_vec();
    let fields = vec![
        Field::words("name", "", "What you call it: beacon, church, end of the mole."),
        Field::choice("how", how),
        Field::words("bearing", "", "052 M by a compass, 048 T true.").only(1, 0),
        Field::number("distance", "m", None, "As well as you can judge: near marks swing through wide arcs.")
            .only(1, 0),
        Field::words("position", "", "54 12.204 N 10 24.762 E, or 54.20340 10.41270").only(1, 1),
        Field::choice("nearer", names.clone()).only(1, 2),
        Field::choice("farther", names).choosing(1).only(1, 2),
    ];
    (Purpose::Mark, Form::new(fields))
}

/// The form that takes a mark away; `None` before a mark is entered.
#[must_use]
pub fn mark_away(snap: &Snapshot) -> Option<(Purpose, Form)> {
    let marks: Vec<String> = snap.marks.iter().map(|mark| mark.name.to_string()).collect();
    if marks.is_empty() {
        return None;
    }
    let about = "Which mark. ← and → choose. A transit of which it is one goes with it.";
    let names = marks.iter().map(|name| (name.clone(), about.to_owned())).collect();
    Some((Purpose::MarkAway { marks }, Form::new(vec![Field::choice("mark", names)])))
}

/// The form for a bearing taken by hand; `None` before a mark is entered.
#[must_use]
pub fn bearing(snap: &Snapshot) -> Option<(Purpose, Form)> {
    let marks: Vec<String> = single_marks(snap).map(str::to_owned).collect();
    if marks.is_empty() {
        return None;
    }
    let names = of_names(snap, "Which mark. ← and → choose.");
    let fields = vec![
        Field::choice("mark", names),
        Field::words("bearing", "", "052 M by a hand-bearing compass, 048 T true."),
    ];
    Some((Purpose::Bearing { marks }, Form::new(fields)))
}

fn single_marks(snap: &Snapshot) -> impl Iterator<Item = &str> {
    snap.marks.iter().filter(|mark| mark.far.is_none()).map(|mark| &*mark.name)
}

/// The marks as choices; a blank where there is none, so that a choice is never empty.
fn of_names(snap: &Snapshot, about: &str) -> Vec<(String, String)> {
    let mut names: Vec<_> = single_marks(snap).map(|name| (name.to_owned(), about.to_owned())).collect();
    if names.is_empty() {
        names.push((String::new(), "No mark has been entered yet.".to_owned()));
    }
    names
}

fn read_mark(form: &Form, snap: &Snapshot) -> Result<Command, Wrong> {
    let name = form.read(0, |text| match text.trim() {
        "" => Err("It has no name yet. Write what you call it.".to_owned()),
        name if name.len() > PLACE_MAX => {
            Err(format!("The name is too long. Write {PLACE_MAX} letters at most."))
        }
        name => Ok(name.to_owned()),
    })?;
    let names: Vec<&str> = single_marks(snap).collect();
    let chosen =
        |field: usize| names.get(form.chosen(field)).map_or_else(String::new, |name| (*name).to_owned());
    let entered = match form.chosen(1) {
        0 => MarkEntered::FromBow {
            bearing: form.read(2, |text| typed::bearing_with_north(text, snap.variation_deg))?,
            distance: Metres(form.read(3, |text| FAR.read(text))?),
        },
        1 => MarkEntered::Position { position: form.read(4, typed::position)? },
        _ => {
            let (near, far) = (chosen(5), chosen(6));
            if near == far {
                let what = "Two different marks make a transit. Choose another.".to_owned();
                return Err(Wrong { field: 6, what });
            }
            MarkEntered::InLine { near, far }
        }
    };
    Ok(Command::Mark { name, entered })
}

/// The form for the tide: a typed table, the nearest stations where a position is known, or none.
#[must_use]
pub fn tide(snap: &Snapshot, clock: &Clock) -> (Purpose, Form) {
    let now = Timestamp::from_millisecond(snap.at.0).unwrap_or(Timestamp::UNIX_EPOCH);
    let zone = zone_words(clock.zone().to_offset(now));
    let table = format!(
        "As HW 20:10 4.8, LW 02:25 0.9: the next two are enough to begin with. Times in {zone}, the boat's clock; a table in \
         another zone begins with it: UT, UTC+1."
    );
    let all = Stations::bundled().ok();
    let near =
        all.as_ref().zip(snap.fix.position).map(|(all, at)| all.nearest(at, STATIONS)).unwrap_or_default();
    let mut of = vec![(
        "typed high and low waters".to_owned(),
        "From the local table. ← and → choose a station, or no tide.".to_owned(),
    )];
    for near in &near {
        let credit = all.as_ref().map_or("", |all| all.credit(near.station));
        of.push((
            format!("{}, {} on {:03.0}°", near.station.name, metres(near.distance), near.bearing.degrees()),
            format!("Predicted for {}; it can differ from the tide here. {credit}", near.station.name),
        ));
    }
    of.push(("no tide".to_owned(), "The depth counts as it was sounded.".to_owned()));
    let form = Form::new(vec![Field::choice("from", of), Field::words("table", "", table).only(0, 0)]);
    (Purpose::Tide { stations: near.iter().map(|near| near.station.id.clone()).collect() }, form)
}

/// The limits in the order of the form, the ones a night changes first.
const LIMITS_ORDER: [&str; 16] = [
    "circle_m",
    "round_every_min",
    "round_grace_min",
    "outside_after_s",
    "circle_margin_m",
    "wind_high_kn",
    "gust_high_kn",
    "wind_shift_deg",
    "wind_shift_kn",
    "wind_window_min",
    "under_keel_m",
    "scope",
    "depth_odd_m",
    "fix_lost_after_s",
    "fix_lost_alarm_after_s",
    "escalate_after_s",
];
/// The sectors come last.
const SECTORS: usize = LIMITS_ORDER.len();

/// The limits with their fields.
fn limit_fields() -> impl Iterator<Item = (usize, &'static Limit)> {
    LIMITS_ORDER.iter().enumerate().filter_map(|(field, key)| Some((field, limit(key)?)))
}

/// The form for the limits, filled with those in force.
#[must_use]
pub fn limits(snap: &Snapshot) -> (Purpose, Form) {
    let number = |(_, limit): (usize, &Limit)| {
        Field::number(limit.label, limit.range.unit, (limit.get)(&snap.limits), sentence(limit.about))
    };
    let mut fields: Vec<Field> = limit_fields().map(number).collect();
    fields.push(Field::words(
        "barred sectors",
        &typed::sectors_text(&snap.limits.barred),
        "Winds that you do not want to lie in, clockwise, true: 330-030, 200-290.",
    ));
    (Purpose::Limits, Form::new(fields))
}

fn read_limits(form: &Form, snap: &Snapshot) -> Result<Limits, Wrong> {
    let mut new = Limits { circle: None, round_every: None, ..snap.limits.clone() };
    for (field, limit) in limit_fields() {
        if limit.usual.is_some() {
            (limit.set)(&mut new, form.read(field, |text| limit.range.read(text))?);
        } else if let Some(value) = form.read(field, |text| limit.range.read_or_none(text))? {
            (limit.set)(&mut new, value);
        }
    }
    new.barred = form.read(SECTORS, typed::sectors)?;
    let field = |key: &str| LIMITS_ORDER.iter().position(|one| *one == key).unwrap_or(0);
    let wrong = |key, what: &str| Err(Wrong { field: field(key), what: what.to_owned() });
    if new.fix_lost_alarm_after <= new.fix_lost_after {
        return wrong("fix_lost_alarm_after_s", "The alarm must come after the warning. Make it longer.");
    }
    if new.gust_high < new.wind_high {
        return wrong("gust_high_kn", "The gust must not lie below the mean wind. Make it greater.");
    }
    Ok(new)
}

/// The commands that the answers make: none where nothing was filled in that may be left empty.
///
/// # Errors
/// The first field that is wrong.
pub fn commands(
    purpose: &Purpose,
    form: &Form,
    snap: &Snapshot,
    clock: &Clock,
) -> Result<Vec<Command>, Wrong> {
    match purpose {
        Purpose::LetGo => {
            let veered = form.read(0, |text| VEERED.read_or_none(text))?;
            let depth = form.read(1, |text| DEPTH.read_or_none(text))?;
            let veered = veered.map(|length| Command::Veered { length: Metres(length) });
            Ok(veered
                .into_iter()
                .chain(depth.map(|depth| Command::DropDepth { depth: Metres(depth) }))
                .collect())
        }
        Purpose::NamePlace => {
            let name = form.read(0, place)?;
            Ok((!name.is_empty()).then_some(Command::NamePlace { name }).into_iter().collect())
        }
        _ => command(purpose, form, snap, clock).map(|one| one.into_iter().collect()),
    }
}

/// The one command of a form that makes one.
fn command(purpose: &Purpose, form: &Form, snap: &Snapshot, clock: &Clock) -> Result<Option<Command>, Wrong> {
    Ok(Some(match purpose {
        Purpose::LetGo | Purpose::NamePlace => return Ok(None),
        Purpose::Veer => Command::Veered { length: Metres(form.read(0, |text| VEERED.read(text))?) },
        Purpose::MoveDrop => Command::MoveDrop(match form.chosen(0) {
            0 => DropMove::FromBow {
                bearing: form.read(1, |text| typed::bearing(text.trim().trim_end_matches("true")))?,
                distance: Metres(form.read(2, |text| DISTANCE.read(text))?),
            },
            1 => DropMove::BowAt {
                at: snap.at - Span::from_millis((form.read(3, |text| MINUTES.read(text))? * 60_000.0) as i64),
            },
            _ => DropMove::Position { position: form.read(4, typed::position)? },
        }),
        Purpose::Limits => Command::Limits(read_limits(form, snap)?),
        Purpose::Tide { stations } => Command::Tide(read_tide(stations, form, snap, clock)?),
        Purpose::WindAhead => Command::WindAhead { winds: ahead::read_wind(form, snap, clock)? },
        Purpose::WayOut => Command::WayOut { way: ahead::read_way_out(form)? },
        Purpose::Berth => Command::Berth { berth: Box::new(berth::read(form)?) },
        Purpose::Note => Command::Note { text: form.read(0, words)? },
        Purpose::Wake => Command::Wake(read_wake(form, snap, clock)?),
        Purpose::Mark => read_mark(form, snap)?,
        Purpose::MarkAway { marks } => {
            Command::Unmark { name: marks.get(form.chosen(0)).cloned().unwrap_or_default() }
        }
        Purpose::Bearing { marks } => Command::Bearing {
            mark: marks.get(form.chosen(0)).cloned().unwrap_or_default(),
            bearing: form.read(1, |text| typed::bearing_with_north(text, snap.variation_deg))?,
        },
    }))
}

fn read_tide(stations: &[String], form: &Form, snap: &Snapshot, clock: &Clock) -> Result<TideEntered, Wrong> {
    Ok(match form.chosen(0) {
        0 => TideEntered::Table { turns: form.read(1, |text| turns(text, snap, clock))? },
        n => stations.get(n - 1).map_or(TideEntered::Nothing, |id| TideEntered::Station { id: id.clone() }),
    })
}

/// The tide as it stands in the form; `None` while it cannot be read, and in a form for something else.
fn tide_entered(purpose: &Purpose, form: &Form, snap: &Snapshot, clock: &Clock) -> Option<TideEntered> {
    let Purpose::Tide { stations } = purpose else { return None };
    read_tide(stations, form, snap, clock).ok()
}

/// What the tide in the form would mean; `None` while it cannot be read, or where none is chosen.
#[must_use]
pub fn foresight(purpose: &Purpose, form: &Form, snap: &Snapshot, clock: &Clock) -> Option<Foresight> {
    live::foresight(&tide_entered(purpose, form, snap, clock)?, snap)
}

/// What `Enter` will do with the answers as they stand, in words; `None` while they are not complete.
#[must_use]
pub fn promise(purpose: &Purpose, form: &Form, snap: &Snapshot, clock: &Clock) -> Option<String> {
    if *purpose == Purpose::LetGo {
        return Some(marked(snap, clock));
    }
    Some(match command(purpose, form, snap, clock).ok()?? {
        Command::Veered { length } => match snap.rode.veered.map(|out| length.0 - out.0) {
            Some(by) if by > 0.0 => {
                format!("Enter notes {} m veered: reach and circle grow.", typed::plain(by))
            }
            Some(by) if by < 0.0 => {
                format!("Enter notes {} m shortened: reach and circle shrink.", typed::plain(-by))
            }
            _ => format!("Enter notes {} out.", depth(length)),
        },
        Command::MoveDrop(to) => moves(&to, snap, clock),
        Command::Limits(_) => "Enter puts these limits in force at once.".to_owned(),
        Command::Wake(asked) => match wakes_for(asked, clock) {
            Some(when) => format!("Enter: you are woken {when}."),
            None => "Enter: you are woken by alerts alone.".to_owned(),
        },
        Command::Tide(TideEntered::Nothing) => "Enter removes the tide: no depth is predicted.".to_owned(),
        Command::Tide(_) => {
            let foresight = foresight(purpose, form, snap, clock)?;
            live::words(&foresight, snap, clock)
        }
        Command::WindAhead { winds } => ahead::promise(winds.as_ref(), snap, clock),
        Command::WayOut { way } => ahead::way_promise(way, snap),
        Command::Berth { berth } => berth::promise(&berth, snap, |at| clock.hm(at)),
        Command::Bearing { mark, bearing } => against_the_arc(&mark, bearing, snap)?,
        _ => return None,
    })
}

/// When and how the anchor was marked, for whoever has just pressed the key.
fn marked(snap: &Snapshot, clock: &Clock) -> String {
    match (snap.drop, snap.mark_awaited) {
        (Some(drop), _) if drop.fixed > drop.let_go => format!(
            "Marked {}, position at {}, within {} more.",
            clock.hms(drop.let_go),
            clock.hms(drop.fixed),
            metres(Metres(drop.doubt.0.ceil()))
        ),
        (Some(drop), _) => format!("Marked {}.", clock.hms(drop.let_go)),
        (None, Some(let_go)) => format!(
            "Let go {}. No settled position yet: the place is marked when there is one.",
            clock.hms(let_go)
        ),
        (None, None) if snap.stage == Stage::NotSet => "It is being marked.".to_owned(),
        (None, None) => {
            format!("The place is not marked: no position came in time. {} enters it.", label(Act::MoveMark))
        }
    }
}

/// What a correction of the mark does.
fn moves(to: &DropMove, snap: &Snapshot, clock: &Clock) -> String {
    let how = match to {
        DropMove::FromBow { bearing, distance } => {
            format!(" to {} on {:03.0}° from the bow", metres(*distance), bearing.degrees())
        }
        DropMove::BowAt { at } => format!(" to where the bow was at {}", clock.hms(*at)),
        DropMove::Position { position } => {
            let far = snap.drop.map(|drop| drop.position.distance_to(*position));
            far.map_or_else(String::new, |far| format!(" by {}", metres(far)))
        }
    };
    format!("Enter moves the mark of the anchor{how}. The judgement begins anew.")
}

/// How a bearing lies to the arc in which its mark can be seen from the circle.
fn against_the_arc(mark: &str, bearing: TrueBearing, snap: &Snapshot) -> Option<String> {
    let seen = snap.marks.iter().find(|seen| *seen.name == *mark)?;
    let outside = seen.arc.outside_by_deg(bearing);
    Some(match seen.arc {
        Bearings::Between { from, to } if outside > 0.0 => {
            format!("{bearing} true: {outside:.0}° outside {from} to {to}. Look where she lies.")
        }
        Bearings::Between { from, to } => format!("{bearing} true: within {from} to {to}."),
        Bearings::AllRound => {
            format!("{bearing} true. The mark lies within the circle: any bearing can be.")
        }
    })
}

fn place(text: &str) -> Result<String, String> {
    let place = text.trim();
    if place.len() > PLACE_MAX {
        return Err(format!("The name is too long. Write {PLACE_MAX} letters at most."));
    }
    Ok(place.to_owned())
}

fn words(text: &str) -> Result<String, String> {
    match text.trim() {
        "" => Err("Nothing is written. Write the note, or Esc to cancel.".to_owned()),
        words => Ok(words.to_owned()),
    }
}

fn turns(text: &str, snap: &Snapshot, clock: &Clock) -> Result<Vec<TypedTurn>, String> {
    let now = Timestamp::from_millisecond(snap.at.0).unwrap_or(Timestamp::UNIX_EPOCH);
    let offset = clock.zone().to_offset(now);
    let table =
        parse_at(text, snap.at, offset, Rule::Cosine, OddIntervals::Refuse).map_err(|e| e.to_string())?;
    covered(&table, snap).map_err(|why| why.in_words(Span::from_secs(i64::from(offset.seconds()))))?;
    Ok(table.turns().iter().map(|t| TypedTurn { time: t.at, height: t.height, kind: t.kind }).collect())
}

/// A table that foretells nothing is not taken in silence. Before letting go one may begin later.
fn covered(table: &TurnTable, snap: &Snapshot) -> Result<(), Uncovered> {
    let let_go = snap.drop.filter(|_| snap.stage != Stage::NotSet).map(|drop| drop.let_go.min(snap.at));
    for at in let_go.into_iter().chain([snap.at]) {
        match table.covering(at) {
            Err(Uncovered::BeginsLater { .. }) if let_go.is_none() => {}
            covering => drop(covering?),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::Watch;
    use crate::watch::boat::Settings;
    use crate::watch::boat::limits::LIMITS;

    #[test]
    fn a_time_of_day_is_the_next_one_in_the_zone_of_the_screen() {
        let snap =
            Snapshot { at: WatchTime(1_780_452_840_000), ..Watch::new(Settings::default()).snapshot() };
        // 2026-06-03 02:14:00 UTC.
        let clock = Clock::new(jiff::tz::TimeZone::fixed(jiff::tz::offset(2)));
        let hm = |text: &str| {
            next_time_of_day(text, &snap, &clock).map(|at| at.map(|at| (at.0 - snap.at.0) / 60_000))
        };
        assert_eq!(hm(""), Ok(None));
        assert_eq!(hm("04:30"), Ok(Some(16)));
        assert_eq!(hm(" 4.15 "), Ok(Some(1)));
        assert_eq!(hm("04:14"), Ok(Some(24 * 60)), "now is not ahead");
        assert_eq!(hm("02:30"), Ok(Some(22 * 60 + 16)));
        for wrong in ["24:00", "02:60", "2", "half past two", "-1:00"] {
            assert!(hm(wrong).is_err_and(|why| why.contains("02:30")), "{wrong}");
        }
    }

    /// The boat file and its page follow the same table, held in `config::keys`.
    #[test]
    fn the_form_has_every_limit_of_the_table_with_its_usual_value_and_takes_what_the_table_takes() {
        let snap = Watch::new(Settings::default()).snapshot();
        assert_eq!(limit_fields().count(), LIMITS.len());
        let missing: Vec<&str> =
            LIMITS.iter().map(|one| one.key).filter(|key| !LIMITS_ORDER.contains(key)).collect();
        assert!(missing.is_empty(), "{missing:?}");
        let (_, form) = limits(&snap);
        for (field, limit) in limit_fields() {
            assert_eq!(form.text(field), limit.usual.map(typed::plain).unwrap_or_default(), "{}", limit.key);
            for value in [limit.range.least, limit.range.most] {
                assert_eq!(form.read(field, |_| limit.range.read(&value.to_string())), Ok(value));
            }
            let beyond = typed::plain(limit.range.most + 1.0);
            assert!(form.read(field, |_| limit.range.read(&beyond)).is_err(), "{}", limit.key);
        }
        assert_eq!(read_limits(&form, &snap), Ok(Limits::default()));
    }
}
