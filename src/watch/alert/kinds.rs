//! Every kind of alert, in one table: its names, its number, its words.
//!
//! The screen, the help, the sentences that other programs hear and `docs/sailing/alerts.md` are made from this table or held
//! against it. A new kind is a row here and a condition in `watch/assess`.

use serde::{Deserialize, Serialize};

use super::Priority;

/// All that stays the same about one kind of alert.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct About {
    /// The number in alert sentences. It never changes: receivers may have texts of their own for it.
    pub number: u16,
    /// The name in files and reports, `fix_lost`.
    pub name: &'static str,
    /// The words that head the alert on the screen.
    pub title: &'static str,
    /// The title in alert sentences, at most 16 characters (IEC 61162-1, from memory).
    pub short_title: &'static str,
    /// Who can judge it.
    pub category: Category,
    /// Its place among equals on the screen, 1 first.
    pub rank: u8,
    /// The priorities that its condition can have, least first.
    pub priorities: &'static [Priority],
    /// When it is raised, for the documentation.
    pub raised_when: &'static str,
    /// What it means, for the help.
    pub means: &'static str,
    /// What to do, unless the condition found knows better.
    pub action: &'static str,
    /// How far to trust it, for the help.
    pub trust: &'static str,
}

/// Who can judge an alert, as bridge alert management sorts them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Category {
    /// Only who sees the chart.
    Chart,
    /// Whoever reads the text.
    Text,
}

macro_rules! kinds {
    ($($kind:ident, $number:literal, $name:literal {
        title: $title:literal,
        short_title: $short:literal,
        category: $category:ident,
        rank: $rank:literal,
        priorities: [$($priority:ident),+],
        raised_when: $when:literal,
        means: $means:literal,
        action: $action:literal,
        trust: $trust:literal,
    })+) => {
        /// What an alert is about. One situation gives one kind.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum AlertKind {
            $(
                #[doc = $when]
                #[serde(rename = $name)]
                $kind,
            )+
        }

        impl AlertKind {
            /// Every kind, in the order of the numbers.
            pub const ALL: [Self; [$($number),+].len()] = [$(Self::$kind),+];

            /// Its row of the table.
            #[must_use]
            pub const fn about(self) -> &'static About {
                match self {
                    $(Self::$kind => &About {
                        number: $number,
                        name: $name,
                        title: $title,
                        short_title: $short,
                        category: Category::$category,
                        rank: $rank,
                        priorities: &[$(Priority::$priority),+],
                        raised_when: $when,
                        means: $means,
                        action: $action,
                        trust: $trust,
                    },)+
                }
            }
        }
    };
}

