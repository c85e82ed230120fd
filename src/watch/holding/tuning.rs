//! Every number of the method, with its meaning and unit.
//!
//! All were chosen on simulated nights that are not those by which the method is judged; `docs/inside/holding.md` says which, and
//! what each gains and loses. Nats are natural logarithms of likelihood ratios. Sums about fixes are of 5 s steps.

use crate::watch::units::Span;

/// When the crew is called.
pub(super) mod call {
    use super::Span;

    /// Evidence at which `drag` is called, nats.
    pub const DRAG_NATS: f64 = 7.0;
    /// Evidence of slow movement alone at which `creep` is called, nats.
    pub const CREEP_NATS: f64 = 3.0;
    /// The same at which `drag` is called, if both accounts together say as much, of positions alone, where the fixes wander less than `STEADY_M`, nats: errors
    /// that last for minutes and pass for a movement are those of receivers that wander.
    pub const SLOW_DRAG_NATS: f64 = 3.5;
    /// See `SLOW_DRAG_NATS`, metres.
    pub const STEADY_M: f64 = 3.0;
    /// `creep` is over once its evidence has been below for so long.
    pub const RECTIFIED_AFTER: Span = Span::from_mins(5);
    /// Evidence at which a movement is taken to have begun, nats.
    pub const BEGAN_NATS: f64 = 0.5;
    /// Where neither mark nor rode is known: a boat so far from every place that was possible is under way, metres.
    pub const UNDER_WAY_M: f64 = 300.0;
}

/// What eyes and hands found. Our choice: natural logarithms of how much likelier each is where the anchor moves, by
/// shares that are guessed from common practice, and rounded towards waking somebody.
pub(super) mod told {
    /// A transit that has opened, nats: two in three of those who drag for five minutes see it, and one in twenty of those who
    /// swing: ln 13.
    pub const OPENED_NATS: f64 = 2.5;
    /// A rode that jerks, nats: felt in six of ten drags, and in one of seven that hold, over stones or in a chop: ln 4.
    pub const JERKS_NATS: f64 = 1.5;
    /// A transit that holds for five minutes, nats: so it does with nine of ten that stand, and with one of three anchors that
    /// plough by less than half a metre a minute: ln 2.7.
    pub const HOLDS_NATS: f64 = 1.0;
    /// A rode that is steady for five minutes, nats: in mud an anchor may slide without a tremble: ln 1.6.
    pub const STEADY_NATS: f64 = 0.5;
    /// Both fade by so much, nats an hour: no faster than the slow account forgets what had gathered (1.0 that returns, 1.5 by
    /// which the base sinks), so that what was taken off does not by itself raise `creep` again.
    pub const FADES_NATS_PER_HOUR: f64 = 2.0;
}

/// The base line from which evidence counts.
pub(super) mod base {
    /// While judging begins the base lies at least so far below nothing, nats: a mark that is wrong costs no more.
    pub const HEADROOM_NATS: f64 = 1.5;
    /// It sinks by so much, so that a mark found wrong does not use up the threshold all night, nats an hour.
    pub const NATS_PER_HOUR: f64 = 1.5;
    /// While judging begins and she stays within so many metres …
    pub const PINNED_M: f64 = 8.0;
    /// … for so many seconds, a wrong mark is taken as it is.
    pub const PINNED_S: f64 = 300.0;
}

/// The places and reaches that are tried.
pub(super) mod grid {
    use super::Span;

    /// The grid about a mark extends so many lengths of the rode from it.
    pub const EXTENT: f64 = 1.15;
    /// And so many times the doubt of a mark beyond what is usual.
    pub const DOUBTS: f64 = 2.0;
    /// Spacing of its places at least, metres.
    pub const MARKED_SPACING_M: f64 = 2.0;
    /// Where only the rode is known the spacing is this share of it.
    pub const RODE_SHARE: f64 = 1.0 / 11.0;
    /// Spacing of the places where nothing is known, metres.
    pub const UNKNOWN_SPACING_M: f64 = 10.0;
    /// The direction from mark to boat is taken over this long.
    pub const SETTLE: Span = Span::from_mins(2);
    /// She lies to her rode then if she is so much of the reach from the mark.
    pub const LIES_SHARE: f64 = 0.4;
    /// How well the mark is known is worked out anew this often, by what the fixes have shown.
    pub const PRIOR_EVERY: Span = Span::from_mins(10);
    /// A receiver's wander up to here widens no mark, metres.
    pub const PRIOR_WANDER_M: f64 = 1.5;
}

