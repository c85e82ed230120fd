//! What a Signal K server is known by, and what it knows this program by: the sum of its certificate, and a token.
//!
//! Both lie in the folder `servers` beside `boat.toml`, in files that only their owner reads: `HOST_PORT.certificate`, written
//! when the server is met first, and `HOST_PORT.token`. A token is never printed, logged or sent to another server.

use std::fmt;
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::Server;

/// SHA-256 of a certificate as it is sent (DER).
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Sum([u8; 32]);

impl Sum {
    /// Of a certificate.
    pub(super) fn of(certificate: &[u8]) -> Self {
        let digest = ring::digest::digest(&ring::digest::SHA256, certificate);
        let mut sum = [0; 32];
        sum.copy_from_slice(digest.as_ref());
        Self(sum)
    }

    /// Reads what `Display` writes.
    fn read(text: &str) -> Option<Self> {
        let mut sum = [0; 32];
        let mut pairs = text.trim().split(':');
        for place in &mut sum {
            let pair = pairs.next().filter(|pair| pair.len() == 2)?;
            *place = u8::from_str_radix(pair, 16).ok()?;
        }
        pairs.next().is_none().then_some(Self(sum))
    }
}

impl fmt::Display for Sum {
    /// `3F:0A:…`, as other tools write a certificate's fingerprint.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, byte) in self.0.iter().enumerate() {
            write!(f, "{}{byte:02X}", if i == 0 { "" } else { ":" })?;
        }
        Ok(())
    }
}

impl fmt::Debug for Sum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// What a server gave to let this program in. It shows itself to nobody.
#[derive(Clone, PartialEq, Eq)]
pub struct Token(String);

/// The longest token: more than any cookie may be. Our choice.
const TOKEN_MAX: usize = 4096;

impl Token {
    /// `None` if it cannot be one: empty, too long, or with spaces or signs that no header may hold.
    #[must_use]
    pub fn new(text: &str) -> Option<Self> {
        let text = text.trim();
        let is_one = (1..=TOKEN_MAX).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_graphic());
        is_one.then(|| Self(text.to_owned()))
    }

    /// As the header of a request carries it.
    pub(super) fn header(&self) -> String {
        format!("Bearer {}", self.0)
    }
}

impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Token(…)")
    }
}

/// Why a key cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum KeyError {
    /// Others could take it.
    #[error("{} can be read by others, so the token in it is not used: `chmod 600` it", path.display())]
    Open {
        /// The file.
        path: PathBuf,
    },
    /// It is there and cannot be read, or cannot be written.
    #[error("{} cannot be used: {error}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the operating system says.
        error: io::Error,
    },
    /// It holds something else.
    #[error("{} holds no {what}: take it away and give it anew with `nightrode signalk`", path.display())]
    NotOne {
        /// The file.
        path: PathBuf,
        /// What it should be.
        what: &'static str,
    },
}

/// Who is told of a certificate that was met first.
type Tell = Arc<dyn Fn(String) + Send + Sync>;

/// The keys of all servers.
#[derive(Clone, Default)]
pub struct ServerKeys {
    folder: Option<PathBuf>,
    tell: Option<Tell>,
}

impl fmt::Debug for ServerKeys {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("ServerKeys").field("folder", &self.folder).finish_non_exhaustive()
    }
}

impl ServerKeys {
    /// Those that lie below the folder of `boat.toml`.
    #[must_use]
    pub fn beside(config: &Path) -> Self {
        Self { folder: Some(config.join("servers")), tell: None }
    }

    /// The same, and whoever is to hear of a certificate that was met first.
    #[must_use]
    pub fn telling(self, tell: impl Fn(String) + Send + Sync + 'static) -> Self {
        Self { tell: Some(Arc::new(tell)), ..self }
    }

    /// What is known of the server's certificate.
    ///
    /// # Errors
    /// If it is there and cannot be read.
    pub fn certificate(&self, server: &Server) -> Result<Option<Sum>, KeyError> {
        let Some((path, text)) = self.read(server, "certificate")? else { return Ok(None) };
        Sum::read(&text).map(Some).ok_or(KeyError::NotOne { path, what: "sum of a certificate" })
    }

    /// The token for the server.
    ///
    /// # Errors
    /// If it is there and cannot be read, or others can read it too.
    pub fn token(&self, server: &Server) -> Result<Option<Token>, KeyError> {
        let Some((path, text)) = self.read(server, "token")? else { return Ok(None) };
        if is_open_to_others(&path) {
            return Err(KeyError::Open { path });
        }
        Token::new(&text).map(Some).ok_or(KeyError::NotOne { path, what: "token" })
    }

    /// Keeps a certificate that was met first, and says so.
    ///
    /// # Errors
    /// If it cannot be written: the next one would be met first again.
    pub(super) fn keep_certificate(&self, server: &Server, sum: Sum) -> Result<(), KeyError> {
        self.write(server, "certificate", &sum.to_string())?;
        if let Some(tell) = &self.tell {
            tell(format!(
                "The certificate of {server} is new and is kept: SHA-256 {sum}. Compare it with the server's own."
            ));
        }
        Ok(())
    }