kinds! {
    Drag, 1, "drag" {
        title: "DRAGGING",
        short_title: "DRAGGING",
        category: Chart,
        rank: 1,
        priorities: [Alarm],
        raised_when: "the positions seen cannot be explained by the anchor where it was, with the rode that is out; or she is plainly under way from an anchor that nobody marked",
        means: "The positions seen cannot be explained with the anchor where it was: it moves.",
        action: "Go on deck. Check bearings. Start the engine; veer more rode if there is room, or weigh and anchor again. \
                 Once she lies to her anchor again, enter that she lies here now.",
        trust: "A drop point marked wrongly, or a receiver that wanders, can look alike. Believe it until you have seen otherwise.",
    }
    Creep, 2, "creep" {
        title: "CREEPING",
        short_title: "CREEPING",
        category: Chart,
        rank: 6,
        priorities: [Warning],
        raised_when: "slow movement of the anchor that is likely, not yet certain",
        means: "The anchor probably moves, slowly. It is likely, not certain.",
        action: "Do the five-minute check: transit, hand on the rode, depth, wind; it says what to do next. Be ready to start the engine.",
        trust: "A long swing in a new stream can look like it for a while. It rises to DRAGGING if it goes on.",
    }
    Outside, 3, "outside" {
        title: "OUTSIDE THE CIRCLE",
        short_title: "OUTSIDE CIRCLE",
        category: Chart,
        rank: 2,
        priorities: [Alarm],
        raised_when: "the boat lies outside the circle that the crew set, else the one about the learned place of the anchor, for `outside_after_s`",
        means: "She lies farther from the drop point than the circle allows, for longer than was set.",
        action: "Go on deck. Check bearings. Start the engine if she does not hold; if the circle is wrong, change its limit.",
        trust: "The circle is geometry alone: inside it she can drag too.",
    }
    FixLost, 4, "fix_lost" {
        title: "NO POSITION",
        short_title: "NO POSITION",
        category: Text,
        rank: 4,
        priorities: [Caution, Warning, Alarm],
        raised_when: "no valid position for `fix_lost_after_s`: silent; it sounds when a drag at this load could have used up the room, an alarm after twice that and `fix_lost_alarm_after_s`",
        means: "No feed gives a valid position. She can move without an alarm.",
        action: "Look at bearings by eye. Check receiver, cable and power; the feeds view shows what still comes.",
        trust: "Until it is back only your eyes watch.",
    }
    FixDoubtful, 5, "fix_doubtful" {
        title: "POSITION DOUBTFUL",
        short_title: "POS DOUBTFUL",
        category: Text,
        rank: 7,
        priorities: [Caution, Warning],
        raised_when: "position frozen, jumping, poor, or two receivers disagree: drag cannot be judged; silent until a drag at this load could have used up the room",
        means: "Positions come, but they contradict themselves or do not change as positions must.",
        action: "Watch bearings by eye until it is good again. A second receiver would help.",
        trust: "While it lasts she is not judged.",
    }
    WindShift, 6, "wind_shift" {
        title: "WIND SHIFT",
        short_title: "WIND SHIFT",
        category: Text,
        rank: 9,
        priorities: [Caution, Warning],
        raised_when: "mean wind direction turned more than the limit; it sounds from `wind_shift_kn` on, or where she would lie with too little water or near another vessel, or in a barred sector",
        means: "The mean wind has turned since she was brought up, or blows from a sector that you barred.",
        action: "Check the room to leeward and that the anchor has set again; take new bearings.",
        trust: "At a turn of the wind an anchor may break out and set again, or not.",
    }
    WindHigh, 7, "wind_high" {
        title: "STRONG WIND",
        short_title: "STRONG WIND",
        category: Text,
        rank: 8,
        priorities: [Warning],
        raised_when: "mean or gust over the limit, or over what the rode out is calculated to hold",
        means: "Mean wind or gust is above the limit.",
        action: "Look at snubber and chafe. Veer more rode if there is room. Make the engine ready.",
        trust: "The limit is yours, not the anchor's: what it holds depends on the ground.",
    }
    Shallow, 8, "shallow" {
        title: "SHALLOW",
        short_title: "SHALLOW",
        category: Text,
        rank: 3,
        priorities: [Alarm],
        raised_when: "under keel less than the limit, now",
        means: "There is less water under the keel than you wanted.",
        action: "Find deeper water: shorten rode if that swings her clear, or weigh.",
        trust: "The sounder sees the water below itself, not where she swings to.",
    }
    Shoaling, 9, "shoaling" {
        title: "SHOALING",
        short_title: "SHOALING",
        category: Text,
        rank: 10,
        priorities: [Caution, Warning],
        raised_when: "under keel at the next low water less than the limit, over the shallowest bottom that she has lain over, or, silent, soon so while the sea falls off the tide",
        means: "At a low water ahead there will be less under the keel than you wanted.",
        action: "Move to deeper water before then, or make ready to take the ground.",
        trust: "Wind and air pressure move the water by decimetres: a prediction does not know them.",
    }
    ScopeShort, 10, "scope_short" {
        title: "SCOPE SHORT",
        short_title: "SCOPE SHORT",
        category: Text,
        rank: 11,
        priorities: [Warning],
        raised_when: "scope at the next high water less than the limit",
        means: "At a high water ahead the rode will be too short for the depth.",
        action: "Veer more rode before high water, if there is room to swing.",
        trust: "Scope alone does not hold a boat: a heavy chain needs less, a gale more.",
    }
    DepthOdd, 11, "depth_odd" {
        title: "DEPTH ODD",
        short_title: "DEPTH ODD",
        category: Text,
        rank: 12,
        priorities: [Warning],
        raised_when: "the sounder differs from what it showed at this spot before, corrected for the tide, by more than the limit",
        means: "The depth is not what it was here before, corrected for the tide.",
        action: "Check bearings by eye, then the tide table.",
        trust: "Weed, fish and a steep bottom mislead a sounder; weather moves the tide.",
    }
    TideEnds, 12, "tide_ends" {
        title: "TIDE TABLE ENDS",
        short_title: "TIDE TABLE ENDS",
        category: Text,
        rank: 13,
        priorities: [Warning],
        raised_when: "the tide table ends within the hour, or has ended",
        means: "The tide table that was entered ends soon: after it no depth can be foretold.",
        action: "Enter the next high and low waters.",
        trust: "Until then only the depth now is watched.",
    }
    HeadingLost, 13, "heading_lost" {
        title: "NO HEADING",
        short_title: "NO HEADING",
        category: Text,
        rank: 21,
        priorities: [Caution],
        raised_when: "a heading sensor that was there is gone",
        means: "The heading is gone. The bow's place is guessed from the aerial.",
        action: "Check the compass's cable and power.",
        trust: "She is still judged, less sharply.",
    }
    WindLost, 14, "wind_lost" {
        title: "NO WIND",
        short_title: "NO WIND",
        category: Text,
        rank: 22,
        priorities: [Caution],
        raised_when: "a wind sensor that was there is gone",
        means: "The wind sensor is silent. No shift and no strong wind will raise an alert.",
        action: "Check the wind sensor's cable and power.",
        trust: "She is still judged.",
    }
    DepthLost, 15, "depth_lost" {
        title: "NO DEPTH",
        short_title: "NO DEPTH",
        category: Text,
        rank: 23,
        priorities: [Caution],
        raised_when: "a sounder that was there is gone",
        means: "The sounder is silent. Shallow water will raise no alert except by the tide.",
        action: "Check the sounder's cable and power.",
        trust: "She is still judged.",
    }
    Closing, 16, "closing" {
        title: "VESSEL CLOSING",
        short_title: "VESSEL CLOSING",
        category: Chart,
        rank: 14,
        priorities: [Warning],
        raised_when: "another vessel closes on the swing circle",
        means: "Another vessel comes near the swing circle.",
        action: "Look at her bearing: if it does not change she comes to you. Show a light on deck; call or sound if need be.",
        trust: "Only vessels with a transponder are seen: most small boats have none.",
    }
    RoundDue, 17, "round_due" {
        title: "ROUND DUE",
        short_title: "ROUND DUE",
        category: Text,
        rank: 19,
        priorities: [Caution, Warning, Alarm],
        raised_when: "a round is due; overdue by `round_grace_min`; by three times that, or nobody answers",
        means: "It is time for a round on deck.",
        action: "Go round on deck: bearings, lights, snubber, depth, wind, neighbours. Then enter the round with r.",
        trust: "The screen does not replace it.",
    }
    LightDue, 18, "light_due" {
        title: "LIGHT DUE",
        short_title: "LIGHT DUE",
        category: Text,
        rank: 20,
        priorities: [Caution],
        raised_when: "the sun has set or risen while she rides, or had set before: anchor light or ball; until a round has found the lights in order",
        means: "Sunset or sunrise: the anchor light or the ball is to be changed.",
        action: "Look at the light from on deck, all round. Local rules come first.",
        trust: "COLREG Rule 30 sets the signals of a vessel at anchor.",
    }
    Gap, 19, "gap" {
        title: "WATCH WAS ASLEEP",
        short_title: "WATCH WAS ASLEEP",
        category: Text,
        rank: 15,
        priorities: [Warning],
        raised_when: "the watch was asleep: lid closed, crash, clock put forward",
        means: "The watch did not run for a while: the computer slept, stopped or lost its time.",
        action: "Check bearings by eye. Keep the computer awake: lid open, on power.",
        trust: "What happened in between is not known.",
    }
    PowerLow, 20, "power_low" {
        title: "POWER LOW",
        short_title: "POWER LOW",
        category: Text,
        rank: 18,
        priorities: [Caution, Warning],
        raised_when: "the computer runs on its battery, and that is at 20 % or less; silent where an anchor is down and the battery ends before the crew gets up; read once a minute",
        means: "The computer's battery is nearly empty, or will be before the night is over.",
        action: "Plug it in, or keep watch by eye.",
        trust: "Old batteries end sooner than they say.",
    }
    DiskLow, 21, "disk_low" {
        title: "NOT RECORDING",
        short_title: "NOT RECORDING",
        category: Text,
        rank: 17,
        priorities: [Caution, Warning],
        raised_when: "the ride is not being written; silent where the disk has less room than a busy night takes",
        means: "The ride is not being written, or soon will not be: the disk is full or its folder gone.",
        action: "Free some disk space, or make the ride folder writable; recording begins again by itself.",
        trust: "What is not written cannot be replayed or gone on with.",
    }
    SoundFailed, 22, "sound_failed" {
        title: "SOUND FAULT",
        short_title: "SOUND FAULT",
        category: Text,
        rank: 16,
        priorities: [Caution, Warning],
        raised_when: "alert sounds do not play; silent where the chosen loudspeaker is gone and the default one plays",
        means: "Alert sounds do not play, or not where you chose. An alarm will show, and may not wake you.",
        action: "Check volume and loudspeaker; `nightrode sound` tries every sound.",
        trust: "A sound that plays can still be too soft for a cabin in wind. Until it plays somebody stays awake.",
    }
    Unwatched, 23, "unwatched" {
        title: "NOT WATCHED",
        short_title: "NOT WATCHED",
        category: Text,
        rank: 5,
        priorities: [Caution, Warning],
        raised_when: "an anchor is down, and for 30 s there has been no drop point or no circle; or positions have not been judged for minutes and no other alert says why; or weighing has not ended for 20 min. A caution while an anchor that nobody marked is judged, or looked for up to half an hour",
        means: "An anchor is down, and something that should wake you is not being watched.",
        action: "Take bearings. When there is a position, move the drop point to where the anchor lies.",
        trust: "It says what is missing, not that she moves. Until it is over your eyes keep the watch.",
    }
    ClockWrong, 24, "clock_wrong" {
        title: "CLOCK WRONG",
        short_title: "CLOCK WRONG",
        category: Text,
        rank: 25,
        priorities: [Warning],
        raised_when: "the computer's clock and the receiver's time, or the watch's own, differ by a minute or more",
        means: "The computer's clock is wrong: it was set, or lost its time. The watch goes on by its own.",
        action: "Set the computer's clock. Until then tide and times of day are off by as much.",
        trust: "A receiver can be the one that is wrong: compare with a third clock.",
    }
    RideDamaged, 25, "ride_damaged" {
        title: "LOG DAMAGED",
        short_title: "LOG DAMAGED",
        category: Text,
        rank: 24,
        priorities: [Warning],
        raised_when: "the ride was taken up from files of which something was damaged; until it is answered",
        means: "Something in the ride's files was damaged when it was taken up: the disk may be failing.",
        action: "Check drop point, rode, circle and limits against what you know; enter anew what is wrong.",
        trust: "What could be put right from the ride's other file was put right, and is named.",
    }
    Wake, 26, "wake" {
        title: "YOU ASKED TO BE WOKEN",
        short_title: "WAKE THE CREW",
        category: Text,
        rank: 26,
        priorities: [Warning],
        raised_when: "the time, the turn of the tide or the mean wind that the crew asked to be woken for has come; until it is answered",
        means: "What you asked to be woken for has come.",
        action: "Answer it. For another time, ask again: k.",
        trust: "The tide's turn is as good as its table, the wind as its sensor. Without either it does not wake you.",
    }
    NotAsForecast, 27, "not_as_forecast" {
        title: "NOT AS FORECAST",
        short_title: "NOT AS FORECAST",
        category: Text,
        rank: 27,
        priorities: [Caution, Warning],
        raised_when: "for 5 min the mean wind has been earlier, stronger or from elsewhere than the wind by the hour that was entered; it sounds where, if it goes on so, something goes wrong within 6 h, an hour sooner than planned or more",
        means: "The wind is not as the forecast that was entered, and the night that was planned with it changes.",
        action: "Hear the newest forecast and enter it: i. Veer, move or leave while there is time.",
        trust: "It takes the difference to go on all night. A squall passes; a front that is early does not.",
    }
    MaySleep, 28, "may_sleep" {
        title: "COMPUTER MAY SLEEP",
        short_title: "MAY FALL ASLEEP",
        category: Text,
        rank: 28,
        priorities: [Caution],
        raised_when: "an anchor is down, and the system does not let the watch keep the computer awake",
        means: "The computer may fall asleep by itself or by its lid, and nothing is watched while it sleeps.",
        action: "Leave the lid open, set the computer not to sleep, and look at view 8. How: the page Aboard.",
        trust: "It says what the system refused. Close the lid once by day to see what it does.",
    }
    HookFailed, 29, "hook_failed" {
        title: "NOT TOLD ELSEWHERE",
        short_title: "NOT TOLD",
        category: Text,
        rank: 29,
        priorities: [Caution],
        raised_when: "the command that tells others of alerts, `hook`, failed at the last change of an alert, three times; until it goes through",
        means: "Who is not on board has not heard of the last alert: the command that tells them failed.",
        action: "Look at network and receiver of the message; R rehearses the alarm and runs the command again.",
        trust: "It knows only how the command ended. That somebody read the message it cannot know.",
    }
    TakenOver, 30, "taken_over" {
        title: "WATCH TAKEN OVER",
        short_title: "WATCH TAKEN OVER",
        category: Text,
        rank: 30,
        priorities: [Alarm],
        raised_when: "the machine that kept the watch was silent for 10 s, and one that stood by keeps it by its own feeds; until it is answered",
        means: "The machine that kept the watch is dead, hangs, or cannot be reached. This one keeps the watch now.",
        action: "Look out by eye, and at the machine that is silent. What it alone heard (wind, depth) is missing until it keeps the watch again.",
        trust: "It judges by the receiver of the second machine, whose place on board it has learned only while both were heard.",
    }
}