/// How far the bow can lie, and when the rode is taut.
pub(super) mod reach {
    use super::Span;

    /// Doubt about heading and stretch beyond the reach, metres.
    pub const OUTER_SLACK_M: f64 = 0.5;
    /// Doubt about heading within the reach, metres.
    pub const INNER_SLACK_M: f64 = 0.5;
    /// So much sag is not taken off the outer limit, metres.
    pub const SAG_KEPT_M: f64 = 0.3;
    /// Least and greatest true load as a share of the one calculated from a measured wind …
    pub const LOAD: (f64, f64) = (0.5, 1.5);
    /// … and from how she sheers.
    pub const LOAD_GUESSED: (f64, f64) = (0.4, 2.5);
    /// The rode stretches by a metre for so many newtons …
    pub const STRETCH_N_PER_M: f64 = 6000.0;
    /// … and by so many metres at most.
    pub const STRETCH_MOST_M: f64 = 1.5;
    /// While the chain straightens after a change the rode is not called taut.
    pub const STRAIGHTENS: Span = Span::from_mins(15);
    /// A swing of the mean bearing by this much bends the chain, degrees.
    pub const BEND_DEG: f64 = 20.0;
    /// Time constants of the two mean bearings that are held against each other, seconds.
    pub const BEND_S: (f64, f64) = (300.0, 1800.0);
    /// Chain comes in slower than the word: so long the longer rode still counts.
    pub const SHORTENS: Span = Span::from_mins(5);
    /// Where no wind is measured: so far nearer than even the best place allows she is not taut, metres …
    pub const LOOSE_M: f64 = 3.0;
    /// … in the mean over so many seconds …
    pub const LOOSE_MEAN_S: f64 = 60.0;
    /// … and is not for so long.
    pub const LOOSE_FOR: Span = Span::from_mins(5);
    /// Without a heading the bow is nearer than the antenna by this share of its way aft.
    pub const AFT_SHARE: f64 = 0.97;
}

/// What the fixes err by.
pub(super) mod noise {
    /// What is left of the errors over seconds after ten of them, metres.
    pub const QUICK_M: f64 = 0.7;
    /// The receiver's wander is learned only while the bow is within so many times the wander beyond the reach.
    pub const LEARNS_WITHIN: f64 = 4.0;
    /// Wander of a receiver over minutes, as a multiple of the median change of distance in one.
    pub const WANDER_RATIO: f64 = 1.5;
    /// That wander at least, metres.
    pub const WANDER_LEAST_M: f64 = 0.7;
    /// That wander at most, metres.
    pub const WANDER_MOST_M: f64 = 50.0;
    /// Receivers share part of their errors: a mean of several wanders so many times as much as if each went its own way.
    pub const SHARED: f64 = 1.3;
    /// HDOP above tonight's median by so much weighs a step of the slow account by (median / HDOP)² …
    pub const HDOP_SLOW: f64 = 0.4;
    /// … and by so much makes a burst likelier.
    pub const HDOP_BURST: f64 = 0.7;
}

/// The slow account: errors of a fix last minutes.
pub(super) mod slow {
    /// Memory of the mean misfit, seconds.
    pub const MEAN_S: f64 = 300.0;
    /// A standing misfit is charged again in twice this time, seconds.
    pub const AGAIN_S: f64 = 1800.0;
    /// Credit that returns, nats an hour.
    pub const BACK_NATS_PER_HOUR: f64 = 1.0;
    /// Errors of sag, heading and windage, metres.
    pub const GEOMETRY_M: f64 = 1.7;
    /// A single misfit counts for no more, metres, or three times the wander.
    pub const MOST_M: f64 = 10.0;
}

/// Her head points at the anchor.
pub(super) mod aim {
    /// Time constant of the mean head and bow, seconds.
    pub const MEAN_S: f64 = 240.0;
    /// It is taken this often, seconds.
    pub const EVERY_S: f64 = 30.0;
    /// The mean of unit vectors must be so long: her head is steady.
    pub const STEADY: f64 = 0.8;
    /// Doubt of where she points: metres, and share of the distance.
    pub const SIGMA: (f64, f64) = (4.0, 0.3);
    /// A square misfit counts for no more, standard deviations squared.
    pub const MOST: f64 = 12.0;
}

