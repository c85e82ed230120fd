//! Damage to the files of a ride: flipped bits, files cut short, emptied, removed; every one of them.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use nightrode::config::{DropMark, RideFile};
use nightrode::edge::clock::{Clock, TimeSource};
use nightrode::edge::folder::{Hand, JOURNAL, NIGHT, RIDE, Recorder, Shelf, Turned};
use nightrode::edge::keeper::{Keeper, Setup, TAKE_UP_WITHIN};
use nightrode::edge::watchdog::Pulse;
use nightrode::watch::alert::AlertKind;
use nightrode::watch::boat::{Limits, Settings};
use nightrode::watch::geo::Position;
use nightrode::watch::input::{Command, DropMove, Event};
use nightrode::watch::snapshot::{Snapshot, Stage};
use nightrode::watch::units::{Metres, Span, WatchTime};

use super::chance::Chance;
use super::disk::SimDisk;
use super::number;

/// Damages a file; `None`: it is gone.
pub fn damage(mut bytes: Vec<u8>, chance: &mut Chance) -> Option<Vec<u8>> {
    if bytes.is_empty() {
        return None;
    }
    match chance.below(6) {
        0 => None,
        1 => Some(Vec::new()),
        2 => {
            bytes.truncate(chance.below(bytes.len() as u64) as usize);
            Some(bytes)
        }
        _ => {
            let bit = chance.below(bytes.len() as u64 * 8) as usize;
            bytes[bit / 8] ^= 1 << (bit % 8);
            Some(bytes)
        }
    }
}

struct Still(i64);

impl TimeSource for Still {
    fn wall_ms(&self) -> i64 {
        self.0
    }
    fn running(&self) -> std::time::Duration {
        std::time::Duration::ZERO
    }
    fn running_and_asleep(&self) -> Option<std::time::Duration> {
        None
    }
}

struct Kept {
    disk: SimDisk,
    folder: PathBuf,
    files: Vec<(PathBuf, Vec<u8>)>,
    now_ms: i64,
}

const FROM: WatchTime = super::ride::START;

fn shelf(disk: &SimDisk, turned: &Turned) -> Shelf {
    Shelf {
        folder: PathBuf::from("/rides"),
        disk: Arc::new(disk.clone()),
        hand: Hand::Turned(turned.clone()),
    }
}

fn drop_point() -> Position {
    Position::new(52.000_3, -20.000_4).expect("on the earth")
}

/// A ride with some twenty lines of journal, as a killed watch leaves it.
fn kept() -> Kept {
    let disk = SimDisk::new();
    let turned = Turned::default();
    let limits = Limits { circle: Some(Metres(55.0)), ..Limits::default() };
    let file = RideFile { place: "Hollow Ness".into(), ..RideFile::default() };
    let recorder = Recorder::begin_on(&shelf(&disk, &turned), FROM, file.clone()).expect("no thread");
    let acts = [
        Command::LetGo { veered: Some(Metres(30.0)), depth: Some(Metres(5.0)), place: "Hollow Ness".into() },
        Command::MoveDrop(DropMove::Position { position: drop_point() }),
        Command::Veered { length: Metres(35.0) },
        Command::BroughtUp,
        Command::Limits(limits.clone()),
    ];
    let mut at = FROM;
    for act in acts.into_iter().chain((0..14).map(|n| Command::Note { text: format!("round {n}") })) {
        at += Span::from_secs(10);
        recorder.event(at, &Event::Crew(act));
    }
    for second in 0..20 {
        recorder.line("gps", at + Span::from_secs(second), b"$GPHDT,236.7,T*35");
    }
    let anchor =
        DropMark { position: drop_point(), time: Some(FROM + Span::from_secs(10)), depth: Some(Metres(5.0)) };
    recorder.ride(RideFile {
        began: Some(FROM + Span::from_secs(10)),
        brought_up: Some(FROM + Span::from_secs(40)),
        noted: Some(FROM + Span::from_secs(50)),
        veered: Some(Metres(35.0)),
        drop: Some(anchor),
        settings: Settings { limits, ..Settings::default() },
        ..file
    });
    turned.turn();
    disk.kill();
    turned.forget();
    drop(recorder);
    let files: Vec<(PathBuf, Vec<u8>)> =
        disk.files().into_iter().map(|path| (path.clone(), disk.read(&path))).collect();
    let folder = files[0].0.parent().map(Path::to_owned).expect("in a folder");
    Kept { disk, folder, files, now_ms: FROM.0 + 600_000 }
}

/// The watch that takes the ride up, or in words why none does.
fn take_up(kept: &Kept) -> Result<Option<Snapshot>, String> {
    let turned = Turned::default();
    let setup = Setup {
        settings: Settings::default(),
        rides: Some(shelf(&kept.disk, &turned)),
        clock: Clock::on(Arc::new(Still(kept.now_ms))),
        speed: 1.0,
        pulse: Pulse::default(),
    };
    let (mut keeper, _lookout) = Keeper::new(setup);
    let taken_up = keeper.take_up(TAKE_UP_WITHIN).map_err(|error| error.to_string())?;
    keeper.run_due();
    let snapshot = keeper.snapshot();
    kept.disk.kill();
    Ok(taken_up.map(|_| snapshot))
}

