//! The code that a phone's camera reads, in a terminal, and the address that it holds.

use std::fmt::Write as _;
use std::net::{IpAddr, SocketAddr, UdpSocket};

use fast_qr::qr::QRBuilder;
use fast_qr::{ECL, QRCode};

use super::Setup;
use super::asked::ROOT;
use super::key::Key;
use crate::tui::overlay::phone::PhoneCode;

/// Light modules about a code: half of what ISO/IEC 18004 asks for, so that it fits into a small window; the ground of
/// the terminal does not touch it.
const QUIET: i32 = 2;

/// The address that opens the page.
#[must_use]
pub fn address(at: SocketAddr, key: &Key) -> String {
    format!("http://{at}{ROOT}{}", key.letters())
}

/// The address by which others reach this computer, where it listens on all of its own. Nothing is sent to find it.
#[must_use]
pub fn reachable(at: SocketAddr) -> Option<SocketAddr> {
    if !at.ip().is_unspecified() {
        return Some(at);
    }
    // An address for documentation (RFC 5737, RFC 3849): the system tells by which of its own it would go there.
    let (own, other): (IpAddr, &str) = match at {
        SocketAddr::V4(_) => (IpAddr::from([0; 4]), "192.0.2.1:9"),
        SocketAddr::V6(_) => (IpAddr::from([0; 16]), "[2001:db8::1]:9"),
    };
    let socket = UdpSocket::bind((own, 0)).ok()?;
    socket.connect(other).ok()?;
    Some(SocketAddr::new(socket.local_addr().ok()?.ip(), at.port()))
}

/// Said where no page is set up.
pub const NOT_SET: &str = "There is no page for phones: boat.toml names no address for it. Write there, with this computer's \
                           address on the boat's network: [page] address = \"192.168.1.5:8460\", and start the watch anew.";

/// Said on another screen of a watch that is kept elsewhere.
pub const ELSEWHERE: &str = "The machine that keeps the watch serves the page for phones: P on its own screen shows the code, or \
                             `nightrode page` there.";

/// What a screen has to show to a phone.
#[derive(Clone, Debug)]
pub enum Shown {
    /// The code of this page.
    Of(Setup),
    /// None: why, and what to do.
    Not(String),
}

impl Shown {
    /// The code as it is now: the key may have been renewed since the watch began.
    ///
    /// # Errors
    /// In words, why there is none and what to do.
    pub fn now(&self) -> Result<PhoneCode, String> {
        let setup = match self {
            Self::Of(setup) => setup,
            Self::Not(why) => return Err(why.clone()),
        };
        let at = reachable(setup.address).ok_or("This computer has no address on a network just now.")?;
        let key = Key::read_or_make(&setup.key).map_err(|error| {
            format!("No key of the page can be read or kept in {}: {error}.", setup.key.display())
        })?;
        let address = address(at, &key);
        let modules = modules(&address).ok_or("The address of the page is too long for a code.")?;
        Ok(PhoneCode { address, modules, acknowledges: setup.acknowledge })
    }
}

/// The modules of a text's code, row by row, dark as `true`; `None` for a text longer than a code holds.
fn modules(text: &str) -> Option<Vec<Vec<bool>>> {
    let code = QRBuilder::new(text).ecl(ECL::L).build().ok()?;
    let row = |y: usize| (0..code.size).map(|x| code[y][x].value()).collect();
    Some((0..code.size).map(row).collect())
}

/// The code of a text, two rows of it to a line: dark on light whatever colours the terminal has, where it has any.
/// `None` for a text longer than a code holds.
#[must_use]
pub fn drawn(text: &str, coloured: bool) -> Option<String> {
    let code = QRBuilder::new(text).ecl(ECL::L).build().ok()?;
    let size = i32::try_from(code.size).ok()?;
    let (on, off) = if coloured { ("\x1b[38;5;16;48;5;231m", "\x1b[0m") } else { ("", "") };
    let mut out = String::new();
    for row in (-QUIET..size + QUIET).step_by(2) {
        out.push_str(on);
        for column in -QUIET..size + QUIET {
            let (above, below) = (is_dark(&code, column, row), is_dark(&code, column, row + 1));
            // Without colours light is what is printed: on a dark terminal it is the lighter.
            out.push(match (above != coloured, below != coloured) {
                (false, false) => '█',
                (false, true) => '▀',
                (true, false) => '▄',
                (true, true) => ' ',
            });
        }
        let _ = writeln!(out, "{off}");
    }
    Some(out)
}

fn is_dark(code: &QRCode, column: i32, row: i32) -> bool {
    match (usize::try_from(column), usize::try_from(row)) {
        (Ok(x), Ok(y)) if x < code.size && y < code.size => code[y][x].value(),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The code again as a picture of modules, dark as `true`.
    fn modules(drawn: &str, coloured: bool) -> Vec<Vec<bool>> {
        let plain = |line: &str| line.replace("\x1b[38;5;16;48;5;231m", "").replace("\x1b[0m", "");
        let mut rows = Vec::new();
        for line in drawn.lines().map(plain) {
            let ink = |upper: bool| -> Vec<bool> {
                let printed = |c: char| c == '█' || c == if upper { '▀' } else { '▄' };
                line.chars().map(|c| printed(c) == coloured).collect()
            };
            rows.extend([ink(true), ink(false)]);
        }
        rows
    }

    #[test]
    fn a_code_fits_into_a_small_window_and_has_its_three_corners() {
        let key = Key::new().unwrap();
        let text = address(([192, 168, 100, 123], 8460).into(), &key);
        for coloured in [true, false] {
            let drawn = drawn(&text, coloured).unwrap();
            let rows = modules(&drawn, coloured);
            assert!(drawn.lines().count() <= 20 && rows[0].len() <= 60, "{}", drawn.lines().count());
            // ISO/IEC 18004: a finder pattern is 7 modules wide, dark, light, three dark, light, dark through its middle.
            let last = rows[0].len() - QUIET as usize - 7;
            let finder = [true, false, true, true, true, false, true];
            for (x, y) in [(2, 2), (last, 2), (2, last)] {
                assert_eq!(rows[y + 3][x..x + 7], finder, "{coloured} {x} {y}\n{drawn}");
                assert_eq!(rows[y][x..x + 7], [true; 7], "{coloured} {x} {y}");
            }
            assert!(rows[0].iter().all(|dark| !dark), "light all round");
        }
    }

    #[test]
    fn an_address_that_is_named_is_the_one_that_is_shown() {
        let named = SocketAddr::from(([192, 168, 1, 5], 8460));
        assert_eq!(reachable(named), Some(named));
        // Without a network there is none.
        assert!(reachable(([0, 0, 0, 0], 8460).into()).is_none_or(|at| at.port() == 8460));
        let key = Key::new().unwrap();
        let v6 = address("[2001:db8::5]:8460".parse().unwrap(), &key);
        assert!(v6.starts_with("http://[2001:db8::5]:8460/watch/"), "{v6}");
    }
}
