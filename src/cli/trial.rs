//! `nightrode trial`: how good is the watch, on nights that nobody tuned it on?

use std::time::Instant;

use anyhow::{Context as _, ensure};
use clap::Args;

use super::output::{note, print};
use crate::edge::trial;
use crate::report::trial::{json, text};
use crate::sim::{CLASSES, Class, HELD_OUT, class};

/// Nights of one class in one trial: more than a month on one core.
const MOST_NIGHTS: u64 = 100_000;

/// The arguments.
#[derive(Args, Clone, Debug, PartialEq)]
pub struct TrialArgs {
    /// Nights of each class.
    #[arg(long, value_name = "N", default_value_t = 20, value_parser = clap::value_parser!(u64).range(1..=MOST_NIGHTS))]
    pub nights: u64,
    /// The first seed; the nights that follow take the seeds that follow. 1000000 to 1999999 are held out from tuning.
    #[arg(long, value_name = "S", default_value_t = HELD_OUT.start)]
    pub seed: u64,
    /// Only these classes, such as quiet, gale, break-out [default: all].
    #[arg(long = "class", value_name = "NAME", num_args = 1..)]
    pub classes: Vec<String>,
    /// One JSON object instead of text.
    #[arg(long)]
    pub json: bool,
}

pub(super) fn run(args: &TrialArgs) -> anyhow::Result<()> {
    let classes = classes(&args.classes)?;
    ensure!(
        args.seed.checked_add(args.nights).is_some(),
        "The seeds would run out of numbers. Begin with a smaller one than {}.",
        args.seed
    );
    let begun = Instant::now();
    let trial = trial::run(&classes, args.seed, args.nights);
    let took = begun.elapsed().as_secs_f64();
    if args.json {
        print(&format!("{:#}\n", json(&trial)))?;
    } else {
        print(&text(&trial))?;
    }
    note(&format!(
        "{} nights in {took:.1} s, {:.1} a second.",
        trial.scores.len(),
        trial.scores.len() as f64 / took
    ));
    Ok(())
}

fn classes(names: &[String]) -> anyhow::Result<Vec<&'static Class>> {
    if names.is_empty() {
        return Ok(CLASSES.iter().collect());
    }
    let find = |name: &String| {
        class(name).with_context(|| {
            let known: Vec<&str> = CLASSES.iter().map(|class| class.name).collect();
            format!("There is no class of nights called {name}. Choose from: {}.", known.join(", "))
        })
    };
    names.iter().map(find).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_class_is_answered_with_those_that_there_are() {
        let error = classes(&["gail".into()]).unwrap_err().to_string();
        assert!(error.contains("gail") && error.contains("gale"), "{error}");
        assert_eq!(classes(&[]).unwrap().len(), CLASSES.len());
    }
}