/// Damages one file so, and says what is wrong with what came of it.
fn try_damage(kept: &Kept, path: &Path, bytes: Option<Vec<u8>>) -> Result<(), String> {
    try_harm(kept, |disk| match bytes {
        Some(bytes) => disk.put(path, bytes),
        None => disk.remove(path),
    })
}

fn try_harm(kept: &Kept, harm: impl FnOnce(&SimDisk)) -> Result<(), String> {
    for (other, whole) in &kept.files {
        kept.disk.put(other, whole.clone());
    }
    harm(&kept.disk);
    let snapshot = match take_up(kept) {
        // A refusal in words.
        Err(_) => return Ok(()),
        Ok(None) => return Err("a plain start".into()),
        Ok(Some(snapshot)) => snapshot,
    };
    let right = snapshot.stage == Stage::BroughtUp
        && snapshot.drop.as_ref().is_some_and(|drop| drop.position == drop_point())
        && snapshot.rode.veered == Some(Metres(35.0))
        && snapshot.limits.circle == Some(Metres(55.0));
    let reported = snapshot.alerts.iter().any(|alert| alert.kind == AlertKind::RideDamaged);
    if right || reported && snapshot.stage != Stage::NotSet {
        Ok(())
    } else {
        Err(format!(
            "{:?}, drop {:?}, reported {reported}",
            snapshot.stage,
            snapshot.drop.map(|d| d.position)
        ))
    }
}

/// Every so many of all damages are tried: all of them with `NIGHTRODE_EACH=1`.
fn each() -> usize {
    number("NIGHTRODE_EACH").map_or(389, |each| each.max(1) as usize)
}

#[test]
fn an_undamaged_ride_is_taken_up_without_a_word_of_damage() {
    let kept = kept();
    let snapshot = take_up(&kept).expect("taken up").expect("unfinished");
    assert_eq!(snapshot.stage, Stage::BroughtUp);
    assert_eq!(snapshot.drop.map(|drop| drop.position), Some(drop_point()));
    assert!(
        snapshot.alerts.iter().all(|alert| alert.kind != AlertKind::RideDamaged),
        "{:?}",
        snapshot.alerts
    );
}

#[test]
fn each_flipped_bit_of_journal_and_facts_leaves_the_right_state_or_is_reported() {
    let kept = kept();
    let mut wrong = Vec::new();
    let mut tried = 0;
    for name in [JOURNAL, RIDE] {
        let path = kept.folder.join(name);
        let whole = kept.disk.read(&path);
        for bit in (0..whole.len() * 8).step_by(each()) {
            let mut bytes = whole.clone();
            bytes[bit / 8] ^= 1 << (bit % 8);
            tried += 1;
            if let Err(why) = try_damage(&kept, &path, Some(bytes)) {
                wrong.push(format!("{name}, bit {bit}: {why}"));
            }
        }
    }
    println!("{tried} flipped bits");
    assert!(wrong.is_empty(), "{} of {tried}: {:#?}", wrong.len(), &wrong[..wrong.len().min(20)]);
}

#[test]
fn each_file_cut_anywhere_emptied_or_removed_leaves_the_right_state_or_is_reported() {
    let kept = kept();
    let mut wrong = Vec::new();
    let mut tried = 0;
    for name in [JOURNAL, RIDE, NIGHT] {
        let path = kept.folder.join(name);
        let whole = kept.disk.read(&path);
        let cuts = (0..whole.len()).step_by(each()).map(|length| Some(whole[..length].to_vec()));
        for bytes in cuts.chain([None]) {
            tried += 1;
            let length = bytes.as_ref().map(Vec::len);
            if let Err(why) = try_damage(&kept, &path, bytes) {
                wrong.push(format!("{name} cut to {length:?}: {why}"));
            }
        }
    }
    println!("{tried} cut files");
    assert!(wrong.is_empty(), "{} of {tried}: {:#?}", wrong.len(), &wrong[..wrong.len().min(20)]);
}

#[test]
fn each_file_that_cannot_be_read_from_some_byte_on_leaves_the_right_state_or_is_reported() {
    let kept = kept();
    let mut wrong = Vec::new();
    for name in [JOURNAL, RIDE, NIGHT] {
        let path = kept.folder.join(name);
        for at in (0..kept.disk.read(&path).len()).step_by(each()) {
            if let Err(why) = try_harm(&kept, |disk| disk.spoil_from(&path, at)) {
                wrong.push(format!("{name} from {at}: {why}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}: {:#?}", wrong.len(), &wrong[..wrong.len().min(20)]);
}
