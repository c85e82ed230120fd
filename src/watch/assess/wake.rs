//! Has what the crew asked to be woken for come about?

use crate::watch::alert::machine::Condition;
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::tide::TurnKind;
use crate::watch::wake::Reached;

/// It stands until it is answered.
pub fn wake(reached: &[Reached]) -> Condition {
    if reached.is_empty() {
        return Condition::Absent;
    }
    let words: Vec<String> = reached.iter().map(words).collect();
    Condition::present(AlertKind::Wake, Priority::Warning, words.join(" "))
}

fn words(reached: &Reached) -> String {
    match reached {
        Reached::Time => "It is the time that you asked for.".to_owned(),
        Reached::Turn(TurnKind::High) => "High water: the tide turns.".to_owned(),
        Reached::Turn(TurnKind::Low) => "Low water: the tide turns.".to_owned(),
        Reached::Wind { mean, asked } => {
            format!("The mean wind is {:.0} kn: you asked to be woken at {:.0}.", mean.0, asked.0)
        }
    }
}
