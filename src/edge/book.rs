//! The book of places: a folder of plain files, one a place.

use std::fs::{self, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::files::{for_owner, make_folders, read_text};
use crate::config::Problems;
use crate::config::place_file::{additions_toml, place_toml, read_place};
use crate::watch::boat::Berth;
use crate::watch::geo::Position;
use crate::watch::output::Keepsake;
use crate::watch::place::{Place, PlaceRide, PlaceSounding, nearest};
use crate::watch::units::Metres;

/// A ride belongs to a place that lies no farther off, whatever it is called.
const SAME_PLACE: Metres = Metres(400.0);
/// A place that grows beyond this is no longer read: something else writes into it.
const LONGEST_FILE: u64 = 4 << 20;
/// Soundings that are kept of one reconnaissance: enough to show its shape.
const SOUNDINGS_KEPT: usize = 40;

/// The book.
#[derive(Clone, Debug)]
pub struct Book {
    folder: PathBuf,
}

/// A place and its file.
#[derive(Clone, Debug)]
pub struct Entry {
    /// Its file.
    pub path: PathBuf,
    /// What it says.
    pub place: Place,
}

impl Book {
    /// The book that lies beside the rides of this folder.
    #[must_use]
    pub fn beside(rides: &Path) -> Self {
        Self { folder: rides.join("places") }
    }

    /// Every place, by name, and what is wrong with files that cannot be read.
    #[must_use]
    pub fn entries(&self) -> (Vec<Entry>, Vec<PlaceError>) {
        let (mut entries, mut wrong) = (Vec::new(), Vec::new());
        for path in fs::read_dir(&self.folder).into_iter().flatten().flatten().map(|entry| entry.path()) {
            if path.extension().is_none_or(|extension| extension != "toml") {
                continue;
            }
            match read(&path) {
                Ok(place) => entries.push(Entry { path, place }),
                Err(why) => wrong.push(why),
            }
        }
        entries.sort_by(|a, b| a.place.name.cmp(&b.place.name));
        (entries, wrong)
    }

    /// Writes a new place. Gives its file.
    ///
    /// # Errors
    /// If there is a file of that name already, or the disk refuses.
    pub fn add(&self, place: &Place) -> io::Result<PathBuf> {
        make_folders(&self.folder)?;
        let path = self.folder.join(format!("{}.toml", file_name(&place.name)));
        let mut file = for_owner(OpenOptions::new().write(true).create_new(true)).open(&path)?;
        file.write_all(place_toml(place).as_bytes())?;
        Ok(path)
    }

    /// Keeps what a ride showed: in the place where it was, or in a new one. Gives the file; `None` if the ride has no
    /// drop point.
    ///
    /// # Errors
    /// If the disk refuses.
    pub fn keep(&self, kept: &Keepsake) -> io::Result<Option<PathBuf>> {
        let Some(drop) = kept.anchor.or(kept.drop) else { return Ok(None) };
        let soundings = soundings(kept, drop);
        let ride = PlaceRide { let_go: kept.let_go, held: kept.holding.words.clone() };
        let (entries, _) = self.entries();
        let places: Vec<Place> = entries.iter().map(|entry| entry.place.clone()).collect();
        let here = nearest(&places, drop).filter(|(_, distance)| *distance <= SAME_PLACE);
        let here = here.and_then(|(place, _)| entries.iter().find(|entry| entry.place == *place));
        if let Some(Entry { path, place }) = here {
            let mut file = OpenOptions::new().append(true).open(path)?;
            let known = |name: &String| place.marks.iter().any(|(known, _)| known == name);
            let marks: Vec<_> = kept.marks.iter().filter(|(name, _)| !known(name)).cloned().collect();
            file.write_all(additions_toml(&marks, &soundings, &[ride]).as_bytes())?;
            return Ok(Some(path.clone()));
        }
        let name = if kept.place.trim().is_empty() { "unnamed place" } else { kept.place.trim() };
        let marks = kept.marks.clone();
        let Berth { seabed, open, shore, .. } = kept.berth.clone();
        let place = Place { seabed, open, shore, way_out: kept.way_out, ..Place::new(name, drop) };
        let mut place = Place { marks, soundings, rides: vec![ride], ..place };
        // A second place of one name, miles away, has a number.
        for number in 2..100 {
            match self.add(&place) {
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
                    place.name = format!("{name} {number}");
                }
                added => return added.map(Some),
            }
        }
        Err(io::ErrorKind::AlreadyExists.into())
    }
}

