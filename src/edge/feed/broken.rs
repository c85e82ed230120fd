//! Why a port or a server gives nothing, and what to do about it.

use std::io;

use super::Server;

/// Why a port gives nothing.
#[derive(Debug, thiserror::Error)]
pub enum PortError {
    /// Nothing is there.
    #[error("{path} is not there: is it plugged in?")]
    NotThere {
        /// The port.
        path: String,
    },
    /// It belongs to others.
    #[error(
        "you may not open {path}: add yourself to the group {group} (`sudo usermod -aG {group} $USER`) and log in again"
    )]
    NotAllowed {
        /// The port.
        path: String,
        /// Who may.
        group: String,
    },
    /// Somebody else has it, or it is something else.
    #[error("{path} is in use by another program, or is no serial port: {error}")]
    InUse {
        /// The port.
        path: String,
        /// What the operating system says.
        error: serialport::Error,
    },
    /// It cannot be opened for another reason.
    #[error("{path} cannot be opened: {error}")]
    CannotOpen {
        /// The port.
        path: String,
        /// What the operating system says.
        error: io::Error,
    },
    /// It failed while it was open.
    #[error("{path} failed: {error}; was it unplugged?")]
    Failed {
        /// The port.
        path: String,
        /// What the operating system says.
        error: io::Error,
    },
    /// The other end is gone.
    #[error("{path} hung up: was it unplugged?")]
    HungUp {
        /// The port.
        path: String,
    },
    /// The device is gone, though the port is still open.
    #[error("{path} is gone: was it unplugged?")]
    Gone {
        /// The port.
        path: String,
    },
    /// Nothing came while its rate was sought.
    #[error("{path} is open and silent: is the instrument switched on?")]
    Silent {
        /// The port.
        path: String,
    },
    /// What came is no sentence.
    #[error("what comes from {path} is no sentence at any usual rate: is the instrument set to NMEA 0183?")]
    Unreadable {
        /// The port.
        path: String,
    },
}

/// Why a server is not reached.
#[derive(Debug, thiserror::Error)]
pub enum ServerError {
    /// Nobody listens there.
    #[error("{0} refused the connection: its program is not running, or the port is wrong")]
    Refused(Server),
    /// Nobody answers at all.
    #[error("{0} does not answer: is it switched on, and on this network?")]
    NoAnswer(Server),
    /// Anything else.
    #[error("{server} cannot be reached: {error}")]
    Unreachable {
        /// The server.
        server: Server,
        /// What the operating system says.
        error: io::Error,
    },
}
