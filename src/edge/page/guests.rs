//! How many may come, and how often? A stranger on the network must cost the watch nothing, and one address must not take
//! the room of all. Who has many addresses can keep new phones out, and no phone that is being told already.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::time::Duration;

use tokio::time::Instant;

/// Links at once, of all: more phones than any crew has.
const ALL: usize = 32;
/// Links at once from one address: a phone that loads the page opens six.
const OF_ONE: usize = 8;
/// Links in [`WHILE`] from one address: a page that is loaded again and again by an impatient finger.
const OFTEN: u32 = 60;
/// For so long links are counted.
const WHILE: Duration = Duration::from_secs(10);
/// Addresses that are remembered; strangers can have many.
const REMEMBERED: usize = 256;

/// Who is here, and who came lately.
#[derive(Debug, Default)]
pub(super) struct Guests {
    open: usize,
    of: BTreeMap<IpAddr, Guest>,
}

#[derive(Debug)]
struct Guest {
    open: usize,
    since: Instant,
    came: u32,
}

impl Guests {
    /// Takes in one from an address; whether there is room for it.
    pub(super) fn comes(&mut self, from: IpAddr, now: Instant) -> bool {
        if self.of.len() >= REMEMBERED {
            self.of.retain(|_, guest| guest.open > 0 || now.duration_since(guest.since) < WHILE);
        }
        if self.of.len() >= REMEMBERED && !self.of.contains_key(&from) {
            return false;
        }
        let guest = self.of.entry(from).or_insert(Guest { open: 0, since: now, came: 0 });
        if now.duration_since(guest.since) >= WHILE {
            (guest.since, guest.came) = (now, 0);
        }
        guest.came = guest.came.saturating_add(1);
        let has_room = self.open < ALL && guest.open < OF_ONE && guest.came <= OFTEN;
        if has_room {
            guest.open += 1;
            self.open += 1;
        }
        has_room
    }

    /// One that was taken in has gone.
    pub(super) fn goes(&mut self, from: IpAddr) {
        if let Some(guest) = self.of.get_mut(&from) {
            guest.open = guest.open.saturating_sub(1);
        }
        self.open = self.open.saturating_sub(1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn address(n: u32) -> IpAddr {
        IpAddr::from(std::net::Ipv4Addr::from(0x0a00_0000 + n))
    }

    #[test]
    fn one_address_cannot_take_the_room_of_others() {
        let (mut guests, now) = (Guests::default(), Instant::now());
        let taken = (0..100).filter(|_| guests.comes(address(1), now)).count();
        assert_eq!(taken, OF_ONE);
        assert!(guests.comes(address(2), now));
        guests.goes(address(1));
        assert!(!guests.comes(address(1), now), "it came too often");
        assert!(guests.comes(address(1), now + WHILE), "after a while it may again");
    }

    #[test]
    fn a_crowd_is_bounded_in_links_and_in_memory() {
        let (mut guests, now) = (Guests::default(), Instant::now());
        let taken = (0..1000).filter(|n| guests.comes(address(*n), now)).count();
        assert_eq!((taken, guests.of.len()), (ALL, REMEMBERED));
        (0..1000).for_each(|n| {
            if (n as usize) < ALL {
                guests.goes(address(n))
            }
        });
        assert_eq!(guests.open, 0);
        assert!(guests.comes(address(2000), now + WHILE), "those of before are forgotten");
    }
}
