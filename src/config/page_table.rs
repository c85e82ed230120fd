//! `[page]` of `boat.toml`: the page for a phone.

use core::net::SocketAddr;

use super::reader::{Log, Table};

/// The page for a phone. Without an address there is none.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PageSettings {
    /// Where it is served; `None`: it is not.
    pub address: Option<SocketAddr>,
    /// Whether alerts may be acknowledged on it.
    pub acknowledge: bool,
}

pub(super) fn read_page(log: &mut Log, doc: &mut Table) -> PageSettings {
    let mut table = doc.table(log, "page");
    let page = PageSettings {
        address: read_address(log, &mut table),
        acknowledge: table.flag(log, "acknowledge").unwrap_or(false),
    };
    table.finish(log);
    page
}

fn read_address(log: &mut Log, table: &mut Table) -> Option<SocketAddr> {
    let (text, place) = table.text(log, "address")?;
    let address = page_address(&text);
    if address.is_none() {
        let what = format!(
            "address is {text:?}; it must be a number address of this computer and a port, like \"192.168.1.5:8460\""
        );
        log.wrong(place, "page.address", what);
    }
    address
}

/// An address and a port; `None` where it is none, or the port is 0 and no phone would find it.
#[must_use]
pub fn page_address(text: &str) -> Option<SocketAddr> {
    text.parse().ok().filter(|address: &SocketAddr| address.port() != 0)
}

#[cfg(test)]
mod tests {
    use crate::config::read_boat;

    #[test]
    fn there_is_no_page_unless_an_address_is_named_and_nobody_acknowledges_unless_allowed() {
        let read = |text: &str| read_boat(text, "boat.toml").map(|read| read.value.page);
        let none = read("").unwrap();
        assert_eq!((none.address, none.acknowledge), (None, false));
        let some = read("[page]\naddress = \"192.168.1.5:8460\"\n").unwrap();
        assert_eq!((some.address, some.acknowledge), (Some(([192, 168, 1, 5], 8460).into()), false));
        assert!(read("[page]\naddress = \"[::]:8460\"\nacknowledge = true\n").unwrap().acknowledge);
        for wrong in
            ["\"nav\"", "\"192.168.1.5\"", "\"192.168.1.5:0\"", "8460", "\"http://192.168.1.5:8460\""]
        {
            let said = read(&format!("[page]\naddress = {wrong}\n")).unwrap_err().to_string();
            assert!(said.contains("address"), "{said}");
        }
    }
}
