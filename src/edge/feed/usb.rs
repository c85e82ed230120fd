//! Which serial port is the one that was unplugged? Ports, what is plugged into them, and how to know them again.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serialport::{SerialPortType, UsbPortInfo};

/// A serial port of this computer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Port {
    /// Device file or Windows name: may change when it is plugged in again.
    pub device: String,
    /// A link to it that is made from what is plugged in, and so stays.
    pub lasting_name: Option<String>,
    /// How it is attached.
    pub kind: PortKind,
}

/// How a serial port is attached.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PortKind {
    /// By USB.
    Usb {
        /// How to know it again.
        identity: UsbIdentity,
        /// Maker, in its own words.
        maker: Option<String>,
        /// Product, in its maker's words.
        product: Option<String>,
    },
    /// By Bluetooth.
    Bluetooth,
    /// On the board.
    BuiltIn,
    /// Not known.
    Unknown,
}

/// What tells one USB device from another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UsbIdentity {
    /// Vendor number.
    pub vendor: u16,
    /// The vendor's product number.
    pub product: u16,
    /// Serial number; many cheap adapters have none.
    pub serial: Option<String>,
    /// Which of a device's several ports.
    pub interface: Option<u8>,
}

/// The serial ports that are there now, by name.
#[must_use]
pub fn ports() -> Vec<Port> {
    // Without this folder, as in some containers, the library panics.
    if cfg!(target_os = "linux") && !Path::new("/sys/class/tty").is_dir() {
        return Vec::new();
    }
    let links = lasting_names(Path::new("/dev/serial/by-id"));
    let found = serialport::available_ports().unwrap_or_default().into_iter();
    let mut ports: Vec<_> = found
        .map(|port| Port {
            lasting_name: links.get(&port.port_name).cloned(),
            kind: kind(port.port_type),
            device: port.port_name,
        })
        .collect();
    ports.sort_by(|a, b| a.device.cmp(&b.device));
    ports
}

/// Links in `folder` by the device that each leads to.
fn lasting_names(folder: &Path) -> BTreeMap<String, String> {
    let links = fs::read_dir(folder).into_iter().flatten().flatten();
    links
        .filter_map(|link| {
            let device = fs::canonicalize(link.path()).ok()?;
            Some((device.to_str()?.to_owned(), link.path().to_str()?.to_owned()))
        })
        .collect()
}

fn kind(port: SerialPortType) -> PortKind {
    match port {
        SerialPortType::UsbPort(UsbPortInfo {
            vid,
            pid,
            serial_number,
            manufacturer,
            product,
            interface,
        }) => PortKind::Usb {
            identity: UsbIdentity { vendor: vid, product: pid, serial: serial_number, interface },
            maker: manufacturer,
            product,
        },
        SerialPortType::BluetoothPort => PortKind::Bluetooth,
        SerialPortType::PciPort => PortKind::BuiltIn,
        SerialPortType::Unknown => PortKind::Unknown,
    }
}

impl Port {
    /// What is plugged in, where that is known.
    #[must_use]
    pub fn identity(&self) -> Option<&UsbIdentity> {
        match &self.kind {
            PortKind::Usb { identity, .. } => Some(identity),
            _ => None,
        }
    }
}

/// The device that a configured path leads to: itself, or the end of its links.
#[must_use]
pub fn device_of(path: &str) -> String {
    let end = fs::canonicalize(path).ok();
    end.and_then(|end| end.to_str().map(str::to_owned)).unwrap_or_else(|| path.to_owned())
}

/// By what to know again what is plugged in at `device`; nothing if another port looks the same, since a feed must
/// not go over to that one when its own is unplugged.
#[must_use]
pub(super) fn unmistakable(device: &str, ports: &[Port]) -> Option<UsbIdentity> {
    let identity = ports.iter().find(|port| port.device == device)?.identity()?;
    let alike = ports.iter().filter(|port| port.identity() == Some(identity)).count();
    (alike == 1).then(|| identity.clone())
}