/// Why a file of the book gives no place.
#[derive(Debug, thiserror::Error)]
pub enum PlaceError {
    /// The disk does not give it.
    #[error("{file} cannot be read: {error}")]
    Unreadable {
        /// The file.
        file: String,
        /// What the operating system says.
        error: io::Error,
    },
    /// No place is so long.
    #[error("{0} is longer than any place of the book, and is left aside.")]
    TooLong(String),
    /// What it says is wrong.
    #[error(transparent)]
    Wrong(#[from] Problems),
}

fn read(path: &Path) -> Result<Place, PlaceError> {
    let file = path.display().to_string();
    let unreadable = |error| PlaceError::Unreadable { file: file.clone(), error };
    if fs::metadata(path).map_err(unreadable)?.len() > LONGEST_FILE {
        return Err(PlaceError::TooLong(file));
    }
    let text = read_text(path).map_err(unreadable)?;
    Ok(read_place(&text, &file)?.value)
}

/// The depth at the drop point and some of the reconnaissance, evenly taken.
fn soundings(kept: &Keepsake, drop: Position) -> Vec<PlaceSounding> {
    let every = kept.soundings.len().div_ceil(SOUNDINGS_KEPT).max(1);
    let of_recon = kept.soundings.iter().step_by(every).filter_map(|sounding| {
        Some(PlaceSounding { position: sounding.position, charted: sounding.charted?, on: sounding.at })
    });
    let at_drop =
        kept.charted.zip(kept.let_go).map(|(charted, on)| PlaceSounding { position: drop, charted, on });
    of_recon.chain(at_drop).collect()
}

/// A name as a file has it: letters and figures, the rest as hyphens.
fn file_name(name: &str) -> String {
    let mut out = String::new();
    for c in name.to_lowercase().chars().take(60) {
        if c.is_alphanumeric() {
            out.push(c);
        } else if !out.ends_with('-') && !out.is_empty() {
            out.push('-');
        }
    }
    let out = out.trim_end_matches('-');
    if out.is_empty() { "place".to_owned() } else { out.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::output::HoldingSeen;
    use crate::watch::units::WatchTime;

    fn kept(place: &str, lat: f64) -> Keepsake {
        Keepsake {
            place: place.into(),
            let_go: Some(WatchTime(1_780_430_400_000)),
            drop: Position::new(lat, 10.4).ok(),
            charted: Some(Metres(2.4)),
            marks: vec![("beacon".into(), Position::new(54.21, 10.4).unwrap())],
            holding: HoldingSeen { words: "held 11 h in 30 kn".into(), ..HoldingSeen::default() },
            ..Keepsake::default()
        }
    }

    #[test]
    fn a_ride_is_kept_where_it_was_and_the_crews_words_stay() {
        let folder = tempfile::tempdir().unwrap();
        let book = Book::beside(folder.path());
        let path = book.keep(&kept("Hollow Ness", 54.2)).unwrap().unwrap();
        assert!(path.ends_with("places/hollow-ness.toml"), "{path:?}");
        let text = format!("# ours: best in the lee of the mole\n{}", fs::read_to_string(&path).unwrap());
        fs::write(&path, text).unwrap();
        // Called otherwise, but the same place.
        assert_eq!(book.keep(&kept("Ness", 54.201)).unwrap().unwrap(), path);
        // Called the same, but miles away.
        let other = book.keep(&kept("Hollow Ness", 55.0)).unwrap().unwrap();
        assert_ne!(other, path);
        let (entries, wrong) = book.entries();
        assert!(wrong.is_empty(), "{wrong:?}");
        assert_eq!(entries.iter().map(|e| e.place.rides.len()).collect::<Vec<_>>(), [2, 1]);
        assert_eq!(entries[0].place.marks.len(), 1, "a mark that the place has is not written again");
        assert!(fs::read_to_string(&path).unwrap().starts_with("# ours: best"));
    }

    #[test]
    fn a_new_place_keeps_what_was_entered_of_the_berth() {
        use crate::watch::rode::{OpenWater, Seabed, parse_fetch};
        let folder = tempfile::tempdir().unwrap();
        let book = Book::beside(folder.path());
        let open = OpenWater { fetch: parse_fetch("SW 2").unwrap(), depth: None };
        let berth = Berth { seabed: Some(Seabed::Mud), open: open.clone(), ..Berth::default() };
        book.keep(&Keepsake { berth, ..kept("Hollow Ness", 54.2) }).unwrap();
        let (entries, wrong) = book.entries();
        assert!(wrong.is_empty(), "{wrong:?}");
        assert_eq!((entries[0].place.seabed, &entries[0].place.open), (Some(Seabed::Mud), &open));
    }

    #[test]
    fn one_bad_file_hides_no_other() {
        let folder = tempfile::tempdir().unwrap();
        let book = Book::beside(folder.path());
        book.keep(&kept("Hollow Ness", 54.2)).unwrap();
        fs::write(folder.path().join("places/bad.toml"), "[place]\nlat = 99").unwrap();
        let (entries, wrong) = book.entries();
        assert_eq!((entries.len(), wrong.len()), (1, 1));
        assert!(wrong[0].to_string().contains("bad.toml"), "{wrong:?}");
        assert_eq!(book.keep(&Keepsake::default()).unwrap(), None);
    }

    #[test]
    fn a_name_makes_a_file_anywhere() {
        assert_eq!(file_name("Hollow Ness / west"), "hollow-ness-west");
        assert_eq!(file_name("../../etc"), "etc");
        assert_eq!(file_name("…"), "place");
    }
}
