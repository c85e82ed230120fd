//! What the crew entered of marks and bearings, and how that stands now.

use crate::watch::refusal::Refusal;
use std::sync::Arc;

use super::super::Watch;
use super::super::geo::{Local, Plane, Position};
use super::super::units::{Metres, Span, TrueBearing, WatchTime};
use super::{Bearings, CrossView, MarkEntered, MarkView, TakenView, arc, cross_fix, opening_deg};

/// Marks that are kept.
const MARKS_MAX: usize = 40;
/// Bytes of a name.
const NAME_MAX: usize = 60;
/// Bearings of one fix are taken within this time: a round of the compass takes some minutes.
const ONE_FIX: Span = Span::from_mins(10);
/// Where a mark is.
#[derive(Clone, Debug, PartialEq)]
enum Place {
    At(Position),
    /// Two marks by their names.
    InLine {
        near: (Arc<str>, Position),
        far: (Arc<str>, Position),
    },
}

#[derive(Clone, Debug)]
struct Mark {
    name: Arc<str>,
    place: Place,
    /// Its distance was estimated: good for the stay, not for the book.
    by_eye: bool,
    taken: Option<(WatchTime, TrueBearing)>,
}

/// The marks of a stay.
#[derive(Clone, Debug, Default)]
pub(in super::super) struct Marks {
    marks: Vec<Mark>,
}

/// How she lies and how far she can swing, for the views.
#[derive(Clone, Copy, Debug)]
pub(in super::super) struct Swing {
    /// The plane's origin is the drop point.
    pub anchored: bool,
    /// The circle that is set.
    pub circle: Option<Metres>,
    /// The circle that she can swing in now, by the tide.
    pub circle_now: Option<Metres>,
    /// The bow, else the antenna.
    pub bow: Option<Local>,
}

impl Marks {
    /// Adds a mark whose position is known, or says why not.
    pub(in super::super) fn add(&mut self, name: &str, at: Position) -> Result<(), Refusal> {
        self.push(name, Place::At(at), false)
    }

    /// Adds a mark whose distance was estimated, or says why not.
    pub(in super::super) fn add_by_eye(&mut self, name: &str, at: Position) -> Result<(), Refusal> {
        self.push(name, Place::At(at), true)
    }

    /// Adds two marks in line, by their names, or says why not.
    pub(in super::super) fn add_in_line(&mut self, name: &str, near: &str, far: &str) -> Result<(), Refusal> {
        let place = |name: &str| {
            self.marks.iter().find(|mark| &*mark.name == name).and_then(|mark| match mark.place {
                Place::At(position) => Some((Arc::clone(&mark.name), position)),
                Place::InLine { .. } => None,
            })
        };
        let (Some(near), Some(far)) = (place(near), place(far)) else {
            return Err(Refusal::TransitOfUnknown);
        };
        self.push(name, Place::InLine { near, far }, false)
    }

    fn push(&mut self, name: &str, place: Place, by_eye: bool) -> Result<(), Refusal> {
        let name = name.trim();
        if name.is_empty() || name.len() > NAME_MAX {
            return Err(Refusal::MarkName);
        }
        if self.marks.iter().any(|mark| &*mark.name == name) {
            return Err(Refusal::MarkNameTaken);
        }
        if self.marks.len() >= MARKS_MAX {
            return Err(Refusal::TooManyMarks);
        }
        self.marks.push(Mark { name: Arc::from(name), place, by_eye, taken: None });
        Ok(())
    }

    /// Takes a mark away, and the transits of which it is one; or says why not.
    pub(in super::super) fn remove(&mut self, name: &str) -> Result<(), Refusal> {
        let before = self.marks.len();
        self.marks.retain(|mark| match &mark.place {
            _ if &*mark.name == name => false,
            Place::InLine { near, far } => &*near.0 != name && &*far.0 != name,
            Place::At(_) => true,
        });
        if self.marks.len() < before { Ok(()) } else { Err(Refusal::NoSuchMark) }
    }

    /// The marks as they would be entered again, transits after the marks of which they are made.
    pub(in super::super) fn entered(&self) -> Vec<(String, MarkEntered)> {
        let entered = |mark: &Mark| {
            let entered = match &mark.place {
                Place::At(position) => MarkEntered::Position { position: *position },
                Place::InLine { near, far } => {
                    MarkEntered::InLine { near: near.0.to_string(), far: far.0.to_string() }
                }
            };
            (mark.name.to_string(), entered)
        };
        self.marks.iter().map(entered).collect()
    }