    /// Keeps a token.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn keep_token(&self, server: &Server, token: &Token) -> Result<(), KeyError> {
        self.write(server, "token", &token.0)
    }

    /// Forgets certificate and token; whether any was known.
    ///
    /// # Errors
    /// If they are there and cannot be removed.
    pub fn forget(&self, server: &Server) -> Result<bool, KeyError> {
        let mut any = false;
        for kind in ["certificate", "token"] {
            let Some(path) = self.path(server, kind) else { continue };
            match fs::remove_file(&path) {
                Ok(()) => any = true,
                Err(error) if error.kind() == io::ErrorKind::NotFound => {}
                Err(error) => return Err(KeyError::File { path, error }),
            }
        }
        Ok(any)
    }

    /// Where a key lies; `None` where no folder is known.
    #[must_use]
    pub fn path(&self, server: &Server, kind: &str) -> Option<PathBuf> {
        let plain = |c: char| if c.is_ascii_alphanumeric() || c == '.' || c == '-' { c } else { '_' };
        let host: String = server.host.chars().map(plain).collect();
        self.folder.as_ref().map(|folder| folder.join(format!("{host}_{}.{kind}", server.port)))
    }

    fn read(&self, server: &Server, kind: &str) -> Result<Option<(PathBuf, String)>, KeyError> {
        let Some(path) = self.path(server, kind) else { return Ok(None) };
        match crate::edge::files::read_text(&path) {
            Ok(text) => Ok(Some((path, text))),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(KeyError::File { path, error }),
        }
    }

    fn write(&self, server: &Server, kind: &str, text: &str) -> Result<(), KeyError> {
        let Some(path) = self.path(server, kind) else { return Ok(()) };
        let written = path.parent().map_or(Ok(()), crate::edge::files::make_folders).and_then(|()| {
            // A new file: one that others could read would stay so.
            let _ = fs::remove_file(&path);
            let mut options = fs::OpenOptions::new();
            options.write(true).create_new(true);
            #[cfg(unix)]
            std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
            options.open(&path)?.write_all(format!("{text}\n").as_bytes())
        });
        written.map_err(|error| KeyError::File { path, error })
    }
}

#[cfg(unix)]
fn is_open_to_others(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt as _;
    fs::metadata(path).is_ok_and(|facts| facts.permissions().mode() & 0o077 != 0)
}

#[cfg(not(unix))]
fn is_open_to_others(_: &Path) -> bool {
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    fn server(host: &str) -> Server {
        Server { host: host.to_owned(), port: 3000 }
    }

    #[test]
    fn a_token_is_kept_for_its_owner_and_its_server_alone_and_shows_itself_to_nobody() {
        let folder = tempfile::tempdir().unwrap();
        let keys = ServerKeys::beside(folder.path());
        let token = Token::new(" abc.DEF-1\n").unwrap();
        assert_eq!(format!("{token:?}"), "Token(…)");
        keys.keep_token(&server("mast"), &token).unwrap();
        assert_eq!(keys.token(&server("mast")).unwrap(), Some(token));
        assert_eq!(keys.token(&server("other")).unwrap(), None);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            let path = keys.path(&server("mast"), "token").unwrap();
            assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
            fs::set_permissions(&path, fs::Permissions::from_mode(0o644)).unwrap();
            let why = keys.token(&server("mast")).unwrap_err().to_string();
            assert!(why.contains("chmod 600") && !why.contains("abc"), "{why}");
        }
        assert!(keys.forget(&server("mast")).unwrap() && !keys.forget(&server("mast")).unwrap());
    }

    #[test]
    fn what_is_no_token_is_none() {
        for text in ["", " \n", "two words", "a\u{e4}", &"x".repeat(TOKEN_MAX + 1)] {
            assert!(Token::new(text).is_none(), "{text:?}");
        }
    }

    #[test]
    fn a_sum_is_read_back_and_nothing_else_is() {
        let sum = Sum::of(b"abc");
        // SHA-256 of "abc": FIPS 180-2, appendix B.1.
        assert!(sum.to_string().starts_with("BA:78:16:BF:8F:01:CF:EA:41:41:40:DE:5D:AE:22:23"));
        assert_eq!(Sum::read(&format!("{sum}\n")), Some(sum));
        for text in ["", "BA:78", &format!("{sum}:00"), &sum.to_string().replace(':', "")] {
            assert_eq!(Sum::read(text), None, "{text}");
        }
    }

    #[test]
    fn a_host_of_any_name_stays_in_the_folder() {
        let keys = ServerKeys::beside(Path::new("boat"));
        for (host, file) in [("../../etc", ".._.._etc_3000.token"), ("fe80::1", "fe80__1_3000.token")] {
            assert_eq!(keys.path(&server(host), "token").unwrap(), Path::new("boat/servers").join(file));
        }
    }
}
