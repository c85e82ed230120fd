//! What the crew would have entered of a night that is known by its lines alone.

use std::collections::VecDeque;

use crate::config::{DropMark, RideFile};
use crate::watch::boat::Berth;
use crate::watch::input::{Command, DropMove, TideEntered};
use crate::watch::tide::Tide;
use crate::watch::tide::turns::{Rule, TurnTable};
use crate::watch::units::{Metres, WatchTime};

/// What the crew would have entered, by `ride.toml`, in order of time. Nothing is entered before the log begins.
pub(super) fn crew_acts(entered: Option<&RideFile>, first: WatchTime) -> VecDeque<(WatchTime, Command)> {
    let Some(ride) = entered else {
        return [(first, Command::Lying { veered: None, place: String::new() })].into();
    };
    let mut acts = VecDeque::new();
    if ride.tide != TideEntered::Nothing {
        acts.push_back((first, Command::Tide(ride.tide.clone())));
    }
    if let Some(winds) = &ride.winds {
        acts.push_back((first, Command::WindAhead { winds: Some(winds.clone()) }));
    }
    let down = ride.drop.and_then(|drop| drop.time).unwrap_or(first).max(first);
    let place = ride.place.clone();
    let going = match (ride.drop, ride.veered) {
        (Some(drop), Some(veered)) => {
            Command::LetGo { veered: Some(veered), depth: depth_at(&drop, &ride.tide, down), place }
        }
        (_, veered) => Command::Lying { veered, place },
    };
    let lying = matches!(going, Command::Lying { .. });
    acts.push_back((down, going));
    if let Some(drop) = ride.drop {
        acts.push_back((down, Command::MoveDrop(DropMove::Position { position: drop.position })));
    }
    for (name, entered) in &ride.marks {
        acts.push_back((down, Command::Mark { name: name.clone(), entered: entered.clone() }));
    }
    if let Some(way) = ride.way_out {
        acts.push_back((down, Command::WayOut { way: Some(way) }));
    }
    if ride.berth != Berth::default() {
        acts.push_back((down, Command::Berth { berth: Box::new(ride.berth.clone()) }));
    }
    let brought_up = ride.brought_up.unwrap_or(down).max(down);
    if !lying {
        acts.push_back((brought_up, Command::BroughtUp));
    }
    if let Some(ended) = ride.ended {
        acts.push_back((ended.max(brought_up), Command::Aweigh));
    }
    acts
}

/// Depth at the drop point at `then`: as entered, and what the table says that the tide rose since.
fn depth_at(drop: &DropMark, tide: &TideEntered, then: WatchTime) -> Option<Metres> {
    let depth = drop.depth?;
    let rise = match (tide, drop.time) {
        (TideEntered::Table { turns }, Some(time)) if time < then => {
            let turns = turns.iter().map(|turn| (*turn).into()).collect();
            TurnTable::new(turns, Rule::Cosine)
                .ok()
                .and_then(|table| Tide::from_table(table).rise(time, then))
        }
        _ => None,
    };
    Some(depth + rise.unwrap_or_default())
}