    /// Marks whose positions are known, by name.
    pub(in super::super) fn surveyed(&self) -> Vec<(String, Position)> {
        let known = |mark: &Mark| match mark.place {
            Place::At(position) if !mark.by_eye => Some((mark.name.to_string(), position)),
            _ => None,
        };
        self.marks.iter().filter_map(known).collect()
    }

    /// Takes a bearing of a mark by hand, or says why not.
    pub(in super::super) fn take(
        &mut self,
        at: WatchTime,
        name: &str,
        bearing: TrueBearing,
    ) -> Result<(), Refusal> {
        let mark = self.marks.iter_mut().find(|mark| &*mark.name == name);
        let mark = mark.ok_or(Refusal::NoMarkToTake)?;
        mark.taken = Some((at, bearing));
        Ok(())
    }

    /// The marks as they stand; none while there is no plane.
    pub(in super::super) fn views(&self, plane: Option<&Plane>, swing: Swing) -> Vec<MarkView> {
        let Some(plane) = plane else { return Vec::new() };
        self.marks.iter().map(|mark| view(mark, plane, swing)).collect()
    }

    /// The fix by the last three bearings of different marks, if they were taken within some minutes.
    pub(in super::super) fn cross(&self, plane: Option<&Plane>, bow: Option<Local>) -> Option<CrossView> {
        let plane = plane?;
        let mut taken: Vec<(WatchTime, Local, TrueBearing)> = self
            .marks
            .iter()
            .filter_map(|mark| match (&mark.place, mark.taken) {
                (Place::At(position), Some((at, bearing))) => Some((at, plane.to_local(*position), bearing)),
                _ => None,
            })
            .collect();
        taken.sort_by_key(|(at, ..)| std::cmp::Reverse(*at));
        let [first, second, third] = taken.get(..3)? else { return None };
        if first.0.since(third.0) > ONE_FIX {
            return None;
        }
        let fix = cross_fix([first, second, third].map(|(_, mark, bearing)| (*mark, *bearing)))?;
        let off = bow.map(|bow| {
            let off = fix.point - bow;
            (Metres(off.length_m()), off.bearing())
        });
        Some(CrossView { at: first.0, fix, off })
    }
}

/// Bearings within which marks must be seen, in a line for the watchkeeper; no more than fit one.
const IN_A_LINE: usize = 3;

impl Watch {
    /// The arcs of the first marks in words, empty without marks.
    pub(in super::super) fn mark_arcs(&self, now: WatchTime) -> String {
        let views = self.marks.views(self.ride.plane(), self.swing(now));
        let words: Vec<String> = views
            .iter()
            .filter_map(|mark| match mark.arc {
                Bearings::Between { from, to } => Some(format!("{} {from} to {to}", mark.name)),
                Bearings::AllRound => None,
            })
            .take(IN_A_LINE)
            .collect();
        words.join(", ")
    }
}

fn view(mark: &Mark, plane: &Plane, swing: Swing) -> MarkView {
    let (near, far) = match &mark.place {
        Place::At(position) => (plane.to_local(*position), None),
        Place::InLine { near, far } => (plane.to_local(near.1), Some(plane.to_local(far.1))),
    };
    let circle = swing.circle.filter(|_| swing.anchored).unwrap_or_default();
    let circle_now = swing.circle_now.filter(|_| swing.anchored).unwrap_or(circle);
    let seen = swing.bow.map(|bow| (near - bow).bearing());
    let arc_of = arc(near, circle);
    MarkView {
        name: Arc::clone(&mark.name),
        point: near,
        far,
        distance: Metres(near.length_m()),
        bearing: near.bearing(),
        arc: arc_of,
        arc_now: arc(near, circle_now),
        seen,
        opening_deg: far.and_then(|far| opening_deg(near, far, circle)),
        open_now_deg: far
            .zip(swing.bow)
            .map(|(far, bow)| (near - bow).bearing().turn_to((far - bow).bearing())),
        taken: mark.taken.map(|(at, bearing)| TakenView {
            at,
            bearing,
            outside_deg: arc_of.outside_by_deg(bearing),
            off_fix_deg: seen.map(|seen| seen.turn_to(bearing)),
        }),
    }
}