/// The fast account: a departure, or a burst of reflections?
pub(super) mod fast {
    /// What it costs to believe in a burst, nats.
    pub const BURST_NATS: f64 = 4.5;
    /// That much less where the satellites stand worse than usual, nats.
    pub const BURST_HDOP_NATS: f64 = 1.0;
    /// A burst reaches as far for nothing, metres …
    pub const BURST_FREE_M: f64 = 15.0;
    /// … and beyond that with this standard deviation, metres.
    pub const BURST_SIGMA_M: f64 = 5.0;
    /// A departure costs no more than this, nats.
    pub const MOST_NATS: f64 = 30.0;
    /// In a burst the velocity knows nothing of at least this share of the way out.
    pub const UNKNOWN_SHARE: f64 = 0.65;
    /// What velocity adds to the cost of a burst at most, and takes off a departure at most, nats.
    pub const VELOCITY_NATS: f64 = 6.0;
}

/// The antenna carried on by the receiver's velocity.
pub(super) mod carried {
    /// It is pulled to the fix with this time constant, seconds.
    pub const PULLED_S: f64 = 300.0;
    /// What a velocity errs by, m/s.
    pub const RATE_MPS: f64 = 0.02;
    /// The lenient one: a speed of zero may hide so much, m/s, once zeros in a row were seen tonight …
    pub const ZERO_HIDES_MPS: f64 = 0.25;
    /// … and before, m/s.
    pub const ZERO_HIDES_AT_FIRST_MPS: f64 = 0.03;
    /// So many zeros in a row.
    pub const ZEROS: u32 = 10;
    /// A position that has stood identical for so many seconds is held: its velocity is not known.
    pub const HELD_S: f64 = 8.0;
    /// The lenient one is pulled at most by this share a second where its velocity is not known.
    pub const PULL_MOST: f64 = 0.2;
    /// A gap beyond so many metres, lenient and strict …
    pub const FAR_M: (f64, f64) = (25.0, 40.0);
    /// … closes with this time constant, seconds.
    pub const FAR_S: f64 = 60.0;
    /// After a hole of so long it begins anew at the fix, seconds.
    pub const HOLE_S: f64 = 30.0;
    /// Nothing at anchor moves faster: a velocity above is not believed, m/s.
    pub const FASTEST_MPS: f64 = 4.0;
    /// A velocity carries for so long at most, seconds.
    pub const CARRIES_S: f64 = 5.0;
}

/// The gap between fix and carried antenna since a departure began.
pub(super) mod departure {
    use super::Span;

    /// A departure begins where the bow is so many standard deviations in quiet beyond the reach.
    pub const BEGINS: f64 = 1.5;
    /// Until then the gap is followed with this time constant, seconds.
    pub const FOLLOWS_S: f64 = 30.0;
    /// After so long a departure it is followed again, seconds …
    pub const LONG_S: f64 = 600.0;
    /// … with this time constant, seconds.
    pub const LONG_FOLLOWS_S: f64 = 300.0;
    /// Without a velocity for so long it is begun anew.
    pub const FORGOTTEN_AFTER: Span = Span::from_mins(2);
    /// Standard deviation of a gap at least, metres.
    pub const SIGMA_M: f64 = 0.7;
    /// Its change in a minute is taken to be at least, metres.
    pub const CHANGE_LEAST_M: f64 = 0.1;
    /// It grows with the square root of the time, seconds, within these.
    pub const GROWS_S: (f64, f64) = (60.0, 300.0);
    /// A gap up to here says nothing for a burst, metres.
    pub const FREE_M: f64 = 1.0;
    /// A velocity that knew so much of the way out of an excursion that came back goes with reflections.
    pub const FOLLOWED: f64 = 0.5;
    /// After a hole in the fixes of so long …
    pub const HOLE: Span = Span::from_secs(30);
    /// … the velocity says nothing for so long.
    pub const BLIND_FOR: Span = Span::from_mins(5);
}

/// An excursion of the fixes, and back, teaches nothing.
pub(super) mod excursion {
    /// It begins so far beyond the reach, metres, or …
    pub const BEYOND_M: f64 = 4.0;
    /// … so many standard deviations in quiet, whichever is more.
    pub const BEYOND: f64 = 3.0;
    /// So long the slow account stands still at most, seconds.
    pub const MOST_S: f64 = 240.0;
    /// It is forgotten so many times as fast as it came.
    pub const FORGOTTEN: f64 = 3.0;
}
