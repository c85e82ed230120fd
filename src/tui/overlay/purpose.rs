//! What a form is for.

/// What a form is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// The anchor was let go this moment: what is known of it beside.
    LetGo,
    /// The place gets its name.
    NamePlace,
    /// Rode veered or shortened.
    Veer,
    /// The drop point is corrected.
    MoveDrop,
    /// New limits.
    Limits,
    /// Where the height of tide comes from.
    Tide {
        /// Identifiers of the stations offered, as they stand in the choice.
        stations: Vec<String>,
    },
    /// The wind by the hour.
    WindAhead,
    /// The way out.
    WayOut,
    /// The berth.
    Berth,
    /// A remark.
    Note,
    /// What the crew is to be woken for.
    Wake,
    /// A mark to take bearings of is entered.
    Mark,
    /// A mark is of no more use.
    MarkAway {
        /// Names of the marks, as they stand in the choice.
        marks: Vec<String>,
    },
    /// A bearing of a mark was taken by hand.
    Bearing {
        /// Names of the marks, as they stand in the choice.
        marks: Vec<String>,
    },
}