/// Which of `ports` to open for a feed that is configured as `path` (which leads to `device`) and was last seen as
/// `known`. A receiver that comes back under another name is followed; if it cannot be told from others, or is not
/// there, the configured path holds: somebody may have plugged in the spare.
#[must_use]
pub(super) fn choose(path: &str, device: &str, known: Option<&UsbIdentity>, ports: &[Port]) -> String {
    let Some(known) = known else { return path.to_owned() };
    let mut same = ports.iter().filter(|port| port.identity() == Some(known));
    match (same.next(), same.next()) {
        (Some(only), None) if only.device != device => only.device.clone(),
        _ => path.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(device: &str, serial: Option<&str>, interface: u8) -> Port {
        let identity = UsbIdentity {
            vendor: 0x0403,
            product: 0x6001,
            serial: serial.map(str::to_owned),
            interface: Some(interface),
        };
        Port {
            device: device.to_owned(),
            lasting_name: None,
            kind: PortKind::Usb { identity, maker: None, product: None },
        }
    }

    fn chosen(known: &Port, ports: &[Port]) -> String {
        choose("/dev/ttyUSB0", "/dev/ttyUSB0", known.identity(), ports)
    }

    #[test]
    fn a_receiver_that_comes_back_under_another_name_is_followed() {
        let known = port("/dev/ttyUSB0", Some("A1"), 0);
        assert_eq!(chosen(&known, &[port("/dev/ttyUSB1", Some("A1"), 0)]), "/dev/ttyUSB1");
        let other_has_the_name = [port("/dev/ttyUSB0", Some("B2"), 0), port("/dev/ttyUSB1", Some("A1"), 0)];
        assert_eq!(chosen(&known, &other_has_the_name), "/dev/ttyUSB1");
    }

    #[test]
    fn the_ports_of_one_adapter_are_told_apart() {
        let known = port("/dev/ttyUSB0", Some("A1"), 0);
        let back = [port("/dev/ttyUSB4", Some("A1"), 1), port("/dev/ttyUSB5", Some("A1"), 0)];
        assert_eq!(chosen(&known, &back), "/dev/ttyUSB5");
    }

    #[test]
    fn the_configured_name_holds_when_nothing_better_is_known() {
        let known = port("/dev/ttyUSB0", None, 0);
        assert_eq!(choose("/dev/gps", "/dev/ttyUSB0", None, &[port("/dev/ttyUSB1", None, 0)]), "/dev/gps");
        assert_eq!(chosen(&known, &[]), "/dev/ttyUSB0");
        assert_eq!(chosen(&known, &[port("/dev/ttyUSB0", Some("the spare"), 0)]), "/dev/ttyUSB0");
        let twins = [port("/dev/ttyUSB1", None, 0), port("/dev/ttyUSB2", None, 0)];
        assert_eq!(chosen(&known, &twins), "/dev/ttyUSB0", "either may be another feed's");
    }

    #[test]
    fn one_of_two_that_look_alike_is_not_remembered() {
        let ports = [
            port("/dev/ttyUSB0", None, 0),
            port("/dev/ttyUSB1", None, 0),
            port("/dev/ttyUSB2", Some("A1"), 0),
        ];
        assert_eq!(unmistakable("/dev/ttyUSB0", &ports), None);
        assert_eq!(unmistakable("/dev/ttyUSB0", &ports[..1]).as_ref(), ports[0].identity());
        assert_eq!(unmistakable("/dev/ttyUSB2", &ports).as_ref(), ports[2].identity());
        assert_eq!(unmistakable("/dev/ttyS0", &ports), None);
    }

    #[test]
    fn lasting_names_are_found_by_the_device_they_lead_to() {
        let folder = tempfile::tempdir().unwrap();
        let device = folder.path().join("ttyUSB3");
        fs::write(&device, "").unwrap();
        let by_id = folder.path().join("by-id");
        fs::create_dir(&by_id).unwrap();
        #[cfg(unix)]
        {
            let link = by_id.join("usb-receiver-if00");
            std::os::unix::fs::symlink(&device, &link).unwrap();
            let device = fs::canonicalize(&device).unwrap();
            let names = lasting_names(&by_id);
            assert_eq!(names.get(device.to_str().unwrap()).map(String::as_str), link.to_str());
        }
        assert!(lasting_names(&folder.path().join("nowhere")).is_empty());
    }
}