impl AlertKind {
    /// The name used in files and reports, `fix_lost`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        self.about().name
    }

    /// The words that head the alert on the screen.
    #[must_use]
    pub const fn title(self) -> &'static str {
        self.about().title
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Longest title in a sentence: IEC 61162-1, from memory.
    const LONGEST_SHORT_TITLE: usize = 16;

    /// The table of `docs/sailing/alerts.md`.
    fn documented() -> String {
        let rows = AlertKind::ALL.map(|kind| {
            let About { number, name, priorities, raised_when, .. } = kind.about();
            let priorities: Vec<String> =
                priorities.iter().map(|p| format!("{p:?}").to_lowercase()).collect();
            format!("| `{name}` | {number} | {} | {raised_when} |\n", priorities.join(" → "))
        });
        format!("| kind | number | priority | raised when |\n| --- | --- | --- | --- |\n{}", rows.concat())
    }

    #[test]
    fn the_page_about_alerts_has_this_table() {
        let page = include_str!("../../../docs/sailing/alerts.md");
        assert!(
            page.contains(&documented()),
            "docs/sailing/alerts.md must have this table:\n{}",
            documented()
        );
    }

    #[test]
    fn the_page_about_alerts_says_which_need_the_chart() {
        let chart: Vec<String> = AlertKind::ALL
            .iter()
            .filter(|kind| kind.about().category == Category::Chart)
            .map(|kind| format!("`{}`", kind.name()))
            .collect();
        let [some @ .., last] = chart.as_slice() else { panic!("none needs the chart") };
        let words = format!("A for {} and {last}", some.join(", "));
        assert!(include_str!("../../../docs/sailing/alerts.md").contains(&words), "{words}");
    }

    #[test]
    fn numbers_names_and_ranks_are_each_kinds_own() {
        let numbers: Vec<usize> =
            AlertKind::ALL.iter().map(|kind| usize::from(kind.about().number)).collect();
        assert_eq!(numbers, (1..=AlertKind::ALL.len()).collect::<Vec<_>>());
        let mut ranks: Vec<usize> =
            AlertKind::ALL.iter().map(|kind| usize::from(kind.about().rank)).collect();
        ranks.sort_unstable();
        assert_eq!(ranks, (1..=AlertKind::ALL.len()).collect::<Vec<_>>());
        for kind in AlertKind::ALL {
            assert_eq!(serde_json::to_string(&kind).unwrap(), format!("\"{}\"", kind.name()));
            assert_eq!(AlertKind::ALL.iter().filter(|other| other.name() == kind.name()).count(), 1);
        }
    }

    #[test]
    fn every_row_has_its_words_and_a_title_that_fits_a_sentence() {
        for kind in AlertKind::ALL {
            let About { title, short_title, priorities, raised_when, means, action, trust, .. } =
                kind.about();
            assert!(short_title.len() <= LONGEST_SHORT_TITLE, "{kind:?}");
            assert!([title, raised_when, means, action, trust].iter().all(|words| !words.is_empty()));
            assert!(priorities.is_sorted() && !priorities.is_empty(), "{kind:?}");
        }
    }
}
